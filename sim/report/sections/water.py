"""The water's part of the year's report: what was moved, the operating point, valve, turnovers, top-up, cautions."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTHS
from sim.report import water_charts
from sim.report.figures import Figure, Key, Table
from sim.report.section import Section
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.figures.water.flows import Pipework
    from sim.figures.water.year import Water
    from sim.scenario.water import Branch
    from sim.scenario.water import Water as Pond
    from sim.studies.result import YearResult

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


@dataclass(frozen=True)
class WaterPart:
    """The section on water."""

    promise: str
    facts: Table
    operating: Figure
    pipes: Table
    by_volts: Table | None
    branch: Figure | None
    turnovers: Figure
    top_up: Figure
    pond: Table
    balance: str
    cautions: tuple[str, ...]


def section(result: YearResult) -> Section | None:
    """What the hours move; None where no water was simulated."""
    pond, water = result.scenario.water, result.measures.water
    if pond is None or water is None:
        return None
    found = water.pipework
    part = WaterPart(
        promise=_promise(water),
        facts=_facts(result, pond, water),
        operating=operating_figure(found),
        pipes=_pipes(found),
        by_volts=_by_volts(found) if result.scenario.pump.supply == "direct" else None,
        branch=branch_figure(found, pond.branch) if pond.branch else None,
        turnovers=turnovers_figure(water, pond),
        top_up=top_up_figure(water),
        pond=_pond(pond, water),
        balance=_balance(water),
        cautions=(*CAUTIONS, *((FISH_CAUTION,) if pond.fish else ())),
    )
    return Section("water", "Water", "water", part)


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
    rows = zip(found.drawn_lph, found.pump_m, found.system_m, strict=True)
    return Figure(
        water_charts.operating(found, "Head of pump and pipework over the flow", said),
        said,
        (Key("pump", "pump at its rated voltage"), Key("system", "lift, pipes, fittings and filter")),
        Table(
            ("Flow, l/h", "Pump, m", "Pipework, m"),
            tuple((f"{q:.0f}", f"{max(pump, 0.0):.2f}", f"{system:.2f}") for q, pump, system in rows),
        ),
    )


def _pipes(found: Pipework) -> Table:
    head = ("Pipe", "Inside, mm", "Length, m", "Flow, l/h", "Speed, m/s", "Reynolds number", "Head lost, m")
    return Table(
        head,
        tuple(
            (
                pipe.where,
                f"{pipe.diameter_mm:g}",
                f"{pipe.length_m:g}",
                f"{pipe.flow_lph:.0f}",
                f"{pipe.velocity_m_s:.2f}",
                f"{pipe.reynolds:,.0f}",
                f"{pipe.loss_m:.2f}",
            )
            for pipe in found.pipes
        ),
    )


def _by_volts(found: Pipework) -> Table:
    rows = zip(found.volts, found.by_volts, strict=True)
    head = ("At the pump, V", "Flow, l/h", "Header, l/h", "Branch, l/h", "Head, m")
    return Table(
        head,
        tuple(
            (f"{v:.1f}", f"{p.flow_lph:.0f}", f"{p.filter_flow_lph:.0f}", f"{p.branch_flow_lph:.0f}", f"{p.head_m:.2f}")
            for v, p in list(rows)[::2]
        ),
    )


def branch_figure(found: Pipework, branch: Branch) -> Figure:
    """What the branch and the header get at each opening of the branch's valve."""
    target = f"; {branch.target_lph:g} l/h are wanted" if branch.target_lph else ""
    said = (
        f"At {branch.opening_percent:g} % the branch gets {number(found.point.branch_flow_lph)} l/h and the header "
        f"{number(found.point.filter_flow_lph)} l/h{target}. Most of the change comes in part of the valve's travel."
    )
    rows = zip(found.openings, found.by_opening, strict=True)
    return Figure(
        water_charts.branch(found, branch.opening_percent, "Flow over the opening of the branch's valve", said),
        said,
        (Key("pump", "branch"), Key("system", "header"), Key("dash", "opening that is set")),
        Table(
            ("Opening, %", "Branch, l/h", "Header, l/h", "Pump, l/h"),
            tuple(
                (f"{at:g}", f"{p.branch_flow_lph:.0f}", f"{p.filter_flow_lph:.0f}", f"{p.flow_lph:.0f}")
                for at, p in rows
            ),
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
    rows = zip(MONTHS, water.litres_by_month, values, strict=True)
    return Figure(
        water_charts.by_month(
            "turnovers", values, pond.turnovers_per_day, "turnovers a day", "Turnovers a day by month", said
        ),
        said,
        (Key("water", "mean of the month's days"), Key("dash", "wanted")),
        Table(
            ("Month", "Moved, m³", "Turnovers a day"),
            tuple((name, f"{litres / 1000.0:,.0f}", f"{turns:.1f}") for name, litres, turns in rows),
        ),
    )


def top_up_figure(water: Water) -> Figure:
    """Litres a week that evaporation takes from pond and stream, less what rain gives."""
    values = water.top_up_l_per_week
    worst = int(values.argmax())
    said = (
        f"About {number(float(values.max()))} l a week in {date(2001, worst + 1, 1):%B}, "
        f"{number(float(water.top_up_l_by_month.sum()))} l in the year, {_rain(water)}. A loss that is twice as large "
        "is worth a look for a leak."
    )
    rows = zip(MONTHS, water.top_up_l_by_month, values, strict=True)
    return Figure(
        water_charts.by_month("top-up", values, None, "litres a week", "Top-up a week by month", said),
        said,
        (),
        Table(
            ("Month", "Litres", "Litres a week"),
            tuple((name, f"{month:.0f}", f"{week:.0f}") for name, month, week in rows),
        ),
    )


def _rain(water: Water) -> str:
    """How rain was treated."""
    if water.rain_mm is None:
        return "rain left out"
    saved = number(water.books.rain)
    return (
        f"{saved} l less for the {number(water.rain_mm)} mm of rain that the weather data have, over the pond's own "
        "area; weeks without rain take more"
    )


def _pond(pond: Pond, water: Water) -> Table:
    """What start and stop do, and how warm the pond gets."""
    stop, warm = water.stopping, water.temperature
    rows = [
        ("On its way while the pump runs", f"{number(stop.transit)} l, in the pipes and over the stream's steps"),
        ("Runs back when it stops", _back(stop.drain_back, stop.siphon, stop.freeboard)),
        (
            "Evaporation",
            f"{number(float(water.evaporation_mm_by_day.sum()))} mm in the year, {_most(water)} mm at most",
        ),
        ("Water temperature", f"{warm.lowest_c:.0f} to {warm.highest_c:.0f} °C, worked out from the weather"),
        (f"Below {pond.cold_limit_c:g} °C", _cold(warm.cold_from, warm.cold_to)),
        ("Oxygen the warmest water can hold", f"{warm.least_oxygen_mg_l:.1f} mg/L"),
        (
            f"Nights above {pond.warm_limit_c:g} °C",
            f"{warm.warm_nights}, of which {warm.warm_night_stops} with a stop of over an hour after midnight",
        ),
    ]
    return Table(("Pond", "Value"), tuple(rows))


def _most(water: Water) -> str:
    return number(float(water.evaporation_mm_by_day.max()))


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
    dates = [date.fromisoformat(f"2004-{text}") for text in (first, last)]
    return "from {} to {}, with warmer days between".format(*(f"{day.day} {day:%B}" for day in dates))


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
