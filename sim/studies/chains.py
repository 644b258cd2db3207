"""Years that follow one another, so that a dull December hands an empty battery to January.

They come in chains. Each chain begins with a year that settles, so that what a year does depends on its number alone,
and neither on how many years are asked for nor on who runs them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import zip_longest
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from sim import hands
from sim.figures.lanes import FIGURES, figures_of
from sim.figures.planned import wanted_by_day
from sim.light.sunlight import sunlight_per_ampere
from sim.plant.records import PLANT, SKY
from sim.plant.run import How, run, tally
from sim.plant.sky import scale, sky_row
from sim.studies.designs import firsts, shape_key, sky_key
from sim.weather.monthly import MONTHS, light_by_month

if TYPE_CHECKING:
    from sim.plant.log import Log
    from sim.scenario import Scenario
    from sim.weather import Weather

IN_A_CHAIN = 20
SKIES_AT_ONCE = 20  # of a hand, some 80 MB; of two cores two hands are in memory
LANES_AT_ONCE = 100  # of a hand
Progress = Callable[[int, int], None]
Numbers = tuple[int, ...]


@dataclass(frozen=True)
class Years:
    """Years by their numbers from 0 on, as ``weather(number)`` makes them; the numbers of a chain follow one another.

    Where each chain ``leads_in``, its first number settles and is not counted. The longest chains come first.
    """

    weather: Callable[[int], Weather]
    chains: tuple[Numbers, ...]
    leads_in: bool

    @property
    def count(self) -> int:
        """How many years are counted."""
        return sum(len(chain) - self.leads_in for chain in self.chains)

    @property
    def without_chains(self) -> Years:
        """How they are made, and nothing of how many there are."""
        return replace(self, chains=())


def parts_of(years: int) -> list[tuple[int, int]]:
    """The chains that make up so many years, each with how many of its years.

    >>> parts_of(45)
    [(0, 20), (1, 20), (2, 5)]
    """
    return [(chain, min(IN_A_CHAIN, years - chain * IN_A_CHAIN)) for chain in range(-(-years // IN_A_CHAIN))]


def synthetic(weather: Callable[[int], Weather], count: int) -> Years:
    """Made-up years in chains of twenty, each behind a year of its own to settle in.

    >>> synthetic(lambda number: None, 25).chains[1]
    (19, 20, 21, 22, 23, 24)
    """
    firsts = range(0, count, IN_A_CHAIN)
    return Years(weather, tuple(tuple(range(k - 1, min(k + IN_A_CHAIN, count))) for k in firsts), leads_in=True)


def recorded(weathers: Sequence[Weather]) -> Years:
    """Recorded years: a calendar year follows the one before where that is there too, and settles where it is not."""
    dated = [int(weather.index[0].year) for weather in weathers]
    starts = [k for k, year in enumerate(dated) if k == 0 or year != dated[k - 1] + 1]
    chains = (tuple(range(a, b)) for a, b in zip(starts, [*starts[1:], len(dated)], strict=True))
    return Years(Recorded(tuple(weathers)), tuple(sorted(chains, key=len, reverse=True)), leads_in=False)


@dataclass(frozen=True)
class Recorded:
    """Years that were, by their places."""

    weathers: tuple[Weather, ...]

    def __call__(self, number: int) -> Weather:
        """The year of this number, from 0 on."""
        return self.weathers[number]


def as_in(scenario: Scenario, weather: Weather, number: int = 0) -> Scenario:
    """The scenario in the calendar of a weather, with the chance faults of a year of its own; 0 has the scenario's."""
    dated = scenario.weather.model_copy(update={"year": int(weather.index[0].year)})
    care = scenario.care.model_copy(update={"fault_seed": scenario.care.fault_seed + number})
    return scenario.model_copy(update={"weather": dated, "care": care if scenario.care.fault else scenario.care})


@dataclass(frozen=True)
class Ran:
    """What came out of many years.

    ``figures`` (designs, years) of FIGURES; ``light`` (years, 12) kWh/m² on the level by month; ``ended`` (designs,
    years) of PLANT, the lane that each year followed as the year before it ended, where it does ``follow`` (years,)
    one.
    """

    figures: np.ndarray
    light: np.ndarray
    ended: np.ndarray
    follow: np.ndarray

    @classmethod
    def empty(cls, designs: int, years: int) -> Ran:
        """Room for so many."""
        shape = (designs, years)
        return cls(np.zeros(shape, FIGURES), np.zeros((years, MONTHS)), np.zeros(shape, PLANT), np.zeros(years, bool))

    def before(self, design: int, year: int) -> np.ndarray | None:
        """(1,) of PLANT that the year followed, or None where it settled by itself."""
        return self.ended[design, year : year + 1] if self.follow[year] else None


def run_years(scenarios: Sequence[Scenario], years: Years, progress: Progress = lambda done, of: None) -> Ran:
    """Every design through every year; the weather is shared, and so is the light of those whose panels lie alike.

    Either all designs state the charge that each year begins with, or none. A hand takes some chains through their
    years, makes the sky of one year of each at a time and keeps the figures, so that memory does not grow with the
    years. ``progress`` is told of lane-years; who walks is whom work is handed to now.
    """
    ran, crew = Ran.empty(len(scenarios), years.count), hands.now()
    told = tally(progress, ran.figures.size)
    walk, dealt = Walk(tuple(scenarios), years.without_chains), _dealt(scenarios, years, crew.width)
    for _, steps in hands.sure(crew.each(walk, dealt, told, _named)):
        for step in steps:
            ran.figures[:, step.numbers], ran.light[step.numbers] = step.figures, step.light
            if step.ended is not None:
                ran.ended[:, step.numbers], ran.follow[step.numbers] = step.ended, True
    return ran


