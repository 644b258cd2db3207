"""What the report on many years says: usual years, poor years, and how many years are enough."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.language import say, speaking
from sim.report import charts
from sim.report.blocks import Figure, Key, Table, Words, by_month, tabled, words
from sim.report.charts import Bars, Strokes
from sim.report.ink import INK, SUN
from sim.report.page import page_of
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.assumptions import MANY_YEARS, cautions, closing
from sim.report.standing import NEAR_H_A_DAY, kind_of, outside, poor_no_poorer, rank
from sim.studies.many_years import Quantiles
from sim.units import in_units
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.studies.spread import SpreadResult

STOP_BINS = 20  # at most
LEAST_BAR = 0.006  # of the chart's height, so that a bar of nothing is seen

P_MEANS = "P10 is what a tenth of the years stay below, P50 the median, P90 what nine tenths stay below."
OF_MONTHS = (
    "By month each is that of the month alone: P10 of January is what a tenth of the Januaries stay below. The twelve "
    "belong to no one year and do not add up to that of a year, since dull months of one year are bright in another."
)
ESTIMATE = "This is an estimate, not a guarantee: it is what this design would have done in each of these years."
CHAINS = (
    "The years follow one another: each begins with what the year before left in the battery, in chains of twenty that "
    "begin behind a year of their own."
)


def spread_report(result: SpreadResult) -> str:
    """The report on many years as one self-contained HTML page; the same years give the same text."""
    with in_units(result.scenario.report.units):
        return _of_years(result)


def _of_years(result: SpreadResult) -> str:
    weather = result.poor_year.weather
    sections = (
        Section("expect", "What to expect", _expect(result)),
        Section("months", "Hours a day by month", (_months(result), Words(OF_MONTHS, "small"))),
        Section("light", "Light from year to year", (_light(result),)),
        Section("stops", "The longest stop", (_stops(result),)),
        Section("poor", "The poor year", (*words(_poor(result)), _poor_compared(result))),
        Section("enough", "How many years are enough", (Words(result.convergence.in_words()), _settling(result))),
        closing(result.scenario, replace(weather, source=_source(result)), MANY_YEARS),
        cautions(),
    )
    return render(page_on(weather, "Usual years and poor years", result.scenario.title, sections))


def poor_year_report(result: SpreadResult) -> str:
    """The report of the poor year, which says first that it is one; what a client is told is told of usual years."""
    page = page_of(result.poor_year)
    of = f"It is one of {result.years} {kind_of(result)}: the report of these tells what to expect."
    told = (*words((*_poor(result)[:1], of, poor_no_poorer(result))), _poor_compared(result))
    first = Section("poor", "A poor year", told)
    with speaking(page.language):
        kind = say("Running on sunlight: a poor year")
    return render(replace(page, kind=kind, sections=(first, *page.sections[1:])))


def _expect(result: SpreadResult) -> tuple[object, ...]:
    """Promise, the year's figures, and what they are."""
    said = (Words(_promise(result), "promise"), *words((*_said(result), rank(result))), _shares(result))
    return *said, Words(P_MEANS, "small"), Words(ESTIMATE, "estimate")


def _source(result: SpreadResult) -> str:
    """Where the years are from."""
    weather = result.poor_year.weather
    if not result.synthetic:
        return f"{result.years} years as they were recorded: {weather.source}"
    return f"{result.years} synthetic years; the poor one: {weather.source}"


def _promise(result: SpreadResult) -> str:
    """The poor year beside the usual one, in the month that is hardest."""
    span = result.hours_a_day
    worst = int(np.argmin(span.p10))
    return (
        f"In {MONTH_NAMES[worst]}, the hardest month, expect about {number(span.p50[worst])} hours a day; one year "
        f"in ten gives less than {number(span.p10[worst])}."
    )


