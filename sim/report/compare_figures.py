"""The charts and tables of the comparison's report, with their words."""

from collections.abc import Sequence

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.report import charts
from sim.report.blocks import Figure, Key, Legend, Multiples, Table, Titled, across_months, by_month, tabled
from sim.report.charts import Bar, Bars, Line, Panel
from sim.report.compare_words import seasons, signed, worst_month_name
from sim.report.ink import ALARM, INK, SUN, WATER
from sim.studies.compare import WORST, YEAR, CompareResult, Row, Step
from sim.studies.money import Money
from sim.units import told
from sim.words import hours, number, percent
from sim.words import years as lasting_years

MOST_DRAWN = 12  # designs with a diagram of their own; the tables hold all


def a_day(row: Row, days: np.ndarray) -> np.ndarray:
    """(12,) a design's hours a day."""
    return np.asarray(row.run.measures.pump_hours_by_month / days)


def months(result: CompareResult) -> Multiples:
    """A diagram of the months for each design, all on the same scales."""
    days, shown = result.first.measures.days_by_month, result.designs[:MOST_DRAWN]
    own = [a_day(row, days) for row in shown]
    most = max(float(np.max(own)), max(result.first.design.scenario.need.hours_per_day), 1.0)
    ends = (most, max(float(np.max(np.abs(np.array(own) - own[0]))), 0.5))
    return Multiples(tuple(Titled(row.name, _months(f"design-{k}", row, result, ends)) for k, row in enumerate(shown)))


def _months(key: str, row: Row, result: CompareResult, ends: tuple[float, float]) -> Figure:
    days = result.first.measures.days_by_month
    own, first = a_day(row, days), a_day(result.designs[0], days)
    wanted = result.first.measures.wanted_a_day
    beside = "The others are held against this one." if row is result.designs[0] else seasons(row.gain, days)
    said = f"From {number(own.min())} to {number(own.max())} hours a day. {beside}"
    table = by_month(
        ("This design, h a day", own, ".1f"),
        ("First, h a day", first, ".1f"),
        ("Difference", own - first, signed),
        ("Wanted, h a day", wanted, ".1f"),
        ("Wanted hours met", row.run.measures.met_share_by_month, percent),
    )
    words = ("Hours a day by month against the first design", said)
    return Figure(charts.against_first(key, own, first, wanted, ends, words), said, (), table)


MONTHS_LEGEND = Legend(
    (
        Key("water", "this design"),
        Key("ink", "the first design"),
        Key("line", "hours wanted; below, fewer hours than the first"),
    )
)


def overview(result: CompareResult) -> Table:
    """Every design's year."""
    years = [row.run.measures for row in result.designs]
    worst = (
        f"{MONTHS[year.worst_month - 1]}: {percent(year.met_share_by_month[year.worst_month - 1])} met"
        for year in years
    )
    return tabled(
        "Design",
        (row.name for row in result.designs),
        ("Pump hours", (year.pump_hours for year in years), number),
        ("Wanted hours met", (year.hours_met_share for year in years), percent),
        ("Worst month", worst, str),
        ("Longest stop", (year.longest_stop_h for year in years), hours),
        ("Starts", (year.starts for year in years), ",d"),
        ("Lowest charge", (year.battery.min_soc for year in years), percent),
        ("Battery life", (year.battery.stress.life_years for year in years), lasting_years),
        ("Findings", (len(row.run.findings) for row in result.designs), "d"),
    )


def differences(result: CompareResult) -> Table:
    """Every other design against the first, with money where it is known."""
    month = worst_month_name(result)
    head = (f"Against {result.designs[0].name}", f"Wanted h in {month}", "Wanted h a year", "Pump h a year", "Starts")
    rows = (
        (
            *(row.name, signed(row.gain.met_worst_month_h), signed(row.gain.met_h), signed(row.gain.pump_h)),
            *(signed(row.gain.starts), signed(row.gain.life_years), *_money(row.money, result)),
        )
        for row in result.designs[1:]
    )
    return Table((*head, "Battery life, years", *_money_head(result)), tuple(rows))


def priced(result: CompareResult) -> bool:
    """Whether any design, or any step, has a price."""
    known = [*(row.money for row in result.designs), *(step.money for step in result.steps)]
    return any(money.once or money.a_year for money in known)


