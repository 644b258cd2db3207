"""What the report on many years says: usual years, poor years, and how many years are enough."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.catalogue import world
from sim.report import charts
from sim.report.blocks import Figure, Key, Table, Words, by_month, tabled, words
from sim.report.charts import Bars, Strokes
from sim.report.ink import INK
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.assumptions import MANY_YEARS, cautions, closing
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.studies.spread import SpreadResult

STOP_BINS = 20  # at most


P_MEANS = "P10 is what a tenth of the years stay below, P50 the median, P90 what nine tenths stay below."
ESTIMATE = "This is an estimate, not a guarantee: it is what this design would have done in each of these years."


def spread_report(result: SpreadResult) -> str:
    """The report on many years as one self-contained HTML page; the same years give the same text."""
    weather = result.poor_year.weather
    licence = (result.typical or weather).licence
    sections = (
        Section("expect", "What to expect", _expect(result)),
        Section("months", "Hours a day by month", (_months(result),)),
        Section("stops", "The longest stop", (_stops(result),)),
        Section("poor", "The poor year", (*words(_poor(result)), _poor_compared(result))),
        Section("enough", "How many years are enough", (Words(result.convergence.in_words()), _settling(result))),
        closing(result.scenario, replace(weather, source=_source(result), licence=licence), MANY_YEARS),
        cautions(),
    )
    return render(page_on(weather, "Usual years and poor years", result.scenario.title, sections))


def _expect(result: SpreadResult) -> tuple[object, ...]:
    """Promise, the year's figures, and what they are."""
    said = (Words(_promise(result), "promise"), *words(_said(result)), _shares(result))
    return *said, Words(P_MEANS, "small"), Words(ESTIMATE, "estimate")


def _source(result: SpreadResult) -> str:
    """Where the years are from."""
    if not result.synthetic:
        return f"{result.years} years as they were recorded: {result.poor_year.weather.source}"
    weather = result.scenario.weather
    means = result.typical.source if result.typical else world.SOURCE if weather.coarse else "the scenario"
    first, last = result.names[0], result.names[-1]
    return f"{result.years} synthetic years, seeds {first} to {last}, with the monthly means of: {means}"


def _daily(result: SpreadResult) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(12,) hours a day by month that a tenth, a half and nine tenths of the years stay below."""
    by_month = result.quantiles("run_h")
    low, middle, high = (np.asarray(value) / result.days_by_month for value in vars(by_month).values())
    return low, middle, high


def _promise(result: SpreadResult) -> str:
    """The poor year beside the usual one, in the month that is hardest."""
    low, middle, _ = _daily(result)
    worst = int(np.argmin(low))
    return (
        f"In {MONTH_NAMES[worst]}, the hardest month, expect about {number(middle[worst])} hours a day; one year "
        f"in ten gives less than {number(low[worst])}."
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
    ("Pump hours", "hours", ",.0f"),
    ("Share of wanted hours met", "hours_met_share", ".1%"),
    ("Longest stop, h", "longest_stop_h", ".0f"),
    ("Days without running", "idle_days", ".0f"),
    ("Starts", "starts", ",.0f"),
)


def _shares(result: SpreadResult) -> Table:
    """What a tenth, a half and nine tenths of the years stay below."""
    rows = (
        (name, *(f"{value:{form}}" for value in vars(result.quantiles(key)).values())) for name, key, form in OF_A_YEAR
    )
    return Table(("Of a year", "P10", "P50", "P90"), tuple(rows))


def _months(result: SpreadResult) -> Figure:
    low, middle, high = _daily(result)
    wanted = result.wanted_by_month / result.days_by_month
    width = high - low
    widest = int(np.argmax(width))
    said = (
        f"Eight years in ten lie within each bar. The years differ most in {MONTH_NAMES[widest]}: from "
        f"{number(low[widest])} to {number(high[widest])} hours a day."
    )
    if width.max() < 0.05:
        said = "Eight years in ten lie within each bar. The years hardly differ."
    top = max(float(high.max()), float(wanted.max()), 1.0)
    bars = (Bars(np.maximum(high - low, 0.006 * top), base=low, width=0.56),)
    strokes = (Strokes(middle, INK, 0.56), Strokes(wanted))
    title = "Pump hours a day by month, from P10 to P90 of the years"
    heads = ("P10, h a day", "P50, h a day", "P90, h a day", "Wanted, h a day")
    return Figure(
        charts.months("spread-months", "hours a day", bars, strokes, (title, said)),
        said,
        (Key("water", "P10 to P90"), Key("ink", "P50, the median"), Key("line", "hours wanted")),
        by_month(*zip(heads, (low, middle, high, wanted), (".1f",) * len(heads), strict=True)),
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
    """Which year was taken and where it is told in full."""
    file = f"{result.scenario.name}-poor-year.html"
    return (
        f"The poor year is the one that stands at a tenth of all years counted from the poorest, by the share of "
        f"wanted hours met and then by pump hours: {result.poor_name}.",
        f"It is told in full, like any single year, in the report {file}.",
    )


def _poor_compared(result: SpreadResult) -> Table:
    poor, middle = result.figures[result.poor], result.quantiles
    daily = poor["run_h"] / result.days_by_month
    worst = int(np.argmin(daily))
    usual = _daily(result)[1]
    met = (float(result.hours_met_share[result.poor]), middle("hours_met_share").p50)
    return Table(
        ("In the year", "Poor year", "Median of all years"),
        (
            ("Pump hours", f"{poor['hours']:,.0f}", f"{middle('hours').p50:,.0f}"),
            ("Share of wanted hours met", *(f"{share:.1%}" for share in met)),
            (f"Hours a day in {MONTH_NAMES[worst]}", f"{daily[worst]:.1f}", f"{usual[worst]:.1f}"),
            ("Longest stop, h", f"{poor['longest_stop_h']:.0f}", f"{middle('longest_stop_h').p50:.0f}"),
            ("Days without running", f"{poor['idle_days']:.0f}", f"{middle('idle_days').p50:.0f}"),
        ),
    )


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
