"""What the report on many years says: usual years, poor years, and how many years are enough."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.catalogue import world
from sim.report import spread_charts as drawn
from sim.report.figures import Figure, Key, Table
from sim.report.render import render
from sim.weather.weather import place_of
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.studies.spread import Quantiles, SpreadResult

STOP_BINS = 20  # at most


@dataclass(frozen=True)
class Page:
    """The whole report on many years."""

    title: str
    place: str
    promise: str
    said: tuple[str, ...]
    shares: Table
    months: Figure
    stops: Figure
    poor: tuple[str, ...]
    poor_compared: Table
    settling: Figure
    enough: str
    source: str
    licence: str
    notes: tuple[str, ...]


def spread_report(result: SpreadResult) -> str:
    """The report on many years as one self-contained HTML page; the same years give the same text."""
    return render(page_of_spread(result), "spread.html.j2")


def page_of_spread(result: SpreadResult) -> Page:
    """The page of many years."""
    weather = result.poor_year.weather
    return Page(
        title=result.scenario.title,
        place=place_of(weather),
        promise=_promise(result),
        said=_said(result),
        shares=_shares(result),
        months=_months(result),
        stops=_stops(result),
        poor=_poor(result),
        poor_compared=_poor_compared(result),
        settling=_settling(result),
        enough=result.convergence.in_words(),
        source=_source(result),
        licence=(result.typical or weather).licence,
        notes=weather.remarks,
    )


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


def _row(name: str, found: Quantiles, form: str) -> tuple[str, ...]:
    return (name, *(form.format(value) for value in (found.p10, found.p50, found.p90)))


def _shares(result: SpreadResult) -> Table:
    """What a tenth, a half and nine tenths of the years stay below."""
    met = result.quantiles("hours_met_share")
    return Table(
        ("Of a year", "P10", "P50", "P90"),
        (
            _row("Pump hours", result.quantiles("hours"), "{:,.0f}"),
            _row("Share of wanted hours met", met, "{:.1%}"),
            _row("Longest stop, h", result.quantiles("longest_stop_h"), "{:.0f}"),
            _row("Days without running", result.quantiles("idle_days"), "{:.0f}"),
            _row("Starts", result.quantiles("starts"), "{:,.0f}"),
        ),
    )


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
    rows = zip(MONTHS, low, middle, high, wanted, strict=True)
    return Figure(
        drawn.months(low, middle, high, wanted, "Pump hours a day by month, from P10 to P90 of the years", said),
        said,
        (Key("water", "P10 to P90"), Key("ink", "P50, the median"), Key("line", "hours wanted")),
        Table(
            ("Month", "P10, h a day", "P50, h a day", "P90, h a day", "Wanted, h a day"),
            tuple((name, *(f"{value:.1f}" for value in values)) for name, *values in rows),
        ),
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
    rows = zip(edges[:-1], edges[1:], counts, strict=True)
    return Figure(
        drawn.stops(counts, edges, allowed_h, "The longest stop of each year, by its length", said),
        said,
        (Key("water", "years"), Key("line", "longest stop allowed")),
        Table(("Longest stop, h", "Years"), tuple((f"{a:g} to {b:g}", str(int(count))) for a, b, count in rows)),
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
    rows = zip(found.years, found.estimate, found.standard_error, strict=True)
    return Figure(
        drawn.settling(found.what, years, estimate, error, f"How the P10 of the {found.what} settles", said),
        said,
        (Key("ink", f"P10 of the {found.what}"), Key("band", "one standard error")),
        Table(
            ("Years", f"P10 of the {found.what}", "Standard error, h"),
            tuple((str(n), f"{value:,.0f}", f"{spread:.1f}") for n, value, spread in rows),
        ),
    )
