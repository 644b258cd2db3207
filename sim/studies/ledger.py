"""The ledger: every stop of the year with its one cause, and the hours of standing by cause."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import astuple, dataclass, fields
from typing import TYPE_CHECKING, Any

from sim.figures.causes import CAUSES
from sim.plant.faults import outages_of

if TYPE_CHECKING:
    import pandas as pd

    from sim.figures.causes import Stop
    from sim.plant.faults import Outage
    from sim.scenario.care import Care

HOUR_S = 3600.0


@dataclass(frozen=True)
class Entry:
    """One stop: when, for how long, why, and charge (0…1) and voltage at the controller as it stopped and restarted.

    ``from_h`` and ``to_h`` are hours since the year began, ``stopped`` and ``restarted`` the same by the clock.

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


@dataclass(frozen=True)
class Total:
    """All stops of one cause."""

    cause: str
    stops: int
    hours: float
    longest_h: float


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


def _stamp(index: pd.DatetimeIndex, hour: float) -> str:
    """A moment in local standard time, to the second."""
    import pandas as pd

    then = (index[0].tz_localize(None) + pd.Timedelta(seconds=round(hour * HOUR_S))).to_pydatetime()
    return str(then.isoformat(sep=" "))


def ledger_of(stops: Sequence[Stop], index: pd.DatetimeIndex, care: Care) -> tuple[Entry, ...]:
    """The stops of a year with the hours ``index`` as entries, in order of time."""
    outages = [one for kind in outages_of(care, len(index) * HOUR_S) for one in kind]
    return tuple(
        Entry(
            from_h=stop.from_h,
            to_h=stop.to_h,
            stopped=_stamp(index, stop.from_h),
            restarted=None if stop.end_soc is None else _stamp(index, stop.to_h),
            hours=stop.hours,
            cause=stop.cause,
            detail=faults_behind(stop, outages) if stop.cause == "fault" else "",
            charge_at_stop=stop.soc,
            voltage_at_stop=stop.bus_v,
            charge_at_restart=stop.end_soc,
            voltage_at_restart=stop.end_bus_v,
        )
        for stop in stops
    )


def totals_of(stops: Sequence[Stop]) -> tuple[Total, ...]:
    """The stops of each cause, every cause named.

    >>> from sim.figures.causes import Stop
    >>> [total for total in totals_of([Stop(5.0, 9.0, "night", 0.1, 12.2)]) if total.stops]
    [Total(cause='night', stops=1, hours=4.0, longest_h=4.0)]
    """
    lengths: dict[str, list[float]] = {cause: [] for cause in CAUSES}
    for stop in stops:
        lengths[stop.cause].append(stop.hours)
    return tuple(Total(cause, len(each), sum(each), max(each, default=0.0)) for cause, each in lengths.items())


def as_json(stops: Sequence[Stop], run_h: float) -> dict[str, Any]:
    """The books as plain data: running, standing, and standing by cause."""
    totals = totals_of(stops)
    return {
        "running_h": run_h,
        "standing_h": sum(total.hours for total in totals),
        "by_cause": [vars(total) for total in totals],
    }


def as_csv(entries: Sequence[Entry]) -> str:
    """Every stop as a line of text, under a heading."""
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow(field.name for field in fields(Entry))
    for entry in entries:
        lines.writerow(f"{cell:.6g}" if isinstance(cell, float) else cell for cell in astuple(entry))
    return text.getvalue()
