"""What a checked weather year says, in figures: light, air, clock and how beam and diffuse add up."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from sim.weather.dates import DAY_H
from sim.weather.fit import SHINE_WM2, clear_days, clock_error_min, closure
from sim.weather.sun import sun_positions
from sim.weather.weather import COLUMNS, Weather


@dataclass(frozen=True, eq=False)
class Summary:
    """A weather year in figures; months are (12,), January first.

    Daily sums are kWh/m² on the horizontal, ``beam`` the part that comes straight from the sun. ``sunshine_h`` counts
    hours with a beam above 120 W/m² (WMO-No. 8). ``clock_min`` is by how many minutes the light comes after the sun,
    ``closure`` beam and diffuse over global. ``clear_day_wm2`` and ``clear_sky_wm2`` are (24,) means over the
    clearest quarter of the days, of what is recorded and of what arrives above the atmosphere.
    """

    weather: Weather
    days: np.ndarray
    ghi_kwh_m2: np.ndarray
    beam_kwh_m2: np.ndarray
    sunshine_h: np.ndarray
    mean_c: np.ndarray
    lowest_c: np.ndarray
    highest_c: np.ndarray
    coldest_at: str
    darkest_days: str
    clock_min: float
    closure: float
    clear_day_wm2: np.ndarray
    clear_sky_wm2: np.ndarray

    @property
    def daily_kwh_m2(self) -> np.ndarray:
        """(12,) mean daily sum of each month, kWh/m²."""
        return np.asarray(self.ghi_kwh_m2 / self.days)

    def as_json(self) -> dict[str, Any]:
        """The figures as plain data."""
        months = ("ghi_kwh_m2", "beam_kwh_m2", "sunshine_h", "mean_c", "lowest_c", "highest_c")
        return {
            "year": int(self.weather.index[0].year),
            "ghi_kwh_m2": float(self.ghi_kwh_m2.sum()),
            "temp_mean_c": float(self.weather.temp_air.mean()),
            "temp_min_c": float(self.weather.temp_air.min()),
            "coldest_at": self.coldest_at,
            "darkest_days": self.darkest_days,
            "clock_minutes": self.clock_min,
            "closure": self.closure,
            "by_month": {name: getattr(self, name).tolist() for name in months},
            "notes": list(self.weather.notes),
        }


def summary_of(weather: Weather) -> Summary:
    """The figures of a weather year.

    >>> from types import SimpleNamespace as Section
    >>> from sim.weather import weather_for
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)
    >>> found = summary_of(weather_for(Section(site=nowhere, weather=Section(sample="piedmont", year=2001))))
    >>> round(float(found.ghi_kwh_m2.sum())), found.coldest_at, round(found.closure, 2)
    (1566, '5 February 04:00', 1.0)
    """
    sun = sun_positions(weather)
    rows = pd.DataFrame({name: getattr(weather, name) for name in COLUMNS})
    rows["beam"], rows["shine"] = weather.dni * sun.cos_zenith, weather.dni > SHINE_WM2
    months = rows.groupby(weather.index.month)
    sums, air = months[["ghi", "beam", "shine"]].sum(), months["temp_air"].agg(["mean", "min", "max"])
    light, above = (series.reshape(-1, DAY_H) for series in (weather.ghi, sun.extra_horizontal_wm2))
    clear = clear_days(light, above)
    return Summary(
        weather=weather,
        days=(months.size() / DAY_H).to_numpy(),
        ghi_kwh_m2=sums["ghi"].to_numpy() / 1000.0,
        beam_kwh_m2=sums["beam"].to_numpy() / 1000.0,
        sunshine_h=sums["shine"].to_numpy(dtype=float),
        mean_c=air["mean"].to_numpy(),
        lowest_c=air["min"].to_numpy(),
        highest_c=air["max"].to_numpy(),
        coldest_at=f"{weather.index[int(weather.temp_air.argmin())]:%-d %B %H:00}",
        darkest_days=_darkest(light.sum(axis=1), weather.index),
        clock_min=clock_error_min(weather.ghi, sun.extra_horizontal_wm2),
        closure=closure(rows, sun),
        clear_day_wm2=light[clear].mean(axis=0),
        clear_sky_wm2=above[clear].mean(axis=0),
    )


def _darkest(day_wh: np.ndarray, index: pd.DatetimeIndex) -> str:
    """The five days in a row with the least light."""
    sums = np.convolve(day_wh, np.ones(5), "valid")
    first = int(sums.argmin())
    ends = (index[day * DAY_H] for day in (first, first + 4))
    return f"{' to '.join(f'{end:%-d %B}' for end in ends)}, {sums[first] / 5000.0:.2f} kWh/m2 a day"