def _said(result: SpreadResult) -> tuple[str, ...]:
    """The year's figures in sentences."""
    run, met, stop, idle = map(result.quantiles, ("hours", "hours_met_share", "longest_stop_h", "idle_days"))
    return (
        f"Half of the years run the pump for more than {number(run.p50)} hours; one year in ten for less than "
        f"{number(run.p10)}.",
        f"One year in ten meets less than {percent(met.p10)} of the wanted hours.",
        f"One year in ten has a stop longer than {hours(stop.p90)}, and more than {idle.p90:.0f} days without running.",
    )


OF_A_YEAR = (
    ("Pump hours", "hours", "pump_hours", ",.0f"),
    ("Share of wanted hours met", "hours_met_share", "hours_met_share", ".1%"),
    ("Longest stop, h", "longest_stop_h", "longest_stop_h", ".0f"),
    ("Days without running", "idle_days", "days_without_running", ".0f"),
    ("Starts", "starts", "starts", ",.0f"),
)


def _shares(result: SpreadResult) -> Table:
    """What a tenth, a half and nine tenths of the years stay below, and the typical year."""
    typical = result.typical.measures
    rows = (
        (name, *(f"{value:{form}}" for value in (*vars(result.quantiles(key)).values(), getattr(typical, own))))
        for name, key, own, form in OF_A_YEAR
    )
    return Table(("Of a year", "P10", "P50", "P90", "Typical year"), tuple(rows))


def _months(result: SpreadResult) -> Figure:
    span, typical = result.hours_a_day, result.typical.measures.hours_a_day
    wanted = result.wanted_by_month / result.days_by_month
    least = (result.figures["run_h"] / result.days_by_month).min(axis=0)
    width = np.asarray(span.p90 - span.p10)
    widest = int(np.argmax(width))
    said = (
        f"Eight years in ten lie within each bar. The years differ most in {MONTH_NAMES[widest]}: from "
        f"{number(span.p10[widest])} to {number(span.p90[widest])} hours a day."
    )
    if width.max() < NEAR_H_A_DAY:
        said = "Eight years in ten lie within each bar. The years hardly differ."
    said = " ".join(filter(None, (said, outside(result))))
    title = "Pump hours a day by month, from P10 to P90 of the years"
    return Figure(
        charts.months("spread-months", "hours a day", *_spanned(span, typical, Strokes(wanted)), (title, said)),
        said,
        (*SPANNED, Key("line", "hours wanted")),
        by_month(
            ("Poorest year, h a day", least, ".1f"),
            *_columns(span, typical, "h a day", ".1f"),
            ("Wanted, h a day", wanted, ".1f"),
        ),
    )


SPANNED = (Key("water", "P10 to P90"), Key("ink", "P50, the median"), Key("sun", "typical year"))


def _spanned(span: Quantiles, typical: np.ndarray, *more: Strokes) -> tuple[tuple[Bars, ...], tuple[Strokes, ...]]:
    """Twelve bars from P10 to P90, thin ones too, with strokes for the median, the typical year and what else."""
    least = LEAST_BAR * max(1.0, *(float(np.max(it)) for it in (span.p90, typical)))
    bars = (Bars(np.maximum(span.p90 - span.p10, least), base=span.p10, width=0.56),)
    return bars, (Strokes(typical, SUN, 0.8), Strokes(span.p50, INK, 0.56), *more)


def _columns(span: Quantiles, typical: np.ndarray, unit: str, form: str) -> tuple[tuple[str, np.ndarray, str], ...]:
    """The table behind such bars."""
    values = (*vars(span).values(), typical)
    return tuple(
        (f"{name}, {unit}", value, form) for name, value in zip(("P10", "P50", "P90", "Typical"), values, strict=True)
    )


def _light(result: SpreadResult) -> Figure:
    """How much months and years differ in light."""
    span, typical = Quantiles.of(result.light), result.typical_light
    *by_months, of_the_year = result.light_cv.tolist()
    year = Quantiles.of(result.light.sum(axis=1))
    said = (
        f"Light on the level: eight years in ten have between {year.p10:,.0f} and {year.p90:,.0f} kWh/m². From year to "
        f"year a month's light varies by {min(by_months):.0%} to {max(by_months):.0%}, the whole year's by "
        f"{of_the_year:.1%} (standard deviation over the mean)."
    )
    title = "Light on the level by month, from P10 to P90 of the years"
    return Figure(
        charts.months("spread-light", "kWh/m² in the month", *_spanned(span, typical), (title, said)),
        said,
        SPANNED,
        by_month(*_columns(span, typical, "kWh/m²", ".0f"), ("Varies by", by_months, ".0%")),
    )


