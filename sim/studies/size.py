"""What to buy, and how to run it: the cheapest design that keeps what is wanted in most years."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.errors import InputError
from sim.studies.common_years import Runs, met_shares, wanted_in
from sim.studies.designs import Design
from sim.studies.many_years import POOR
from sim.studies.size_promise import Promise
from sim.studies.size_search import Search
from sim.studies.size_shop import Offer, Setting, Shop
from sim.studies.tilt import best_tilt_deg, light_on, wanted_months
from sim.studies.year import simulate_year
from sim.weather import weather_for
from sim.weather.many import years_for
from sim.weather.sun import facing_deg

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.result import YearResult

MET, OF_YEARS, YEARS = 0.95, 0.9, 50  # what is asked where nothing is said
FEWEST, MOST = 10, 1000  # years
TILT_STEP_DEG = 5.0
TILT_SCAN_DEG = tuple(float(tilt) for tilt in range(0, 91, 10))
MAP_YEARS = ((0, 10), (1, 10))  # of the picture: chains, and how many years of each
MAP_BATTERIES, MAP_ARRAYS = 4, 5
GUESS = 40  # designs through all years, to tell progress by
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Sized:
    """An offer with its price and what it did in so many years: ``keeps`` says whether it holds in those that count."""

    offer: Offer
    price: float
    years: int
    share_of_years: float
    hours_met_share_p10: float
    worst_month_met_p10: float
    mean_met_h: float
    poor_met_h: float
    longest_stop_h: float
    keeps: bool

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        array, battery_ah, way = self.offer
        setting = way.setting._asdict() | {"load_windows": [list(one) for one in way.setting.load_windows]}
        return {
            "panel_w": array.panel_w,
            "panels": array.panels,
            "tilt_deg": way.tilt_deg,
            "battery_ah": battery_ah,
            "controller": way.controller,
            **setting,
            "hours_met_share_p10": self.hours_met_share_p10,
            "worst_month_met_p10": self.worst_month_met_p10,
            "cost": self.price,
            "keeps": self.keeps,
            "years": self.years,
            "share_of_years": self.share_of_years,
        }


@dataclass(frozen=True)
class Plane:
    """The picture: how far designs of the chosen way come, (batteries, arrays, years) margins of the promise."""

    batteries_ah: tuple[float, ...]
    watts: tuple[float, ...]
    margins: np.ndarray

    def line(self, share: float) -> np.ndarray:
        """(batteries,) the watts from which on a share of the years keeps it, between arrays on a straight line in
        their logarithm; nan where the largest array is too small, the smallest array where that is enough.
        """
        level = np.quantile(self.margins, 1.0 - share, axis=2)
        return np.array([crossing(np.log(self.watts), row) for row in level])


def crossing(log_watts: np.ndarray, level: np.ndarray) -> float:
    """The watts at which a level (arrays,) first reaches 0, on a straight line in their logarithm; nan where never."""
    enough = np.flatnonzero(level >= 0.0)
    if not len(enough):
        return float("nan")
    first = int(enough[0])
    if first == 0:
        return float(np.exp(log_watts[0]))
    low, high = level[first - 1], level[first]
    at = log_watts[first - 1] - low / (high - low) * (log_watts[first] - log_watts[first - 1])
    return float(np.exp(at))


@dataclass(frozen=True)
class SizeResult:
    """What was asked, every design that was run far enough to be judged, and the one to build, if there is one.

    ``fresh`` is the chosen one in all years, those that the search never saw included; ``less`` are the next smaller
    array and battery, ``otherwise`` the same purchase run in other ways, ``best`` the one that comes nearest where
    none holds. ``year`` is the typical year of the chosen one, or of the best.
    """

    shop: Shop
    promise: Promise
    designs: tuple[Sized, ...]
    chosen: Sized | None
    best: Sized
    fresh: Sized | None
    less: tuple[Sized, ...]
    otherwise: tuple[Sized, ...]
    plane: Plane
    year: YearResult
    written: str | None = None

    @property
    def scenario(self) -> Scenario:
        """The scenario that was sized."""
        return self.shop.scenario

    @property
    def changes(self) -> dict[str, Any]:
        """What the chosen design changes in the scenario, by its keys."""
        return self.shop.changes((self.chosen or self.best).offer)

    def as_written(self, path: str) -> SizeResult:
        """The same, with the place of the scenario that was written of it."""
        return replace(self, written=path)

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        asked = {"met": self.promise.met, "of_years": self.promise.of_years, "years": self.promise.years}
        return {
            "asked": asked | {"worst_month_met": self.promise.worst_met},
            "designs": [one.as_json() for one in self.designs],
            "chosen": self.chosen.as_json() if self.chosen else None,
            "best": self.best.as_json(),
            "checked": {"years": self.fresh.years, "share_of_years": self.fresh.share_of_years} if self.fresh else None,
            "by_weight": self.shop.by_weight,
            "scenario": self.written,
        }


def asked_promise(scenario: Scenario, shares: tuple[float, float], years: int, wanted_h: np.ndarray) -> Promise:
    """What is asked of a scenario; InputError for shares and years that make no sense."""
    for key, share in zip(("--met", "--of-years"), shares, strict=True):
        if not 0.0 < share <= 1.0:
            raise InputError(str(scenario.path), key, share, "a share above 0, up to 1")
    if not FEWEST <= years <= MOST:
        raise InputError(str(scenario.path), "--years", years, f"a whole number from {FEWEST} to {MOST}")
    if not wanted_h.any():
        wanted = list(scenario.need.hours_per_day)
        raise InputError(
            str(scenario.path), "need.hours_per_day", wanted, "more than 0 h in a month in service, to size for"
        )
    worst = scenario.size.worst_month_met if scenario.size else None
    return Promise(*shares, years, worst, wanted_h)


def best_tilts_deg(scenario: Scenario) -> tuple[float, ...]:
    """The best tilts for the light of all wanted months and of the one with the least for its hours, in steps."""
    weather = weather_for(scenario)
    light, facing = light_on(scenario, weather), facing_deg(scenario.panel.azimuth_deg, weather.latitude_deg)
    wanted = [month - 1 for month in wanted_months(wanted_in(scenario, weather))]
    hours = np.asarray(scenario.need.hours_per_day)[wanted]
    own = light(scenario.panel.tilt_deg, facing)[wanted]
    worst = [wanted[int(np.argmin(own / np.maximum(hours, 1e-9)))]]

    def best(months: list[int]) -> float:
        tilt = best_tilt_deg(lambda tilt: float(light(tilt, facing)[months].sum()), TILT_SCAN_DEG)
        return TILT_STEP_DEG * round(tilt / TILT_STEP_DEG)

    return best(wanted), best(worst)


def study_size(
    design: Design,
    shares: tuple[float, float] = (MET, OF_YEARS),
    years: int = YEARS,
    seed: int | None = None,
    progress: Progress = lambda done, of: None,
) -> SizeResult:
    """What to buy, and how to run it; nothing is written. ``shares`` are of the wanted hours and of the years."""
    scenario, done = design.scenario, [0]

    def told(more: int) -> None:
        done[0] += more
        progress(done[0], max(GUESS * years, done[0]))

    weather = years_for(scenario, seed=seed)
    first = weather(0)
    promise = asked_promise(scenario, shares, years, wanted_in(scenario, first))
    shop = Shop(design, float(first.temp_air.min()), best_tilts_deg(scenario))
    search = Search(shop, promise, Runs(weather, scenario, told))
    return told_of(search, search.found())


def told_of(search: Search, found: Offer | None) -> SizeResult:
    """What a search came to, with what stands beside its answer."""
    best = found or nearest(search)
    less, otherwise = smaller(search, best), other_ways(search, best)
    search.whole([best, *less, *otherwise])
    plane = plane_of(search, best)
    judged = [one for one in search.trials if search.promise.verdict(search.figures(one)) is not None]
    chosen = sized(search, found) if found else None
    return SizeResult(
        shop=search.shop,
        promise=search.promise,
        designs=tuple(sized(search, one) for one in sorted(judged, key=search.shop.price)),
        chosen=chosen,
        best=sized(search, best),
        fresh=sized(search, found, fresh=True) if found else None,
        less=tuple(sized(search, one) for one in less),
        otherwise=tuple(sized(search, one) for one in otherwise),
        plane=plane,
        year=simulate_year(search.trial(best).scenario),
    )


def sized(search: Search, offer: Offer, fresh: bool = False) -> Sized:
    """What an offer did in the years that it has been through, those of the search or all."""
    promise, figures = search.promise, search.all_years(offer) if fresh else search.figures(offer)
    share, worst = met_shares(figures, promise.wanted_h)
    met_h = figures["met_h"].sum(axis=1)
    return Sized(
        offer=offer,
        price=search.shop.price(offer),
        years=len(figures),
        share_of_years=promise.share(figures),
        hours_met_share_p10=float(np.quantile(share, POOR)),
        worst_month_met_p10=float(np.quantile(worst, POOR)),
        mean_met_h=float(met_h.mean()),
        poor_met_h=float(np.quantile(met_h, POOR)),
        longest_stop_h=float(np.quantile(figures["longest_stop_h"], 1.0 - POOR)),
        keeps=promise.verdict(search.figures(offer)) is True and offer not in search.refuted,
    )


def nearest(search: Search) -> Offer:
    """Of the largest that may be bought, the way that comes nearest to the promise in the coarse years."""
    shop = search.shop
    battery_ah = shop.batteries_ah[-1]
    ways = dict.fromkeys(column.way for column in search.sure.columns)
    offers = [Offer(shop.arrays[max(shop.largest(battery_ah, way.controller), 0)], battery_ah, way) for way in ways]
    levels = dict(zip(offers, search.coarse(offers), strict=True))
    return max(offers, key=levels.__getitem__)


def smaller(search: Search, offer: Offer) -> list[Offer]:
    """The same with the next smaller array, and with the next smaller battery, where there are such."""
    shop = search.shop
    at, ah = shop.arrays.index(offer.array), shop.batteries_ah.index(offer.battery_ah)
    arrays = [offer._replace(array=shop.arrays[at - 1])] if at else []
    return arrays + ([offer._replace(battery_ah=shop.batteries_ah[ah - 1])] if ah else [])


def other_ways(search: Search, offer: Offer) -> list[Offer]:
    """The same purchase run by the settings as they are, and with its pair by voltage, by daylight and by the clock."""
    shop, pair = search.shop, offer.way.setting[2:]
    modes: dict[str, Setting] = {}
    for one in shop.settings:
        if one[2:] == pair:
            modes.setdefault(one.load_mode, one)
    settings = dict.fromkeys((*modes.values(), shop.settings[0]))
    ways = [offer.way._replace(setting=one) for one in settings if one != offer.way.setting]
    return [made for way in ways if shop.can_be(made := offer._replace(way=way))]


def spaced(values: Sequence[Any], at: int, count: int) -> list[Any]:
    """Some of the values, one of which is at a place: its neighbours, and others further and further apart.

    >>> spaced(list(range(20)), 10, 7), spaced(list(range(20)), 0, 4)
    ([6, 8, 9, 10, 11, 12, 14], [0, 1, 2, 4])
    """
    steps = [0, *(sign * 2**k for k in range(len(values)) for sign in (1, -1))]
    inside = [at + step for step in steps if 0 <= at + step < len(values)]
    return [values[k] for k in sorted(inside[:count])]


def plane_of(search: Search, offer: Offer) -> Plane:
    """The picture around an offer: its way with smaller and larger arrays and batteries."""
    shop = search.shop
    arrays = spaced(shop.arrays, shop.arrays.index(offer.array), MAP_ARRAYS)
    batteries = spaced(shop.batteries_ah, shop.batteries_ah.index(offer.battery_ah), MAP_BATTERIES)
    offers = [Offer(array, ah, offer.way) for ah in batteries for array in arrays]
    margins = np.array(search.margins(offers, MAP_YEARS)).reshape(len(batteries), len(arrays), -1)
    return Plane(tuple(batteries), tuple(array.watts for array in arrays), margins)
