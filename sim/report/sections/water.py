"""The water's part of the year's report: what was moved, the operating point, valve, turnovers, top-up, cautions."""

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.figures.water.flows import Pipework
from sim.figures.water.year import Water
from sim.report import charts
from sim.report.blocks import Figure, Heading, Key, Points, Table, Words, by_month, tabled
from sim.report.charts import Bars, Line, Panel, Strokes
from sim.report.ink import SUN, WATER
from sim.report.section import Section
from sim.scenario.water import Branch
from sim.scenario.water import Water as Pond
from sim.studies.result import YearResult
from sim.words import date_of, hours, number, percent

CAUTIONS = (
    "Switch the pump off before you reach into the water; joints lie above the highest water.",
    "Rain is left out, so a wet month needs less topping up than this. A level that falls with the pump off points to "
    "the pond, one that falls only with it on to the stream or the pipes.",
    "Never close the pump's whole outlet, and do not let it run dry.",
)
FISH_CAUTION = (
    "Oxygen here is what water could hold, not what is in it. Fish need aeration that does not depend on this system: "
    "it is no life-support alarm."
)


def section(result: YearResult) -> Section | None:
    """What the hours move; None where no water was simulated."""
    pond, water = result.scenario.water, result.measures.water
    if pond is None or water is None:
        return None
    found, direct = water.pipework, result.scenario.pump.supply == "direct"
    part = (
        Words(_promise(water)),
        _facts(result, pond, water),
        Heading("Where pump and pipes meet"),
        operating_figure(found),
        pipes_table(found),
        *((Heading("Flow at each voltage of the pump"), by_volts(found)) if direct else ()),
        *((Heading("The branch and its valve"), branch_figure(found, pond.branch)) if pond.branch else ()),
        Heading("Turnovers"),
        turnovers_figure(water, pond),
        Heading("Topping up"),
        top_up_figure(water),
        Heading("Start, stop and temperature"),
        pond_table(pond, water),
        Words(f"Water balance: {_balance(water)}", "small"),
        Points((*CAUTIONS, *((FISH_CAUTION,) if pond.fish else ()))),
    )
    return Section("water", "Water", part)


def _promise(water: Water) -> str:
    point = water.pipework.point
    if point.flow_lph <= 0.0:
        return "The pump cannot lift the water to its outlet: nothing is moved, whatever the hours."
    return (
        f"At its rated voltage the pump moves about {number(point.flow_lph)} litres an hour through these pipes, "
        f"{number(water.litres / 1000.0)} m³ in the year; the pond goes through it about "
        f"{number(water.turnovers_per_day)} times a day on average."
    )


def _facts(result: YearResult, pond: Pond, water: Water) -> Table:
    point, pump = water.pipework.point, result.scenario.pump
    rows = [
        ("Head at the operating point", f"{point.head_m:.2f} m, of which {pond.static_head_m:g} m are lift"),
        ("Through the header" + (" and its filter" if pond.filter else ""), f"{number(point.filter_flow_lph)} l/h"),
        ("Power in the water", f"{water.pipework.hydraulic_w:.1f} W of the pump's {pump.power_w:g} W"),
        ("Days with the wanted turnovers", f"{percent(water.turnover_days_share)}; {pond.turnovers_per_day:g} a day"),
    ]
    if pond.branch:
        rows.insert(2, ("Through the branch", f"{number(point.branch_flow_lph)} l/h"))
    if pond.filter:
        rows.append(("Filter fed", f"{hours(water.filter_fed_h)}; longest gap {hours(water.filter_longest_gap_h)}"))
    return Table(("Water", "Value"), tuple(rows))


