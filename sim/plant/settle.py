"""A year that begins as it ends: run from midsummer round to midsummer, and on until it meets its own beginning.

Two runs of the same days coincide from the first full charge on, or once the load has been cut off for a while. In
summer that takes a few days, so a settled year costs hardly more than one that is run once.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from sim.calendar import DAY_S
from sim.plant.causes import RUNNING
from sim.plant.engine import Plant, Process
from sim.plant.log import Log
from sim.plant.records import STATE

Watch = Callable[[Plant], Process]
Year = Callable[[np.ndarray, Watch, float], Log]

# What a year hands on to the next: the battery, the controller's and the protection circuit's minds, and their timers.
CARRIED = (
    "soc v1_v side bus_v latched held_s stage absorbed_s recharge_s lit "
    "low_open high_open open_s frozen surged tripped tripped_s stalled stalled_s"
).split()
MINDS = "latched stage lit low_open high_open frozen surged tripped stalled".split()
ALIKE = (*MINDS, "cause")
NEAR = {"soc": 1e-6, "v1_v": 1e-5, "side": 1e-4, "held_s": 1.0, "recharge_s": 1.0}
HOLDS = "open_s stalled_s tripped_s".split()  # timers that nobody asks any more once they are long
LONG_S = 3600.0
LONG_AGO_S = 1e9
SETTLED_SOC = 1e-3  # a year that ends so near to the charge it began with has settled
_BYTES = np.dtype((np.void, STATE.itemsize))
HOURS_A_DAY = 24
SPRING_DAY, MIDSUMMER_DAY, AUTUMN_DAY = 90, 181, 273  # days before them in a northern year
MOST_YEARS = 2  # that follow one another until the charge is the same at the end of one and of the next


def carried(ended: np.ndarray, fresh: np.ndarray) -> np.ndarray:
    """(lanes,) of PLANT at the start of a year: ``fresh`` lanes with the state in which others ``ended``."""
    lanes = fresh.copy()
    for name in CARRIED:
        lanes["state"][name] = ended["state"][name]
    lanes["inputs"]["equalise"] = ended["inputs"]["equalise"]
    running, lasted_s = ended["state"]["cause"] == RUNNING, ended["state"]["now_s"] - ended["state"]["changed_s"]
    lanes["state"]["ran_s"] = np.where(running, lasted_s, 0.0)
    lanes["state"]["stood_s"] = np.where(running, 0.0, lasted_s)
    for name in ("soc", "v1_v", "bus_v"):
        lanes["totals"][name] = ended["state"][name]
    return lanes


def followed(ended: np.ndarray, fresh: np.ndarray) -> np.ndarray:
    """(lanes,) of PLANT at the start of the year after the one in which others ``ended``: a stop goes on as it was."""
    lanes, state = carried(ended, fresh), ended["state"]
    lanes["state"]["cause"] = state["cause"]
    lanes["state"]["changed_s"] = state["changed_s"] - state["now_s"]
    return lanes


def midsummer(sky: np.ndarray) -> int:
    """Days before midsummer in a year of SKY (hours,): the middle of the half with more light, from which it is full.

    A sky that is shorter than a year has none.
    """
    days, power_w = len(sky) // HOURS_A_DAY, sky["p_mp_w"]
    if days <= MIDSUMMER_DAY:
        return 0
    warm = power_w[SPRING_DAY * HOURS_A_DAY : AUTUMN_DAY * HOURS_A_DAY].mean()
    return MIDSUMMER_DAY if warm >= power_w.mean() else 0


def begun(lanes: np.ndarray, at_s: float) -> np.ndarray:
    """(lanes,) of PLANT that begin at a moment of the year."""
    lanes = lanes.copy()
    lanes["state"]["now_s"] = lanes["state"]["changed_s"] = at_s
    return lanes


def meets(one: np.ndarray, other: np.ndarray) -> np.ndarray:
    """(lanes,) whether two plants (lanes,) of STATE will do the same from this moment on."""
    same = np.logical_and.reduce([one[name] == other[name] for name in ALIKE])
    for name, near in NEAR.items():
        same &= np.abs(one[name] - other[name]) <= near
    for name in HOLDS:
        same &= np.abs(np.minimum(one[name], LONG_S) - np.minimum(other[name], LONG_S)) <= 1.0
    dark = one["lit"] == 0  # the next charge begins anew
    same &= dark | (np.abs(one["absorbed_s"] - other["absorbed_s"]) <= 1.0)
    first = (one["changed_s"] == 0.0) & (np.abs(one["stood_s"] - other["stood_s"]) > 1.0)
    since = np.maximum(one["changed_s"], other["changed_s"])
    long_running = (one["cause"] == RUNNING) & (one["now_s"] - since > DAY_S)
    return np.asarray(same & ~first & (long_running | (np.abs(one["changed_s"] - other["changed_s"]) <= 1.0)))


def settled(lanes: np.ndarray, days: int, first: int, year: Year) -> Log:
    """The log of lanes (lanes,) of PLANT through a year of so many ``days`` that begins as it ends.

    ``year(lanes, watch, from_s)`` runs them from a moment to the end of the year beside what ``watch(plant)`` makes.
    The ``first`` day is the one from which the year is run before it is run from its beginning. What meets nothing on
    its way, because it is neither full nor ever cut off, goes on for another year.
    """
    seen, met = Seen.empty(days - first, len(lanes)), np.full(len(lanes), -1)
    before = year(_lead(lanes, first * DAY_S), lambda plant: _note(plant, seen), first * DAY_S)
    begins = carried(before.lanes, lanes)
    after = year(begins.copy(), lambda plant: _watch(plant, seen, first, met), 0.0)
    met[met < 0] = days
    log, closed = _spliced(before, after, seen, met), (met < days) | _closes(begins, after)
    for _ in range(MOST_YEARS - 1):
        if closed.all():
            break
        begins = np.where(closed, begins, carried(log.lanes, lanes))
        again = begins.copy()
        again["state"]["now_s"][closed] = np.inf
        more = year(again, _nobody, 0.0)
        log, closed = _put(log, more, ~closed), closed | _closes(begins, more)
    return replace(log, begins=begins, settled=closed)


def _lead(lanes: np.ndarray, at_s: float) -> np.ndarray:
    """(lanes,) of PLANT that begin at a moment, and whose pumps have been running for longer than anybody asks."""
    lanes = begun(lanes, at_s)
    lanes["state"]["changed_s"] -= LONG_AGO_S
    return lanes


def _closes(begins: np.ndarray, log: Log) -> np.ndarray:
    """(lanes,) whether a year ends with the charge that it began with, and with everybody of the same mind."""
    one, other = begins["state"], log.lanes["state"]
    near = np.abs(other["soc"] - one["soc"]) <= SETTLED_SOC
    return np.asarray(np.logical_and.reduce([near, *(one[name] == other[name] for name in MINDS)]))


def _nobody(plant: Plant) -> Process:
    """Watches nothing."""
    yield plant.env.timeout(0.0)


def _put(log: Log, other: Log, chosen: np.ndarray) -> Log:
    """The log with some of its lanes from another."""
    totals, events = np.where(chosen, other.totals, log.totals), log.events.copy()
    events[chosen] = other.events[chosen]
    return replace(log, totals=totals, lanes=np.where(chosen, other.lanes, log.lanes), events=events)


class Seen(NamedTuple):
    """What every lane was like at the end of each day: (days, lanes) of STATE, and whether its charge equalised."""

    state: np.ndarray
    equalise: np.ndarray

    @classmethod
    def empty(cls, days: int, lanes: int) -> Seen:
        """Room for so many."""
        return cls(np.empty((days, lanes), STATE), np.empty((days, lanes), np.int64))


def _note(plant: Plant, seen: Seen) -> Process:
    """Keep what every lane is like at the end of each day: records are copied as bytes, which is ten times as fast."""
    state, equalise = plant.lanes["state"].view(_BYTES), plant.lanes["inputs"]["equalise"]
    for states, equalised in zip(seen.state.view(_BYTES), seen.equalise, strict=True):
        yield plant.env.timeout(DAY_S)
        plant.advance()
        states[:], equalised[:] = state, equalise


def _watch(plant: Plant, seen: Seen, first: int, met: np.ndarray) -> Process:
    """Stand the lanes still that meet the run from the first day on, and end when all have.

    The days on which they did are written to ``met`` (lanes,).
    """
    now, equalise = plant.lanes["state"], plant.lanes["inputs"]["equalise"]
    yield plant.env.timeout(first * DAY_S)
    for day, (state, equalised) in enumerate(zip(*seen, strict=True), first + 1):
        yield plant.env.timeout(DAY_S)
        plant.advance()
        same = (met < 0) & (equalise == equalised) & meets(state, now)
        met[same] = day
        now["now_s"][same] = np.inf
        if np.all(met >= 0):
            plant.over.succeed()
            return


def _spliced(first: Log, second: Log, seen: Seen, met: np.ndarray) -> Log:
    """The run from the year's beginning until the days on which it ``met`` (lanes,) the first, that from there on."""
    totals, lanes, events = second.totals, second.lanes.copy(), second.events
    missing, noted = len(totals) - len(first.totals), len(seen.state)
    a_day = (len(first.totals) - 1) // noted
    for lane, row in enumerate((met * a_day).tolist()):
        if row + 1 == len(totals):
            continue
        totals[row + 1 :, lane] = first.gained(lane, row - missing, totals[row, lane])
        own, ahead = lanes["state"][lane], seen.state[(row - missing) // a_day - 1, lane]
        began_s = own["changed_s"] if own["changed_s"] > 0.0 else -own["ran_s"]
        _end_run(totals["shortest_run_s"][row + 1 :, lane], ahead["changed_s"] - began_s)
        count = _splice_events(first, second, lane, met[lane] * DAY_S)
        lanes[lane] = first.lanes[lane]
        lanes["state"]["events"][lane] = count
    at_s = np.arange(len(totals)) * (DAY_S / a_day)
    return Log(at_s, totals, lanes, events)


def _end_run(shortest_s: np.ndarray, longer_s: float) -> None:
    """Of the run that was under way since long ago, say how much longer it was; the first stop (rows,) ends it."""
    ended = np.flatnonzero(np.isfinite(shortest_s))
    if len(ended) and shortest_s[ended[0]] > 0.5 * LONG_AGO_S:
        shortest_s[ended[0]] += longer_s


def _splice_events(first: Log, second: Log, lane: int, at_s: float) -> int:
    """Put the events of the first run behind those that the second has before a moment; returns how many there were, or
    more than there is room for where some of either are lost.
    """
    room, own, rest = second.events.shape[1], second.events_of(lane), first.events_of(lane)
    found = np.concatenate((own[own["at_s"] < at_s], rest[rest["at_s"] >= at_s]))
    if room == 0 or max(len(found), *(log.lanes["state"]["events"][lane] for log in (first, second))) <= room:
        second.events[lane, : len(found)] = found
        return len(found)
    kept = found[:room]
    second.events[lane, : len(kept)], second.events[lane, len(kept) :] = kept, kept[-1]
    return int(room + 1)
