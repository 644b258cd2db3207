"""What a weather year shows under the sun and beside a clear sky: the figures that doubts are judged by."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.weather.clearsky import ClearSky, clear_sky
from sim.weather.dates import DAY_H
from sim.weather.sun import Sun, sun_of_year
from sim.weather.weather import Site, Weather

MONTHS = 12
HIGH_SUN_DEG = 70.0  # zenith angle within which cloudless hours are judged; a choice
CLOUDLESS = 1.3  # diffuse share of an hour over that of a clear sky up to which it counts as cloudless; a choice
DARK_DAY = 0.15  # of the year's brightest clear day: darker ones tell nothing; a choice
FINE_DAYS = 0.93  # the quantile of a month's days that stands for its fine ones: the second best; a choice
FEWEST_HOURS, FEWEST_DAYS = 10, 10  # cloudless hours and days without which a month tells nothing; choices


@dataclass(frozen=True, eq=False)
class Evidence:
    """A year and its place, which is where it was recorded; everything is worked out when asked for."""

    weather: Weather
    site: Site

    @cached_property
    def sun(self) -> Sun:
        """The sun at the place."""
        return sun_of_year(int(self.weather.index[0].year), self.site)

    @cached_property
    def clear(self) -> ClearSky:
        """The place's light without clouds."""
        return clear_sky(int(self.weather.index[0].year), self.site)

    @cached_property
    def month(self) -> np.ndarray:
        """(hours,) 0 … 11."""
        return np.asarray(self.weather.index.month.to_numpy() - 1)

    @cached_property
    def ratio(self) -> np.ndarray:
        """(hours,) light over that of a clear sky, 0 where that gives less than 1 W/m²."""
        return np.asarray(self.weather.ghi / np.maximum(self.clear.ghi, 1.0) * (self.clear.ghi >= 1.0))

    @cached_property
    def cloudless(self) -> np.ndarray:
        """(hours,) whether the sun is high and as little of the light diffuse as under a clear sky.

        A scale on all the light leaves this as it is, so the level of such hours tells the scale.
        """
        diffuse = self.weather.dhi / np.maximum(self.weather.ghi, 1.0)
        usual = self.clear.dhi / np.maximum(self.clear.ghi, 1.0)
        bright = (self.sun.apparent_zenith_deg < HIGH_SUN_DEG) & (self.weather.ghi > 1.0)
        return np.asarray(bright & (diffuse < CLOUDLESS * usual))

    @cached_property
    def day_month(self) -> np.ndarray:
        """(days,) 0 … 11."""
        return self.month[::DAY_H]

    @cached_property
    def day_ratio(self) -> np.ndarray:
        """(days,) a day's light over that of a clear one, NaN where a clear one gives little."""
        light, clear = (hours.reshape(-1, DAY_H).sum(axis=1) for hours in (self.weather.ghi, self.clear.ghi))
        tells = clear > DARK_DAY * clear.max()
        return np.where(tells, light / np.where(tells, clear, 1.0), np.nan)

    @cached_property
    def cloudless_by_month(self) -> np.ndarray:
        """(12,) level of a month's cloudless hours, NaN where there are few."""
        return self._by_month(self.month, np.where(self.cloudless, self.ratio, np.nan), 0.5, FEWEST_HOURS)

    @cached_property
    def fine_by_month(self) -> np.ndarray:
        """(12,) level of a month's fine days, NaN where it is dark."""
        return self._by_month(self.day_month, self.day_ratio, FINE_DAYS, FEWEST_DAYS)

    @staticmethod
    def _by_month(month: np.ndarray, values: np.ndarray, quantile: float, fewest: int) -> np.ndarray:
        groups = [values[(month == k) & np.isfinite(values)] for k in range(MONTHS)]
        return np.array([np.quantile(group, quantile) if len(group) >= fewest else np.nan for group in groups])

    @cached_property
    def air_by_month(self) -> np.ndarray:
        """(12,) mean air temperature, °C."""
        return np.asarray(np.bincount(self.month, self.weather.temp_air) / np.bincount(self.month))

    @cached_property
    def air_days(self) -> np.ndarray:
        """(days, 24) air temperature, °C."""
        return np.asarray(self.weather.temp_air.reshape(-1, DAY_H))
