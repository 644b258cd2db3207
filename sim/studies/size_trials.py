"""Offers through common years, each as far as it needs to be judged."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from sim.scenario import Scenario
from sim.studies.chains import IN_A_CHAIN
from sim.studies.common_years import Runs
from sim.studies.size_promise import Promise
from sim.studies.size_shop import Offer, Shop

Parts = Sequence[tuple[int, int]]  # chains, and how many years of each
COARSE = ((0, 5), (1, 5))
LOOKS = (((0, 2),), ((0, 5),), COARSE)  # on the way there
AHEAD = 2  # chains at a time
STEP = 5  # years of a chain at a time
FRESH = 1000  # the number of the first chain that the search never sees, and how many fresh years for each of its own
FRESH_TIMES = 2


def stages(parts: Parts, fewest: int) -> Iterator[Parts]:
    """Chains, each with how many of its years, a few more at a time; first as ``fewest`` as decide against a design.

    >>> list(stages([(0, 20), (1, 8)], 6))[:3]
    [[(0, 6)], [(0, 5), (1, 5)], [(0, 10), (1, 8)]]
    """
    yield [(chain, min(fewest, years)) for chain, years in parts[:1]]
    for start in range(0, len(parts), AHEAD):
        for most in range(STEP, IN_A_CHAIN + 1, STEP):
            yield [(chain, min(most, years)) for chain, years in parts[start : start + AHEAD]]


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
class Trials:
    """What has been run of the offers of a shop."""

    shop: Shop
    promise: Promise
    runs: Runs
    trials: dict[Offer, Trial] = field(default_factory=dict)

    def trial(self, offer: Offer) -> Trial:
        """The trial of an offer."""
        if offer not in self.trials:
            self.trials[offer] = Trial(offer, self.shop.built(offer))
        return self.trials[offer]

    def through(self, offers: Iterable[Offer], parts: Parts) -> None:
        """Run offers through so many years of some chains, as far as the search has them."""
        self.runs.through([self.trial(offer) for offer in offers], self.promise.there(parts))

    def whole(self, offers: Iterable[Offer]) -> None:
        """Run offers through all the years of the search."""
        self.through(offers, self.promise.parts)

    def seen(self, offer: Offer, parts: Parts) -> np.ndarray:
        """(years,) of FIGURES of an offer in so many years of some chains, those that it has been through."""
        trial, there = self.trial(offer), self.promise.there(parts)
        return np.concatenate([self.runs.figures(trial, [chain], years) for chain, years in there])

    def figures(self, offer: Offer) -> np.ndarray:
        """(years,) of FIGURES of an offer in the years of the search that it has been through."""
        return self.seen(offer, self.promise.parts)

    def margins(self, offers: Sequence[Offer], parts: Parts) -> list[np.ndarray]:
        """(years,) by how much each offer keeps the promise in so many years of some chains, as far as there are."""
        self.through(offers, parts)
        return [self.promise.margins(self.seen(one, parts)) for one in offers]

    # --- coarse ---------------------------------------------------------------------------------------------------

    def coarse(self, offers: Sequence[Offer], least: float = -np.inf) -> list[float]:
        """The level that each offer reaches in the first few years of two chains.

        One that can no longer reach the ``least`` runs no further; of it the level is told that it could at best.
        """
        for parts in LOOKS:
            self.through([one for one in offers if self._at_best(one) >= least], parts)
        return [self._at_best(one) for one in offers]

    def _at_best(self, offer: Offer) -> float:
        years = sum(years for _, years in self.promise.there(COARSE))
        return self.promise.at_best(self.seen(offer, COARSE), years)

    # --- all years ------------------------------------------------------------------------------------------------

    def verdicts(self, offers: Sequence[Offer]) -> list[bool]:
        """Whether each offer keeps the promise in the years of the search, run as far as that needs."""
        for parts in stages(self.promise.parts, self.promise.spare + 1):
            self.through([one for one in offers if self.promise.verdict(self.figures(one)) is None], parts)
        return [self.promise.verdict(self.figures(one)) is True for one in offers]

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
