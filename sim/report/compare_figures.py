"""The charts and tables of the comparison's report, with their words."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.report import charts
from sim.report import compare_charts as drawn
from sim.report.charts import Bar
from sim.report.compare_charts import Line, Panel
from sim.report.compare_words import month_days, seasons, signed, worst_month_name
from sim.report.figures import Figure, Key, Table
from sim.report.ink import ALARM, INK, WATER
from sim.words import hours, number, percent, years

if TYPE_CHECKING:
    from sim.studies.compare import CompareResult, Row, Step
    from sim.studies.money import Money

MOST_DRAWN = 12  # designs with a diagram of their own; the tables hold all


@dataclass(frozen=True)
class Titled:
    """A chart under its own heading."""

    name: str
    figure: Figure


def a_day(row: Row, days: np.ndarray) -> np.ndarray:
    """(12,) a design's hours a day."""
    return np.asarray(row.run.measures.pump_hours_by_month / days)


def months(result: CompareResult) -> tuple[Titled, ...]:
    """A diagram of the months for each design, all on the same scales."""
    days, shown = month_days(result), result.designs[:MOST_DRAWN]
    own = [a_day(row, days) for row in shown]
    most = max(float(np.max(own)), max(result.first.design.scenario.need.hours_per_day), 1.0)
    apart = max(float(np.max(np.abs(np.array(own) - own[0]))), 0.5)
    return tuple(Titled(row.name, _months(f"design-{k}", row, result, (most, apart))) for k, row in enumerate(shown))


def _months(key: str, row: Row, result: CompareResult, ends: tuple[float, float]) -> Figure:
    days = month_days(result)
    own, first = a_day(row, days), a_day(result.designs[0], days)
    wanted = np.array(result.first.design.scenario.need.hours_per_day)
    said = f"From {number(own.min())} to {number(own.max())} hours a day. {seasons(row.gain, days)}"
    if row is result.designs[0]:
        said = f"From {number(own.min())} to {number(own.max())} hours a day. The others are held against this one."
    rows = zip(MONTHS, own, first, own - first, wanted, row.run.measures.met_share_by_month, strict=True)
    return Figure(
        drawn.against_first(key, own, first, wanted, ends, ("Hours a day by month against the first design", said)),
        said,
        (),
        Table(
            ("Month", "This design, h a day", "First, h a day", "Difference", "Wanted, h a day", "Wanted hours met"),
            tuple((m, f"{a:.1f}", f"{b:.1f}", signed(c), f"{w:.1f}", percent(met)) for m, a, b, c, w, met in rows),
        ),
    )


MONTHS_LEGEND = (
    Key("water", "this design"),
    Key("ink", "the first design"),
    Key("line", "hours wanted; below, fewer hours than the first"),
)


def overview(result: CompareResult) -> Table:
    """Every design's year."""
    head = ("Design", "Pump hours", "Wanted hours met", "Worst month", "Longest stop", "Starts")
    return Table((*head, "Lowest charge", "Battery life", "Findings"), tuple(map(_overview_row, result.designs)))