def _named(chains: Sequence[Numbers]) -> str:
    return f"years {chains[0][0]} to {chains[-1][-1]}"


@dataclass(frozen=True)
class Walk:
    """The work on chains: their years one after the other."""

    scenarios: tuple[Scenario, ...]
    years: Years

    def __call__(self, chains: Sequence[Numbers], told: hands.Told) -> list[Step]:
        """What some chains came to; ``told`` hears of lane-years."""
        steps = []
        for step in Hand(self.scenarios, self.years, chains).steps():
            steps.append(step)
            told(step.figures.size)
        return steps


def _dealt(scenarios: Sequence[Scenario], years: Years, width: int) -> list[Sequence[Numbers]]:
    """The chains by hands.

    Where something happens to each lane at moments of its own, these cut its company's steps too (by some 1e-9), so
    that a hand is one chain there; so it is where years have calendars of their own.
    """
    skies = len(firsts(scenarios, sky_key))
    most = max(min(SKIES_AT_ONCE // skies, LANES_AT_ONCE // len(scenarios)), 1)
    if not years.leads_in or any(one.care.fault or one.controller.load_mode == "after-dusk" for one in scenarios):
        most = 1
    rounds = -(-len(years.chains) // (most * width))  # of all who work at a time, so that nobody waits in the last
    count = min(rounds * width, len(years.chains))
    return [years.chains[start::count] for start in range(count)]


class Step(NamedTuple):
    """Some years of a hand, one of each chain, as in :class:`Ran`; ``ended`` is None where they settled."""

    numbers: list[int]
    figures: np.ndarray
    light: np.ndarray
    ended: np.ndarray | None


@dataclass(frozen=True)
class Hand:
    """Some chains of years that all designs go through side by side."""

    scenarios: Sequence[Scenario]
    years: Years
    chains: Sequence[Numbers]

    def steps(self) -> Iterator[Step]:
        """One year of each chain after the other, those that lead in left out."""
        ended, table = None, np.empty((0, 0), SKY)
        free = self.scenarios[0].battery.initial_soc is None
        for place, column in enumerate(zip_longest(*self.chains)):
            numbers = [number for number in column if number is not None]
            counted = place > 0 or not self.years.leads_in
            if not (counted or free):
                continue
            weathers = [self.years.weather(number) for number in numbers]
            table = self._sky(weathers, table)
            before = None if ended is None or not free else ended[:, : len(numbers)]
            figures, ended = self._year(weathers, numbers, table, before)
            if counted:
                yield Step(numbers, figures, np.array([light_by_month(weather) for weather in weathers]), before)

    @cached_property
    def _under(self) -> list[list[Scenario]]:
        """One design for each distinct sky, by the light that they share."""
        found: dict[object, list[Scenario]] = {}
        for one in firsts(self.scenarios, sky_key).values():
            found.setdefault(shape_key(one), []).append(one)
        return list(found.values())

    @cached_property
    def _rows(self) -> np.ndarray:
        """(designs,) which of the skies is each design's."""
        rows = {sky_key(one): row for row, one in enumerate(one for group in self._under for one in group)}
        return np.array([rows[sky_key(one)] for one in self.scenarios])

    def _sky(self, weathers: Sequence[Weather], table: np.ndarray) -> np.ndarray:
        """(skies × years, hours) of SKY, sky by sky, in the given table if that has the room."""
        hours, count = len(weathers[0].ghi), len(weathers)
        rows = int(self._rows.max() + 1) * count
        if table.shape[1] != hours or len(table) < rows:
            table = np.empty((rows, hours), SKY)
        for year, weather in enumerate(weathers):
            row = year
            for group in self._under:
                sunlight = sunlight_per_ampere(group[0], weather)
                for one in group:
                    sky_row(sunlight, weather, one.battery, table[row])
                    scale(table[row], one.panel.isc_a)
                    row += count
        return table

    def _year(
        self, weathers: Sequence[Weather], numbers: Sequence[int], table: np.ndarray, before: np.ndarray | None
    ) -> tuple[np.ndarray, np.ndarray]:
        """(designs, years) of FIGURES and of PLANT as they ended."""
        months, shape = weathers[0].index.month.to_numpy()[::24], (len(self.scenarios), len(numbers))
        by_day = np.array([wanted_by_day(one, months) for one in self.scenarios])
        wanted = np.repeat(by_day, len(numbers), axis=0)

        def keep(log: Log, _: np.ndarray) -> list[tuple[np.void, np.void]]:
            return list(zip(figures_of(log, months, wanted), log.lanes, strict=True))

        lanes = [lane for one in self.scenarios for lane in _in_years(one, weathers[0], numbers)]
        places = (self._rows[:, np.newaxis] * shape[1] + np.arange(shape[1])).ravel().tolist()
        how = How(at_once=len(lanes), places=places, ended=None if before is None else before.ravel())
        figures, ended = zip(*run(lanes, table, keep, how), strict=True)
        return np.array(figures).reshape(shape), np.array(ended).reshape(shape)


def _in_years(scenario: Scenario, weather: Weather, numbers: Sequence[int]) -> list[Scenario]:
    """The design in each year of a calendar; the very same one where chance has no part in it, for one lane is made."""
    if scenario.care.fault:
        return [as_in(scenario, weather, number) for number in numbers]
    return [as_in(scenario, weather)] * len(numbers)
