"""The ledger: every stop of the year with its one cause, and the hours of standing by cause."""

import csv
import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import pandas as pd

from sim.calendar import HOUR_S
from sim.catalogue.cells import cell
from sim.figures.causes import CAUSES, PLANNED, Stop, Stops, hours_by_cause
from sim.plant.faults import Outage, outages_of
from sim.scenario.care import Care
from sim.scenario.models import Battery

LINE = "%.6g,%.6g,%s,%s,%.6g,%s,%s,%.6g,%.6g,%.6g,%.6g,%.6g,%.6g\n"
SHORT_H = 1.0  # of standing, and of running between, in a burst of stops; our own default
ALONE = (*PLANNED, "fault")  # causes that share a burst with no other
FORMULA = ("=", "+", "-", "@", "\t", "\r")  # what a spreadsheet takes a formula by


@dataclass(frozen=True)
class Entry:
    """One stop: when, for how long, why, and charge (0…1) and voltage at the controller as it stopped and restarted.

    ``from_h`` and ``to_h`` are hours since the year began, ``stopped`` and ``restarted`` the same by the clock.

    ``rest_voltage_at_stop`` is what the battery has at rest at that charge, the mean of after charge and discharge, and
    ``sag_at_stop`` how far the voltage at the controller stood below it.

    ``detail`` names the faults behind a fault. A stop that outlasts the year has no restart. Where the cause changes
    while the pump stands, a new entry begins.
    """

    from_h: float
    to_h: float
    stopped: str
    restarted: str | None
    hours: float
    cause: str
    detail: str
    charge_at_stop: float
    voltage_at_stop: float
    charge_at_restart: float | None
    voltage_at_restart: float | None
    rest_voltage_at_stop: float | None = None
    sag_at_stop: float | None = None


def faults_behind(stop: Stop, outages: Sequence[Outage]) -> str:
    """The names of the faults during a stop, each once.

    >>> from sim.figures.causes import Stop
    >>> from sim.plant.faults import Outage
    >>> clog, fuse = Outage("pump clog", 0.0, 7200.0), Outage("blown fuse", 9000.0, 9900.0)
    >>> faults_behind(Stop(1.0, 2.0, "fault", 0.5, 13.0), [clog, fuse])
    'pump clog'
    """
    found = (one.name for one in outages if one.from_s < stop.to_h * HOUR_S and one.to_s > stop.from_h * HOUR_S)
    return ", ".join(dict.fromkeys(found))


def _outages(care: Care, hours: int) -> list[Outage]:
    """The outages of all kinds in a year."""
    return [one for kind in outages_of(care, hours * HOUR_S) for one in kind]


def _stamps(index: pd.DatetimeIndex, hours: np.ndarray) -> list[str]:
    """Moments in local standard time, to the second."""
    first = np.datetime64(index[0].tz_localize(None), "s")
    return list(map(str, (first + np.rint(hours * HOUR_S).astype("timedelta64[s]")).tolist()))


def rest_and_sag(stops: Stops, battery: Battery | None) -> tuple[list[float], list[float]]:
    """Rest voltage at the charge of each stop, V, and how far the controller's stood below it.

    Not numbers without a battery; a dead bus has no sag.
    """
    table = stops.table
    if battery is None:
        return ([math.nan] * len(table), [math.nan] * len(table))
    chemistry = cell(battery.chemistry)
    rest_v = np.interp(100.0 * table["soc"], chemistry.rest_percent, chemistry.rest_v) * battery.nominal_v / 12.0
    sag_v = np.where(table["bus_v"] > 0.0, rest_v - table["bus_v"], math.nan)
    return rest_v.tolist(), sag_v.tolist()


@dataclass(frozen=True)
class Burst:
    """Stops that follow one another closely, or a single one: their places, and hours of standing."""

    first: int
    count: int
    hours: float


def bursts_of(stops: Stops) -> tuple[Burst, ...]:
    """All stops in order, short ones with less than SHORT_H of running between them as one.

    They are of one cause, or of several that the sun, the battery and the settings make by turns.

    >>> from sim.figures.causes import Stop
    >>> clicks = [Stop(at, at + 0.1, "night", 0.1, 12.0) for at in (1.0, 1.5, 9.0)]
    >>> [(one.first, one.count) for one in bursts_of(Stops.of(clicks))]
    [(0, 2), (2, 1)]
    """
    table, short = stops.table, stops.hours <= SHORT_H
    close = table["from_h"][1:] - table["to_h"][:-1] < SHORT_H
    alone = np.isin(table["cause"], [CAUSES.index(cause) for cause in ALONE])
    alike = (table["cause"][1:] == table["cause"][:-1]) | ~(alone[1:] | alone[:-1])
    goes_on = close & short[1:] & short[:-1] & alike
    first = np.flatnonzero(np.r_[True, ~goes_on][: len(table)])
    counts = np.diff(np.append(first, len(table)))
    hours = np.add.reduceat(stops.hours, first) if len(first) else np.empty(0)
    rows = zip(first.tolist(), counts.tolist(), hours.tolist(), strict=True)
    return tuple(Burst(*row) for row in rows)