def operating_figure(found: Pipework) -> Figure:
    """Pump curve, system curve and the point they share."""
    point = found.point
    said = (
        f"The pump's head falls and the pipework's rises with the flow; they meet at {number(point.flow_lph)} l/h and "
        f"{point.head_m:.2f} m."
    )
    if point.flow_lph <= 0.0:
        said = (
            f"The pump reaches {found.shut_off_m:.2f} m without flow, the outlet is {found.lift_m:.2f} m up: no flow."
        )
    lines = (Line(found.drawn_lph, found.pump_m, WATER), Line(found.drawn_lph, found.system_m, SUN, dashed=True))
    panel = Panel("head, m", lines, ((point.flow_lph, point.head_m),))
    title = "Head of pump and pipework over the flow"
    return Figure(
        charts.curves("operating", (panel,), "flow, litres per hour", (title, said)),
        said,
        (Key("pump", "pump at its rated voltage"), Key("system", "lift, pipes, fittings and filter")),
        tabled(
            "Flow, l/h",
            (f"{flow:.0f}" for flow in found.drawn_lph),
            ("Pump, m", np.maximum(found.pump_m, 0.0), ".2f"),
            ("Pipework, m", found.system_m, ".2f"),
        ),
    )


def pipes_table(found: Pipework) -> Table:
    """Every pipe with its flow and what is lost in it."""
    pipes = found.pipes
    return tabled(
        "Pipe",
        (pipe.where for pipe in pipes),
        ("Inside, mm", (pipe.diameter_mm for pipe in pipes), "g"),
        ("Length, m", (pipe.length_m for pipe in pipes), "g"),
        ("Flow, l/h", (pipe.flow_lph for pipe in pipes), ".0f"),
        ("Speed, m/s", (pipe.velocity_m_s for pipe in pipes), ".2f"),
        ("Reynolds number", (pipe.reynolds for pipe in pipes), ",.0f"),
        ("Head lost, m", (pipe.loss_m for pipe in pipes), ".2f"),
    )


def by_volts(found: Pipework) -> Table:
    """What a direct pump moves at each of some voltages."""
    points = found.by_volts[::2]
    return tabled(
        "At the pump, V",
        (f"{volts:.1f}" for volts in found.volts[::2]),
        ("Flow, l/h", (it.flow_lph for it in points), ".0f"),
        ("Header, l/h", (it.filter_flow_lph for it in points), ".0f"),
        ("Branch, l/h", (it.branch_flow_lph for it in points), ".0f"),
        ("Head, m", (it.head_m for it in points), ".2f"),
    )


def branch_figure(found: Pipework, branch: Branch) -> Figure:
    """What the branch and the header get at each opening of the branch's valve."""
    target = f"; {branch.target_lph:g} l/h are wanted" if branch.target_lph else ""
    said = (
        f"At {branch.opening_percent:g} % the branch gets {number(found.point.branch_flow_lph)} l/h and the header "
        f"{number(found.point.filter_flow_lph)} l/h{target}. Most of the change comes in part of the valve's travel."
    )
    side, header = np.array([(it.branch_flow_lph, it.filter_flow_lph) for it in found.by_opening]).T
    at = np.asarray(found.openings, dtype=float)
    panel = Panel("flow, litres per hour", (Line(at, header, SUN, dashed=True), Line(at, side, WATER)))
    title = "Flow over the opening of the branch's valve"
    return Figure(
        charts.curves("branch", (panel,), "opening of the valve, %", (title, said), branch.opening_percent),
        said,
        (Key("pump", "branch"), Key("system", "header"), Key("dash", "opening that is set")),
        tabled(
            "Opening, %",
            (f"{opening:g}" for opening in at),
            ("Branch, l/h", side, ".0f"),
            ("Header, l/h", header, ".0f"),
            ("Pump, l/h", (it.flow_lph for it in found.by_opening), ".0f"),
        ),
    )


