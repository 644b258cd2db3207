"""The cheapest design that keeps a promise, found with few runs and in common years.

Coarse to fine. In ten years, the smallest array is found for some batteries, then the tilt, the clock and the pair that
do most at the cheapest of these. In all the years, what is cheapest by that estimate is tried; then, for every battery
and every way that is still in, the largest array that would cost less. Where each of them fails, a smaller one fails
too, and nothing cheaper holds. A design that can no longer reach the share of years that is asked runs no further.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import product

import numpy as np

from sim.catalogue import chemistries
from sim.scenario import Scenario
from sim.studies.chains import IN_A_CHAIN
from sim.studies.common_years import Runs
from sim.studies.size_promise import Promise
from sim.studies.size_shop import Array, Offer, Setting, Shop, Way

COARSE = ((0, 5), (1, 5))  # chains, and how many years of each
COLUMNS = 5  # batteries of the first look
CLOSE = 0.03  # another way to let the load run stays in if no more than this share of wanted hours is lacking
SAME = 0.01  # ways that differ by less are equal, and the one that is set already or starts the pump less is taken
RESERVE_COST = 0.05  # share of wanted hours that keeping a reserve of charge may cost; these two as with pairs
CALM = 2.0  # starts a day; more must gain
CALM_COST = 0.10  # of the wanted hours; these two are our own defaults
FIRST = 4  # offers that are tried first in all the years
AHEAD = 2  # stages of chains at a time
NEVER = 1 << 20
DAYS = 365
FRESH = 1000  # the number of the first chain that the search never sees, and how many fresh years for each of its own
FRESH_TIMES = 2


def stages(parts: Sequence[tuple[int, int]]) -> Iterator[Sequence[tuple[int, int]]]:
    """Chains, each with how many of its years: half of the first two first, since many designs fail early.

    >>> list(stages([(0, 20), (1, 20), (2, 10)]))
    [[(0, 10), (1, 10)], [(0, 20), (1, 20)], [(2, 10)]]
    """
    yield [(chain, -(-years // 2)) for chain, years in parts[:AHEAD]]
    for start in range(0, len(parts), AHEAD):
        yield parts[start : start + AHEAD]


@dataclass(frozen=True)
class Trial:
    """An offer with the scenario that it makes."""

    offer: Offer
    scenario: Scenario

    @property
    def key(self) -> Hashable:
        """What it is remembered by."""
        return self.offer


@dataclass
class Column:
    """The arrays behind one battery and one way, by their places from small to large: what holds and what fails."""

    way: Way
    battery_ah: float
    fails: int = -1  # the largest that is known to fail
    holds: int = NEVER  # the smallest that is known to hold


@dataclass
class Search:
    """A search on its way: what has been run, and what is known of it."""

    shop: Shop
    promise: Promise
    runs: Runs
    trials: dict[Offer, Trial] = field(default_factory=dict)
    columns: list[Column] = field(default_factory=list)
    refuted: set[Offer] = field(default_factory=set)  # held in the years of the search, but not in fresh ones too

    # --- runs -----------------------------------------------------------------------------------------------------

    def trial(self, offer: Offer) -> Trial:
        """The trial of an offer."""
        if offer not in self.trials:
            self.trials[offer] = Trial(offer, self.shop.built(offer))
        return self.trials[offer]

    def coarse(self, offers: Sequence[Offer]) -> list[float]:
        """The level that each offer reaches in the first few years of two chains."""
        margins = self.margins(offers, COARSE)
        return [float(np.quantile(one, 1.0 - self.promise.of_years)) for one in margins]

    def _years_of(self, chain: int) -> int:
        return dict(self.promise.parts).get(chain, 0)

    def _in(self, trial: Trial, parts: Iterable[tuple[int, int]]) -> np.ndarray:
        return np.concatenate([self.runs.figures(trial, [chain], years) for chain, years in parts])

    def _seen(self, offer: Offer) -> np.ndarray:
        """(years,) of FIGURES of the coarse years."""
        return self._in(self.trial(offer), COARSE)

    def figures(self, offer: Offer) -> np.ndarray:
        """(years,) of FIGURES of an offer in the years of the search that it has been through."""
        return self._in(self.trial(offer), self.promise.parts)

    def verdicts(self, offers: Sequence[Offer]) -> list[bool]:
        """Whether each offer keeps the promise in the years of the search, run as far as that needs."""
        trials = [self.trial(offer) for offer in offers]
        for stage in stages(self.promise.parts):
            self.runs.through([one for one in trials if self.promise.verdict(self.figures(one.offer)) is None], stage)
        return [self.promise.verdict(self.figures(one.offer)) is True for one in trials]

    def whole(self, offers: Sequence[Offer]) -> None:
        """Run offers through all the years of the search."""
        self.runs.through([self.trial(offer) for offer in offers], self.promise.parts)

    def margins(self, offers: Sequence[Offer], parts: Iterable[tuple[int, int]]) -> list[np.ndarray]:
        """(years,) by how much each offer keeps the promise in so many years of some chains, as far as there are."""
        there = [(chain, min(years, self._years_of(chain))) for chain, years in parts if self._years_of(chain)]
        trials = [self.trial(offer) for offer in offers]
        self.runs.through(trials, there)
        return [self.promise.margins(self._in(trial, there)) for trial in trials]

    # --- coarse ---------------------------------------------------------------------------------------------------

    def smallest(self, way: Way, batteries_ah: Sequence[float]) -> dict[float, int]:
        """The place of the smallest array for each battery by the coarse years; one too far where none is."""
        arrays = self.shop.arrays
        low = dict.fromkeys(batteries_ah, -1)
        high = {ah: self.shop.largest(ah, way.controller) + 1 for ah in batteries_ah}
        while open_ := [ah for ah in batteries_ah if high[ah] - low[ah] > 1]:
            middle = {ah: (low[ah] + high[ah]) // 2 for ah in open_}
            levels = self.coarse([Offer(arrays[at], ah, way) for ah, at in middle.items()])
            for (ah, at), level in zip(middle.items(), levels, strict=True):
                (high if level >= 0.0 else low)[ah] = at
        return high

    def cheapest(self, way: Way, smallest: dict[float, int]) -> tuple[Array, float]:
        """Array and battery of the cheapest of these; the largest of both where none is enough."""
        arrays = self.shop.arrays
        most = {ah: self.shop.largest(ah, way.controller) for ah in smallest}
        found = [Offer(arrays[at], ah, way) for ah, at in smallest.items() if at <= most[ah]]
        if not found:
            return arrays[max(most[max(smallest)], 0)], max(smallest)
        best = min(found, key=self.shop.price)
        return best.array, best.battery_ah

    def worth(self, offers: Sequence[Offer]) -> list[float]:
        """What ranks ways at one array and battery: the coarse level, less without a reserve or with many starts."""
        reserve = chemistries()[self.shop.scenario.battery.chemistry]["study"]["reserve_soc"]
        worth = []
        for level, one in zip(self.coarse(offers), offers, strict=True):
            low, starts = (float(np.median(self._seen(one)[name])) for name in ("min_soc", "starts"))
            worth.append(level - RESERVE_COST * (low < reserve) - CALM_COST * (starts > CALM * DAYS))
        return worth

    def best_of(self, ways: Sequence[Way], at: tuple[Array, float]) -> list[Way]:
        """Ways by their worth at an array and a battery, the best first; of equals the one with fewer starts.

        The first of the ways is what is set now and stays first among equals.
        """
        offers = [Offer(*at, way) for way in ways if self.shop.can_be(Offer(*at, way))]
        worth = self.worth(offers)
        starts = [float(np.median(self._seen(one)["starts"])) for one in offers]
        top = max(worth)
        order = sorted(
            range(len(offers)),
            key=lambda k: (-SAME * np.ceil((worth[k] - top) / SAME + 1.0 - 1e-9), k > 0, starts[k]),
        )
        return [offers[k].way for k in order]

    def ways(self) -> tuple[list[Way], dict[float, int]]:
        """The ways to search in all the years: for each kind of controller the best, and a close second of its clock.

        With them the smallest array by battery that the first look found.
        """
        shop = self.shop
        first = Way(shop.tilts_deg[0], shop.controllers[0], self._usual())
        step = max(1, len(shop.batteries_ah) // COLUMNS)
        smallest = self.smallest(first, shop.batteries_ah[step // 2 :: step])
        at = self.cheapest(first, smallest)
        loads = self.best_of([first, *self._loads(first)], at)
        tilted = [
            loads[0]._replace(tilt_deg=tilt, controller=kind)
            for tilt, kind in product(shop.tilts_deg, shop.controllers)
        ]
        best_tilt = self.best_of(tilted, at)[0].tilt_deg
        paired = self.best_of(self._pairs(loads[0]._replace(tilt_deg=best_tilt)), at)
        others = [way for way in loads[1:] if way.setting.load_mode != loads[0].setting.load_mode][:1]
        near = [self._as(way, paired[0]) for way in others if self._near(way, loads[0], at)]
        return [way._replace(controller=kind) for way in (paired[0], *near) for kind in shop.controllers], smallest

    def _usual(self) -> Setting:
        """Where to start: the clock over the wanted hours if it may be, which no battery is too large for."""
        settings = self.shop.settings
        return next((one for one in settings if one.load_mode == "clock"), settings[0])

    def _loads(self, way: Way) -> list[Way]:
        """Every way to let the load run, with the pair of one."""
        pair = way.setting[2:]
        return [way._replace(setting=one) for one in self.shop.settings if one[2:] == pair and one != way.setting]

    def _pairs(self, way: Way) -> list[Way]:
        """Every pair, with the way of one to let the load run; its own first."""
        load = way.setting[:2]
        others = [one for one in self.shop.settings if one[:2] == load and one != way.setting]
        return [way, *(way._replace(setting=one) for one in others)]

    def _as(self, way: Way, other: Way) -> Way:
        """A way with the tilt and the pair of another."""
        mixed = Setting(*way.setting[:2], *other.setting[2:])
        return other._replace(setting=mixed)

    def _near(self, way: Way, best: Way, at: tuple[Array, float]) -> bool:
        mine, its = self.worth([Offer(*at, way), Offer(*at, best)])
        return mine >= its - CLOSE

    # --- fine -----------------------------------------------------------------------------------------------------

    def offer(self, column: Column, at: int) -> Offer:
        """The offer at a place of a column."""
        return Offer(self.shop.arrays[at], column.battery_ah, column.way)

    def open_columns(self, ways: Sequence[Way]) -> None:
        """Columns of every battery for some ways."""
        known = {(column.way, column.battery_ah) for column in self.columns}
        new = [Column(way, ah) for way, ah in product(ways, self.shop.batteries_ah) if (way, ah) not in known]
        able = [one for one in new if self._last(one) >= 0]
        self.columns += [one for one in able if self.shop.can_be(self.offer(one, 0))]

    def best(self) -> Offer | None:
        """The cheapest offer that is known to hold; of equals the one with the smaller array."""
        held = [self.offer(column, column.holds) for column in self.columns if column.holds < NEVER]
        return min(held, key=lambda one: (self.shop.price(one), one.array.watts), default=None)

    def settle(self, tried: Sequence[tuple[Column, int]]) -> None:
        """Try places of columns in all the years, and note what holds and what fails."""
        held = self.verdicts([self.offer(column, at) for column, at in tried])
        for (column, at), holds in zip(tried, held, strict=True):
            if holds:
                column.holds = min(column.holds, at)
            else:
                column.fails = max(column.fails, at)

    def cheaper(self, column: Column, than: float) -> int:
        """The largest place of a column that costs less; -1 where even the smallest does not."""
        prices = np.array([self.shop.price(self.offer(column, at)) for at in range(self._last(column) + 1)])
        return int(np.flatnonzero(prices < than - 1e-9).max(initial=-1))

    def _open_places(self) -> Iterator[tuple[Column, int]]:
        """For every column the place to try next so that nothing cheaper than the best is left unknown."""
        best = self.best()
        than = np.inf if best is None else self.shop.price(best)
        for column in self.columns:
            most = min(self.cheaper(column, than), column.holds - 1)
            if most > column.fails:
                yield column, most if column.holds == NEVER else (column.fails + most + 1) // 2

    def close(self) -> Offer | None:
        """The cheapest offer of all open columns: until every array that would cost less is known to fail."""
        while places := list(self._open_places()):
            self.settle(places)
        return self.best()

    def begin(self, ways: Sequence[Way], smallest: dict[float, int]) -> None:
        """Open columns for ways, and try what is cheapest by the first look in all the years, then what is larger."""
        self.open_columns(ways)
        known = [one for one in self.columns if one.battery_ah in smallest]
        guesses = [(one, min(smallest[one.battery_ah], self._last(one))) for one in known]
        guesses.sort(key=lambda guess: self.shop.price(self.offer(*guess)))
        self._rise(guesses[:FIRST])

    def _rise(self, guesses: Sequence[tuple[Column, int]]) -> None:
        """Try guesses, and the next larger arrays until one holds or all are at their end."""
        while guesses and self.best() is None:
            self.settle(guesses)
            guesses = [(column, at + 1) for column, at in guesses if at < self._last(column)]

    def _last(self, column: Column) -> int:
        return self.shop.largest(column.battery_ah, column.way.controller)

    # --- fresh years ----------------------------------------------------------------------------------------------

    @property
    def fresh_chains(self) -> range:
        """Chains that the search does not choose by."""
        return range(FRESH, FRESH + -(-FRESH_TIMES * self.promise.years // IN_A_CHAIN))

    def all_years(self, offer: Offer) -> np.ndarray:
        """(years,) of FIGURES of an offer in the years of the search, and the fresh ones that it has been through."""
        return np.concatenate([self.figures(offer), self.runs.figures(self.trial(offer), self.fresh_chains)])

    def confirm(self, offer: Offer) -> bool:
        """Whether an offer keeps the promise in the years of the search and in fresh ones, taken together.

        Of many designs in the same years the cheapest that holds is one that these years happened to favour.
        """
        self.whole([offer])
        chains = self.fresh_chains
        asked = replace(self.promise, years=self.promise.years + IN_A_CHAIN * len(chains))
        for start in range(0, len(chains), AHEAD):
            if asked.verdict(self.all_years(offer)) is False:
                break
            self.runs.go([self.trial(offer)], chains[start : start + AHEAD])
        return asked.verdict(self.all_years(offer)) is True

    def refute(self, offer: Offer) -> None:
        """Take it that an offer fails."""
        self.refuted.add(offer)
        for column in self.columns:
            if column.holds < NEVER and self.offer(column, column.holds) == offer:
                column.fails, column.holds = column.holds, NEVER

    def wider(self, best: Offer | None) -> bool:
        """Open columns of other ways to let the load run that may be cheaper; whether there are any.

        What is best for one battery need not be so for another: in the coarse years each is tried with the largest
        array that would cost less than the best.
        """
        way = best.way if best else self.columns[0].way
        than = np.inf if best is None else self.shop.price(best)
        kinds = self.shop.controllers
        ways = [one._replace(controller=kind) for one in (way, *self._loads(way)) for kind in kinds]
        known = {(column.way, column.battery_ah) for column in self.columns}
        new = [Column(*one) for one in product(ways, self.shop.batteries_ah) if one not in known]
        places = [(column, self.cheaper(column, than)) for column in new if self._last(column) >= 0]
        able = [one for one in places if one[1] >= 0 and self.shop.can_be(self.offer(*one))]
        levels = self.coarse([self.offer(*one) for one in able])
        opened = [column for (column, _), level in zip(able, levels, strict=True) if level >= -CLOSE]
        self.columns += opened
        return bool(opened)

    def found(self) -> Offer | None:
        """The cheapest offer that holds, in fresh years too; None where none does."""
        self.begin(*self.ways())
        while True:
            found = self.close()
            if found is not None and not self.confirm(found):
                self.refute(found)
            elif not self.wider(found):
                return found
