"""The ledger: why the pump stood, day by day in a picture, and every stop by itself."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.figures.availability import PERCENTILES, spread_of
from sim.report import figures
from sim.report.calendar import Calendar, calendar_of
from sim.report.figures import Figure, Table
from sim.report.section import Section
from sim.studies.ledger import Entry, ledger_of, longest
from sim.words import hours, moment, number, percent

if TYPE_CHECKING:
    from sim.figures.causes import Stops
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
    stops = result.measures.stops
    shown = longest(stops, LISTED)
    ledger = Ledger(
        totals=figures.causes_figure(result),
        calendar=calendar_of(result),
        stops=Table(
            ("Began", "Ended", "Lasted", "Cause", "At the stop", "At the restart"),
            tuple(_row(result, entry) for entry in ledger_of(shown, result.weather.index, result.scenario.care)),
        ),
        summary=f"Every stop, {len(stops):,} in the year" if len(stops) == len(shown) else _summary(len(stops)),
        sums_up=_sums_up(result, stops, shown),
        availability=_availability(result),
    )
    return Section("causes", "Why the pump stood", "ledger", ledger)


def _summary(count: int) -> str:
    return f"The {LISTED:,} longest of {count:,} stops"


def _sums_up(result: YearResult, stops: Stops, shown: Stops) -> str:
    """That nothing is missing: running and standing make up the year."""
    stood, run = float(stops.hours.sum()), result.measures.pump_hours
    rest = stood - float(shown.hours.sum())
    left = f" {len(stops) - len(shown):,} shorter stops, together {hours(rest)}, are not listed." if rest else ""
    books = f"{number(run)} h of running and {number(stood)} h of standing are {number(run + stood)} h"
    return f"{books}, the whole year.{left}{_by_hour(result, stops)}"


def _by_hour(result: YearResult, stops: Stops) -> str:
    """From when on there are too many stops to keep each."""
    if stops.by_hour_from is None:
        return ""
    since = moment(result.weather.index, float(stops.by_hour_from))
    return f" From {since} on stops are too many to keep: each hour has one for each cause, with all its time."


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