def turnovers_figure(water: Water, pond: Pond) -> Figure:
    """How often a day the pond's volume went through the pump."""
    values = water.turnovers_by_month
    said = (
        f"Turnovers of {number(pond.pond_volume_l)} l a day: {number(float(values.min()))} in the poorest month, "
        f"{number(float(values.max()))} in the best; {pond.turnovers_per_day:g} are wanted and reached on "
        f"{percent(water.turnover_days_share)} of the days."
    )
    wanted = Strokes(np.full(12, pond.turnovers_per_day))
    words = ("Turnovers a day by month", said)
    table = by_month(("Moved, m³", water.litres_by_month / 1000.0, ",.0f"), ("Turnovers a day", values, ".1f"))
    drawn = charts.months("turnovers", "turnovers a day", (Bars(values),), (wanted,), words)
    return Figure(drawn, said, (Key("water", "mean of the month's days"), Key("line", "wanted")), table)


def top_up_figure(water: Water) -> Figure:
    """Litres a week that evaporation takes from pond and stream, less what rain gives."""
    values = water.top_up_l_per_week
    worst = int(values.argmax())
    said = (
        f"About {number(float(values.max()))} l a week in {MONTH_NAMES[worst]}, "
        f"{number(float(water.top_up_l_by_month.sum()))} l in the year, {_rain(water)}. A loss that is twice as large "
        "is worth a look for a leak."
    )
    table = by_month(("Litres", water.top_up_l_by_month, ".0f"), ("Litres a week", values, ".0f"))
    drawn = charts.months("top-up", "litres a week", (Bars(values),), (), ("Top-up a week by month", said))
    return Figure(drawn, said, (), table)


def _rain(water: Water) -> str:
    """How rain was treated."""
    if water.rain_mm is None:
        return "rain left out"
    saved = number(water.books.rain)
    return (
        f"{saved} l less for the {number(water.rain_mm)} mm of rain that the weather data have, over the pond's own "
        "area; weeks without rain take more"
    )


def pond_table(pond: Pond, water: Water) -> Table:
    """What start and stop do, and how warm the pond gets."""
    stop, warm, dry = water.stopping, water.temperature, water.evaporation_mm_by_day
    rows = [
        ("On its way while the pump runs", f"{number(stop.transit)} l, in the pipes and over the stream's steps"),
        ("Runs back when it stops", _back(stop.drain_back, stop.siphon, stop.freeboard)),
        ("Evaporation", f"{number(float(dry.sum()))} mm in the year, {number(float(dry.max()))} mm at most"),
        ("Water temperature", f"{warm.lowest_c:.0f} to {warm.highest_c:.0f} °C, worked out from the weather"),
        (f"Below {pond.cold_limit_c:g} °C", _cold(warm.cold_from, warm.cold_to)),
        ("Oxygen the warmest water can hold", f"{warm.least_oxygen_mg_l:.1f} mg/L"),
        (
            f"Nights above {pond.warm_limit_c:g} °C",
            f"{warm.warm_nights}, of which {warm.warm_night_stops} with a stop of over an hour after midnight",
        ),
    ]
    return Table(("Pond", "Value"), tuple(rows))


def _back(drained: float, siphoned: float, room: float | None) -> str:
    siphon = f" and {number(siphoned)} l by siphon" if siphoned else ""
    basin = f"; the basin has room for {number(room)} l" if room is not None else ""
    return f"{number(drained)} l{siphon}{basin}"


def _cold(first: str | None, last: str | None) -> str:
    """The season in words.

    >>> _cold("12-04", "02-18"), _cold(None, None)
    ('from 4 December to 18 February, with warmer days between', 'never')
    """
    if first is None or last is None:
        return "never"
    return f"from {date_of(first)} to {date_of(last)}, with warmer days between"


def _balance(water: Water) -> str:
    books = water.books
    return (
        f"pumped {books.pumped:,.0f} l = returned {books.returned:,.0f} l + evaporated on the stream "
        f"{books.evaporated_stream:,.0f} l + more on its way {books.transit_change:,.0f} l; topped up "
        f"{books.top_up:,.0f} l, rained in {books.rain:,.0f} l; error {abs(books.error):.0e} l. Header and branch make "
        f"up the pump's flow to {_apart(water):.0e} l."
    )


def _apart(water: Water) -> float:
    return float(np.abs(water.books.pumped - water.books.header - water.books.branch))
