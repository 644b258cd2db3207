"""Every stop of the pump and why it stood."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import overload

import numpy as np

from sim.figures.series import sums
from sim.plant.causes import LOW_VOLTAGE, RUNNING, STANDING

BEHIND_LOW_VOLTAGE = {  # what a low-voltage stop is called, with a letter each
    "night": "N",
    "dull spell": "D",
    "shade": "H",
    "dirt or snow": "I",
    "early cut-off": "E",
    "cold lock of the battery": "C",
}
LETTERS = {  # of every cause, so that colour is not needed
    word: letter
    for code, cause in STANDING.items()
    for word, letter in (BEHIND_LOW_VOLTAGE if code == LOW_VOLTAGE else {cause.word: cause.letter}).items()
}
CAUSES = tuple(LETTERS)
PLANNED = ("schedule", "seasonal")  # what was meant
DULL_AFTER_H = 24.0  # a low-voltage stop longer than this outlasted a day's sun; our own default
BLAMED_SHARE = 0.5  # of a stop in which the pump of a twin ran, from which the difference is blamed; our own default
SAME_MOMENT_H = 1e-9
_CAUSE_OF = np.array([-1, *(CAUSES.index(cause.word) for cause in STANDING.values())])  # by the kernel's code


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


STOP = np.dtype(
    [
        ("from_h", np.float64),
        ("to_h", np.float64),
        ("cause", np.int64),  # its place in CAUSES
        ("soc", np.float64),
        ("bus_v", np.float64),
        ("end_soc", np.float64),  # not a number where the stop outlasts the year
        ("end_bus_v", np.float64),
    ]
)


@dataclass(frozen=True, eq=False)
class Stops(Sequence[Stop]):
    """A year's stops as a ``table`` (k,) of STOP, in order of time; a :class:`Stop` is made where one is looked at.

    From the hour ``by_hour_from`` of the year on, if it is not None, they are added up by the hour. A year that begins
    as it ends is a ring of ``ring_h`` hours: what stands at its end and at its beginning is one stop.

    >>> Stops.of([Stop(5.0, 9.0, "night", 0.1, 12.2)])[-1]
    Stop(from_h=5.0, to_h=9.0, cause='night', soc=0.1, bus_v=12.2, end_soc=None, end_bus_v=None)
    """

    table: np.ndarray
    by_hour_from: int | None = None
    ring_h: float | None = None

    @classmethod
    def of(cls, stops: Iterable[Stop]) -> Stops:
        """The same stops as a table; a table stays itself."""
        return stops if isinstance(stops, Stops) else cls(np.array([_row(stop) for stop in stops], STOP))

    @property
    def hours(self) -> np.ndarray:
        """(k,) how long each lasted."""
        return np.asarray(self.table["to_h"] - self.table["from_h"])

    def of_causes(self, *causes: str) -> Stops:
        """Those of these causes."""
        return replace(self, table=self.table[self._by(causes)])

    def but_causes(self, *causes: str) -> Stops:
        """All others."""
        return replace(self, table=self.table[~self._by(causes)])

    @property
    def closes(self) -> bool:
        """Whether the last stop goes on in the first."""
        if self.ring_h is None or len(self) < 2:
            return False
        begun, ended = self.table["from_h"][0], self.table["to_h"][-1]
        return bool(begun <= SAME_MOMENT_H and ended >= self.ring_h - SAME_MOMENT_H)

    def _by(self, causes: Sequence[str]) -> np.ndarray:
        return np.isin(self.table["cause"], [CAUSES.index(cause) for cause in causes])

    def __len__(self) -> int:
        return len(self.table)

    def __iter__(self) -> Iterator[Stop]:
        return map(_stop, self.table.tolist())

    @overload
    def __getitem__(self, place: int) -> Stop: ...
    @overload
    def __getitem__(self, place: slice) -> Stops: ...
    def __getitem__(self, place: int | slice) -> Stop | Stops:
        return Stops(self.table[place]) if isinstance(place, slice) else _stop(self.table[place].tolist())


def _stop(row: tuple[float, float, int, float, float, float, float]) -> Stop:
    """A row of the table as a value of its own."""
    from_h, to_h, cause, soc, bus_v, *ends = row
    return Stop(from_h, to_h, CAUSES[cause], soc, bus_v, *(None if end != end else end for end in ends))


def _row(stop: Stop) -> tuple[float | int, ...]:
    ends = (math.nan if end is None else end for end in (stop.end_soc, stop.end_bus_v))
    return (stop.from_h, stop.to_h, CAUSES.index(stop.cause), stop.soc, stop.bus_v, *ends)


@dataclass(frozen=True)
class Running:
    """How long a pump had run, ``run_s`` (n,), at moments ``at_s`` (n,)."""

    at_s: np.ndarray
    run_s: np.ndarray

    def shares(self, from_s: np.ndarray, to_s: np.ndarray) -> np.ndarray:
        """(k,) the share of each stretch in which it ran; within an hour it is taken as spread evenly.

        >>> Running(np.array([0.0, 3600.0]), np.array([0.0, 900.0])).shares(np.array([600.0]), np.array([1200.0]))
        array([0.25])
        """
        began, ended = (np.interp(edges_s, self.at_s, self.run_s) for edges_s in (from_s, to_s))
        return np.asarray((ended - began) / (to_s - from_s))


Twins = Mapping[str, Running]  # how long the pump of the same system without shade, or without dirt, ran


def low_voltage_causes(events: np.ndarray, to_s: np.ndarray, early_soc: float, twins: Twins) -> np.ndarray:
    """(k,) what was behind low-voltage stops, as places in CAUSES: in this order, the first that holds.

    *Cold lock*: charge was offered at the stop and refused. *Early cut-off*: more than ``early_soc`` was left.
    *Shade*, *dirt or snow*: the twin without it ran for more than half of the stop; the one that ran longest counts.
    *Dull spell*: it lasted more than a day. *Night*: any other.
    """
    from_s = events["at_s"]
    ran = {name: twin.shares(from_s, to_s) for name, twin in twins.items()}
    longest = np.max([*ran.values(), np.full(len(events), BLAMED_SHARE)], axis=0)
    holds = {
        "cold lock of the battery": events["refused"] != 0,
        "early cut-off": events["soc"] > early_soc,
        **{name: (share > BLAMED_SHARE) & (share == longest) for name, share in ran.items()},
        "dull spell": to_s - from_s > DULL_AFTER_H * 3600.0,
    }
    return np.select(list(holds.values()), [CAUSES.index(name) for name in holds], CAUSES.index("night"))


def stops_of(events: np.ndarray, end_s: float, early_soc: float, twins: Twins | None = None) -> Stops:
    """The stops in ``events`` (k,) of EVENT, the last one cut at the end of the year."""
    ends_s = np.append(events["at_s"], end_s)[1:]
    chosen = np.flatnonzero((events["cause"] != RUNNING) & (ends_s > events["at_s"]))
    began, to_s = events[chosen], ends_s[chosen]
    table = np.empty(len(chosen), STOP)
    table["from_h"], table["to_h"] = began["at_s"] / 3600.0, to_s / 3600.0
    table["cause"] = _CAUSE_OF[began["cause"]]
    low = began["cause"] == LOW_VOLTAGE
    table["cause"][low] = low_voltage_causes(began[low], to_s[low], early_soc, twins or {})
    after = np.minimum(chosen + 1, len(events) - 1)
    for name in ("soc", "bus_v"):
        table[name] = began[name]
        table[f"end_{name}"] = np.where(chosen + 1 < len(events), events[name][after], math.nan)
    return Stops(table)


def hours_by_cause(stops: Iterable[Stop]) -> dict[str, float]:
    """Hours of standing by cause, every cause named."""
    known = Stops.of(stops)
    return dict(zip(CAUSES, sums(known.table["cause"], known.hours, len(CAUSES)).tolist(), strict=True))


def hours_by_day(stops: Iterable[Stop], days: int) -> np.ndarray:
    """(days, causes) hours of standing; together they are all hours of standing.

    >>> hours_by_day([Stop(20.0, 50.0, "night", 0.1, 12.2)], 3)[:, CAUSES.index("night")].tolist()
    [4.0, 24.0, 2.0]
    """
    table = Stops.of(stops).table
    first = (table["from_h"] // 24.0).astype(int)
    count = np.maximum(np.ceil(table["to_h"] / 24.0).astype(int) - first, 1)
    stop = np.repeat(np.arange(len(table)), count)
    day = first[stop] + np.arange(len(stop)) - np.repeat(np.cumsum(count) - count, count)
    lasted = np.minimum((day + 1) * 24.0, table["to_h"][stop]) - np.maximum(day * 24.0, table["from_h"][stop])
    place = np.minimum(day, days - 1) * len(CAUSES) + table["cause"][stop]
    return sums(place, lasted, days * len(CAUSES)).reshape(days, len(CAUSES))


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


def stretches(stops: Iterable[Stop]) -> np.ndarray:
    """(k, 2) stretches without running, hours since the year began: stops that follow without a run are one.

    >>> stretches([Stop(5.0, 9.0, "night", 0.1, 12.2), Stop(9.0, 20.0, "fault", 0.1, 12.0)]).tolist()
    [[5.0, 20.0]]
    """
    table = Stops.of(stops).table
    if not len(table):
        return np.empty((0, 2))
    apart = table["from_h"][1:] - table["to_h"][:-1] > SAME_MOMENT_H
    return np.column_stack((table["from_h"][np.r_[True, apart]], table["to_h"][np.r_[apart, True]]))


def whole_stretches(stops: Iterable[Stop]) -> np.ndarray:
    """The same, but one across New Year, in a year that begins as it ends, is one that ends past the year's end.

    >>> stops = [Stop(0.0, 9.0, "night", 0.1, 12.2), Stop(30.0, 48.0, "dull spell", 0.1, 12.2)]
    >>> whole_stretches(Stops.of(stops)).tolist()
    [[0.0, 9.0], [30.0, 48.0]]
    >>> whole_stretches(replace(Stops.of(stops), ring_h=48.0)).tolist()
    [[30.0, 57.0]]
    """
    known, found = Stops.of(stops), stretches(stops)
    if not known.closes or len(found) < 2:
        return found
    return np.vstack((found[1:-1], [found[-1, 0], found[-1, 1] + found[0, 1]]))


@dataclass(frozen=True)
class Unplanned:
    """A stretch without running in a year of hours, and how many of its hours neither timer nor season planned."""

    from_h: float
    to_h: float
    unplanned_h: float

    @property
    def hours(self) -> float:
        """How long it lasted."""
        return self.to_h - self.from_h


def unplanned_of(stops: Iterable[Stop]) -> Unplanned:
    """The stretch with most unplanned hours; the season's break is no part of a stretch, the timer's hours may be.

    >>> off, low = Stop(0.0, 15.0, "schedule", 0.9, 13.2), Stop(20.0, 24.0, "night", 0.1, 12.2)
    >>> unplanned_of((off, low, Stop(24.0, 39.0, "schedule", 0.1, 12.2))), unplanned_of((off,))
    (Unplanned(from_h=20.0, to_h=39.0, unplanned_h=4.0), Unplanned(from_h=0.0, to_h=0.0, unplanned_h=0.0))
    """
    found, lacking_h = _with_unplanned(stops)
    if not lacking_h.any():
        return Unplanned(0.0, 0.0, 0.0)
    worst = int(lacking_h.argmax())
    return Unplanned(float(found[worst, 0]), float(found[worst, 1]), float(lacking_h[worst]))


def longest_unplanned(stops: Iterable[Stop]) -> tuple[float, float] | None:
    """The longest time without running that neither timer nor season explains altogether.

    >>> off, low = Stop(0.0, 15.0, "schedule", 0.9, 13.2), Stop(20.0, 24.0, "night", 0.1, 12.2)
    >>> longest_unplanned((off, low, Stop(24.0, 39.0, "schedule", 0.1, 12.2))), longest_unplanned((off,))
    ((20.0, 39.0), None)
    """
    found, lacking_h = _with_unplanned(stops)
    return longest_of(found[lacking_h > 0.0])


def _with_unplanned(stops: Iterable[Stop]) -> tuple[np.ndarray, np.ndarray]:
    """(k, 2) stretches without running but for the season's, and (k,) the hours of each that nothing planned."""
    in_season = Stops.of(stops).but_causes("seasonal")
    surprising, found = in_season.but_causes(*PLANNED), whole_stretches(in_season)
    begun, hours = surprising.table["from_h"], surprising.hours
    if in_season.closes:
        begun, hours = np.concatenate((begun, begun + in_season.ring_h)), np.tile(hours, 2)
    until = np.append(0.0, np.cumsum(hours))
    at = np.searchsorted(begun, found)
    return found, until[at[:, 1]] - until[at[:, 0]]


def longest_stretch(stops: Iterable[Stop]) -> tuple[float, float] | None:
    """The longest time without running, hours since the year began; of equals the first, None where there is none."""
    return longest_of(whole_stretches(stops))


def longest_of(found: np.ndarray) -> tuple[float, float] | None:
    """The longest of stretches (k, 2).

    >>> longest_of(np.array([[1.0, 2.0], [3.0, 5.0]])), longest_of(np.empty((0, 2)))
    ((3.0, 5.0), None)
    """
    if not len(found):
        return None
    begun, ended = found[int((found[:, 1] - found[:, 0]).argmax())].tolist()
    return begun, ended
