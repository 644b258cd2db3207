"""The ledger: why the pump stood, day by day in a picture, and every stop by itself."""

from collections.abc import Iterator, Sequence

import numpy as np

from sim.figures.availability import PERCENTILES, spread_of
from sim.figures.causes import Stops, hours_by_cause
from sim.report import charts
from sim.report.blocks import Closed, Figure, Heading, Table, Words, tabled
from sim.report.calendar import calendar_figure
from sim.report.charts import Bar
from sim.report.section import Section
from sim.studies.ledger import Burst, Entry, bursts_of, ledger_of
from sim.studies.result import YearResult
from sim.words import hours, moment, moments, number, percent

LISTED = 1500  # stops that are listed one by one; where there are more, the shortest are added up
CAUSES_MEAN = (
    "“Night” is a low-voltage stop of up to a day, “dull spell” one that outlasts a day, “early cut-off” one with much "
    "charge left, “schedule” the timer. “Shade”, and “dirt or snow”, are low-voltage stops in more than half of which "
    "the same system without it would have run."
)
AVAILABLE = (
    "Share of the hours in which neither season nor schedule holds the pump. Downtime by energy is all that is no "
    "fault."
)
AS_SEEN = (
    "Simulated charge, and the voltage that the controller saw just before: at a stop under the running pump, at a "
    "restart without it. 0 V: the bus was dead. The sag is how far that lay below the battery's rest voltage at this "
    "charge, for the pump's current in battery and leads. Short stops that follow one another closely are one row, "
    "with how long each cause held."
)


def section(result: YearResult) -> Section:
    """Every hour of standing by its cause: totals, availability, the calendar, and the list."""
    part = (
        causes_figure(result),
        Words(CAUSES_MEAN, "small"),
        Heading("Availability"),
        Words(AVAILABLE, "small"),
        _availability(result),
        Heading("The calendar of stops"),
        calendar_figure(result),
        Heading("Every stop"),
        Words(AS_SEEN, "small"),
        *listed(result),
    )
    return Section("causes", "Why the pump stood", part)


def causes_figure(result: YearResult) -> Figure:
    """Hours of standing by cause."""
    by_cause = result.measures.stops_by_cause
    total, year_h = sum(by_cause.values()), len(result.measures.run_h)
    shown = {cause: value for cause, value in by_cause.items() if value > 0.0} or {"no stop": 0.0}
    items = [Bar(f"{cause}: {hours(value)}", 0.0, value) for cause, value in shown.items()]
    said = f"The pump stands {hours(total)} of the year's {hours(year_h)}; each stop has one cause."
    lasted = [*by_cause.values(), total]
    table = tabled(
        "Cause",
        (*by_cause, "all stops"),
        ("Hours", lasted, number),
        ("Share of standing", (value / total if total else 0.0 for value in lasted), percent),
    )
    return Figure(charts.bars("causes", items, ("Why the pump stood, hours in the year", said)), said, (), table)


def listed(result: YearResult) -> tuple[Words | Closed, ...]:
    """That nothing is missing, and every stop, or the longest of many."""
    stops, count = result.measures.stops, len(result.measures.stops)
    bursts = bursts_of(stops)
    kept = np.argsort([-one.hours for one in bursts], kind="stable")[:LISTED]
    shown = [bursts[place] for place in sorted(kept.tolist())]
    adds_up = Words(_sums_up(result, stops, shown))
    if not count:
        return (adds_up,)
    listed = sum(one.count for one in shown)
    summary = f"Every stop, {count:,} in the year" if count == listed else f"The longest {listed:,} of {count:,} stops"
    head = ("Began", "Ended", "Lasted", "Cause", "At the stop", "At the restart")
    return adds_up, Closed(summary, Table(head, tuple(_burst_rows(result, shown))))


def _burst_rows(result: YearResult, shown: Sequence[Burst]) -> Iterator[tuple[str, ...]]:
    """A row for each burst, from the first of its stops to the last restart."""
    scenario, stops = result.scenario, result.measures.stops
    ends = np.array([(one.first, one.first + one.count - 1) for one in shown]).reshape(-1, 2)
    first, last = (
        ledger_of(Stops(stops.table[places]), result.weather.index, scenario.care, scenario.battery)
        for places in ends.T
    )
    index = result.weather.index
    began, ended = (moments(index, at_h) for at_h in ([one.from_h for one in first], [one.to_h for one in last]))
    causes = (_causes(stops.table[one.first : one.first + one.count]) for one in shown)
    yield from map(_row, shown, first, last, causes, began, ended)


def _causes(table: np.ndarray) -> str:
    """The causes of the stops of a burst and how long each held; nothing where there is one."""
    by_cause = {cause: held for cause, held in hours_by_cause(Stops(table)).items() if held > 0.0}
    return ", ".join(f"{cause} {_lasted(held)}" for cause, held in by_cause.items()) if len(by_cause) > 1 else ""


def _lasted(stood_h: float) -> str:
    return f"{stood_h:.1f} h" if stood_h >= 1.0 else f"{stood_h * 60.0:.0f} min"


def _sums_up(result: YearResult, stops: Stops, shown: Sequence[Burst]) -> str:
    """That nothing is missing: running and standing make up the year."""
    stood, run = float(stops.hours.sum()), result.measures.pump_hours
    left_out = len(stops) - sum(one.count for one in shown)
    rest = stood - sum(one.hours for one in shown)
    left = f" {left_out:,} shorter stops, together {hours(rest)}, are not listed." if left_out else ""
    books = f"{number(run)} h of running and {number(stood)} h of standing are {number(run + stood)} h"
    return f"{books}, the whole year.{left}{_by_hour(result, stops)}"


def _by_hour(result: YearResult, stops: Stops) -> str:
    """From when on there are too many stops to keep each."""
    if stops.by_hour_from is None:
        return ""
    since = moment(result.weather.index, float(stops.by_hour_from))
    return f" From {since} on stops are too many to keep: each hour has one for each cause, with all its time."


def _row(burst: Burst, stop: Entry, last: Entry, causes: str, began: str, ended: str) -> tuple[str, ...]:
    lasted = _lasted(burst.hours)
    sag = "" if stop.sag_at_stop is None else f", sag {stop.sag_at_stop:.2f} V"
    return (
        began,
        ended if last.restarted else "not in this year",
        lasted if burst.count == 1 else f"{burst.count} stops, {lasted} together",
        causes or (f"{stop.cause}: {stop.detail}" if stop.detail else stop.cause),
        _state(stop.charge_at_stop, stop.voltage_at_stop) + sag,
        _state(last.charge_at_restart, last.voltage_at_restart),
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
