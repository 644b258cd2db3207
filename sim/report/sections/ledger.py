"""The ledger: why the pump stood, day by day in a picture, and every stop by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.figures.availability import PERCENTILES, spread_of
from sim.report import figures
from sim.report.calendar import Calendar, calendar_of
from sim.report.figures import Figure, Table
from sim.report.section import Section
from sim.studies.ledger import Entry, ledger_of
from sim.words import hours, moment, number, percent

if TYPE_CHECKING:
    from sim.studies.result import YearResult

LISTED = 1500  # stops that are listed one by one; where there are more, the shortest are added up


@dataclass(frozen=True)
class Ledger:
    """Totals, the picture, and the list."""

    totals: Figure
    calendar: Calendar
    stops: Table
    summary: str
    sums_up: str
    availability: Table


def section(result: YearResult) -> Section:
    """Every hour of standing by its cause."""
    stops = ledger_of(result.measures.stops, result.weather.index, result.scenario.care)
    shown = longest(stops)
    ledger = Ledger(
        totals=figures.causes_figure(result),
        calendar=calendar_of(result),
        stops=Table(
            ("Began", "Ended", "Lasted", "Cause", "At the stop", "At the restart"),
            tuple(_row(result, stop) for stop in shown),
        ),
        summary=f"Every stop, {len(stops):,} in the year" if len(stops) == len(shown) else _summary(len(stops)),
        sums_up=_sums_up(result, stops, shown),
        availability=_availability(result),
    )
    return Section("causes", "Why the pump stood", "ledger", ledger)


def longest(stops: tuple[Entry, ...]) -> tuple[Entry, ...]:
    """The longest LISTED stops, in order of time."""
    if len(stops) <= LISTED:
        return stops
    kept = sorted(stops, key=lambda stop: -stop.hours)[:LISTED]
    return tuple(sorted(kept, key=lambda stop: stop.stopped))


def _summary(count: int) -> str:
    return f"The {LISTED:,} longest of {count:,} stops"


def _sums_up(result: YearResult, stops: tuple[Entry, ...], shown: tuple[Entry, ...]) -> str:
    """That nothing is missing: running and standing make up the year."""
    stood, run = sum(stop.hours for stop in stops), result.measures.pump_hours
    rest = stood - sum(stop.hours for stop in shown)
    left = f" {len(stops) - len(shown):,} shorter stops, together {hours(rest)}, are not listed." if rest else ""
    books = f"{number(run)} h of running and {number(stood)} h of standing are {number(run + stood)} h"
    return f"{books}, the whole year.{left}"


def _row(result: YearResult, stop: Entry) -> tuple[str, ...]:
    index = result.weather.index
    lasted = f"{stop.hours:.1f} h" if stop.hours >= 1.0 else f"{stop.hours * 60.0:.0f} min"
    return (
        moment(index, stop.from_h),
        moment(index, stop.to_h),
        lasted,
        f"{stop.cause}: {stop.detail}" if stop.detail else stop.cause,
        _state(stop.charge_at_stop, stop.voltage_at_stop),
        _state(stop.charge_at_restart, stop.voltage_at_restart),
    )


def _state(soc: float | None, volts: float | None) -> str:
    """Charge and voltage together; a stop that outlasts the year has none at its end."""
    return "" if soc is None else f"{percent(soc)}, {volts:.2f} V"


def _availability(result: YearResult) -> Table:
    """Availability by energy, by faults and by both; with other seeds of the faults beside it where there are any."""
    year, chances = result.measures.availability, result.over_seeds
    rows = [
        ["by energy", f"{1e2 * year.energy:.1f} %", hours(year.energy_down_h)],
        ["by faults", f"{1e2 * year.faults:.1f} %", hours(year.faults_down_h)],
        ["by both", f"{1e2 * year.total:.1f} %", hours(year.energy_down_h + year.faults_down_h)],
    ]
    head = ["Availability", f"of {hours(year.demanded_h)}", "Down"]
    if chances is not None:
        spread = spread_of(chances)
        head.append(f"With {spread['seeds']} other dice: 10, 50, 90 of 100 lie below")
        for row, name in zip(rows, ("energy", "faults", "total"), strict=True):
            row.append(", ".join(f"{1e2 * spread[name][f'p{p}']:.1f} %" for p in PERCENTILES))
    return Table(tuple(head), tuple(map(tuple, rows)))
