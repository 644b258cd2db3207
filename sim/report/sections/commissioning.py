"""The commissioning sheet: what a multimeter should show on the day, and room for what it did show."""

from sim.figures.water.year import Level
from sim.language import mark, say
from sim.report.blocks import Blanks, Heading, Table, Words
from sim.report.section import Section
from sim.scenario import Scenario
from sim.studies.commissioning import (
    AIR_C,
    BATTERY_C,
    CLEAR_WM2,
    STATES,
    Band,
    Commissioning,
    PanelReading,
    Run,
    StateReading,
)
from sim.studies.result import YearResult
from sim.units import Quantity, sign
from sim.words import figure, percent

ON_THE_DAY = mark(
    "Readings to expect on the day, worked out with the same equations as the year. Each is a band: it holds the "
    "meter's error, the panel's label and the spread of temperature. A reading outside its band is a reason to look "
    "before handing over."
)
LIVE = mark(
    "A panel is live in daylight. Cover it before connecting; short it only through a meter or clamp that is rated for "
    "the current, never the battery."
)
DROPS = mark(
    "From one end of a run to its other end, plus and minus added, while the current flows. Divide the reading by the "
    "current for the column per ampere."
)
ON_THE_PANEL = mark(
    "With an irradiance meter in the panel's plane: {amps} A for every 100 W/m² with clean panels, 5 % either way. Far "
    "below its band: shade on a cell, dirt, a bad connector or a panel of another make."
)
OF_THE_DAY = mark(
    "Battery between {cold} and {warm}; clear sun is {low}–{high} W/m² on the panel. The charge of the day is seldom "
    "known: take the row that the reading at rest points to, and expect its neighbours. Once it is nearly full, the "
    "controller holds the battery at {absorption} V for up to {hours} h, then at {float} V."
)
LEVELS = mark(
    "With the water running steadily, mark the level where the pump stands. Switch the pump off, wait until nothing "
    "runs back any more, and measure; then switch it on again. It must neither run over nor draw air."
)
SIGN_OFF = (
    mark("Meter"),
    mark("Serial numbers"),
    mark("Measured by, phone (signature)"),
    mark("Handed over to (signature)"),
)


def section(result: YearResult) -> Section | None:
    """The sheet, where the readings were worked out."""
    if result.readings is None:
        return None
    level = result.measures.water.level if result.measures.water else None
    return Section("commissioning", say("Commissioning sheet"), _sheet(result.readings, result.scenario, level))


def span_of(band: Band, digits: int) -> str:
    """A band in words; one that is nothing is a dash.

    >>> span_of(Band(12.61, 12.94), 2), span_of(Band(0.0, 0.0), 2)
    ('12.61–12.94', '—')
    """
    low, high = figure(max(band.low, 0.0), f".{digits}f"), figure(band.high, f".{digits}f")
    if band.high <= 0.0:
        return "—"
    return low if low == high else f"{low}–{high}"


def _stop_and_restart(level: Level | None) -> tuple[object, ...]:
    """The test of the water, where the level's way is known."""
    if level is None:
        return ()
    fall = Quantity(level.fall_cm, "cm", ".1f")
    rows = (
        (say("Stopped: it rises by"), str(fall), ""),
        (say("Restarted: it falls by"), str(fall), ""),
        (say("Running: water above the ground the pump stands on"), str(Quantity(level.running_cm, "cm", ".1f")), ""),
    )
    head = (say("Level at the pump"), say("Expected"), say("Found"))
    title = _numbered(len(STATES) + 3, say("stop and restart"))
    return title, Words(say(LEVELS), "small"), Table(head, rows)


def _sheet(found: Commissioning, scenario: Scenario, level: Level | None) -> tuple[object, ...]:
    """The sheet's tables; the last column of each is left blank for what was found."""
    states = [(_numbered(k, say(title)), _state(found.states, title)) for k, (title, *_) in enumerate(STATES, 2)]
    return (
        Words(say(ON_THE_DAY)),
        _numbered(1, say("panels alone, disconnected from the controller")),
        Words(say(LIVE), "small"),
        _voc(found.panel),
        _isc(found.panel),
        Words(say(ON_THE_PANEL, amps=figure(found.isc_per_100_wm2_a, ".2f")), "small"),
        *(block for state in states for block in state),
        Words(_of_the_day(scenario), "small"),
        _numbered(len(STATES) + 2, say("drop on each run")),
        Words(say(DROPS), "small"),
        _runs(found.runs),
        *_stop_and_restart(level),
        Blanks((say("Date, hour, sky, air {degrees}", degrees=sign("c")), *map(say, SIGN_OFF))),
    )


def _numbered(number: int, title: str) -> Heading:
    """A heading with its number, the title's first letter a capital."""
    return Heading(f"{number}. {title[:1].upper()}{title[1:]}")


def _of_the_day(scenario: Scenario) -> str:
    control = scenario.controller
    cold_c, warm_c = sorted(BATTERY_C)
    return say(
        OF_THE_DAY,
        cold=Quantity(cold_c, "c", "g").bare,
        warm=Quantity(warm_c, "c", "g"),
        low=f"{CLEAR_WM2[0]:.0f}",
        high=f"{CLEAR_WM2[1]:.0f}",
        absorption=figure(control.absorption_v, "g"),
        hours=figure(control.absorption_h, "g"),
        float=figure(control.float_v, "g"),
    )


def _voc(panel: tuple[PanelReading, ...]) -> Table:
    airs = (say("air {air}", air=Quantity(air, "c", ".0f")) for air in AIR_C)
    head = (say("Open circuit, V"), *airs, say("Found"))
    return Table(head, tuple((say(one.sky), *(span_of(volts, 1) for volts in one.voc_v), "") for one in panel))


def _isc(panel: tuple[PanelReading, ...]) -> Table:
    return Table(
        (say("Short circuit, A"), say("In the plane, W/m²"), say("Expected"), say("Found")),
        tuple((say(one.sky), f"{one.low_wm2:.0f}–{one.high_wm2:.0f}", span_of(one.isc_a, 2), "") for one in panel),
    )


def _state(states: tuple[StateReading, ...], title: str) -> Table:
    """Only the columns that have something in this state."""
    chosen = [one for one in states if one.state == title]
    columns = [
        (say("Battery terminals, V"), [span_of(one.battery_v, 2) for one in chosen]),
        (say("Controller, V"), [span_of(one.bus_v, 2) for one in chosen]),
        (say("Pump, V"), [span_of(one.pump_v, 2) if one.pump_v else "—" for one in chosen]),
        (say("From panels, A"), [span_of(one.panel_a, 2) for one in chosen]),
        (say("Pump, A"), [span_of(one.pump_a, 2) for one in chosen]),
    ]
    shown = [(head, cells) for head, cells in columns if set(cells) != {"—"}]
    rows = zip((percent(one.soc) for one in chosen), *(cells for _, cells in shown), strict=True)
    return Table((say("Charge"), *(head for head, _ in shown), say("Found")), tuple((*row, "") for row in rows))


def _runs(runs: tuple[Run, ...]) -> Table:
    return Table(
        (
            say("Drop on both conductors"),
            say("At, A"),
            say("Expected, V"),
            say("Per ampere, mV"),
            say("Found, A and V"),
        ),
        tuple(
            (say(run.name), figure(run.amps, ".1f"), span_of(run.drop_v, 2), span_of(run.mv_per_a, 0), "")
            for run in runs
        ),
    )