def _money_head(result: CompareResult) -> tuple[str, ...]:
    cost = result.first.design.scenario.cost
    unit = cost.currency or "money"
    pays = () if cost.mains_per_kwh is None else ("Pays against mains",)
    return (f"Cost, {unit}", f"Wanted h a year per {unit} a year", *pays) if priced(result) else ()


def _money(money: Money, result: CompareResult) -> tuple[str, ...]:
    if not priced(result):
        return ()
    once = "unknown" if money.once is None else f"{money.once:,.0f}"
    yearly = ", unknown a year" if money.a_year is None else f" + {money.a_year:,.0f} a year" if money.a_year else ""
    each = "" if money.met_hours_per_unit is None else f"{money.met_hours_per_unit:.3g}"
    never = "" if not money.once else "never"
    pays = never if money.payback_years is None else f"{money.payback_years:,.0f} years"
    asked = result.first.design.scenario.cost.mains_per_kwh is not None
    return (once + yearly, each, pays) if asked else (once + yearly, each)


def months_tables(result: CompareResult) -> tuple[Table, Table]:
    """Hours a day and light in the plane of every design, month by month."""
    names = [row.name for row in result.designs]
    run = np.array([a_day(row, result.first.measures.days_by_month) for row in result.designs])
    light = np.array([row.run.measures.in_plane_by_month_kwh_m2 for row in result.designs])
    in_plane = across_months("Light in the plane, kWh/m²", names, light, ".0f")
    return across_months("Hours a day", names, run, ".1f"), in_plane


def steps_table(result: CompareResult) -> Table:
    """The steps, the one that gains most first."""
    month = worst_month_name(result)
    head = ("Step", f"Wanted h in {month}", "Wanted h a year", f"Pump h in {month}", "Pump h a year")
    heads = (*head, "Battery life, years", "Wanted h a year for each W or Ah", *_money_head(result))
    return Table(heads, tuple(_step_row(step, result) for step in result.steps))


def by_money_table(result: CompareResult) -> Table:
    """The steps whose price is known, those first that gain most for their money."""
    unit, month = result.first.design.scenario.cost.currency or "money", worst_month_name(result)
    steps = [(step, step.money) for step in result.by_money]
    return tabled(
        "Step",
        (told(step.change.name) for step, _ in steps),
        (f"Wanted h a year per {unit} a year", (_each(paid.met_hours_per_unit) for _, paid in steps), str),
        (
            f"Wanted h in {month} per {unit} a year",
            (_each(paid.met_worst_month_hours_per_unit) for _, paid in steps),
            str,
        ),
        (f"Spread over its years, {unit} a year", (paid.spread_a_year or 0.0 for _, paid in steps), ".2f"),
    )


def _each(hours_each: float | None) -> str:
    return "costs nothing" if hours_each is None else f"{hours_each:.3g}"


def _step_row(step: Step, result: CompareResult) -> tuple[str, ...]:
    it = step.gain
    gains = (it.met_worst_month_h, it.met_h, it.pump_worst_month_h, it.pump_h, it.life_years)
    unit = "" if step.more is None else {"w": " a W", "ah": " an Ah"}[step.more[0]]
    each = "" if step.met_h_each is None else f"{step.met_h_each:+.2g}{unit}"
    return (step.change.name, *map(signed, gains), each, *_money(step.money, result))


def steps_figure(result: CompareResult) -> Figure:
    """What each step gains in the worst month."""
    month = worst_month_name(result)
    gains = [(told(step.change.name), step.gain.met_worst_month_h) for step in result.steps]
    items = [
        Bar(f"{name}: {signed(gain, ' h')}", min(gain, 0.0), abs(gain), WATER if gain >= 0.0 else ALARM)
        for name, gain in gains
    ]
    said = f"Wanted hours that each single change gains, or loses, in {month}, the worst month of the first design."
    behind = tabled("Step", (name for name, _ in gains), (f"Wanted h in {month}", (gain for _, gain in gains), signed))
    return Figure(charts.bars("steps", items, ("What the next step gains", said)), said, (), behind)