def stop_edges(longest_h: np.ndarray) -> np.ndarray:
    """Edges of equal bins from 0 past the longest stop, whole hours that divide days where they can.

    >>> stop_edges(np.array([30.0, 100.0])).tolist()[:3], stop_edges(np.array([3.0])).tolist()
    ([0.0, 6.0, 12.0], [0.0, 1.0, 2.0, 3.0, 4.0])
    """
    longest = float(longest_h.max())
    width = next((w for w in (1, 2, 3, 6, 12, 24, 48, 168, 336) if longest < w * STOP_BINS), 672)
    return np.arange(int(longest // width) + 2) * float(width)


def _stops(result: SpreadResult) -> Figure:
    longest_h, allowed_h = result.figures["longest_stop_h"], result.scenario.need.longest_stop_h
    edges = stop_edges(longest_h)
    counts = np.histogram(longest_h, edges)[0]
    beyond = int(np.count_nonzero(longest_h > allowed_h))
    said = (
        f"{beyond} of {result.years} years have a stop longer than the {allowed_h:g} h that are allowed; the longest "
        f"of all is {hours(float(longest_h.max()))}."
    )
    title = "The longest stop of each year, by its length"
    along = ("years", "longest stop of the year, h")
    names = (f"{a:g} to {b:g}" for a, b in zip(edges[:-1], edges[1:], strict=True))
    return Figure(
        charts.histogram("spread-stops", counts, edges, along, (title, said), allowed_h),
        said,
        (Key("water", "years"), Key("line", "longest stop allowed")),
        tabled("Longest stop, h", names, ("Years", counts, "d")),
    )


def _poor(result: SpreadResult) -> tuple[str, ...]:
    """Which year was taken, where it is told in full, and why where it is no poorer than the typical one."""
    file = f"{result.scenario.name}-poor-year.html"
    return (
        f"The poor year is the one that stands at a tenth of all years counted from the poorest, by the share of "
        f"wanted hours met and then by pump hours: {result.poor_name}.",
        poor_no_poorer(result),
        CHAINS if result.synthetic else "",
        f"It is told in full, like any single year, in the report {file}.",
    )


def _poor_compared(result: SpreadResult) -> Table:
    """The poor year beside the typical one and the median of all."""
    poor, typical, usual = result.poor_year.measures, result.typical.measures, result.hours_a_day.p50
    worst = int(np.argmin(poor.hours_a_day))
    rows = (
        (name, *(f"{value:{form}}" for value in (getattr(poor, own), getattr(typical, own), result.quantiles(key).p50)))
        for name, key, own, form in OF_A_YEAR[:-1]
    )
    of_the_month = (it[worst] for it in (poor.hours_a_day, typical.hours_a_day, usual))
    hardest = (f"Hours a day in {MONTH_NAMES[worst]}", *(f"{value:.1f}" for value in of_the_month))
    return Table(("In the year", "Poor year", "Typical year", "Median of all years"), (*rows, hardest))


def _settling(result: SpreadResult) -> Figure:
    found = result.convergence
    years, estimate, error = map(np.array, (found.years, found.estimate, found.standard_error))
    said = (
        f"What a tenth of the years stay below, of {found.what}, estimated from more and more years; the band is one "
        "standard error to either side, by the bootstrap."
    )
    what = f"P10 of the {found.what}"
    table = tabled("Years", map(str, found.years), (what, estimate, ",.0f"), ("Standard error, h", error, ".1f"))
    return Figure(
        charts.settling(f"{what} in a year", years, estimate, error, (f"How the {what} settles", said)),
        said,
        (Key("ink", what), Key("band", "one standard error")),
        table,
    )
