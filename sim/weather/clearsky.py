"""Light under a sky without clouds, with the turbidity of the place and the month."""

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import pandas as pd
from pvlib import atmosphere, clearsky

from sim.weather.dates import year_index
from sim.weather.sun import sun_of_year
from sim.weather.weather import Site

DAYS_A_YEAR = 365.0


class ClearSky(NamedTuple):
    """Global and diffuse irradiance on the horizontal in the middle of each hour, (hours,) W/m²."""

    ghi: np.ndarray
    dhi: np.ndarray


@lru_cache(maxsize=8)
def clear_sky(year: int, site: Site) -> ClearSky:
    """A year without clouds: Ineichen & Perez 2002, Solar Energy 73, 151–157.

    Turbidity by month is that of Remund et al. 2003 (SoDa), which pvlib carries on a grid of 1/12°.

    >>> noon = clear_sky(2001, Site(36.1, -79.95, 273.0, -5.0)).ghi[4332]
    >>> bool(800 < noon < 1000)
    True
    """
    sun, index = sun_of_year(year, site), year_index(year, site.utc_offset_h)
    turbidity = _turbidity(index, site)
    pressure = atmosphere.alt2pres(site.elevation_m)
    masses = atmosphere.get_absolute_airmass(atmosphere.get_relative_airmass(sun.apparent_zenith_deg), pressure)
    with np.errstate(divide="ignore", invalid="ignore"):
        parts = clearsky.ineichen(
            sun.apparent_zenith_deg, masses, turbidity, site.elevation_m, dni_extra=sun.extra_normal_wm2
        )
    return ClearSky(*(np.nan_to_num(np.asarray(parts[name])) for name in ClearSky._fields))


def _turbidity(index: pd.DatetimeIndex, site: Site) -> np.ndarray:
    """(hours,) turbidity, each month's in its middle and linear between."""
    middles = pd.DatetimeIndex([f"{index[0].year}-{month:02d}-15" for month in range(1, 13)], tz="UTC")
    by_month = clearsky.lookup_linke_turbidity(middles, site.latitude_deg, site.longitude_deg, interp_turbidity=False)
    days = np.interp(index.day_of_year, middles.day_of_year, by_month.to_numpy(), period=DAYS_A_YEAR)
    return np.asarray(days)
