"""What was read off the lanes, at regular moments."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from sim.plant.records import EVENT, EXTREMES, PLANT, TOTALS

_FLAT = len(TOTALS.names or ())
_MOMENTARY = {"soc", "v1_v", "battery_v", "battery_a", "bus_v", "longest_stop_s", "shortest_run_s", *EXTREMES}
RUNNING_TOTALS = tuple(name for name in TOTALS.names or () if name not in _MOMENTARY)


def flat_totals(lanes: np.ndarray) -> np.ndarray:
    """(lanes, columns) float view of the totals inside the lanes' records: copying it is ten times as fast."""
    offset = PLANT.fields["totals"][1]  # type: ignore[index]
    return np.ndarray((len(lanes), _FLAT), np.float64, buffer=lanes, offset=offset, strides=(PLANT.itemsize, 8))


@dataclass
class Log:
    """Totals of every lane at the start and after every interval.

    ``at_s`` (n+1,) seconds since the year began; ``totals`` (n+1, lanes) of TOTALS, running sums except for the
    momentary values and the extremes, which belong to the interval that ends there; ``rows`` are the same as plain
    figures while it is written. ``begins`` are the lanes as the year found them, and ``settled`` (lanes,) those that it
    left as it found them.
    """

    at_s: np.ndarray
    totals: np.ndarray
    lanes: np.ndarray = field(default_factory=lambda: np.empty(0))
    events: np.ndarray = field(default_factory=lambda: np.empty((0, 0), EVENT))
    begins: np.ndarray = field(default_factory=lambda: np.empty(0))
    settled: np.ndarray = field(default_factory=lambda: np.empty(0, bool))
    rows: np.ndarray = field(default_factory=lambda: np.empty(0), repr=False)
    _source: np.ndarray = field(default_factory=lambda: np.empty(0), repr=False)

    @classmethod
    def empty(cls, lanes: np.ndarray, readings: int, from_s: float, every_s: float) -> Log:
        """A log of ``lanes`` with room for so many readings, and the first moment in it."""
        log = cls(from_s + every_s * np.arange(readings + 1), np.zeros((readings + 1, len(lanes)), TOTALS), lanes)
        log.begins, log.settled = lanes.copy(), np.zeros(len(lanes), bool)
        log.rows = log.totals.view(np.float64).reshape(readings + 1, len(lanes), _FLAT)
        log._source = flat_totals(lanes)
        log.take(0)
        return log

    def take(self, row: int) -> None:
        """Keep the totals as they are now."""
        self.rows[row] = self._source

    def close(self, lanes: np.ndarray, events: np.ndarray) -> None:
        """Keep the lanes as they ended, and the events they recorded."""
        self.lanes, self.events = lanes, events

    def gained(self, lane: int, row: int, totals: np.ndarray) -> np.ndarray:
        """(rows,) of TOTALS: a lane after a row, as if its running totals had stood at ``totals`` there."""
        found = self.totals[row + 1 :, lane].copy()
        for name in RUNNING_TOTALS:
            found[name] += totals[name] - self.totals[name][row, lane]
        return found

    def per_interval(self, name: str, lane: int = 0) -> np.ndarray:
        """(n,) what a running total gained in each interval, or the value there of a momentary one."""
        column = self.totals[name][:, lane]
        return column[1:] if name in _MOMENTARY else np.diff(column)

    def events_of(self, lane: int = 0) -> np.ndarray:
        """The starts and stops of a lane in order, (k,) of EVENT."""
        count = min(int(self.lanes["state"]["events"][lane]), self.events.shape[1])
        return self.events[lane, :count]


def beside(logs: Sequence[Log], numbers: Sequence[np.ndarray]) -> Log:
    """One log of the lanes of some that were read at the same moments; ``numbers`` say where the lanes of each go."""
    if len(logs) == 1:
        return logs[0]
    order = np.argsort(np.concatenate(numbers))

    def put(name: str, axis: int = 0) -> np.ndarray:
        return np.concatenate([getattr(one, name) for one in logs], axis).take(order, axis)

    lanes, begins = put("lanes"), put("begins")
    return Log(logs[0].at_s, put("totals", 1), lanes, put("events"), begins, put("settled"))
