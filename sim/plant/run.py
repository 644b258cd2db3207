"""The one door to simulating any number of designs: scenarios and their skies in, what is kept of every lane out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sim import hands
from sim.calendar import DAY_S, HOUR_S
from sim.plant.causes import RUNNING
from sim.plant.engine import Plant, Process, simulate
from sim.plant.lanes import lanes_from
from sim.plant.log import Log
from sim.plant.people import processes
from sim.plant.records import EVENT
from sim.plant.settle import followed, settled

if TYPE_CHECKING:
    from sim.scenario import Scenario

Skies = np.ndarray | Callable[[np.ndarray], np.ndarray]
Kept = Sequence[Any] | np.ndarray  # one thing a lane
Keep = Callable[[Log, np.ndarray], Kept]


def _untouched(lanes: np.ndarray, numbers: np.ndarray) -> None:
    """Lanes as the scenarios have them."""


def by_calendar(plant: Plant, scenarios: Sequence[Scenario], numbers: np.ndarray) -> Iterable[Process]:
    """The processes that everybody has."""
    return processes(plant, scenarios)


@dataclass(frozen=True)
class How:
    """How lanes are run: read ``every_s``, so many ``at_once``, with room for so many ``events`` each.

    ``places`` (lanes,) are their rows of the sky table, the first for all where there are none.
    ``tune(lanes, numbers)`` changes what the scenarios do not say, and ``people(plant, scenarios, numbers)`` makes the
    processes. A part of the year lies ``between_s`` two moments, to the first of which the lanes are tuned. Lanes whose
    year follows another begin as those ``ended`` (lanes,) of PLANT did, and are not settled.
    """

    every_s: float = DAY_S
    at_once: int = 50
    events: int = 0
    places: Sequence[int] | None = None
    tune: Callable[[np.ndarray, np.ndarray], None] = _untouched
    people: Callable[[Plant, Sequence[Scenario], np.ndarray], Iterable[Process]] = by_calendar
    between_s: tuple[float, float | None] = (0.0, None)
    ended: np.ndarray | None = None


HOURLY = How(every_s=HOUR_S)


def logs(log: Log, numbers: np.ndarray) -> list[tuple[Log, int]]:
    """Keep everything: of each lane its log and its column there."""
    return [(log, lane) for lane in range(len(numbers))]


def run(
    scenarios: Sequence[Scenario],
    skies: Skies,
    keep: Keep = logs,
    how: How = HOURLY,
    told: hands.Told = hands.nobody,
) -> list[Any]:
    """Every scenario through its year on every core, a lane each; what ``keep(log, numbers)`` keeps, lane by lane.

    ``skies`` is a table (places, hours) of SKY, or ``skies(numbers)`` makes one for each hand with a row for each of
    its lanes. ``told(more)`` hears of lanes that are done. The kernel releases the interpreter lock, so plain threads
    do. Lanes are dealt out like cards, because neighbours on a map tend to be slow together. A lane's result does not
    depend on its company, except that other lanes' clock edges cut its steps too (by some 1e-9). A hand's log is gone
    before the next one begins unless it is kept, and so is a sky that was made for it.
    """

    def one(numbers: np.ndarray, told: Callable[[int], None]) -> Kept:
        kept = keep(_hand([scenarios[k] for k in numbers], skies, numbers, how), numbers)
        told(len(numbers))
        return kept

    dealt = hands.dealt(len(scenarios), how.at_once)
    who = hands.now().here if len(dealt) > 1 else hands.ALONE
    return hands.gathered(dealt, hands.in_order(who, one, map(np.asarray, dealt), told))


def _hand(scenarios: Sequence[Scenario], skies: Skies, numbers: np.ndarray, how: How) -> Log:
    """The log of lanes that run side by side."""
    own = callable(skies)
    places = range(len(numbers)) if own else [0 if how.places is None else how.places[k] for k in numbers]
    lanes = lanes_from(scenarios, places)
    how.tune(lanes, numbers)
    table = skies(numbers) if callable(skies) else skies
    from_s, until_s = how.between_s

    def year(own: np.ndarray, watch: Callable[[Plant], Process] | None = None) -> Log:
        plant = Plant(own, table, from_s, np.empty((len(own), how.events), EVENT))
        if how.ended is not None:
            _list_standing(own, plant.events)
        people = [*how.people(plant, scenarios, numbers), *([watch(plant)] if watch else [])]
        return simulate(plant, people, how.every_s, until_s)

    if how.ended is not None:
        return year(followed(how.ended[numbers], lanes))
    free = np.array([one.battery.initial_soc is None for one in scenarios])
    if until_s is not None or not free.any():
        return year(lanes)
    return settled(lanes, free, round(table.shape[1] * HOUR_S / DAY_S), year)


def _list_standing(lanes: np.ndarray, events: np.ndarray) -> None:
    """Lanes that begin while their pump stands have that as their first of ``events`` (lanes, room)."""
    state = lanes["state"]
    for lane in np.flatnonzero(state["cause"] != RUNNING) if events.shape[1] else ():
        now = state[lane]
        events[lane, 0] = (now["now_s"], now["cause"], now["soc"], now["bus_v"], 0.0, 0)
        now["events"] = 1


def tally(progress: Callable[[int, int], None], of: int) -> Callable[[int], None]:
    """Hears of lanes that are done, and tells how many are by now."""
    done: list[int] = []

    def told(more: int) -> None:
        done.append(more)
        progress(sum(done), of)

    return told


def total(log: Log, name: str, lane: int = 0) -> float:
    """What a lane's running total came to."""
    return float(log.totals[name][-1, lane])
