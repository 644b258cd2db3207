"""What breaks by chance and is repaired: each fault a simpy process with seeded times to fault and to repair.

Both times are exponentially distributed, by the calendar: a fault may also come while the pump stands. A clogged pump
stands and draws nothing, as behind a blown fuse of the load; a tripped protection circuit of the battery that waits
for somebody to reset it takes no charge and gives none.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.calendar import DAY_S, HOUR_S
from sim.plant.engine import Plant, Process

if TYPE_CHECKING:
    from sim.scenario.care import Care, Fault

INPUT_OF = {"pump-clog": "load_faults", "blown-fuse": "load_faults", "tripped-protection": "battery_faults"}


@dataclass(frozen=True)
class Outage:
    """One fault from its beginning to the end of its repair, seconds since the year began."""

    name: str
    from_s: float
    to_s: float


def outages(fault: Fault, seed: str, end_s: float) -> tuple[Outage, ...]:
    """The outages of a kind of fault that begin before ``end_s``; the same seed gives the same on every machine.

    >>> from sim.scenario.care import Fault
    >>> fault = Fault(kind="blown-fuse", mean_days_between=30.0, repair_h=6.0)
    >>> [round(one.from_s / 86400.0, 1) for one in outages(fault, "5 0", 100 * 86400.0)]
    [12.5, 17.4, 44.1, 61.5, 99.3]
    """
    chance = random.Random(seed)
    found: list[Outage] = []
    now_s = 0.0
    while True:
        from_s = now_s + chance.expovariate(1.0 / (fault.mean_days_between * DAY_S))
        now_s = from_s + chance.expovariate(1.0 / (fault.repair_h * HOUR_S))
        if from_s >= end_s:
            return tuple(found)
        found.append(Outage(fault.name, from_s, now_s))


def outages_of(care: Care, end_s: float) -> tuple[tuple[Outage, ...], ...]:
    """The outages of each kind of fault of a scenario; kinds do not depend on one another."""
    return tuple(outages(fault, f"{care.fault_seed} {k}", end_s) for k, fault in enumerate(care.fault))


def break_and_repair(plant: Plant, name: str, lane: int, times: tuple[Outage, ...]) -> Process:
    """Hold an input of a lane up by one during each outage, so that faults of several kinds may overlap."""
    faults = plant.lanes["inputs"][name]
    for outage in times:
        if outage.to_s <= plant.from_s:
            continue
        if outage.from_s > plant.env.now:
            yield plant.env.timeout(outage.from_s - plant.env.now)
            plant.advance()
        faults[lane] += 1
        yield plant.env.timeout(outage.to_s - plant.env.now)
        plant.advance()
        faults[lane] -= 1


def fault_processes(plant: Plant, lane: int, care: Care, end_s: float) -> list[Process]:
    """One process for each kind of fault of a lane."""
    return [
        break_and_repair(plant, INPUT_OF[fault.kind], lane, times)
        for fault, times in zip(care.fault, outages_of(care, end_s), strict=True)
    ]