def _overview_row(row: Row) -> tuple[str, ...]:
    year = row.run.measures
    month = year.worst_month - 1
    return (
        row.name,
        number(year.pump_hours),
        percent(year.hours_met_share),
        f"{MONTHS[month]}: {percent(year.met_share_by_month[month])} met",
        hours(year.longest_stop_h),
        f"{year.starts:,}",
        percent(year.battery.min_soc),
        years(year.battery.stress.life_years),
        str(len(row.run.findings)),
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


def _money_head(result: CompareResult) -> tuple[str, ...]:
    cost = result.first.design.scenario.cost
    unit = cost.currency or "money"
    pays = () if cost.mains_per_kwh is None else ("Pays against mains",)
    return (f"Cost, {unit}", f"Wanted h a year per {unit} a year", *pays)


def _money(money: Money, result: CompareResult) -> tuple[str, ...]:
    once = "unknown" if money.once is None else f"{money.once:,.0f}"
    yearly = ", unknown a year" if money.a_year is None else f" + {money.a_year:,.0f} a year" if money.a_year else ""
    each = "" if money.met_hours_per_unit is None else f"{money.met_hours_per_unit:.3g}"
    never = "" if not money.once else "never"
    pays = never if money.payback_years is None else f"{money.payback_years:,.0f} years"
    asked = result.first.design.scenario.cost.mains_per_kwh is not None
    return (once + yearly, each, pays) if asked else (once + yearly, each)


def by_month(result: CompareResult) -> tuple[Table, Table]:
    """Hours a day and light in the plane of every design, month by month."""
    days = month_days(result)
    run = ((row.name, *(f"{value:.1f}" for value in a_day(row, days))) for row in result.designs)
    light = (
        (row.name, *(f"{value:.0f}" for value in row.run.measures.in_plane_by_month_kwh_m2)) for row in result.designs
    )
    return (
        Table(("Hours a day", *MONTHS), tuple(run)),
        Table(("Light in the plane, kWh/m²", *MONTHS), tuple(light)),
    )


def steps_table(result: CompareResult) -> Table:
    """The steps, the one that gains most first."""
    month = worst_month_name(result)
    head = ("Step", f"Wanted h in {month}", "Wanted h a year", f"Pump h in {month}", "Pump h a year")
    return Table(
        (*head, "Battery life, years", *_money_head(result)), tuple(_step_row(step, result) for step in result.steps)
    )


def _step_row(step: Step, result: CompareResult) -> tuple[str, ...]:
    it = step.gain
    gains = (it.met_worst_month_h, it.met_h, it.pump_worst_month_h, it.pump_h, it.life_years)
    return (step.change.name, *map(signed, gains), *_money(step.money, result))


def steps_figure(result: CompareResult) -> Figure:
    """What each step gains in the worst month."""
    month = worst_month_name(result)
    items = [
        Bar(
            f"{step.change.name}: {signed(step.gain.met_worst_month_h, ' h')}",
            min(step.gain.met_worst_month_h, 0.0),
            abs(step.gain.met_worst_month_h),
            WATER if step.gain.met_worst_month_h >= 0.0 else ALARM,
        )
        for step in result.steps
    ]
    said = f"Wanted hours that each single change gains, or loses, in {month}, the worst month of the first design."
    behind = Table((*steps_table(result).head[:2],), tuple(row[:2] for row in steps_table(result).rows))
    return Figure(charts.bars("steps", items, "What the next step gains", said), said, (), behind)


def tilt_figure(result: CompareResult) -> Figure:
    """Light and hours against tilt."""
    from sim.studies.compare import WORST, YEAR

    month, days = worst_month_name(result), month_days(result)
    tilt, now = result.tilts.tilt_deg, result.first.design.scenario.panel.tilt_deg
    best = {goal: result.best[goal] for goal in (YEAR, WORST)}
    light = {goal: result.tilts.over(it.months) / it.in_plane_kwh_m2 * 100.0 for goal, it in best.items()}
    run = result.hours_by_tilt
    at, year, worst = np.array(run.at), run.pump_hours / days.sum(), _worst(run.worst_month_hours, result)
    said = (
        f"Most light in the year at {best[YEAR].tilt_deg:.0f}°, in {month} at {best[WORST].tilt_deg:.0f}° (dots); the "
        f"panel is at {now:g}° (dashed). A flat top means that some degrees either way cost little."
    )
    panels = (
        Panel(
            "light in the plane, % of the best",
            (Line(tilt, light[YEAR], INK), Line(tilt, light[WORST], WATER)),
            tuple((it.tilt_deg, 100.0) for it in best.values()),
        ),
        Panel("pump hours a day", (Line(at, year, INK), Line(at, worst, WATER))),
    )
    by_tilt = {int(value): k for k, value in enumerate(run.at)}
    rows = (
        (f"{t:g}°", f"{a:.0f}", f"{b:.0f}", *_hours_at(by_tilt.get(int(t)), year, worst))
        for t, a, b in zip(tilt, light[YEAR], light[WORST], strict=True)
    )
    head = ("Tilt", "Light of the year, %", f"Light of {month}, %", "Year, h a day", f"{month}, h a day")
    return Figure(
        drawn.curves("tilt", panels, now, "tilt, degrees from level", "Light and pump hours against tilt", said),
        said, (Key("ink", "whole year"), Key("water", month), Key("dash", "present tilt")), Table(head, tuple(rows)),
    )  # fmt: skip


def _hours_at(place: int | None, year: np.ndarray, worst: np.ndarray) -> tuple[str, str]:
    return ("", "") if place is None else (f"{year[place]:.1f}", f"{worst[place]:.1f}")


def _worst(total_h: np.ndarray, result: CompareResult) -> np.ndarray:
    """Hours a day of the worst month."""
    return np.asarray(total_h / month_days(result)[result.first.measures.worst_month - 1])


def power_figure(result: CompareResult, said: str) -> Figure:
    """Hours against panel power."""
    month, days, run = worst_month_name(result), month_days(result), result.hours_by_power
    panel = result.first.design.scenario.panel
    at, now = np.array(run.at), panel.power_w * panel.count
    year, worst, met = run.pump_hours / days.sum(), _worst(run.worst_month_hours, result), run.met_hours / days.sum()
    lines = (Line(at, year, INK), Line(at, worst, WATER), Line(at, met, ALARM, dashed=True))
    rows = zip(at, year, worst, met, strict=True)
    head = ("Panel, W", "Year, h a day", f"{month}, h a day", "Wanted and met, h a day")
    return Figure(
        drawn.curves(
            "power", (Panel("pump hours a day", lines),), now, "panel power, W", "Pump hours against panel power", said
        ),
        said,
        (
            Key("ink", "whole year"), Key("water", month),
            Key("dash", "wanted hours that are met, whole year; upright, the present panel"),
        ),
        Table(head, tuple((f"{w:.0f}", *(f"{value:.1f}" for value in values)) for w, *values in rows)),
    )  # fmt: skip


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
    changed = [(kind, step) for kind in ("trimming", "moving") if (step := result.step(kind))]
    rows = (
        (name, f"{lost[k]:.1f}", percent(share[k]), *(signed(step.gain.pump_h_by_month[k]) for _, step in changed))
        for k, name in enumerate(MONTHS)
    )
    heads = {"trimming": "Pump h if trimmed", "moving": "Pump h without any shade"}
    return Figure(
        drawn.shade_months(share, "Light lost to shade by month", said),
        said,
        (),
        Table(("Month", "Lost, kWh/m²", "Lost", *(heads[kind] for kind, _ in changed)), tuple(rows)),
    )
