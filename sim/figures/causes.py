"""Every stop of the pump and why it stood."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sim.plant.records import (
    FAULT,
    LOW_VOLTAGE,
    OVERLOAD,
    OVERVOLTAGE,
    PROTECTION,
    RUNNING,
    SCHEDULE,
    SEASONAL,
    STALLED,
)

CAUSES = (
    "schedule",
    "night",
    "dull spell",
    "shade",
    "dirt or snow",
    "early cut-off",
    "cold lock of the battery",
    "protection circuit",
    "voltage too low for the pump",
    "fault",
    "seasonal",
    "overload",
    "voltage too high for the load",
)
_BY_CODE = {
    SCHEDULE: "schedule",
    PROTECTION: "protection circuit",
    STALLED: "voltage too low for the pump",
    FAULT: "fault",
    SEASONAL: "seasonal",
    OVERLOAD: "overload",
    OVERVOLTAGE: "voltage too high for the load",
}
DULL_AFTER_H = 24.0  # a low-voltage stop longer than this outlasted a day's sun; our own default
BLAMED_SHARE = 0.5  # of a stop in which the pump of a twin ran, from which the difference is blamed; our own default
SAME_MOMENT_H = 1e-9


@dataclass(frozen=True)
class Stop:
    """One stretch in which the pump stood for one cause, in hours since the year began.

    With the charge at both ends, and the voltage at the controller just before each: at a stop that under the running
    pump, at a restart that without it. A dead bus has 0 V; a stop that outlasts the year has no end.
    """

    from_h: float
    to_h: float
    cause: str
    soc: float
    bus_v: float
    end_soc: float | None = None
    end_bus_v: float | None = None

    @property
    def hours(self) -> float:
        """How long it lasted."""
        return self.to_h - self.from_h


@dataclass(frozen=True)
class Running:
    """How long a pump had run, ``run_s`` (n,), at moments ``at_s`` (n,)."""

    at_s: np.ndarray
    run_s: np.ndarray

    def share(self, from_s: float, to_s: float) -> float:
        """The share of a stretch in which it ran; within an hour it is taken as spread evenly.

        >>> Running(np.array([0.0, 3600.0]), np.array([0.0, 900.0])).share(600.0, 1200.0)
        0.25
        """
        began, ended = np.interp((from_s, to_s), self.at_s, self.run_s)
        return float((ended - began) / (to_s - from_s))


Twins = Mapping[str, Running]  # how long the pump of the same system without shade, or without dirt, ran


def low_voltage_cause(event: np.void, to_s: float, early_soc: float, twins: Twins) -> str:
    """What was behind a low-voltage stop: in this order, the first that holds.

    *Cold lock*: charge was offered at the stop and refused. *Early cut-off*: more than ``early_soc`` was left.
    *Shade*, *dirt or snow*: the twin without it ran for more than half of the stop; the one that ran longest counts.
    *Dull spell*: it lasted more than a day. *Night*: any other.
    """
    from_s = float(event["at_s"])
    if event["refused"]:
        return "cold lock of the battery"
    if event["soc"] > early_soc:
        return "early cut-off"
    ran = {name: twin.share(from_s, to_s) for name, twin in twins.items()}
    blamed = max(ran, key=lambda name: ran[name], default="")
    if blamed and ran[blamed] > BLAMED_SHARE:
        return blamed
    return "dull spell" if to_s - from_s > DULL_AFTER_H * 3600.0 else "night"


def _stop(event: np.void, after: np.void | None, to_s: float, early_soc: float, twins: Twins) -> Stop:
    """The stop that begins with an event and ends with the one after it, or with the year."""
    code = int(event["cause"])
    cause = low_voltage_cause(event, to_s, early_soc, twins) if code == LOW_VOLTAGE else _BY_CODE[code]
    ends = () if after is None else (float(after["soc"]), float(after["bus_v"]))
    return Stop(float(event["at_s"]) / 3600.0, to_s / 3600.0, cause, float(event["soc"]), float(event["bus_v"]), *ends)


def stops_of(events: np.ndarray, end_s: float, early_soc: float, twins: Twins | None = None) -> tuple[Stop, ...]:
    """The stops in ``events`` (k,) of EVENT, the last one cut at the end of the year."""
    afters = [*events[1:], None][: len(events)]
    ends_s = np.append(events["at_s"], end_s)[1:]
    return tuple(
        _stop(event, after, float(to_s), early_soc, twins or {})
        for event, after, to_s in zip(events, afters, ends_s, strict=True)
        if event["cause"] != RUNNING and to_s > event["at_s"]
    )


def hours_by_cause(stops: tuple[Stop, ...]) -> dict[str, float]:
    """Hours of standing by cause, every cause named."""
    hours = dict.fromkeys(CAUSES, 0.0)
    for stop in stops:
        hours[stop.cause] += stop.hours
    return hours


def starts_within(events: np.ndarray, apart_s: float) -> np.ndarray:
    """When the pump started again within ``apart_s`` of its last start, seconds since the year began.

    >>> from sim.plant.records import EVENT
    >>> events = np.array([(0, 0, 0, 0, 0, 0), (60, 2, 0, 0, 0, 0), (90, 0, 0, 0, 0, 0)], EVENT)
    >>> starts_within(events, 3600.0)
    array([90.])
    """
    starts_s = events["at_s"][events["cause"] == RUNNING]
    return np.asarray(starts_s[1:][np.diff(starts_s) < apart_s])


def fooled_restarts(events: np.ndarray, gained: float) -> int:
    """Restarts after a low-voltage stop with less than ``gained`` more charge than at that stop.

    >>> from sim.plant.records import EVENT
    >>> events = np.array([(0, 2, 0.2, 0, 0, 0), (9, 1, 0.2, 0, 0, 0), (60, 0, 0.25, 0, 0, 0)], EVENT)
    >>> fooled_restarts(events, 0.1), fooled_restarts(events, 0.04)
    (1, 0)
    """
    stopped_soc, found = None, 0
    for cause, soc in zip(events["cause"].tolist(), events["soc"].tolist(), strict=True):
        if cause == LOW_VOLTAGE:
            stopped_soc = soc
        elif cause == RUNNING:
            found += stopped_soc is not None and soc < stopped_soc + gained
            stopped_soc = None
    return found


def stretches(stops: tuple[Stop, ...]) -> list[tuple[float, float]]:
    """Stretches without running, hours since the year began: stops that follow without a run are one."""
    found: list[tuple[float, float]] = []
    for stop in stops:
        follows = found and stop.from_h - found[-1][1] <= SAME_MOMENT_H
        begun = found.pop()[0] if follows else stop.from_h
        found.append((begun, stop.to_h))
    return found
