"""The hours of a day from its clearness, and beam and diffuse of an hour from its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H

if TYPE_CHECKING:
    import pandas as pd

    from sim.weather.sun import Sun
    from sim.weather.weather import Site

LAG_1 = 0.54  # of successive hours' disturbances: Graham & Hollands 1990, Solar Energy 44, 333–341
_ROUNDS = 6
_CLEANEST = {"aod700": 0.02, "precipitable_water": 0.5}  # the clearest air, cm of water; a choice
_BRIGHTEST = 1.08  # of a clear hour: bright edges of clouds; a choice


@dataclass(frozen=True, eq=False)
class Sky:
    """What the place alone decides: (days, 24) of hours, (days,) of days; W/m² and Wh/m²."""

    extra_wm2: np.ndarray
    highest_wm2: np.ndarray
    profile: np.ndarray
    extra_day_wh: np.ndarray
    clear_day_wh: np.ndarray


def diffuse_share(hour_angle: np.ndarray | float, sunset_angle: np.ndarray | float) -> np.ndarray:
    """Diffuse irradiation of an hour over that of its day, Liu & Jordan 1960: angles in radians, ω_s above 0.

    r_d = π/24·(cos ω − cos ω_s)/(sin ω_s − ω_s·cos ω_s)

    >>> round(float(diffuse_share(np.radians(7.5), np.radians(90.0))), 5)
    0.12978
    """
    above = np.maximum(np.cos(hour_angle) - np.cos(sunset_angle), 0.0)
    return np.asarray(np.pi / 24.0 * above / (np.sin(sunset_angle) - sunset_angle * np.cos(sunset_angle)))


def global_share(hour_angle: np.ndarray | float, sunset_angle: np.ndarray | float) -> np.ndarray:
    """Global irradiation of an hour over that of its day, Collares-Pereira & Rabl 1979: angles in radians.

    r_t = (a + b·cos ω)·r_d with a = 0.409 + 0.5016·sin(ω_s − 60°) and b = 0.6609 − 0.4767·sin(ω_s − 60°)

    >>> round(float(global_share(np.radians(7.5), np.radians(90.0))), 4)
    0.14
    """
    turn = np.sin(sunset_angle - np.radians(60.0))
    a, b = 0.409 + 0.5016 * turn, 0.6609 - 0.4767 * turn
    return np.asarray((a + b * np.cos(hour_angle)) * diffuse_share(hour_angle, sunset_angle))


def _angles(index: pd.DatetimeIndex, site: Site) -> tuple[np.ndarray, np.ndarray]:
    """(hours,) hour angle at mid-hour and sunset hour angle, in radians; no sunset is π, no sunrise nearly 0."""
    from pvlib import solarposition

    day = index.tz_convert("UTC").day_of_year.to_numpy()
    middle_h = index.hour.to_numpy() + 0.5 + solarposition.equation_of_time_spencer71(day) / 60.0
    solar_h = middle_h + site.longitude_deg / 15.0 - site.utc_offset_h
    latitude = np.radians(np.clip(site.latitude_deg, -89.9, 89.9))
    cosine = -np.tan(latitude) * np.tan(solarposition.declination_spencer71(day))
    return np.pi / 12.0 * (solar_h - 12.0), np.arccos(np.clip(cosine, -1.0, 0.9999))


def sky_of(sun: Sun, index: pd.DatetimeIndex, site: Site) -> Sky:
    """The sky of a place through a year, without any weather."""
    from pvlib import atmosphere, clearsky, irradiance

    pressure = atmosphere.alt2pres(site.elevation_m)
    clear = clearsky.simplified_solis(
        90.0 - sun.apparent_zenith_deg, pressure=pressure, dni_extra=sun.extra_normal_wm2, **_CLEANEST
    )["ghi"]
    extra = sun.extra_horizontal_wm2.reshape(-1, DAY_H)
    clear = np.minimum(np.nan_to_num(np.asarray(clear)).reshape(extra.shape), 0.95 * extra)
    shape = global_share(*_angles(index, site)).reshape(extra.shape) * (extra > 0.0)
    shape = np.where(shape.sum(axis=1, keepdims=True) > 0.0, shape, extra)
    total = shape.sum(axis=1, keepdims=True)
    profile = np.divide(shape, total, out=np.zeros_like(shape), where=total > 0.0)
    highest = np.minimum(_BRIGHTEST * clear, extra)
    return Sky(extra, highest, profile, extra.sum(axis=1), clear.sum(axis=1))


def hours_of_days(clear: np.ndarray, noise: np.ndarray, sky: Sky) -> np.ndarray:
    """(days, 24) global irradiance in W/m² whose days have this clearness (days,)."""
    asked = (clear * sky.extra_day_wh)[:, np.newaxis]
    course = np.minimum(sky.profile * asked, sky.highest_wm2)
    spread = 0.16 * np.sin(np.pi * np.clip(clear, 0.0, 0.9) / 0.9)[:, np.newaxis]
    moved = course + spread * correlated(noise, LAG_1).reshape(course.shape) * sky.extra_wm2
    return filled_up(np.clip(moved, 0.1 * course, None), sky.highest_wm2, asked)


def filled_up(shape: np.ndarray, highest: np.ndarray, asked: np.ndarray) -> np.ndarray:
    """Rows in proportion to ``shape``, cut at ``highest``, that come to the sums ``asked`` (rows, 1).

    What the cut takes away is shared out by what room there is, so that a sum no higher than that of the limits is met.

    >>> filled_up(np.array([[1.0, 3.0]]), np.array([[4.0, 4.0]]), np.array([[6.0]])).tolist()
    [[2.0, 4.0]]
    """
    rows = shape
    for _ in range(_ROUNDS):
        total = rows.sum(axis=1, keepdims=True)
        rows = np.minimum(rows * np.divide(asked, total, out=np.zeros_like(total), where=total > 0.0), highest)
    room = highest - rows
    rooms = room.sum(axis=1, keepdims=True)
    missing = asked - rows.sum(axis=1, keepdims=True)
    return np.asarray(rows + room * np.divide(missing, rooms, out=np.zeros_like(rooms), where=rooms > 0.0))


def beam_and_diffuse(ghi: np.ndarray, sun: Sun, day_of_year: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(hours,) of direct normal and diffuse horizontal irradiance: Erbs, Klein & Duffie 1982, Solar Energy 28.

    With the sun as it is seen, so that dni·cos(zenith) + dhi = ghi; none of it is beam with the sun below 3°.
    """
    from pvlib import irradiance

    parts = irradiance.erbs(ghi, sun.apparent_zenith_deg, day_of_year)
    return np.asarray(parts["dni"]), np.asarray(parts["dhi"])
