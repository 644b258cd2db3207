"""The water's part of the year's report: what was moved, the operating point, valve, turnovers, top-up, cautions."""

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.figures.water.fish import ForFish
from sim.figures.water.flows import Pipework
from sim.figures.water.year import Still, Water
from sim.report import charts
from sim.report.blocks import Figure, Heading, Key, Points, Table, Words, by_month, column, tabled
from sim.report.charts import Bars, Line, Panel, Strokes
from sim.report.ink import SUN, WATER
from sim.report.section import Section
from sim.scenario.water import Branch
from sim.scenario.water import Water as Pond
from sim.studies.result import YearResult
from sim.units import Quantity, converted, in_full, sign
from sim.words import date_of, hours, number, percent

CAUTIONS = (
    "Switch the pump off before you reach into the water; joints lie above the highest water.",
    "Rain is left out, so a wet month needs less topping up than this. A level that falls with the pump off points to "
    "the pond, one that falls only with it on to the stream or the pipes.",
    "Never close the pump's whole outlet, and do not let it run dry.",
)
NO_CURVE = (
    "The pump has no curve in the scenario, so flows, turnovers, the tee and what a start and a stop do are not worked "
    "out. What asks for no flow is here."
)
FISH_CAUTION = (
    "Oxygen here is what water could hold, not what is in it. Fish need aeration that does not depend on this system: "
    "it is no life-support alarm."
)


def section(result: YearResult) -> Section | None:
    """What the hours move; None where no water was simulated."""
    pond, water = result.scenario.water, result.measures.water
    if pond is None or result.measures.pond is None:
        return None
    if water is None:
        return Section("water", "Water", _without_curve(pond, result.measures.pond))
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


def _without_curve(pond: Pond, still: Still) -> tuple[object, ...]:
    """What can be told of a pond whose pump has no curve, and what is missing."""
    cautions = Points((*CAUTIONS, *((FISH_CAUTION,) if pond.fish else ())))
    table = Table(("Pond", "Value"), (*_pond_rows(pond, still), _filter_row(still)))
    return Words(NO_CURVE), Heading("Topping up"), top_up_figure(still), Heading("The pond"), table, cautions


def _filter_row(still: Still) -> tuple[str, str]:
    return ("Longest time without flow through the filter", hours(still.filter_longest_gap_h))


def _promise(water: Water) -> str:
    point = water.pipework.point
    if point.flow_lph <= 0.0:
        return "The pump cannot lift the water to its outlet: nothing is moved, whatever the hours."
    flow = Quantity(point.flow_lph, "lph").bare
    return (
        f"At its rated voltage the pump moves about {flow} {in_full('l')} an hour through these pipes, "
        f"{Quantity(water.litres / 1000.0, 'm3')} in the year; the pond goes through it about "
        f"{number(water.turnovers_per_day)} times a day on average."
    )


def _facts(result: YearResult, pond: Pond, water: Water) -> Table:
    point, pump = water.pipework.point, result.scenario.pump
    rows = [
        (
            "Head at the operating point",
            f"{_head(point.head_m)}, of which {Quantity(pond.static_head_m, 'm', 'g')} are lift",
        ),
        (
            "Through the header" + (" and its filter" if pond.filter else ""),
            str(Quantity(point.filter_flow_lph, "lph")),
        ),
        ("Power in the water", f"{water.pipework.hydraulic_w:.1f} W of the pump's {pump.power_w:g} W"),
        ("Flow lost to the pump's cable", _lost(water, pump.supply)),
        ("Days with the wanted turnovers", f"{percent(water.turnover_days_share)}; {pond.turnovers_per_day:g} a day"),
    ]
    if pond.branch:
        rows.insert(2, ("Through the branch", str(Quantity(point.branch_flow_lph, "lph"))))
    if pond.filter:
        rows.append(("Filter fed", f"{hours(water.filter_fed_h)}; longest gap {hours(water.filter_longest_gap_h)}"))
    return Table(("Water", "Value"), tuple(rows))


def _lost(water: Water, supply: str) -> str:
    """What the cable takes of the flow at the rated voltage."""
    if supply == "regulated":
        return "none: a regulated pump turns as fast behind a thin cable"
    return f"{Quantity(water.lost_to_cable_lph, 'lph')} at the rated voltage"