def tilt_figure(result: CompareResult) -> Figure:
    """Light and hours against tilt."""
    month, days = worst_month_name(result), result.first.measures.days_by_month
    tilt, now = result.tilts.tilt_deg, result.first.design.scenario.panel.tilt_deg
    best = [result.best[goal] for goal in (YEAR, WORST)]
    light = [result.tilts.over(it.months) / it.in_plane_kwh_m2 * 100.0 for it in best]
    run = result.hours_by_tilt
    at, hours = np.array(run.at), (run.pump_hours / days.sum(), _worst(run.worst_month_hours, result))
    said = (
        f"Most light in the year at {best[0].tilt_deg:.0f}°, in {month} at {best[1].tilt_deg:.0f}° (dots); the "
        f"panel is at {now:g}° (dashed). A flat top means that some degrees either way cost little."
    )
    marks = tuple((it.tilt_deg, 100.0) for it in best)
    panels = (
        Panel("light in the plane, % of the best", _lines(tilt, *light), marks),
        Panel("pump hours a day", _lines(at, *hours)),
    )
    words = ("Light and pump hours against tilt", said)
    drawn = charts.curves("tilt", panels, "tilt, degrees from level", words, now)
    keys = (Key("ink", "whole year"), Key("pump", month), Key("dash", "present tilt"))
    return Figure(drawn, said, keys, _tilt_table(month, tilt, light, [_where_known(at, one, tilt) for one in hours]))


def _lines(along: np.ndarray, year: np.ndarray, month: np.ndarray) -> tuple[Line, ...]:
    return Line(along, year, INK), Line(along, month, WATER)


def _tilt_table(month: str, tilt: np.ndarray, light: Sequence[np.ndarray], hours: Sequence[list[float | str]]) -> Table:
    return tabled(
        "Tilt",
        (f"{value:g}°" for value in tilt),
        ("Light of the year, %", light[0], ".0f"),
        (f"Light of {month}, %", light[1], ".0f"),
        ("Year, h a day", hours[0], ".1f"),
        (f"{month}, h a day", hours[1], ".1f"),
    )


def _where_known(at: np.ndarray, values: np.ndarray, along: np.ndarray) -> list[float | str]:
    """Values at some of the places along an axis, and nothing at the others."""
    known = {int(place): float(value) for place, value in zip(at, values, strict=True)}
    return [known.get(int(place), "") for place in along]


def _worst(total_h: np.ndarray, result: CompareResult) -> np.ndarray:
    """Hours a day of the worst month."""
    return np.asarray(total_h / result.first.measures.days_by_month[result.first.measures.worst_month - 1])


def power_figure(result: CompareResult, said: str) -> Figure:
    """Hours against panel power."""
    month, days, run = worst_month_name(result), result.first.measures.days_by_month, result.hours_by_power
    panel = result.first.design.scenario.panel
    at, now = np.array(run.at), panel.power_w * panel.count
    year, worst, met = run.pump_hours / days.sum(), _worst(run.worst_month_hours, result), run.met_hours / days.sum()
    lines = (*_lines(at, year, worst), Line(at, met, ALARM, dashed=True))
    words = ("Pump hours against panel power", said)
    dashed = "wanted hours that are met, whole year; upright, the present panel"
    keys = (Key("ink", "whole year"), Key("pump", month), Key("dash", dashed))
    table = tabled(
        "Panel, W",
        (f"{power:.0f}" for power in at),
        ("Year, h a day", year, ".1f"),
        (f"{month}, h a day", worst, ".1f"),
        ("Wanted and met, h a day", met, ".1f"),
    )
    panels = (Panel("pump hours a day", lines),)
    return Figure(charts.curves("power", panels, "panel power, W", words, now), said, keys, table)


def shade_figure(result: CompareResult) -> Figure:
    """What the first design's shades take, month by month, and what trimming or moving would give."""
    year = result.first.measures
    lost, left = year.shade_loss_by_month_kwh_m2, year.in_plane_by_month_kwh_m2
    share = lost / np.maximum(lost + left, 1e-9)
    said = (
        f"Of the light that would fall on the panel in the year, the shades take {lost.sum():.0f} of "
        f"{(lost + left).sum():.0f} kWh/m² ({percent(lost.sum() / (lost + left).sum())}); most in "
        f"{MONTH_NAMES[int(share.argmax())]}."
    )
    heads = {"trimming": "Pump h if trimmed", "moving": "Pump h without any shade"}
    more = ((head, step.gain.pump_h_by_month, signed) for kind, head in heads.items() if (step := result.step(kind)))
    drawn = charts.months(
        "shade", "light lost to shade, %", (Bars(share * 100.0, SUN),), (), ("Light lost to shade by month", said)
    )
    return Figure(drawn, said, (), by_month(("Lost, kWh/m²", lost, ".1f"), ("Lost", share, percent), *more))
