"""Arrays behind batteries and ways: what holds, what fails, and the cheapest that holds.

Of one battery and one way, an array that is larger than one that holds is taken to hold, and one that is smaller than
one that fails to fail. Nothing is taken from one battery or way to another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from sim.studies.size_shop import Offer, Shop, Way

NEVER = 1 << 20
LESS = 1e-9  # prices that differ by no more are equal
Test = Callable[[Sequence[Offer]], Sequence[bool]]


@dataclass
class Column:
    """The arrays behind one battery and one way, by their places from small to large: what holds and what fails."""

    way: Way
    battery_ah: float
    last: int  # the largest that the battery bears
    fails: int = -1  # the largest that is known to fail
    holds: int = NEVER  # the smallest that is known to hold


@dataclass
class Columns:
    """What is known of arrays by one kind of test, which asks whether offers hold.

    It begins with the largest array that would cost less than the best so far; where ``from_the_middle`` is set, with
    one half way to it.
    """

    shop: Shop
    test: Test
    from_the_middle: bool = False
    columns: list[Column] = field(default_factory=list)

    def open(self, ways: Iterable[Way], batteries_ah: Iterable[float]) -> None:
        """Columns for some ways and batteries, those that there are already left out."""
        known = {(column.way, column.battery_ah) for column in self.columns}
        for one in product(ways, batteries_ah):
            if one not in known:
                self._add(*one)

    def _add(self, way: Way, battery_ah: float) -> None:
        last = self.shop.largest(battery_ah, way.controller)
        if last >= 0 and self.shop.can_be(Offer(self.shop.arrays[0], battery_ah, way)):
            self.columns.append(Column(way, battery_ah, last))

    def offer(self, column: Column, at: int) -> Offer:
        """The offer at a place of a column."""
        return Offer(self.shop.arrays[at], column.battery_ah, column.way)

    def place(self, offer: Offer) -> tuple[Column, int]:
        """Where an offer stands."""
        its = next(one for one in self.columns if (one.battery_ah, one.way) == offer[1:])
        return its, self.shop.arrays.index(offer.array)

    def best(self) -> Offer | None:
        """The cheapest offer that is known to hold; of equals the one with the smaller array."""
        held = [self.offer(column, column.holds) for column in self.columns if column.holds < NEVER]
        return min(held, key=lambda one: (self.shop.price(one), one.array.watts), default=None)

    def settle(self, tried: Sequence[tuple[Column, int]]) -> None:
        """Test places of columns, and note what holds and what fails."""
        held = self.test([self.offer(column, at) for column, at in tried])
        for (column, at), holds in zip(tried, held, strict=True):
            if holds:
                column.holds = min(column.holds, at)
            else:
                column.fails = max(column.fails, at)

    def refute(self, offer: Offer) -> None:
        """Take it that an offer fails that was held to hold."""
        column, at = self.place(offer)
        column.fails, column.holds = at, NEVER

    def cheapest(self) -> Offer | None:
        """The cheapest offer that holds: tested until every array that would cost less is known to fail."""
        while places := list(self._open_places()):
            self.settle(places)
        return self.best()

    def _open_places(self) -> Iterator[tuple[Column, int]]:
        """For every column the place to test next so that nothing cheaper than the best is left unknown."""
        best = self.best()
        than = np.inf if best is None else self.shop.price(best)
        for column in self.columns:
            most = min(self._cheaper(column, than), column.holds - 1)
            if most > column.fails:
                first = column.holds == NEVER and not self.from_the_middle
                yield column, most if first else (column.fails + most + 1) // 2

    def _cheaper(self, column: Column, than: float) -> int:
        """The largest place of a column that costs less; -1 where even the smallest does not."""
        prices = np.array([self.shop.price(self.offer(column, at)) for at in range(column.last + 1)])
        return int(np.flatnonzero(prices < than - LESS).max(initial=-1))
