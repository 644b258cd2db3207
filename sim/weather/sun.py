"""Where the sun stands, and what of its light arrives above the atmosphere."""

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import pandas as pd
from pvlib import irradiance, solarposition

from sim.weather.dates import year_index
from sim.weather.weather import Site, Weather

HORIZON_DEG = 90.0
HALF_HOUR_DEG = 8.0  # by which the sun moves no more in half an hour
LIFT_DEG = 0.567  # by which the air lifts a sun that stands on the horizon (Reda & Andreas)
NORTH_DEG, SOUTH_DEG = 0.0, 180.0


@dataclass(frozen=True, eq=False)
class Sun:
    """The sun at some moments, each (n,): angles in degrees, azimuth east of north, extraterrestrial beam in W/m².

    ``apparent_zenith_deg`` is what an observer sees, ``zenith_deg`` is without refraction.
    """

    zenith_deg: np.ndarray
    apparent_zenith_deg: np.ndarray
    azimuth_deg: np.ndarray
    extra_normal_wm2: np.ndarray

    @cached_property
    def up(self) -> np.ndarray:
        """(n,) whether the sun is seen above a flat horizon."""
        return np.asarray(self.apparent_zenith_deg < HORIZON_DEG)

    @cached_property
    def cos_zenith(self) -> np.ndarray:
        """(n,) cosine of the apparent zenith angle, 0 below the horizon."""
        return np.where(self.up, np.cos(np.radians(self.apparent_zenith_deg)), 0.0)

    @cached_property
    def extra_horizontal_wm2(self) -> np.ndarray:
        """(n,) what a horizontal plane above the atmosphere, where nothing is refracted, receives, W/m²."""
        return np.asarray(self.extra_normal_wm2 * np.maximum(np.cos(np.radians(self.zenith_deg)), 0.0))


def sun_at(moments: pd.DatetimeIndex, latitude_deg: float, longitude_deg: float, elevation_m: float) -> Sun:
    """The sun at moments with a time zone, by the solar position algorithm of Reda & Andreas (NREL/TP-560-34302).

    >>> import pandas as pd
    >>> noon = pd.DatetimeIndex(["2001-06-21 12:00"], tz="UTC")
    >>> round(float(sun_at(noon, 23.44, 0.0, 0.0).zenith_deg[0]), 0)
    0.0
    """
    seen = solarposition.get_solarposition(moments, latitude_deg, longitude_deg, altitude=elevation_m)
    columns = [seen[name].to_numpy() for name in ("zenith", "apparent_zenith", "azimuth")]
    columns.append(irradiance.get_extra_radiation(moments.tz_convert("UTC").day_of_year.to_numpy()))
    for column in columns:
        column.setflags(write=False)
    return Sun(*columns)


@lru_cache(maxsize=8)
def sun_of_year(year: int, site: Site) -> Sun:
    """The sun in the middle of each hour of a calendar year; the result is shared, and its arrays are read-only."""
    middle = year_index(year, site.utc_offset_h) + pd.Timedelta(minutes=30)
    return sun_at(middle, site.latitude_deg, site.longitude_deg, site.elevation_m)


@lru_cache(maxsize=8)
def sunlit_of_year(year: int, site: Site) -> Sun:
    """The sun in the middle of the sunlit part of each hour: where it rises or sets, not the middle of the hour.

    Hourly means of beam light of such an hour come from its sunlit part, from where the sun then stands.
    """
    starts, middle = year_index(year, site.utc_offset_h), sun_of_year(year, site)
    height_deg = HORIZON_DEG + LIFT_DEG - middle.zenith_deg
    low = np.flatnonzero(np.abs(height_deg) < HALF_HOUR_DEG)
    first, last = (
        HORIZON_DEG + LIFT_DEG - sun_at(starts[low] + pd.Timedelta(hours=later), *site[:3]).zenith_deg
        for later in (0, 1)
    )
    broken, part = _broken_hours(first, last, height_deg[low])
    hour = low[broken]
    moved = sun_at(starts[hour] + pd.to_timedelta(part, unit="h"), *site[:3])
    columns = []
    for before, after in zip(_columns(middle), _columns(moved), strict=True):
        column = before.copy()
        column[hour] = after
        column.setflags(write=False)
        columns.append(column)
    return Sun(*columns)


def _columns(sun: Sun) -> tuple[np.ndarray, ...]:
    return sun.zenith_deg, sun.apparent_zenith_deg, sun.azimuth_deg, sun.extra_normal_wm2


def _broken_hours(first: np.ndarray, last: np.ndarray, middle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The hours in which the sun rises or sets, and the share of each at which the middle of its sunlit part lies.

    From heights in degrees at the start, at the end and in the middle of hours, (n,) each, straight between them.

    >>> hour, part = _broken_hours(np.array([-3.0, 3.0, 3.0]), np.array([3.0, 3.0, -1.0]), np.array([-1.0, 3.0, 1.0]))
    >>> hour.tolist(), part.tolist()
    ([0, 2], [0.8125, 0.375])
    """
    hour = np.flatnonzero((first > 0.0) != (last > 0.0))
    first, middle, last = first[hour], middle[hour], last[hour]
    early = (first > 0.0) != (middle > 0.0)
    low, high = np.where(early, first, middle), np.where(early, middle, last)
    crossed = np.where(early, 0.0, 0.5) + 0.5 * low / (low - high)
    return hour, np.where(last > 0.0, 0.5 * (crossed + 1.0), 0.5 * crossed)


def sun_when_lit(weather: Weather) -> Sun:
    """The sun in the middle of the sunlit part of each hour of a weather year, as seen from its site."""
    return sunlit_of_year(int(weather.index[0].year), weather.site)


def sun_positions(weather: Weather) -> Sun:
    """The sun in the middle of each hour of a weather year, as seen from its site."""
    return sun_of_year(int(weather.index[0].year), weather.site)


def facing_deg(azimuth_deg: float | None, latitude_deg: float) -> float:
    """A panel's azimuth or, where it is left open, the equator's side: south, also on the equator, or north.

    >>> facing_deg(None, 52.0), facing_deg(None, -33.9), facing_deg(None, 0.0), facing_deg(90.0, -33.9)
    (180.0, 0.0, 180.0, 90.0)
    """
    if azimuth_deg is not None:
        return azimuth_deg
    return SOUTH_DEG if latitude_deg >= 0.0 else NORTH_DEG
