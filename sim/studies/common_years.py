"""Designs through the same made-up years: chains in which every year begins as the one before it ended.

Years are made once for all the designs that run through them, and so is the light on each tilt; panels of another size
are the same light scaled. A design that has come some way along a chain goes on from there when it is asked again.
"""

from __future__ import annotations

import os
import threading
from collections.abc import Callable, Hashable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, NamedTuple, Protocol

import numpy as np

from sim.figures.lanes import FIGURES, figures_of
from sim.light.sunlight import sunlight_on
from sim.plant.records import SKY
from sim.plant.run import How, run
from sim.plant.sky import sky_row
from sim.studies.chains import IN_A_CHAIN, as_in
from sim.weather.monthly import days_by_month

if TYPE_CHECKING:
    from sim.plant.log import Log
    from sim.scenario import Scenario
    from sim.weather import Weather

AT_ONCE = 16  # designs of a hand, whatever the cores, so that these change nothing; a year's light is made for each
LEADS_IN = -1  # the place in a chain of the year before its first


class Light(NamedTuple):
    """What the light on a design follows from: that of others with equal tilt differs by its ``watts`` alone."""

    tilt_deg: float
    watts: float


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


def light_of(scenario: Scenario) -> Light:
    """What a design's light differs by from that of others with the same panel, larger or smaller."""
    panel = scenario.panel
    return Light(panel.tilt_deg, panel.power_w * panel.count)


class Runs:
    """What designs did in the years that they have been asked for so far; ``told(more)`` hears of lane-years."""

    def __init__(self, weather: Callable[[int], Weather], told: Callable[[int], None] = lambda more: None) -> None:
        """Remember how the years are made from their numbers."""
        self.weather, self.told = weather, told
        self.ways: dict[tuple[Hashable, int], Way] = {}
        self._own = threading.local()

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
        """Take designs through chains, each with how many of its years, on all cores; the longest come first."""
        distinct = list({design.key: design for design in designs}.values())
        count = -(-len(distinct) // AT_ONCE)
        hands = [distinct[start::count] for start in range(count)]
        with ThreadPoolExecutor(os.cpu_count()) as pool:
            list(pool.map(lambda due: self._along(*due), product(sorted(parts, key=_years, reverse=True), hands)))

    def _along(self, part: tuple[int, int], designs: Sequence[Built]) -> None:
        chain, years = part
        for number in range(LEADS_IN, years):
            due = [design for design in designs if self.way(design, chain).next == number]
            if due:
                self._year(due, chain, number)
                self.told(len(due))

    def _year(self, due: Sequence[Built], chain: int, number: int) -> None:
        """One year of a chain for designs that have come up to it."""
        at = chain * IN_A_CHAIN + number
        weather = self.weather(at)
        before = [self.way(design, chain) for design in due]
        ended = None if number == LEADS_IN else np.concatenate([way.ended for way in before if way.ended is not None])
        dated = [as_in(design.scenario, weather, at) for design in due]
        table, places = self._skies(dated, weather)
        how = How(at_once=AT_ONCE, places=places, ended=ended)
        for design, way, (figures, lane) in zip(due, before, _run(dated, weather, table, how), strict=True):
            kept = way.figures if number == LEADS_IN else (*way.figures, figures)
            self.ways[design.key, chain] = Way(kept, lane)

    def _skies(self, scenarios: Sequence[Scenario], weather: Weather) -> tuple[np.ndarray, list[int]]:
        """The sky table of a year, in memory that a thread keeps, and each scenario's row in it."""
        lights = {light_of(one): one for one in scenarios}
        rows = {light: row for row, light in enumerate(sorted(lights))}
        table = self._table(len(rows), len(weather.ghi))
        by_tilt: dict[float, Light] = {}
        for light, row in rows.items():
            first = by_tilt.setdefault(light.tilt_deg, light)
            if first is light:
                sky_row(sunlight_on(lights[light], weather), weather, lights[light].battery, table[row])
            else:
                scaled(table[rows[first]], light.watts / first.watts, table[row])
        return table, [rows[light_of(one)] for one in scenarios]

    def _table(self, rows: int, hours: int) -> np.ndarray:
        kept = getattr(self._own, "table", None)
        if kept is None or len(kept) < rows or kept.shape[1] != hours:
            self._own.table = kept = np.empty((rows, hours), SKY)
        return np.asarray(kept[:rows])


def scaled(row: np.ndarray, times: float, out: np.ndarray) -> None:
    """Write the sky (hours,) of a panel of so many times the power, which has the same voltages, into ``out``."""
    out[:] = row
    out["current_a"] *= times
    out["p_mp_w"] *= times


def _run(
    scenarios: Sequence[Scenario], weather: Weather, table: np.ndarray, how: How
) -> list[tuple[np.void, np.ndarray]]:
    """Each design's FIGURES of a year, and (1,) of PLANT as it ended."""
    months = weather.index.month.to_numpy()[::24]
    wanted = np.asarray(scenarios[0].need.hours_per_day)[months - 1]

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


def wanted_by_month(scenario: Scenario, weather: Weather) -> np.ndarray:
    """(12,) hours wanted in each month of a year."""
    wanted_h: np.ndarray = np.asarray(scenario.need.hours_per_day) * days_by_month(weather)
    return wanted_h
