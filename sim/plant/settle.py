"""A year that begins as it ends: run again from what it left, until the second run meets the first.

Two runs of the same year coincide from the first full charge on, or once the load has been cut off for a while. What
the first one did from there on is what the second would do, so settling costs weeks and not a second year.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sim.calendar import DAY_S
from sim.plant.causes import RUNNING
from sim.plant.engine import Plant, Process
from sim.plant.log import Log
from sim.plant.records import STATE

Year = Callable[[np.ndarray, Callable[[Plant], Process]], Log]

# What a year hands on to the next: the battery, the controller's and the protection circuit's minds, and their timers.
CARRIED = (
    "soc v1_v side bus_v latched held_s stage absorbed_s recharge_s lit "
    "low_open high_open open_s frozen surged tripped tripped_s stalled stalled_s"
).split()
ALIKE = "latched stage lit low_open high_open frozen surged tripped stalled cause".split()
NEAR = {"soc": 1e-6, "v1_v": 1e-5, "side": 1e-4, "held_s": 1.0, "recharge_s": 1.0}
HOLDS = "open_s stalled_s tripped_s".split()  # timers that nobody asks any more once they are long
LONG_S = 3600.0
SETTLED_SOC = 1e-3  # a year that ends so near to the charge it began with has settled


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


def settled(lanes: np.ndarray, free: np.ndarray, days: int, year: Year) -> Log:
    """The log of lanes (lanes,) of PLANT of which those that are ``free`` (lanes,) begin as they end.

    ``year(lanes, watch)`` runs them through their year of so many ``days`` beside what ``watch(plant)`` makes.
    """
    states, met = np.empty((days, len(lanes)), STATE), np.where(free, -1, 0)
    first = year(lanes.copy(), lambda plant: _note(plant, states))
    begins = np.where(free, carried(first.lanes, lanes), lanes)
    again = begins.copy()
    again["state"]["now_s"][~free] = np.inf
    second = year(again, lambda plant: _watch(plant, states, met))
    met[met < 0] = days
    ended = second.lanes["state"]["soc"] - begins["state"]["soc"]
    closed = free & ((met < days) | (np.abs(ended) <= SETTLED_SOC))
    return replace(_spliced(first, second, met), begins=begins, settled=closed)


def _note(plant: Plant, states: np.ndarray) -> Process:
    """Keep the state of every lane at the end of each day."""
    for row in states:
        yield plant.env.timeout(DAY_S)
        plant.advance()
        row[:] = plant.lanes["state"]


def _watch(plant: Plant, states: np.ndarray, met: np.ndarray) -> Process:
    """Stand the lanes still that meet the first run, whose days are in ``met`` (lanes,), and end when all have."""
    now = plant.lanes["state"]
    for day, before in enumerate(states, 1):
        yield plant.env.timeout(DAY_S)
        plant.advance()
        same = (met < 0) & meets(before, now)
        met[same] = day
        now["now_s"][same] = np.inf
        if np.all(met >= 0):
            plant.over.succeed()
            return


def _spliced(first: Log, second: Log, met: np.ndarray) -> Log:
    """The second run until the days on which it ``met`` (lanes,) the first, and that from there on."""
    rows = met * round(DAY_S / (first.at_s[1] - first.at_s[0]))
    totals, lanes, events = second.totals, second.lanes.copy(), second.events
    for lane, row in enumerate(rows.tolist()):
        if row + 1 == len(totals):
            continue
        totals[row + 1 :, lane] = first.gained(lane, row, totals[row, lane])
        count = _splice_events(first, second, lane, met[lane] * DAY_S)
        lanes[lane] = first.lanes[lane]
        lanes["state"]["events"][lane] = count
    return Log(first.at_s, totals, first.taken, lanes, events)


def _splice_events(first: Log, second: Log, lane: int, at_s: float) -> int:
    """Put the events of the first run behind those that the second has before a moment; returns how many there were."""
    room, own, rest = second.events.shape[1], second.events_of(lane), first.events_of(lane)
    kept = np.concatenate((own[own["at_s"] < at_s], rest[rest["at_s"] >= at_s]))[:room]
    second.events[lane, : len(kept)] = kept
    if room == 0 or first.lanes["state"]["events"][lane] <= room:
        return len(kept)
    second.events[lane, len(kept) :] = kept[-1]  # the log of the first run was full by then
    return int(room + 1)
