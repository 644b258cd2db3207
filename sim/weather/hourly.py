"""The hours of a day from its clearness, and beam and diffuse of an hour from its own."""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pvlib import atmosphere, clearsky, irradiance, solarposition

from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H
from sim.weather.sun import Sun
from sim.weather.weather import Site

# Of successive hours' disturbances: Graham & Hollands 1990, Solar Energy 44, 333–341, give 0.54 ± 0.14. Bringing days
# to their sums and hours to their bounds takes some away; with 0.62 as much is left as three open typical years show.
LAG_1 = 0.62
# Standard deviation of an hour's clearness on the most broken days. The same authors have 0.16 (from memory); a quarter
# more makes up for what the bounds cut, by the same three years.
DISTURBANCE = 0.20
DARK_SHARE, DARK_CLEARNESS = 0.7, 0.10  # of an undisturbed hour, or clearness, that is always left; choices
CLEANEST = (0.02, 0.2)  # aerosol optical depth at 700 nm and cm of water of the clearest air; choices
ORDINARY_DEPTH = 0.08  # aerosol optical depth of the air on a fine day; our own default, by three open typical years
ORDINARY_HUMIDITY = 70.0  # %, as before
BRIGHTEST_ORDINARY = 1.03  # of a cloudless hour in ordinary air, as before
BRIGHTEST = 1.05  # of the clearest hour, for snow and bright edges of clouds; a choice
_LOWEST_SUN_DEG = 87.0  # zenith angle beyond which nothing is beam
_ROUNDS = 6