def operating_figure(found: Pipework) -> Figure:
    """Pump curve, system curve and the point they share."""
    point = found.point
    said = (
        "The pump's head falls and the pipework's rises with the flow; they meet at "
        f"{Quantity(point.flow_lph, 'lph')} and {_head(point.head_m)}."
    )
    if point.flow_lph <= 0.0:
        said = (
            f"The pump reaches {_head(found.shut_off_m)} without flow, the outlet is {_head(found.lift_m)} up: no flow."
        )
    along, pump, system = (
        converted(found.drawn_lph, "lph"),
        converted(found.pump_m, "m"),
        converted(found.system_m, "m"),
    )
    meeting = ((converted(point.flow_lph, "lph"), converted(point.head_m, "m")),)
    panel = Panel(f"head, {sign('m')}", (Line(along, pump, WATER), Line(along, system, SUN, dashed=True)), meeting)
    title = "Head of pump and pipework over the flow"
    return Figure(
        charts.curves("operating", (panel,), f"flow, {in_full('lph')}", (title, said)),
        said,
        (Key("pump", "pump at its rated voltage"), Key("system", "lift, pipes, fittings and filter")),
        tabled(
            f"Flow, {sign('lph')}",
            (Quantity(float(flow), "lph", ".0f").bare for flow in found.drawn_lph),
            column("Pump", "m", np.maximum(found.pump_m, 0.0), ".2f"),
            column("Pipework", "m", found.system_m, ".2f"),
        ),
    )


def pipes_table(found: Pipework) -> Table:
    """Every pipe with its flow and what is lost in it."""
    pipes = found.pipes
    return tabled(
        "Pipe",
        (pipe.where for pipe in pipes),
        column("Inside", "mm", (pipe.diameter_mm for pipe in pipes), "g"),
        column("Length", "m", (pipe.length_m for pipe in pipes), "g"),
        column("Flow", "lph", (pipe.flow_lph for pipe in pipes), ".0f"),
        column("Speed", "m_s", (pipe.velocity_m_s for pipe in pipes), ".2f"),
        ("Reynolds number", (pipe.reynolds for pipe in pipes), ",.0f"),
        column("Head lost", "m", (pipe.loss_m for pipe in pipes), ".2f"),
    )


def by_volts(found: Pipework) -> Table:
    """What a direct pump moves at each of some voltages."""
    points = found.by_volts[::2]
    return tabled(
        "At the pump, V",
        (f"{volts:.1f}" for volts in found.volts[::2]),
        column("Flow", "lph", (it.flow_lph for it in points), ".0f"),
        column("Header", "lph", (it.filter_flow_lph for it in points), ".0f"),
        column("Branch", "lph", (it.branch_flow_lph for it in points), ".0f"),
        column("Head", "m", (it.head_m for it in points), ".2f"),
    )


def branch_figure(found: Pipework, branch: Branch) -> Figure:
    """What the branch and the header get at each opening of the branch's valve."""
    target = f"; {Quantity(branch.target_lph, 'lph', 'g')} are wanted" if branch.target_lph else ""
    gets, left = (Quantity(flow, "lph") for flow in (found.point.branch_flow_lph, found.point.filter_flow_lph))
    said = (
        f"At {branch.opening_percent:g} % the branch gets {gets} and the header {left}{target}. Most of the change "
        "comes in part of the valve's travel."
    )
    side, header = np.array([(it.branch_flow_lph, it.filter_flow_lph) for it in found.by_opening]).T
    at = np.asarray(found.openings, dtype=float)
    lines = (Line(at, converted(header, "lph"), SUN, dashed=True), Line(at, converted(side, "lph"), WATER))
    panel = Panel(f"flow, {in_full('lph')}", lines)
    title = "Flow over the opening of the branch's valve"
    return Figure(
        charts.curves("branch", (panel,), "opening of the valve, %", (title, said), branch.opening_percent),
        said,
        (Key("pump", "branch"), Key("system", "header"), Key("dash", "opening that is set")),
        tabled(
            "Opening, %",
            (f"{opening:g}" for opening in at),
            column("Branch", "lph", side, ".0f"),
            column("Header", "lph", header, ".0f"),
            column("Pump", "lph", (it.flow_lph for it in found.by_opening), ".0f"),
        ),
    )


def turnovers_figure(water: Water, pond: Pond) -> Figure:
    """How often a day the pond's volume went through the pump."""
    values = water.turnovers_by_month
    said = (
        f"Turnovers of {Quantity(pond.pond_volume_l, 'l')} a day: {number(float(values.min()))} in the poorest month, "
        f"{number(float(values.max()))} in the best; {pond.turnovers_per_day:g} are wanted and reached on "
        f"{percent(water.turnover_days_share)} of the days."
    )
    wanted = Strokes(np.full(12, pond.turnovers_per_day))
    words = ("Turnovers a day by month", said)
    moved = column("Moved", "m3", water.litres_by_month / 1000.0, ",.0f")
    table = by_month(moved, ("Turnovers a day", values, ".1f"))
    drawn = charts.months("turnovers", "turnovers a day", (Bars(values),), (wanted,), words)
    return Figure(drawn, said, (Key("water", "mean of the month's days"), Key("line", "wanted")), table)


