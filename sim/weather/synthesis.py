"""Years that never happened: hourly weather from twelve monthly means, the same for the same seed.

Daily clearness follows Bendt's distribution, driven by a Gaussian that remembers a little of the day before; the hours
of a day follow Collares-Pereira & Rabl's profile, disturbed hour by hour; beam and diffuse are split by Erbs. What
depends on the place alone is worked out once and shared by all seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.errors import InputError
from sim.weather import air, clearness, hourly
from sim.weather.dates import DAY_H, year_index
from sim.weather.sun import sun_of_year
from sim.weather.weather import Site, Weather

if TYPE_CHECKING:
    import pandas as pd

    from sim.weather.sun import Sun

Seed = int | Sequence[int]
WIND_MS = 2.0  # in every hour; our own default
_HALVINGS = 50
_SHIFT = 12.0  # standard deviations by which a month may be moved to hit its mean
_MONTHS = 12


@dataclass(frozen=True)
class MonthlyMeans:
    """Twelve means from January to December: daily global horizontal irradiation in kWh/m², air in °C."""

    daily_ghi_kwh_m2: tuple[float, ...]
    temp_air_c: tuple[float, ...]


def monthly_means(weather: Weather) -> MonthlyMeans:
    """The means of a weather year.

    >>> from types import SimpleNamespace as Section
    >>> from sim.weather import weather_for
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)
    >>> year = weather_for(Section(site=nowhere, weather=Section(file=None, sample="piedmont", year=2001)))
    >>> round(monthly_means(year).daily_ghi_kwh_m2[6], 2)
    6.02
    """
    month = weather.index.month.to_numpy() - 1
    hours = np.bincount(month, minlength=_MONTHS)
    light = np.bincount(month, weather.ghi, _MONTHS) / hours * DAY_H / 1000.0
    warmth = np.bincount(month, weather.temp_air, _MONTHS) / hours
    return MonthlyMeans(tuple(map(float, light)), tuple(map(float, warmth)))


def synthesise(
    means: MonthlyMeans,
    latitude_deg: float,
    longitude_deg: float,
    elevation_m: float,
    utc_offset_h: float,
    year: int = 2001,
    seed: Seed = 1,
) -> Weather:
    """One synthetic year; for many use :func:`synthesiser`, which shares what they have in common."""
    return synthesiser(means, Site(latitude_deg, longitude_deg, elevation_m, utc_offset_h), year)(seed)


def synthesiser(
    means: MonthlyMeans, site: Site, year: int = 2001, file: str = "monthly means"
) -> Callable[[Seed], Weather]:
    """Makes years of a place from its monthly means, one for each seed.

    Raises InputError, naming ``file`` and the month, for a mean above what the sky can give there.
    """
    sun = sun_of_year(year, site)
    index = year_index(year, site.utc_offset_h)
    month = index.month.to_numpy()[::DAY_H] - 1
    sky = hourly.sky_of(sun, index, site)
    asked_wh = np.array(means.daily_ghi_kwh_m2) * 1000.0 * np.bincount(month, minlength=_MONTHS)
    _check_feasible(file, means, month, sky)
    days = _days_of(asked_wh, month, sky)
    warmth = air.course_of(np.array(means.temp_air_c), index)

    def make(seed: Seed = 1) -> Weather:
        z = normals(seed, len(month) * (DAY_H + 2))
        first, second, rest = np.split(z, [len(month), 2 * len(month)])
        clear = days.drawn(clearness.correlated(first, clearness.LAG_1))
        ghi = hourly.hours_of_days(clear, rest, sky)
        temp_air = air.temperature_c(clear, second, sky, warmth)
        return _weather(index, sun, site, ghi.ravel(), temp_air, seed)

    return make


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


def _check_feasible(file: str, means: MonthlyMeans, month: np.ndarray, sky: hourly.Sky) -> None:
    """A month's mean above that of its clearest days is an error."""
    highest = np.bincount(month, sky.clear_day_wh, _MONTHS) / np.bincount(month, minlength=_MONTHS) / 1000.0
    for number, (mean, limit) in enumerate(zip(means.daily_ghi_kwh_m2, highest, strict=True), start=1):
        if not 0.0 <= mean <= limit:
            allowed = f"0 to {limit:.3g} kWh/m2 a day, the most the sky gives there in month {number}"
            raise InputError(file, f"weather.monthly.daily_ghi_kwh_m2[{number - 1}]", mean, allowed)


