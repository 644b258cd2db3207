"""simpy owns time: every process advances the lanes to now, then changes an input, then waits.

Nobody else integrates. What the sky brings is known beforehand, so the kernel turns its hours by itself between two
moments at which somebody changes something or reads.
"""

from __future__ import annotations

import itertools
from collections.abc import Generator, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import Any

import numpy as np
import simpy

from sim.calendar import DAY_S, HOUR_S
from sim.compiled import INTERPRETED, entry
from sim.plant import bus, circuit, step
from sim.plant.log import Log, flat_totals
from sim.plant.minds import feel_cold
from sim.plant.records import EVENT

WHOLE_DAY = ((0.0, DAY_S),)
Process = Generator[simpy.Event, Any, None]


@dataclass(frozen=True)
class Hours:
    """Times of day between which something holds, as seconds from midnight; an end before its start wraps midnight."""

    windows_s: tuple[tuple[float, float], ...]

    def holds(self, at_s: float) -> bool:
        """Whether a moment of the year lies inside, starts included and ends not.

        >>> Hours(((79200.0, 21600.0),)).holds(86400.0 + 3600.0)
        True
        """
        day_s = at_s % DAY_S
        return any(a <= day_s < b if a < b else day_s >= a or day_s < b for a, b in self.windows_s)

    def edges_s(self) -> list[float]:
        """The times of day at which it may change, in order."""
        return sorted({edge % DAY_S for window in self.windows_s for edge in window})


@dataclass
class Plant:
    """The lanes with everything they run on, and the one call that moves their time."""

    lanes: np.ndarray  # (lanes,) of PLANT
    sky: np.ndarray  # (places, hours) of SKY
    from_s: float = 0.0  # where in the year the lanes stand
    events: np.ndarray = field(default_factory=lambda: np.empty((0, 0), EVENT))

    def __post_init__(self) -> None:
        """Interpreted code reaches the fields of a record by attribute only through the record-array view."""
        if not len(self.events):
            self.events = np.empty((len(self.lanes), 0), EVENT)
        self.env = simpy.Environment(self.from_s)
        self.over = self.env.event()  # whoever has seen enough lets it happen
        self._reached_s = self.from_s
        self.read_into(np.empty((0, 0, 0)), 0)

    def read_into(self, rows: np.ndarray, every_h: int) -> None:
        """Have the kernel write the totals of all lanes to ``rows`` (readings, lanes, columns) every so many hours."""
        lanes, sky, events = self.lanes, self.sky, self.events
        if INTERPRETED:
            lanes, sky, events = (table.view(np.recarray) for table in (lanes, sky, events))
        written = step.Written(events, rows, int(self.from_s // HOUR_S), every_h)
        given = (lanes, flat_totals(self.lanes), sky, written)
        self._advance = partial(entry(step.advance, *given, 0.0, 0.0), *given)

    def advance(self) -> None:
        """Carry every lane to the present moment."""
        now = self.env.now
        if now > self._reached_s:
            self._advance(self._reached_s, now)
            self._reached_s = now


def pump_current_a(lanes: np.ndarray, bus_v: float) -> float:
    """What the pump of the first of the lanes draws at a voltage of the controller, A: the kernel's own answer."""
    return float(bus.pump_draw(lanes.view(np.recarray)[0].lane, True, bus_v, 0.0).current_a)


def circuit_at(
    lanes: np.ndarray, sky: np.ndarray, soc: float, v1_v: float = 0.0, side: float = 0.0, turning: bool = False
) -> dict[str, float]:
    """Voltages and currents of the first of the lanes under a moment of SKY (1,): the kernel's own answer."""
    plant, moment = lanes[:1].copy().view(np.recarray)[0], sky.view(np.recarray)[0]
    feel_cold(plant.lane, plant.state, moment)
    return circuit.circuit(plant, moment, bus.Charge(soc, v1_v, side), turning)._asdict()  # type: ignore[no-any-return]


def schedule(plant: Plant, name: str, hours: Mapping[int, Hours]) -> Process:
    """Set an input of the lanes with these numbers at the edges of their hours, all at once."""
    target, numbers, distinct = plant.lanes["inputs"][name], list(hours), list(dict.fromkeys(hours.values()))
    kind = np.array([distinct.index(lane) for lane in hours.values()])
    edges = sorted({edge for one in distinct for edge in one.edges_s()})
    held = {edge: np.array([one.holds(edge) for one in distinct])[kind] for edge in {0.0, *edges}}
    lanes = slice(None) if numbers == list(range(len(target))) else numbers  # all of them are set ten times as fast
    target[lanes] = held[0.0]
    if all((values == held[0.0]).all() for values in held.values()):
        return
    timeout, advance, now_s = plant.env.timeout, plant.advance, plant.env.now
    for midnight_s in itertools.count(now_s // DAY_S * DAY_S, DAY_S):
        for edge in edges:
            if midnight_s + edge > now_s:
                yield timeout(midnight_s + edge - now_s)
                now_s = midnight_s + edge
            advance()
            target[lanes] = held[edge]


def at_times(plant: Plant, name: str, lane: int | slice, changes: Sequence[tuple[float, float]]) -> Process:
    """Set an input of one lane, or of several, at given seconds of the year, in order of time: (when, value).

    What has been set before the plant begins stands; but whether a charge equalises, the charge itself has ended.
    """
    target, from_s = plant.lanes["inputs"][name], plant.env.now
    past = [value for when_s, value in changes if when_s < from_s]
    if past and name != "equalise":
        target[lane] = past[-1]
    for when_s, value in changes[len(past) :]:
        yield plant.env.timeout(when_s - plant.env.now)
        plant.advance()
        target[lane] = value


def reader(plant: Plant, log: Log, every_s: float, end_s: float) -> Process:
    """Have the totals copied into the log at regular moments until the end, and new extremes begun.

    Where these are ends of hours the kernel does so on its way, and time passes day by day.
    """
    fresh, timeout, env = plant.lanes["inputs"]["fresh"], plant.env.timeout, plant.env
    if every_s % HOUR_S == 0.0 and plant.from_s % HOUR_S == 0.0:
        plant.read_into(log.rows, int(every_s // HOUR_S))
        while env.now < end_s:
            yield timeout(min(DAY_S, end_s - env.now))
            plant.advance()
        return
    for row in range(1, len(log.rows)):
        yield timeout(every_s)
        plant.advance()
        log.take(row)
        fresh[:] = 1


def simulate(plant: Plant, processes: Iterable[Process], every_s: float = HOUR_S, until_s: float | None = None) -> Log:
    """Run the processes to the end of the sky table (or ``until_s``); returns the log read every ``every_s``.

    They are closed at the end: a process that waits holds the plant and the plant holds it, and with them the sky.
    """
    end_s = plant.sky.shape[1] * HOUR_S if until_s is None else until_s
    log = Log.empty(plant.lanes, int(round((end_s - plant.from_s) / every_s)), plant.from_s, every_s)
    everyone = (*processes, reader(plant, log, every_s, end_s))
    for process in everyone:
        plant.env.process(process)
    plant.env.run(until=plant.env.timeout(np.nextafter(end_s, np.inf) - plant.from_s) | plant.over)
    for process in everyone:
        process.close()
    log.close(plant.lanes, plant.events)
    return log