def top_up_figure(water: Still) -> Figure:
    """Litres a week that evaporation takes from pond and stream, less what rain gives."""
    values = water.top_up_l_per_week
    worst = int(values.argmax())
    said = (
        f"About {Quantity(float(values.max()), 'l')} a week in {MONTH_NAMES[worst]}, "
        f"{Quantity(float(water.top_up_l_by_month.sum()), 'l')} in the year, {_rain(water)}. A loss that is twice as "
        "large is worth a look for a leak."
    )
    table = by_month(column("In the month", "l", water.top_up_l_by_month, ".0f"), column("A week", "l", values, ".0f"))
    bars = (Bars(converted(values, "l")),)
    drawn = charts.months("top-up", f"{in_full('l')} a week", bars, (), ("Top-up a week by month", said))
    return Figure(drawn, said, (), table)


def _rain(water: Still) -> str:
    """How rain was treated."""
    if water.rain_mm is None:
        return "rain left out"
    saved = Quantity(water.rain_l, "l")
    return (
        f"{saved} less for the {Quantity(water.rain_mm, 'mm')} of rain that the weather data have, over the pond's own "
        "area; weeks without rain take more"
    )


def pond_table(pond: Pond, water: Water) -> Table:
    """What start and stop do, and how warm the pond gets."""
    stop, level = water.stopping, water.level
    fall, standing, running = (Quantity(cm, "cm", ".1f") for cm in (level.fall_cm, level.standing_cm, level.running_cm))
    place = "in the basin" if pond.basin else "in the pond"
    rows = (
        ("On its way while the pump runs", f"{Quantity(stop.transit, 'l')}, in the pipes and over the stream's steps"),
        ("Runs back when it stops", _back(stop.drain_back, stop.siphon, stop.freeboard)),
        ("Level at a start", f"falls by {fall} {place}, from {standing} to {running} above its ground"),
    )
    return Table(("Pond", "Value"), (*rows, *_pond_rows(pond, water)))


def _pond_rows(pond: Pond, still: Still) -> tuple[tuple[str, str], ...]:
    """What asks for no flow: evaporation, temperature, oxygen, and running as fish need it."""
    warm, dry = still.temperature, still.evaporation_mm_by_day
    coldest = Quantity(warm.lowest_c, "c", ".0f").bare
    rows = [
        ("Evaporation", f"{Quantity(float(dry.sum()), 'mm')} in the year, {Quantity(float(dry.max()), 'mm')} at most"),
        ("Water temperature", f"{coldest} to {Quantity(warm.highest_c, 'c', '.0f')}, worked out from the weather"),
        (f"Below {Quantity(pond.cold_limit_c, 'c', 'g')}", _cold(warm.cold_from, warm.cold_to)),
        ("Oxygen the warmest water can hold", str(Quantity(warm.least_oxygen_mg_l, "mg_l", ".1f"))),
        (
            f"Nights above {Quantity(pond.warm_limit_c, 'c', 'g')}",
            f"{warm.warm_nights}, of which {warm.warm_night_stops} with a stop of over an hour after midnight; "
            f"{number(warm.warm_night_off_h)} h without flow from 00 to 06 in them",
        ),
    ]
    return tuple(rows) if not pond.fish else (*rows, _for_fish(still.for_fish))


def _for_fish(found: ForFish) -> tuple[str, str]:
    """Hours weighed as fish need them, with the weights."""
    weights = "; ".join(f"{name}: {weight:g}" for name, weight in found.weights.items())
    return ("Running as fish need it", f"{percent(found.share)} of all hours, weighed ({weights}; our own weights)")


def _back(drained: float, siphoned: float, room: float | None) -> str:
    siphon = f" and {Quantity(siphoned, 'l')} by siphon" if siphoned else ""
    basin = f"; the basin has room for {Quantity(room, 'l')}" if room is not None else ""
    return f"{Quantity(drained, 'l')}{siphon}{basin}"


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
        f"pumped {_booked(books.pumped)} = returned {_booked(books.returned)} + evaporated on the stream "
        f"{_booked(books.evaporated_stream)} + more on its way {_booked(books.transit_change)}; topped up "
        f"{_booked(books.top_up)}, rained in {_booked(books.rain)}; error {_error(abs(books.error))}. Header and "
        f"branch make up the pump's flow to {_error(_apart(water))}."
    )


def _booked(litres: float) -> Quantity:
    return Quantity(litres, "l", ",.0f")


def _error(litres: float) -> str:
    return f"{converted(litres, 'l'):.0e} {sign('l')}"


def _head(head_m: float) -> Quantity:
    return Quantity(head_m, "m", ".2f")


def _apart(water: Water) -> float:
    return float(np.abs(water.books.pumped - water.books.header - water.books.branch))
