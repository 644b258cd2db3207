"""The ledger: why the pump stood, day by day in a picture, and every stop by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report import figures
from sim.report.calendar import Calendar, calendar_of
from sim.report.figures import Figure, Table
from sim.report.section import Section
from sim.report.words import hours, moment, number, percent

if TYPE_CHECKING:
    from sim.causes import Stop
    from sim.year import YearResult

LISTED = 1500  # stops that are listed one by one; where there are more, the shortest are added up


@dataclass(frozen=True)
class Ledger:
    """Totals, the picture, and the list."""

    totals: Figure
    calendar: Calendar
    stops: Table
    summary: str
    sums_up: str


def section(result: YearResult) -> Section:
    """Every hour of standing by its cause."""
    stops = result.measures.stops
    shown = longest(stops)
    ledger = Ledger(
        totals=figures.causes_figure(result),
        calendar=calendar_of(result),
        stops=Table(
            ("Began", "Ended", "Lasted", "Cause", "Charge at the stop", "Voltage at the stop"),
            tuple(_row(result, stop) for stop in shown),
        ),
        summary=f"Every stop, {len(stops):,} in the year" if len(stops) == len(shown) else _summary(len(stops)),
        sums_up=_sums_up(result, stops, shown),
    )
    return Section("causes", "Why the pump stood", "ledger", ledger)


def longest(stops: tuple[Stop, ...]) -> tuple[Stop, ...]:
    """The longest LISTED stops, in order of time."""
    if len(stops) <= LISTED:
        return stops
    kept = sorted(stops, key=lambda stop: -stop.hours)[:LISTED]
    return tuple(sorted(kept, key=lambda stop: stop.from_h))


def _summary(count: int) -> str:
    return f"The {LISTED:,} longest of {count:,} stops"


def _sums_up(result: YearResult, stops: tuple[Stop, ...], shown: tuple[Stop, ...]) -> str:
    """That nothing is missing: running and standing make up the year."""
    stood, run = sum(stop.hours for stop in stops), result.measures.pump_hours
    rest = stood - sum(stop.hours for stop in shown)
    left = f" {len(stops) - len(shown):,} shorter stops, together {hours(rest)}, are not listed." if rest else ""
    books = f"{number(run)} h of running and {number(stood)} h of standing are {number(run + stood)} h"
    return f"{books}, the whole year.{left}"


def _row(result: YearResult, stop: Stop) -> tuple[str, ...]:
    index = result.weather.index
    lasted = f"{stop.hours:.1f} h" if stop.hours >= 1.0 else f"{stop.hours * 60.0:.0f} min"
    return (
        moment(index, stop.from_h),
        moment(index, stop.to_h),
        lasted,
        stop.cause,
        percent(stop.soc),
        f"{stop.bus_v:.2f} V",
    )
