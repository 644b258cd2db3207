"""The commissioning sheet: what a multimeter should show on the day, and room for what it did show."""

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
from sim.units import Quantity, Several, sign
from sim.words import percent

ON_THE_DAY = (
    "Readings to expect on the day, worked out with the same equations as the year. Each is a band: it holds the "
    "meter's error, the panel's label and the spread of temperature. A reading outside its band is a reason to look "
    "before handing over."
)
LIVE = (
    "A panel is live in daylight. Cover it before connecting; short it only through a meter or clamp that is rated for "
    "the current, never the battery."
)
DROPS = (
    "From one end of a run to its other end, plus and minus added, while the current flows. Divide the reading by the "
    "current for the column per ampere."
)
SIGN_OFF = ("Meter", "Serial numbers", "Measured by, phone (signature)", "Handed over to (signature)")


def section(result: YearResult) -> Section | None:
    """The sheet, where the readings were worked out."""
    if result.readings is None:
        return None
    return Section("commissioning", "Commissioning sheet", _sheet(result.readings, result.scenario))


def span_of(band: Band, digits: int) -> str:
    """A band in words; one that is nothing is a dash.

    >>> span_of(Band(12.61, 12.94), 2), span_of(Band(0.0, 0.0), 2)
    ('12.61–12.94', '—')
    """
    low, high = f"{max(band.low, 0.0):.{digits}f}", f"{band.high:.{digits}f}"
    if band.high <= 0.0:
        return "—"
    return low if low == high else f"{low}–{high}"


def _sheet(found: Commissioning, scenario: Scenario) -> tuple[object, ...]:
    """The sheet's tables; the last column of each is left blank for what was found."""
    states = [
        (Heading(f"{k}. {title.capitalize()}"), _state(found.states, title)) for k, (title, *_) in enumerate(STATES, 2)
    ]
    return (
        Words(ON_THE_DAY),
        Heading("1. Panels alone, disconnected from the controller"),
        Words(LIVE, "small"),
        _voc(found.panel),
        _isc(found.panel),
        Words(
            f"With an irradiance meter in the panel's plane: {found.isc_per_100_wm2_a:.2f} A for every 100 W/m² with "
            "clean panels, 5 % either way. Far below its band: shade on a cell, dirt, a bad connector or a panel of "
            "another make.",
            "small",
        ),
        *(block for state in states for block in state),
        Words(_of_the_day(scenario), "small"),
        Heading(f"{len(STATES) + 2}. Drop on each run"),
        Words(DROPS, "small"),
        _runs(found.runs),
        Blanks((f"Date, hour, sky, air {sign('c')}", *SIGN_OFF)),
    )


def _of_the_day(scenario: Scenario) -> str:
    control = scenario.controller
    between = Several(tuple(Quantity(at_c, "c", "g") for at_c in sorted(BATTERY_C)))
    return (
        f"Battery between {between}; clear sun is {CLEAR_WM2[0]:.0f}–{CLEAR_WM2[1]:.0f} W/m² on the panel. The "
        "charge of the day is seldom known: take the row that the reading at rest points to, and expect its "
        f"neighbours. Once it is nearly full, the controller holds the battery at {control.absorption_v:g} V for up "
        f"to {control.absorption_h:g} h, then at {control.float_v:g} V."
    )


def _voc(panel: tuple[PanelReading, ...]) -> Table:
    head = ("Open circuit, V", *(f"air {Quantity(air, 'c', '.0f')}" for air in AIR_C), "Found")
    return Table(head, tuple((one.sky, *(span_of(volts, 1) for volts in one.voc_v), "") for one in panel))


def _isc(panel: tuple[PanelReading, ...]) -> Table:
    return Table(
        ("Short circuit, A", "In the plane, W/m²", "Expected", "Found"),
        tuple((one.sky, f"{one.low_wm2:.0f}–{one.high_wm2:.0f}", span_of(one.isc_a, 2), "") for one in panel),
    )


def _state(states: tuple[StateReading, ...], title: str) -> Table:
    """Only the columns that have something in this state."""
    chosen = [one for one in states if one.state == title]
    columns = [
        ("Battery terminals, V", [span_of(one.battery_v, 2) for one in chosen]),
        ("Controller, V", [span_of(one.bus_v, 2) for one in chosen]),
        ("Pump, V", [span_of(one.pump_v, 2) if one.pump_v else "—" for one in chosen]),
        ("From panels, A", [span_of(one.panel_a, 2) for one in chosen]),
        ("Pump, A", [span_of(one.pump_a, 2) for one in chosen]),
    ]
    shown = [(head, cells) for head, cells in columns if set(cells) != {"—"}]
    rows = zip((percent(one.soc) for one in chosen), *(cells for _, cells in shown), strict=True)
    return Table(("Charge", *(head for head, _ in shown), "Found"), tuple((*row, "") for row in rows))


def _runs(runs: tuple[Run, ...]) -> Table:
    return Table(
        ("Drop on both conductors", "At, A", "Expected, V", "Per ampere, mV", "Found, A and V"),
        tuple((run.name, f"{run.amps:.1f}", span_of(run.drop_v, 2), span_of(run.mv_per_a, 0), "") for run in runs),
    )