@dataclass(frozen=True, eq=False)
class _Days:
    """The distribution of each day's clearness, and the sums that each month must come to."""

    low: np.ndarray
    high: np.ndarray
    steepness: np.ndarray
    extra_wh: np.ndarray
    month: np.ndarray
    asked_wh: np.ndarray

    def at(self, z: np.ndarray) -> np.ndarray:
        """(days,) clearness at normal scores."""
        return np.asarray(self.low + (self.high - self.low) * clearness.quantile(z, self.steepness))

    def sums(self, clear: np.ndarray) -> np.ndarray:
        """(12,) the months' irradiation, Wh/m²."""
        return np.bincount(self.month, clear * self.extra_wh, _MONTHS)

    def drawn(self, z: np.ndarray) -> np.ndarray:
        """(days,) clearness whose months come to their sums.

        Each month's scores are moved together, by what halving an interval finds, which keeps their order and the
        bounds of the distribution; what rounding leaves is taken in proportion.
        """
        low, high = np.full(_MONTHS, -_SHIFT), np.full(_MONTHS, _SHIFT)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            less = self.sums(self.at(z + middle[self.month])) < self.asked_wh
            low, high = np.where(less, middle, low), np.where(less, high, middle)
        clear = self.at(z + high[self.month])
        sums = self.sums(clear)
        return np.asarray(clear * np.divide(self.asked_wh, sums, out=np.zeros(_MONTHS), where=sums > 0)[self.month])


def _days_of(asked_wh: np.ndarray, month: np.ndarray, sky: hourly.Sky) -> _Days:
    """The distributions of the days of twelve months that come to these sums."""
    extra = np.bincount(month, sky.extra_day_wh, _MONTHS)
    mean = np.divide(asked_wh, extra, out=np.zeros(_MONTHS), where=extra > 0)
    low = np.minimum(clearness.LOWEST, 0.5 * mean)
    clear = np.divide(np.bincount(month, sky.clear_day_wh, _MONTHS), extra, out=np.ones(_MONTHS), where=extra > 0)
    high = np.minimum(clearness.clearest(mean), clear)
    steep = clearness.steepness((mean - low) / np.maximum(high - low, 1e-9))
    day_clear = np.divide(sky.clear_day_wh, sky.extra_day_wh, out=np.ones(len(month)), where=sky.extra_day_wh > 0)
    top = np.minimum(clearness.clearest(mean)[month], day_clear)
    return _Days(low[month], top, steep[month], sky.extra_day_wh, month, asked_wh)


def _weather(
    index: pd.DatetimeIndex, sun: Sun, site: Site, ghi: np.ndarray, temp_air: np.ndarray, seed: Seed
) -> Weather:
    dni, dhi = hourly.beam_and_diffuse(ghi, sun, index.tz_convert("UTC").day_of_year.to_numpy())
    wind = np.full(len(ghi), WIND_MS)
    source = f"synthetic year from twelve monthly means, seed {seed}"
    notes = (
        "This year never happened: daily clearness after Bendt, Collares-Pereira & Rabl with a lag-1 correlation of "
        f"{clearness.LAG_1:g}, hours after Collares-Pereira & Rabl with disturbances, beam and diffuse after Erbs.",
        f"The wind is {WIND_MS:g} m/s in every hour, a default.",
    )
    return Weather(index, ghi, dni, dhi, temp_air, wind, *site, source=source, licence="", notes=notes)
