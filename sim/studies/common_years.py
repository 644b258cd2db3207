"""Designs through the same made-up years: chains in which every year begins as the one before it ended.

Years and the light on each tilt are made once for all the designs that run through them. A design that has come some
way along a chain goes on from there when it is asked again.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NamedTuple, Protocol

import numpy as np

from sim import hands
from sim.figures.lanes import FIGURES, figures_of
from sim.figures.planned import wanted_by_day, wanted_by_month
from sim.plant.records import SKY
from sim.plant.run import How, run
from sim.studies.chains import IN_A_CHAIN, as_in
from sim.studies.common_light import Lights

if TYPE_CHECKING:
    from sim.plant.log import Log
    from sim.scenario import Scenario
    from sim.weather import Weather

AT_ONCE = 16  # designs of a hand, whatever the cores, so that these change nothing
APART = 4  # one chain alone is dealt to two hands where each gets so many
LEADS_IN = -1  # the place in a chain of the year before its first


class Built(Protocol):
    """A design as its runs know it."""

    @property
    def scenario(self) -> Scenario:
        """All of it."""

    @property
    def key(self) -> Hashable:
        """What it is remembered by."""


@dataclass(frozen=True)
class Way:
    """How far a design has come along a chain: its (years,) of FIGURES, and (1,) of PLANT as the last year ended."""

    figures: tuple[np.void, ...] = ()
    ended: np.ndarray | None = None

    @property
    def next(self) -> int:
        """Which year of the chain comes next; the one before the first is only there to settle in."""
        return LEADS_IN if self.ended is None else len(self.figures)


def _years(part: tuple[int, int]) -> int:
    return part[1]


def _clock(design: Built) -> tuple[Any, ...]:
    """What its load is switched by at moments of the day."""
    control = design.scenario.controller
    return control.load_mode, control.load_windows


class Asked(NamedTuple):
    """Designs that have come up to different years of a chain, and up to which year each of them is wanted to go."""

    chain: int
    years: int
    designs: tuple[tuple[Scenario, int, np.ndarray | None], ...]  # with the year that comes next, and the lane it left


class Runs:
    """What designs did in the years that they have been asked for so far; ``told(more)`` hears of lane-years."""

    def __init__(self, weather: Callable[[int], Weather], own: Scenario, told: hands.Told = hands.nobody) -> None:
        """Of variants of a scenario; remember how the years are made from their numbers."""
        self.along, self.told = Along(Lights(weather, own)), told
        self.ways: dict[tuple[Hashable, int], Way] = {}

    def way(self, design: Built, chain: int) -> Way:
        """How far a design has come along a chain."""
        return self.ways.get((design.key, chain), Way())

    def figures(self, design: Built, chains: Iterable[int], years: int = IN_A_CHAIN) -> np.ndarray:
        """(years,) of FIGURES of a design in the first years of chains that it has been through."""
        found = [figures for chain in chains for figures in self.way(design, chain).figures[:years]]
        return np.array(found, FIGURES)

    def go(self, designs: Sequence[Built], chains: Iterable[int], years: int = IN_A_CHAIN) -> None:
        """Take designs through the first years of chains, as far as they have not been there."""
        self.through(designs, [(chain, years) for chain in chains])

    def through(self, designs: Sequence[Built], parts: Sequence[tuple[int, int]]) -> None:
        """Take designs through chains, each with how many of its years; the longest come first."""
        longest = sorted(parts, key=_years, reverse=True)
        dealt = [(*part, its) for part in longest for its in self._dealt(designs, part, len(parts) == 1)]
        asked = [Asked(chain, years, tuple(self._place(one, chain) for one in its)) for chain, years, its in dealt]
        for number, gone in hands.sure(hands.now().each(self.along, asked, self.told, _named)):
            self._keep(dealt[number][-1], asked[number].chain, gone)

    def _dealt(self, designs: Sequence[Built], part: tuple[int, int], alone: bool) -> list[list[Built]]:
        """The designs that have not come so far along a chain, each once, by hands: those with one clock together."""
        distinct = {design.key: design for design in designs}.values()
        due = sorted((design for design in distinct if self.way(design, part[0]).next < part[1]), key=_clock)
        count = max(-(-len(due) // AT_ONCE), min(2, len(due) // APART) if alone else 1)
        return [list(due[k * len(due) // count : (k + 1) * len(due) // count]) for k in range(count) if due]

    def _place(self, design: Built, chain: int) -> tuple[Scenario, int, np.ndarray | None]:
        way = self.way(design, chain)
        return design.scenario, way.next, way.ended

    def _keep(self, designs: Sequence[Built], chain: int, gone: Sequence[Way]) -> None:
        for design, further in zip(designs, gone, strict=True):
            self.ways[design.key, chain] = Way((*self.way(design, chain).figures, *further.figures), further.ended)


def _named(asked: Asked) -> str:
    return f"chain {asked.chain} of years, {len(asked.designs)} designs"


_OWN = threading.local()  # a thread keeps its table


@dataclass(frozen=True)
class Along:
    """The work on a chain: its years one after the other."""

    lights: Lights

    def __call__(self, asked: Asked, told: hands.Told) -> list[Way]:
        """What each of the designs came to on the way from where it was; ``told`` hears of lane-years."""
        ways = [_Way(*one) for one in asked.designs]
        for number in range(LEADS_IN, asked.years):
            due = [way for way in ways if way.next == number]
            if due:
                self._year(due, asked.chain * IN_A_CHAIN + number, number == LEADS_IN)
                told(len(due))
        return [Way(tuple(way.figures), way.ended) for way in ways]

    def _year(self, due: Sequence[_Way], at: int, leads_in: bool) -> None:
        """One year for designs that have come up to it."""
        weather = self.lights.year(at)
        ended = None if leads_in else np.concatenate([way.ended for way in due if way.ended is not None])
        dated = [as_in(way.scenario, weather, at) for way in due]
        table = self.lights.table(at, dated, _room)
        how = How(at_once=AT_ONCE, places=table.rows, ended=ended)
        for way, (figures, lane) in zip(due, _run(dated, weather, table.sky, how), strict=True):
            way.figures += [] if leads_in else [figures]
            way.ended, way.next = lane, way.next + 1


@dataclass
class _Way:
    """A design on its way along a chain."""

    scenario: Scenario
    next: int
    ended: np.ndarray | None
    figures: list[np.void] = field(default_factory=list)


def _room(rows: int, hours: int) -> np.ndarray:
    """(rows, hours) of SKY in memory that a thread keeps."""
    kept = getattr(_OWN, "table", None)
    if kept is None or len(kept) < rows or kept.shape[1] != hours:
        _OWN.table = kept = np.empty((rows, hours), SKY)
    return np.asarray(kept[:rows])


def _run(
    scenarios: Sequence[Scenario], weather: Weather, table: np.ndarray, how: How
) -> list[tuple[np.void, np.ndarray]]:
    """Each design's FIGURES of a year, and (1,) of PLANT as it ended."""
    months = weather.index.month.to_numpy()[::24]
    wanted = wanted_by_day(scenarios[0], months)

    def kept(log: Log, numbers: np.ndarray) -> list[tuple[np.void, np.ndarray]]:
        figures = figures_of(log, months, wanted)
        return [(figures[lane], log.lanes[lane : lane + 1].copy()) for lane in range(len(numbers))]

    return run(scenarios, table, kept, how)


def met_shares(figures: np.ndarray, wanted_h: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(years,) the share of wanted hours met, and that of each year's worst month; ``wanted_h`` (12,) by month."""
    asked = wanted_h > 0.0
    if not asked.any():
        return np.ones(len(figures)), np.ones(len(figures))
    met = figures["met_h"]
    return met.sum(axis=1) / wanted_h.sum(), (met[:, asked] / wanted_h[asked]).min(axis=1)


def wanted_in(scenario: Scenario, weather: Weather) -> np.ndarray:
    """(12,) hours wanted in each month of a year of weather."""
    return wanted_by_month(scenario, weather.index.month.to_numpy()[::24])
