"""Twelve numbers for a climate: monthly means of a weather year, and as a table to paste into a scenario."""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from sim.weather.dates import DAY_H
from sim.weather.weather import Weather

MONTHS = 12


class MonthlyMeans(NamedTuple):
    """Means of January to December: global irradiation of a day in kWh/m² on the horizontal, air in °C."""

    daily_ghi_kwh_m2: tuple[float, ...]
    temp_air_c: tuple[float, ...]


def monthly_means(weather: Weather) -> MonthlyMeans:
    """The means of a weather year.

    >>> from types import SimpleNamespace as Section
    >>> from sim.weather import weather_for
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)
    >>> year = weather_for(Section(site=nowhere, weather=Section(file=None, sample="piedmont", year=2001)))
    >>> [round(mean, 2) for mean in (monthly_means(year).daily_ghi_kwh_m2[6], monthly_means(year).temp_air_c[6])]
    [6.08, 25.43]
    """
    month = weather.index.month.to_numpy() - 1
    hours = np.bincount(month, minlength=MONTHS)
    light, warmth = (np.bincount(month, values, MONTHS) / hours for values in (weather.ghi, weather.temp_air))
    return MonthlyMeans(tuple((light * DAY_H / 1000.0).tolist()), tuple(warmth.tolist()))


def light_by_month(weather: Weather) -> np.ndarray:
    """(12,) light on the horizontal, kWh/m²."""
    return np.bincount(weather.index.month.to_numpy() - 1, weather.ghi, MONTHS) / 1000.0


def days_by_month(weather: Weather) -> np.ndarray:
    """(12,) days of each month of the year."""
    return np.bincount(weather.index.month.to_numpy()[::DAY_H] - 1, minlength=MONTHS)


def monthly_toml(weather: Weather) -> str:
    """The place and the monthly means of a weather year as tables of a scenario.

    Such a scenario has ``[weather.monthly]`` instead of a file or a sample, and needs all four values of the site.
    """
    means = monthly_means(weather)
    site = "".join(f"{name} = {value:g}\n" for name, value in weather.site._asdict().items())
    rows = (f"daily_ghi_kwh_m2 = {_listed(means.daily_ghi_kwh_m2, 3)}", f"temp_air_c = {_listed(means.temp_air_c, 2)}")
    return f"[site]\n{site}\n[weather.monthly]\n{rows[0]}\n{rows[1]}\nseed = 1\n"


def _listed(values: Sequence[float], places: int) -> str:
    """Numbers as a TOML list.

    >>> _listed([1.25, -0.0001], 2)
    '[1.25, 0.00]'
    """
    return f"[{', '.join(f'{round(value, places) + 0.0:.{places}f}' for value in values)}]"
