"""Every stop of the pump and why it stood."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.records import FAULT, LOW_VOLTAGE, OVERLOAD, PROTECTION, RUNNING, SCHEDULE, SEASONAL, STALLED

CAUSES = (
    "schedule",
    "night",
    "dull spell",
    "early cut-off",
    "cold lock of the battery",
    "protection circuit",
    "voltage too low for the pump",
    "fault",
    "seasonal",
    "overload",
)
_BY_CODE = {SCHEDULE: 0, PROTECTION: 5, STALLED: 6, FAULT: 7, SEASONAL: 8, OVERLOAD: 9}
DULL_AFTER_H = 24.0  # a low-voltage stop longer than this outlasted a day's sun; our own default
SAME_MOMENT_H = 1e-9


@dataclass(frozen=True)
class Stop:
    """One stretch in which the pump stood for one cause, in hours since the year began, with charge and voltage at its
    start.
    """

    from_h: float
    to_h: float
    cause: str
    soc: float
    bus_v: float

    @property
    def hours(self) -> float:
        """How long it lasted."""
        return self.to_h - self.from_h


def _name(code: int, soc: float, hours: float, early_soc: float, refused: bool) -> str:
    """A cause by its code; a low-voltage stop says what was behind it."""
    if code != LOW_VOLTAGE:
        return CAUSES[_BY_CODE[code]]
    if refused:
        return "cold lock of the battery"
    if soc > early_soc:
        return "early cut-off"
    return "dull spell" if hours > DULL_AFTER_H else "night"


def stops_of(events: np.ndarray, end_s: float, early_soc: float) -> tuple[Stop, ...]:
    """The stops in ``events`` (k,) of EVENT, the last one cut at the end of the year."""
    ends_s = np.append(events["at_s"], end_s)[1:]
    return tuple(
        Stop(
            float(event["at_s"]) / 3600.0,
            float(to_s) / 3600.0,
            _name(int(event["cause"]), event["soc"], (to_s - event["at_s"]) / 3600.0, early_soc, event["refused"]),
            float(event["soc"]),
            float(event["bus_v"]),
        )
        for event, to_s in zip(events, ends_s, strict=True)
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

    >>> from sim.records import EVENT
    >>> events = np.array([(0, 0, 0, 0, 0, 0), (60, 2, 0, 0, 0, 0), (90, 0, 0, 0, 0, 0)], EVENT)
    >>> starts_within(events, 3600.0)
    array([90.])
    """
    starts_s = events["at_s"][events["cause"] == RUNNING]
    return np.asarray(starts_s[1:][np.diff(starts_s) < apart_s])


def fooled_restarts(events: np.ndarray, gained: float) -> int:
    """Restarts after a low-voltage stop with less than ``gained`` more charge than at that stop.

    >>> from sim.records import EVENT
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