def ledger_of(
    stops: Iterable[Stop], index: pd.DatetimeIndex, care: Care, battery: Battery | None = None
) -> tuple[Entry, ...]:
    """The stops of a year with the hours ``index`` as entries, in order of time; with a battery its rest and sag."""
    known, outages = Stops.of(stops), _outages(care, len(index))
    rest_v, sag_v = ([None if math.isnan(one) else one for one in volts] for volts in rest_and_sag(known, battery))
    stopped, restarted = (_stamps(index, known.table[edge]) for edge in ("from_h", "to_h"))
    return tuple(
        Entry(
            from_h=stop.from_h,
            to_h=stop.to_h,
            stopped=began,
            restarted=None if stop.end_soc is None else ended,
            hours=stop.hours,
            cause=stop.cause,
            detail=faults_behind(stop, outages) if stop.cause == "fault" else "",
            charge_at_stop=stop.soc,
            voltage_at_stop=stop.bus_v,
            charge_at_restart=stop.end_soc,
            voltage_at_restart=stop.end_bus_v,
            rest_voltage_at_stop=rest,
            sag_at_stop=sag,
        )
        for stop, began, ended, rest, sag in zip(known, stopped, restarted, rest_v, sag_v, strict=True)
    )


def totals_of(stops: Iterable[Stop]) -> list[dict[str, Any]]:
    """The stops of each cause, every cause named.

    >>> from sim.figures.causes import Stop
    >>> [total for total in totals_of([Stop(5.0, 9.0, "night", 0.1, 12.2)]) if total["stops"]]
    [{'cause': 'night', 'stops': 1, 'hours': 4.0, 'longest_h': 4.0}]
    """
    known = Stops.of(stops)
    cause, lasted_h, longest_h = known.table["cause"], known.hours, np.zeros(len(CAUSES))
    counts = np.bincount(cause, minlength=len(CAUSES))
    if known.closes and cause[0] == cause[-1]:
        lasted_h[-1] += lasted_h[0]
        counts[cause[0]] -= 1
    np.maximum.at(longest_h, cause, lasted_h)
    columns = zip(CAUSES, counts.tolist(), hours_by_cause(known).values(), longest_h.tolist(), strict=True)
    return [dict(zip(("cause", "stops", "hours", "longest_h"), row, strict=True)) for row in columns]


def as_json(stops: Iterable[Stop], run_h: float) -> dict[str, Any]:
    """The books as plain data: running, standing, and standing by cause."""
    totals = totals_of(stops)
    return {"running_h": run_h, "standing_h": sum(total["hours"] for total in totals), "by_cause": totals}


def as_csv(stops: Iterable[Stop], index: pd.DatetimeIndex, care: Care, battery: Battery | None = None) -> str:
    """Every stop as a line of text, under a heading; the columns are those of :class:`Entry`."""
    known, outages = Stops.of(stops), _outages(care, len(index))
    table, texts = known.table, [_cell(cause) for cause in CAUSES]
    columns = (
        table["from_h"].tolist(),
        table["to_h"].tolist(),
        _stamps(index, table["from_h"]),
        np.where(np.isnan(table["end_soc"]), "", _stamps(index, table["to_h"])).tolist(),
        known.hours.tolist(),
        [texts[cause] for cause in table["cause"].tolist()],
        _details(known, outages),
        *(table[name].tolist() for name in ("soc", "bus_v", "end_soc", "end_bus_v")),
        *rest_and_sag(known, battery),
    )
    lines = map(LINE.__mod__, zip(*columns, strict=True))
    heading = ",".join(field.name for field in fields(Entry))
    return "".join((f"{heading}\n", *lines)).replace(",nan", ",")


def _details(stops: Stops, outages: Sequence[Outage]) -> list[str]:
    """What is behind each stop, as cells."""
    found = [""] * len(stops)
    for place in np.flatnonzero(stops.table["cause"] == CAUSES.index("fault")).tolist():
        found[place] = _cell(faults_behind(stops[place], outages))
    return found


def _cell(text: str) -> str:
    """Text as a cell of its own: quoted where it must be, and never a formula to a spreadsheet.

    >>> _cell("night"), _cell("pump clog, blown fuse"), _cell("=1+1")
    ('night', '"pump clog, blown fuse"', "'=1+1")
    """
    line = io.StringIO()
    csv.writer(line, lineterminator="").writerow([f"'{text}" if text.startswith(FORMULA) else text])
    return line.getvalue()
