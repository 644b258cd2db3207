"""The cheapest design that keeps a promise, found with few runs and in common years.

Coarse to fine. In ten years, the smallest array is found for some batteries, then the tilt, the clock and the pair that
do most at the cheapest of these; then, still in ten years, what is cheapest of all batteries and ways to let the load
run. That is tried in all the years, and after it, for every battery and way, the largest array that would cost less.
Where each of them fails, a smaller one fails too, and nothing cheaper holds. A design that can no longer reach what is
asked runs no further.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import product

import numpy as np

from sim.catalogue import chemistries
from sim.studies.size_columns import Columns
from sim.studies.size_shop import Array, Offer, Setting, Way
from sim.studies.size_trials import COARSE, Trials

COLUMNS = 5  # batteries of the first look
CLOSE = 0.03  # another way to let the load run stays in if no more than this share of wanted hours is lacking
SAME = 0.01  # ways that differ by less are equal, and the one that is set already or starts the pump less is taken
RESERVE_COST = 0.05  # share of wanted hours that keeping a reserve of charge may cost; these two as with pairs
CALM = 2.0  # starts a day; more must gain
CALM_COST = 0.10  # of the wanted hours; these two are our own defaults
DAYS = 365
At = tuple[Array, float]  # an array and a battery


@dataclass
class Search(Trials):
    """A search on its way: what has been run, and what is known of it."""

    chief: list[Way] = field(default_factory=list)  # the ways that the first look found best
    refuted: set[Offer] = field(default_factory=set)  # held in the years of the search, but not in fresh ones too

    def __post_init__(self) -> None:
        """Nothing is known, neither by the coarse years nor by all."""
        self.rough, self.sure = Columns(self.shop, self.hold_coarsely), Columns(self.shop, self.hold)

    def hold_coarsely(self, offers: Sequence[Offer]) -> list[bool]:
        """Whether each offer keeps the promise by the coarse years."""
        return [level >= 0.0 for level in self.coarse(offers, least=0.0)]

    def hold(self, offers: Sequence[Offer]) -> list[bool]:
        """Whether each offer keeps the promise in the years of the search.

        Ways besides the chief ones are taken to fail where they are far from it in the coarse years.
        """
        others = [one for one in offers if one.way not in self.chief]
        levels = dict(zip(others, self.coarse(others, least=-CLOSE), strict=True))
        near = [one for one in offers if levels.get(one, 0.0) >= -CLOSE]
        held = dict(zip(near, self.verdicts(near), strict=True))
        return [held.get(one, False) for one in offers]

    # --- the first look: ways ---------------------------------------------------------------------------------------

    def first_look(self) -> At:
        """Array and battery of the cheapest by the coarse years that is run as usual; the largest where none is."""
        shop = self.shop
        step = max(1, len(shop.batteries_ah) // COLUMNS)
        look = Columns(shop, self.hold_coarsely, from_the_middle=True)
        look.open([self._first], shop.batteries_ah[step // 2 :: step])
        found = look.cheapest()
        if found:
            return found.array, found.battery_ah
        battery_ah = shop.batteries_ah[step // 2 :: step][-1]
        return shop.arrays[max(shop.largest(battery_ah, self._first.controller), 0)], battery_ah

    @property
    def _first(self) -> Way:
        """Where to start: as it lies and charges now, run by the clock if that may be, to the wanted hours.

        No battery is too large for that.
        """
        settings = self.shop.settings
        usual = next((one for one in settings if one.load_mode == "clock"), settings[0])
        return Way(self.shop.tilts_deg[0], self.shop.controllers[0], usual)

    def worth(self, offers: Sequence[Offer]) -> list[float]:
        """What ranks ways at one array and battery: the coarse level, less without a reserve or with many starts.

        One that can no longer come close to the first of them runs no further; it is worth no more than is told.
        """
        first = self._ranked(offers[0], *self.coarse(offers[:1]))
        levels = self.coarse(offers[1:], least=first - CLOSE)
        return [first, *map(self._ranked, offers[1:], levels)]

    def _ranked(self, offer: Offer, level: float) -> float:
        reserve = chemistries()[self.shop.scenario.battery.chemistry]["study"]["reserve_soc"]
        low, starts = (float(np.median(self.seen(offer, COARSE)[name])) for name in ("min_soc", "starts"))
        return level - RESERVE_COST * (low < reserve) - CALM_COST * (starts > CALM * DAYS)

    def best_of(self, ways: Sequence[Way], at: At) -> list[Way]:
        """Ways by their worth at an array and a battery, the best first; of equals the one with fewer starts.

        The first of the ways is what is set now and stays first among equals.
        """
        offers = [Offer(*at, way) for way in ways if self.shop.can_be(Offer(*at, way))]
        worth = self.worth(offers)
        starts = [float(np.median(self.seen(one, COARSE)["starts"])) for one in offers]
        top = max(worth)
        order = sorted(
            range(len(offers)),
            key=lambda k: (-SAME * np.ceil((worth[k] - top) / SAME + 1.0 - 1e-9), k > 0, starts[k]),
        )
        return [offers[k].way for k in order]

    def ways(self, at: At) -> list[Way]:
        """The best ways at an array and a battery: with each kind of controller, and a close second of its clock."""
        shop, first = self.shop, self._first
        loads = self.best_of([first, *self._loads(first)], at)
        tilted = [
            loads[0]._replace(tilt_deg=tilt, controller=kind)
            for tilt, kind in product(shop.tilts_deg, shop.controllers)
        ]
        best_tilt = self.best_of(tilted, at)[0].tilt_deg
        paired = self.best_of(self._pairs(loads[0]._replace(tilt_deg=best_tilt)), at)
        others = [way for way in loads[1:] if way.setting.load_mode != loads[0].setting.load_mode][:1]
        near = [self._as(way, paired[0]) for way in others if self._near(way, loads[0], at)]
        return self._charged([paired[0], *near])

    def _charged(self, ways: Iterable[Way]) -> list[Way]:
        """Ways with every kind of controller."""
        return [way._replace(controller=kind) for way in ways for kind in self.shop.controllers]

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

    def _near(self, way: Way, best: Way, at: At) -> bool:
        its, mine = self.worth([Offer(*at, best), Offer(*at, way)])
        return mine >= its - CLOSE

    # --- all batteries and ways to let the load run -----------------------------------------------------------------

    def estimate(self, ways: Sequence[Way], at: At) -> Offer | None:
        """The cheapest by the coarse years: first of one battery, then of all, where much is too dear by then."""
        array, battery_ah = at
        self.rough.open(ways, [battery_ah])
        place = self.shop.arrays.index(array)
        self.rough.settle([(one, min(place, one.last)) for one in self.rough.columns if one.way == ways[0]])
        self.rough.cheapest()
        self.rough.open(ways, self.shop.batteries_ah)
        return self.rough.cheapest()

    def begin(self, guess: Offer | None) -> None:
        """Try what is cheapest by the coarse years in all, until one holds."""
        while guess is not None:
            self.sure.settle([self.sure.place(guess)])
            if self.sure.best() is not None:
                return
            self.rough.refute(guess)
            guess = self.rough.cheapest()

    def found(self) -> Offer | None:
        """The cheapest offer that holds, in fresh years too; None where none does."""
        at = self.first_look()
        self.chief = self.ways(at)
        ways = list(dict.fromkeys((*self.chief, *self._charged(self._loads(self.chief[0])))))
        self.sure.open(ways, self.shop.batteries_ah)
        self.begin(self.estimate(ways, at))
        while (found := self.sure.cheapest()) is not None and not self.confirm(found):
            self.refuted.add(found)
            self.sure.refute(found)
        return found
