"""Years that never happened: hourly weather from twelve monthly means, the same for the same seed.

Daily clearness follows Bendt's distribution, driven by a Gaussian that remembers a little of the day before; the hours
of a day follow Collares-Pereira & Rabl's profile, disturbed hour by hour; beam and diffuse are split by DISC. What
depends on place and means alone is worked out once and shared by all seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from sim.calendar import MONTH_NAMES
from sim.catalogue import world
from sim.errors import InputError
from sim.units import Quantity, sentence
from sim.weather import air, clearness, hourly
from sim.weather.dates import DAY_H, year_index
from sim.weather.monthly import MONTHS, MonthlyMeans, monthly_means
from sim.weather.sun import Sun, sun_of_year
from sim.weather.weather import Site, Weather

__all__ = ["MonthlyMeans", "Seed", "monthly_means", "synthesise", "synthesiser"]

Seed = int | Sequence[int]
WIND_MS = 2.0  # in every hour; our own default, below the means of 3 to 5 m/s at 10 m of three open typical years
LICENCE = "computed from the figures of the scenario"
KEY = "weather.monthly.daily_ghi_kwh_m2"
_SHIFT = 12.0  # standard deviations by which a month may be moved to hit its mean
_HALVINGS = 50
_MADE = (
    "This is no year that was: it was made from twelve monthly means, which it hits. Daily clearness after Bendt, "
    "Collares-Pereira & Rabl, from day to day after Graham, Hollands & Huget; hours after Collares-Pereira & Rabl with "
    "the disturbances of Graham & Hollands; beam and diffuse by Maxwell's DISC.",
    sentence(
        "Days and nights of the air are our own defaults around its monthly means; the wind is {wind} always.",
        wind=Quantity(WIND_MS, "m_s", "g"),
    ),
)


def synthesise(
    means: MonthlyMeans,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    utc_offset_h: float,
    year: int = 2001,
    seed: Seed = 1,
) -> Weather:
    """One synthetic year; for many of them :func:`synthesiser` shares the work.

    >>> means = MonthlyMeans((2.0, 3.0, 4.0, 5.0, 6.0, 6.5, 6.0, 5.5, 4.5, 3.5, 2.5, 2.0), (10.0,) * 12)
    >>> year = synthesise(means, 40.0, 0.0, 100.0, 0.0)
    >>> round(float(year.ghi[: 31 * 24].sum()) / 31000, 6), round(float(year.temp_air[: 31 * 24].mean()), 6)
    (2.0, 10.0)
    """
    return synthesiser(means, Site(latitude_deg, longitude_deg, elevation_m, utc_offset_h), year)(seed)


def synthesiser(means: MonthlyMeans, site: Site, year: int = 2001, file: str = "monthly means") -> Maker:
    """Makes years of a place from its monthly means, one for each seed (a number, or several).

    Raises InputError, naming ``file``, the month and the limit, for a mean above what the sky can give there.
    """
    return maker_of(means, site, year, file, wide=False)


def maker_of(means: MonthlyMeans, site: Site, year: int, file: str, wide: bool) -> Maker:
    """What years of a place are made with; ``wide`` lets days under a low sun be duller and as clear as the sky allows.

    Such days are rare, so a single year does without them; they are what the poorest of many years are made of.
    """
    sun, index = sun_of_year(year, site), year_index(year, site.utc_offset_h)
    place = Place(index, sun, site, hourly.sky_of(sun, index, site))
    days = _days_of(file, means, place, wide)
    solar_h = hourly.solar_hours(index, site)
    course = air.course_of(np.array(means.temp_air_c), days.mean, index, solar_h, days.extra_wh)
    return Maker(place, days, course)


def synthetic_for(scenario: Any) -> Weather:
    """The synthetic year of a scenario with ``[weather.monthly]``, whose site is complete."""
    return synthesiser_for(scenario)(scenario.weather.monthly.seed)


def synthesiser_for(scenario: Any) -> Callable[[Seed], Weather]:
    """Makes years for a scenario with ``[weather.monthly]``, whose site is complete."""
    asked, site = scenario.weather.monthly, Site(*(getattr(scenario.site, name) for name in Site._fields))
    means = MonthlyMeans(asked.daily_ghi_kwh_m2, asked.temp_air_c)
    make = synthesiser(means, site, scenario.weather.year, str(scenario.path))
    coarse = getattr(asked, "coarse", "")

    def of_the_world(seed: Seed) -> Weather:
        made, source = make(seed), f"{world.SOURCE}, and a synthetic year from them, seed {seed}"
        return replace(made, source=source, licence=world.LICENCE, notes=(coarse, *made.notes))

    return of_the_world if coarse else make


def normals(seed: Seed, count: int) -> np.ndarray:
    """(count,) independent standard normal numbers that are the same on every machine.

    The raw bits of PCG64, seeded through SeedSequence, are fixed by NumPy for good (NEP 19); the upper 53 of each are
    taken as a uniform number and put through the inverse of the normal distribution.

    >>> normals(1, 3).round(6).tolist() == normals([1], 3).round(6).tolist()
    True
    """
    from scipy.special import ndtri

    bits = np.random.PCG64(np.random.SeedSequence(seed)).random_raw(count)
    return np.asarray(ndtri(((bits >> np.uint64(11)).astype(float) + 0.5) / 2.0**53))


@dataclass(frozen=True, eq=False)
class Days:
    """The distribution of each day's clearness (days,), and what each month (12,) must come to.

    ``top`` (days,), at which no hour is disturbed any more, is halfway from the usual clearest day to the sky's
    highest; ``bright_wm2`` (days, 24) is a cloudless hour on such a usual clearest day.
    """

    low: np.ndarray
    high: np.ndarray
    top: np.ndarray
    bright_wm2: np.ndarray
    steepness: np.ndarray
    extra_wh: np.ndarray
    month: np.ndarray
    asked_wh: np.ndarray
    mean: np.ndarray

    def at(self, scores: np.ndarray) -> np.ndarray:
        """(…, days) clearness at normal scores."""
        return np.asarray(self.low + (self.high - self.low) * clearness.quantile(scores, self.steepness))

    def drawn(self, scores: np.ndarray) -> np.ndarray:
        """(days,) clearness whose months come to their sums.

        Each month's scores are moved together, by what halving an interval finds, which keeps their order and the
        bounds of the distribution; what rounding leaves is taken in proportion.
        """
        low, high = np.full(MONTHS, -_SHIFT), np.full(MONTHS, _SHIFT)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            less = self._sums(self.at(scores + middle[self.month])) < self.asked_wh
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        clear = self.at(scores + high[self.month])
        return np.asarray(clear * _over(self.asked_wh, self._sums(clear))[self.month])

    def over_mean(self, clear: np.ndarray) -> np.ndarray:
        """(…, days) clearness over the mean of the month, 0 where the sun does not rise."""
        return _over(clear, np.broadcast_to(self.mean[self.month], clear.shape))

    def _sums(self, clear: np.ndarray) -> np.ndarray:
        return np.asarray(np.bincount(self.month, clear * self.extra_wh, MONTHS))


@dataclass(frozen=True, eq=False)
class Place:
    """A place through a calendar year, without any weather."""

    index: pd.DatetimeIndex
    sun: Sun
    site: Site
    sky: hourly.Sky


@dataclass(frozen=True, eq=False)
class Maker:
    """Makes a year from a seed; everything here is shared."""

    place: Place
    days: Days
    course: air.Course

    @cached_property
    def day_of_year(self) -> np.ndarray:
        """(hours,) the day of each hour, from 1."""
        return np.asarray(self.place.index.day_of_year)

    def __call__(self, seed: Seed = 1) -> Weather:
        days = self.days
        count = len(days.month)
        of_light, of_air, of_hours = np.split(normals(seed, count * (2 + DAY_H)), [count, 2 * count])
        scores = clearness.correlated(of_light, clearness.driver_lag_1())
        clear = days.drawn(scores)
        temp_air = air.temperature_c(days.over_mean(clear), scores, of_air, self.course)
        return self.weather(clear, of_hours, temp_air, f"synthetic year from twelve monthly means, seed {seed}", _MADE)

    def weather(
        self, clear: np.ndarray, of_hours: np.ndarray, temp_air: np.ndarray, source: str, notes: tuple[str, ...]
    ) -> Weather:
        """The hours of days of this clearness (days,), from independent noise (hours,), with this air (hours,) °C."""
        sun, site, sky = self.place.sun, self.place.site, self.place.sky
        ghi = hourly.hours_of(clear, self.days.top, of_hours, self.days.bright_wm2, sky).ravel()
        dni, dhi = hourly.beam_and_diffuse(ghi, sun, self.day_of_year, site.elevation_m)
        wind = np.full(len(ghi), WIND_MS)
        return Weather(self.place.index, ghi, dni, dhi, temp_air, wind, *site, source, LICENCE, notes)


def _over(above: np.ndarray, below: np.ndarray) -> np.ndarray:
    """A quotient, 0 where the divisor is."""
    return np.asarray(np.divide(above, below, out=np.zeros(np.shape(above)), where=below > 0.0))


def _days_of(file: str, means: MonthlyMeans, place: Place, wide: bool) -> Days:
    """The distributions of the days of twelve months with these means."""
    index, sun, site, sky = place.index, place.sun, place.site, place.sky
    month = index.month.to_numpy()[::DAY_H] - 1
    count = np.bincount(month, minlength=MONTHS)
    asked_wh = np.array(means.daily_ghi_kwh_m2) * 1000.0 * count
    _check_feasible(file, means, np.bincount(month, sky.highest_wh, MONTHS) / count / 1000.0)
    extra_wh = np.bincount(month, sky.extra_wh, MONTHS)
    mean = _over(asked_wh, extra_wh)
    fine_wm2 = hourly.ordinary_wm2(sun, site, np.array(means.temp_air_c)[index.month.to_numpy() - 1])
    fine, limit = _over(fine_wm2.sum(axis=1), sky.extra_wh), _over(sky.highest_wh, sky.extra_wh)
    clear = _over(mean, _over(np.bincount(month, sky.highest_wh, MONTHS), extra_wh))
    dim = clearness.low_sun(sky.extra_wh) if wide else np.zeros(len(month))
    high = _clearest(mean[month], clear[month], fine, limit)
    high = high + dim * (limit - high)
    bright_wm2 = hourly.BRIGHTEST_ORDINARY * np.maximum(_over(high, fine), 1.0)[:, np.newaxis] * fine_wm2
    low = np.minimum(np.minimum(clearness.lowest(dim), 0.5 * mean[month]), 0.5 * high)
    lowest, highest = (_over(np.bincount(month, end * sky.extra_wh, MONTHS), extra_wh) for end in (low, high))
    steep = clearness.steepness(_over(mean - lowest, highest - lowest))
    bright_wm2 = np.minimum(bright_wm2, sky.highest_wm2)
    return Days(low, high, 0.5 * (high + limit), bright_wm2, steep[month], sky.extra_wh, month, asked_wh, mean)


def _clearest(mean: np.ndarray, share: np.ndarray, fine: np.ndarray, highest: np.ndarray) -> np.ndarray:
    """(days,) clearness of the clearest day: by the formula, but no clearer than a cloudless day in ordinary air.

    The formula knows neither low sun nor humid air. A month that asks for more gets it: the clearest day has at least
    (1 + share)/2 of the sky's highest if the month has this share of that.
    """
    usual = np.minimum(clearness.clearest(mean), fine)
    return np.asarray(np.minimum(np.maximum(usual, 0.5 * (1.0 + share) * highest), highest))


def _check_feasible(file: str, means: MonthlyMeans, highest_kwh_m2: np.ndarray) -> None:
    """A month's mean above that of its clearest days is an error."""
    for number, (mean, limit) in enumerate(zip(means.daily_ghi_kwh_m2, highest_kwh_m2.tolist(), strict=True)):
        if not 0.0 <= mean <= limit:
            name = MONTH_NAMES[number]
            allowed = f"0 to {limit:.3f} kWh/m2 a day in {name}, the most that the sky gives at the site"
            raise InputError(file, f"{KEY}[{number}]", mean, allowed)
