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
from sim.plant.log import Log, beside
from sim.plant.people import processes
from sim.plant.records import EVENT
from sim.plant.settle import Watch, begun, followed, midsummer, settled

if TYPE_CHECKING:
    from sim.scenario import Scenario

Skies = np.ndarray | Callable[[np.ndarray], np.ndarray]
Kept = Sequence[Any] | np.ndarray  # one thing a lane
Keep = Callable[[Log, np.ndarray], Kept]
AS_IT_IS = -1  # for the day from which a year settles that begins with what is written


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
    """The log of lanes that run side by side; those that settle from another day, or not at all, among their own."""
    own = callable(skies)
    places = range(len(numbers)) if own else [0 if how.places is None else how.places[k] for k in numbers]
    lanes = begun(lanes_from(scenarios, places), how.between_s[0])
    how.tune(lanes, numbers)
    table = skies(numbers) if callable(skies) else skies
    from_day = _from_days(scenarios, lanes["lane"]["place"].tolist(), table, how)
    parts = {day: np.flatnonzero(from_day == day) for day in sorted(set(from_day.tolist()))}
    logs = [
        _Part([scenarios[k] for k in part.tolist()], lanes[part], numbers[part], table, how).log(day)
        for day, part in parts.items()
    ]
    return beside(logs, list(parts.values()))


def _from_days(scenarios: Sequence[Scenario], places: Sequence[int], table: np.ndarray, how: How) -> np.ndarray:
    """(lanes,) the day from which each lane's year settles, or AS_IT_IS; it depends on that lane alone."""
    if how.ended is not None or how.between_s[1] is not None:
        return np.full(len(places), AS_IT_IS)
    of_place = {place: midsummer(table[place]) for place in set(places)}
    free = [one.battery.initial_soc is None for one in scenarios]
    return np.where(free, [of_place[place] for place in places], AS_IT_IS)


@dataclass(frozen=True)
class _Part:
    """Lanes that run side by side: their scenarios, (lanes,) of PLANT, their numbers, and the skies (places, hours)."""

    scenarios: Sequence[Scenario]
    lanes: np.ndarray
    numbers: np.ndarray
    table: np.ndarray
    how: How

    def log(self, from_day: int) -> Log:
        """Through a year that settles from a day on, or AS_IT_IS."""
        if self.how.ended is not None:
            return self._year(followed(self.how.ended[self.numbers], self.lanes))
        if from_day == AS_IT_IS:
            return self._year(self.lanes)
        return settled(self.lanes, round(self.table.shape[1] * HOUR_S / DAY_S), from_day, self._year)

    def _year(self, lanes: np.ndarray, watch: Watch | None = None, from_s: float | None = None) -> Log:
        """The log of lanes from a moment on, or from where they begin, beside what ``watch(plant)`` makes."""
        how = self.how
        plant = Plant(lanes, self.table, how.between_s[0] if from_s is None else from_s, self._room())
        if how.ended is not None:
            _list_standing(lanes, plant.events)
        people = [*how.people(plant, self.scenarios, self.numbers), *([watch(plant)] if watch else [])]
        return simulate(plant, people, how.every_s, how.between_s[1])

    def _room(self) -> np.ndarray:
        return np.empty((len(self.lanes), self.how.events), EVENT)


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