@dataclass(frozen=True, eq=False)
class Sky:
    """What the place alone decides: W/m² (days, 24), Wh/m² (days,).

    ``profile`` (days, 24) is the share of each undisturbed hour in its day; ``highest_wm2`` bounds an hour.
    """

    extra_wm2: np.ndarray
    highest_wm2: np.ndarray
    profile: np.ndarray
    extra_wh: np.ndarray
    highest_wh: np.ndarray


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

    r_t = (a + b·cos ω)·r_d with a = 0.409 + 0.5016·sin(ω_s − 60°) and b = 0.6609 − 0.4767·sin(ω_s − 60°). The hours
    of a day of twelve hours sum to 0.9936, so what is used is brought to 1.

    >>> round(float(global_share(np.radians(7.5), np.radians(90.0))), 4)
    0.14
    """
    turn = np.sin(sunset_angle - np.radians(60.0))
    a, b = 0.409 + 0.5016 * turn, 0.6609 - 0.4767 * turn
    return np.asarray((a + b * np.cos(hour_angle)) * diffuse_share(hour_angle, sunset_angle))


def solar_hours(index: pd.DatetimeIndex, site: Site) -> np.ndarray:
    """(hours,) solar time at the middle of each hour, h; noon is 12."""
    correction_h = solarposition.equation_of_time_spencer71(index.day_of_year.to_numpy()) / 60.0
    return np.asarray(index.hour.to_numpy() + 0.5 + site.longitude_deg / 15.0 - site.utc_offset_h + correction_h)


def _shape(index: pd.DatetimeIndex, site: Site) -> np.ndarray:
    """(hours,) share of each hour in its day's global irradiation; polar days have no sunset, polar nights none at all.

    Towards the poles the latitude is kept 0.1° off, where sunset is undefined at the equinox.
    """
    tangent = np.tan(np.radians(np.clip(site.latitude_deg, -89.9, 89.9)))
    declination = solarposition.declination_spencer71(index.day_of_year.to_numpy())
    sunset = np.arccos(np.clip(-tangent * np.tan(declination), -1.0, 0.9999))
    return global_share(np.pi / 12.0 * (solar_hours(index, site) - 12.0), sunset)


def clear_wm2(sun: Sun, elevation_m: float, optical_depth: float, water_cm: np.ndarray | float) -> np.ndarray:
    """(days, 24) global irradiance without clouds, W/m², at most the extraterrestrial: Ineichen 2008.

    Solar Energy 82, 758–762; with the sun as it is seen.
    """
    pressure, height = atmosphere.alt2pres(elevation_m), 90.0 - sun.apparent_zenith_deg
    clear = clearsky.simplified_solis(height, optical_depth, water_cm, pressure, sun.extra_normal_wm2)["ghi"]
    bounded: np.ndarray = np.minimum(np.nan_to_num(np.asarray(clear)), sun.extra_horizontal_wm2)
    return bounded.reshape(-1, DAY_H)


def ordinary_wm2(sun: Sun, site: Site, temp_air_c: np.ndarray) -> np.ndarray:
    """(days, 24) global irradiance without clouds in ordinary air, W/m², more humid where it is warm (hours,) °C.

    The water above comes from temperature and a relative humidity by Gueymard 1994, Solar Energy 53, 57–71.
    """
    water_cm = atmosphere.gueymard94_pw(temp_air_c, ORDINARY_HUMIDITY)
    return clear_wm2(sun, site.elevation_m, ORDINARY_DEPTH, water_cm)


def sky_of(sun: Sun, index: pd.DatetimeIndex, site: Site) -> Sky:
    """The sky of a place through a year, without any weather."""
    extra = sun.extra_horizontal_wm2.reshape(-1, DAY_H)
    highest = np.minimum(BRIGHTEST * clear_wm2(sun, site.elevation_m, *CLEANEST), extra)
    shape = _shape(index, site).reshape(extra.shape) * (extra > 0.0)
    shape = np.where(shape.sum(axis=1, keepdims=True) > 0.0, shape, extra)
    return Sky(extra, highest, shares(shape), extra.sum(axis=1), highest.sum(axis=1))


def shares(rows: np.ndarray) -> np.ndarray:
    """Each value over the sum of its row; 0 in a row of zeros.

    >>> shares(np.array([[1.0, 3.0], [0.0, 0.0]])).tolist()
    [[0.25, 0.75], [0.0, 0.0]]
    """
    total = rows.sum(axis=1, keepdims=True)
    return np.asarray(np.divide(rows, total, out=np.zeros_like(rows), where=total > 0.0))


def hours_of(clear: np.ndarray, top: np.ndarray, noise: np.ndarray, bright_wm2: np.ndarray, sky: Sky) -> np.ndarray:
    """(days, 24) global irradiance in W/m² of days of this clearness (days,), from independent noise (hours,).

    The profile is disturbed by a correlated Gaussian whose standard deviation, 0.20·sin(π·K/K_top), is largest on
    broken days; ``top`` (days,) stands where the published 0.90 does, since a day without clouds has none to disturb
    it. Hours end at ``bright_wm2`` (days, 24), where clear ones pile up as they do under a real sky. Then the day is
    brought back to its sum, beyond that end if it must.
    """
    asked = (clear * sky.extra_wh)[:, np.newaxis]
    course = sky.profile * asked
    share = np.divide(clear, top, out=np.zeros_like(clear), where=top > 0.0)
    spread = DISTURBANCE * np.sin(np.pi * np.clip(share, 0.0, 1.0))[:, np.newaxis]
    moved = course + spread * correlated(noise, LAG_1).reshape(course.shape) * sky.extra_wm2
    moved = np.maximum(moved, np.minimum(DARK_SHARE * course, DARK_CLEARNESS * sky.extra_wm2))
    return filled_up(filled_up(moved, bright_wm2, asked), sky.highest_wm2, asked)


def filled_up(shape: np.ndarray, highest: np.ndarray, asked: np.ndarray) -> np.ndarray:
    """Rows in proportion to ``shape``, cut at ``highest``, that come to the sums ``asked`` (rows, 1).

    What the cut takes away is shared out to the room there is, so that a sum no higher than that of the limits is met
    and a higher one comes to the limits.

    >>> filled_up(np.array([[1.0, 3.0]]), np.array([[4.0, 4.0]]), np.array([[6.0]])).tolist()
    [[2.0, 4.0]]
    """
    rows = shape
    for _ in range(_ROUNDS):
        rows = np.minimum(shares(rows) * asked, highest)
    room = highest - rows
    missing = np.clip(asked - rows.sum(axis=1, keepdims=True), 0.0, room.sum(axis=1, keepdims=True))
    return np.asarray(rows + shares(room) * missing)


def beam_and_diffuse(
    ghi: np.ndarray, sun: Sun, day_of_year: np.ndarray, elevation_m: float
) -> tuple[np.ndarray, np.ndarray]:
    """(hours,) of direct normal and diffuse horizontal irradiance: DISC of Maxwell 1987, SERI/TR-215-3087.

    Its beam depends on clearness and air mass. The split of Erbs, Klein & Duffie 1982 depends on clearness alone and
    gives too little beam under a low sun: on the recorded hourly light of an open year at 55° N it loses 5 % on a plane
    of 60°, DISC 0.3 %. dni·cos(zenith) + dhi = ghi with the sun as it is seen; below 3° of sun nothing is beam.
    """
    pressure, high = atmosphere.alt2pres(elevation_m), sun.apparent_zenith_deg < _LOWEST_SUN_DEG
    zenith = sun.apparent_zenith_deg[high]
    parts = irradiance.disc(ghi[high], zenith, day_of_year[high], pressure, max_zenith=_LOWEST_SUN_DEG)
    dni, on_ground = np.zeros_like(ghi), np.zeros_like(ghi)
    on_ground[high] = np.minimum(np.asarray(parts["dni"]) * sun.cos_zenith[high], ghi[high])
    dni[high] = on_ground[high] / sun.cos_zenith[high]
    return dni, ghi - on_ground
