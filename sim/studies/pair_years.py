"""The pairs that did best in one year, through many: which of them to recommend, and how steady that choice is."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sim import hands
from sim.errors import InputError
from sim.studies.chains import parts_of
from sim.studies.common_years import Runs, met_shares, wanted_in
from sim.studies.many_years import POOR
from sim.studies.recommend import MET_POINT, able
from sim.weather.many import years_for
from sim.words import percent

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.pair import Pair

FEWEST, MOST = 10, 200  # years
DISCONNECTS = 10  # of which the best reconnect goes through the years


@dataclass(frozen=True)
class Through:
    """One pair as it goes through the years."""

    key: Hashable
    scenario: Scenario


@dataclass(frozen=True)
class ManyYears:
    """What each of the candidates met of the wanted hours: ``met`` (candidates, years), 0…1."""

    candidates: tuple[Pair, ...]
    met: np.ndarray

    @property
    def years(self) -> int:
        """How many years."""
        return int(self.met.shape[1])

    @property
    def p10(self) -> np.ndarray:
        """(candidates,) what a tenth of the years stay below."""
        return np.asarray(np.quantile(self.met, POOR, axis=1))

    def near(self) -> tuple[Pair, ...]:
        """The candidates whose P10 is within a point of the best."""
        return tuple(
            pair for pair, low in zip(self.candidates, self.p10, strict=True) if low >= self.p10.max() - MET_POINT
        )

    def good_years(self, chosen: Pair) -> int:
        """In how many years a candidate is within a point of the year's best."""
        mine = self.met[[voltages(pair) for pair in self.candidates].index(voltages(chosen))]
        return int(np.count_nonzero(mine >= self.met.max(axis=0) - MET_POINT))

    def in_words(self, chosen: Pair, present: Pair) -> str:
        """What the years say of the chosen pair beside the present one."""
        low = dict(zip(map(voltages, self.candidates), self.p10.tolist(), strict=True))
        mine, its = (percent(low[voltages(pair)]) for pair in (chosen, present))
        beside = "" if voltages(chosen) == voltages(present) else f", {its} with the present one"
        return (
            f"In {self.years} synthetic years it is within a point of the year's best candidate in "
            f"{self.good_years(chosen)}; one year in ten meets less than {mine} of the "
            f"wanted hours{beside}."
        )


def voltages(pair: Pair) -> tuple[float, float]:
    """Both voltages of a pair."""
    return pair.load_disconnect_v, pair.load_reconnect_v


def candidates_of(pairs: Sequence[Pair], needed_gap_v: float, also: Sequence[Pair]) -> tuple[Pair, ...]:
    """Some pairs of the map, and ``also`` others: the best of each of the disconnect voltages that meet most."""
    best: dict[float, Pair] = {}
    for pair in sorted(able(pairs, needed_gap_v), key=lambda one: -one.hours_met_share):
        best.setdefault(pair.load_disconnect_v, pair)
    every = {voltages(pair): pair for pair in (*also, *list(best.values())[:DISCONNECTS])}
    return tuple(every.values())


def many_years(
    scenario: Scenario, candidates: Sequence[Pair], years: int, told: hands.Told = hands.nobody
) -> ManyYears:
    """Candidates through so many years; InputError for a number that says nothing."""
    if not FEWEST <= years <= MOST:
        raise InputError(str(scenario.path), "--years", years, f"a whole number from {FEWEST} to {MOST}")
    weather = years_for(scenario)
    runs = Runs(weather, scenario, told)
    through = [Through(voltages(pair), with_pair(scenario, pair)) for pair in candidates]
    parts = parts_of(years)
    runs.through(through, parts)
    wanted_h = wanted_in(scenario, weather(0))
    met = [met_shares(runs.figures(one, dict(parts)), wanted_h)[0] for one in through]
    return ManyYears(tuple(candidates), np.array(met))


def with_pair(scenario: Scenario, pair: Pair) -> Scenario:
    """The scenario with a pair of load voltages."""
    off_v, on_v = voltages(pair)
    return scenario.but(controller={"load_disconnect_v": off_v, "load_reconnect_v": on_v})


def with_p10(pairs: Sequence[Pair], found: ManyYears) -> tuple[Pair, ...]:
    """The pairs, those that went through the years with what a tenth of them stay below."""
    low = dict(zip(map(voltages, found.candidates), found.p10.tolist(), strict=True))
    return tuple(replace(pair, hours_met_share_p10=low.get(voltages(pair))) for pair in pairs)
