"""The pond's heat balance hour by hour: its temperature and what evaporates; and how much oxygen its water can hold."""

import math
from typing import NamedTuple

import numpy as np

from sim.figures.water.radiation import pressure_kpa

HEAT_J_M3 = 4.18e6  # that a cubic metre of water takes up for each degree
ALBEDO = 0.08  # of open water; Shuttleworth, in Handbook of Hydrology (1993)
EMISSIVITY = 0.97  # of water, for long waves; same source
SIGMA_WM2_K4 = 5.67e-8
MMHG_A_KPA = 7.50062
BOWEN_MMHG_C = 0.47
SPIN_UP_H = 30 * 24  # the last month of the year comes before its first


class Air(NamedTuple):
    """What a pond meets, each (hours,): air and dew point in °C, sun in W/m², wind in m/s, and what water as warm as
    the air radiates to the sky, W/m².
    """

    air_c: np.ndarray
    dew_c: np.ndarray
    sun_wm2: np.ndarray
    wind_m_s: np.ndarray
    longwave_wm2: np.ndarray


class Course(NamedTuple):
    """The water's temperature at the end of each hour, °C, and what evaporated in it, mm, each (hours,)."""

    water_c: np.ndarray
    evaporated_mm: np.ndarray


def wind_function(wind_m_s: float) -> float:
    """What a mmHg of vapour pressure between water and air takes from the water: f = 9.2 + 0.46·W², W/(m²·mmHg).

    Brady, Graves and Geyer (1969), in Edinger, Brady and Geyer (1974), from memory.

    >>> wind_function(0.0)
    9.2
    """
    return 9.2 + 0.46 * wind_m_s**2


def vapour_wm2(water_c: float, dew_c: float, wind_m_s: float) -> float:
    """Heat that evaporation takes, W/m²: f·(e(water) − e(dew point)), in mmHg; below zero where dew falls."""
    return MMHG_A_KPA * wind_function(wind_m_s) * (_vapour_kpa(water_c) - _vapour_kpa(dew_c))


def _vapour_kpa(at_c: float) -> float:
    """The same curve as ``vapour_pressure``, for one number, which a loop over the hours wants fast."""
    return 0.6108 * math.exp(17.27 * at_c / (at_c + 237.3))


def lost_wm2(water_c: float, air_c: float, dew_c: float, wind_m_s: float, longwave_wm2: float) -> float:
    """All heat that water loses, W/m²: long waves, vapour, and warm air by Bowen's ratio of 0.47 mmHg/°C.

    Water warmer than the air radiates 4·ε·σ·T³ more for each degree.
    """
    sensible = BOWEN_MMHG_C * wind_function(wind_m_s) * (water_c - air_c)
    return longwave_wm2 + _radiant(air_c) * (water_c - air_c) + vapour_wm2(water_c, dew_c, wind_m_s) + sensible


def _radiant(air_c: float) -> float:
    return 4.0 * EMISSIVITY * SIGMA_WM2_K4 * (air_c + 273.16) ** 3


def course(air: Air, depth_m: float) -> Course:
    """Well mixed water of a depth through the hours, by one heat balance; not below 0 °C, ice is not simulated.

    In an hour the water closes the share 1 − e^(−K·1 h/(ρ·c·depth)) of its way to where it would neither gain nor
    lose, K being the slope of the loss; vapour is taken at the middle of that way. λ = 2.501 − 0.002361·T MJ/kg.

    >>> steady = np.full(24 * 60, 10.0)
    >>> still = course(Air(steady, steady, 0.0 * steady, 0.0 * steady, 0.0 * steady), 0.5)
    >>> round(float(still.water_c[-1]), 6), round(float(still.evaporated_mm[-1]), 6)
    (10.0, 0.0)
    """
    hours = list(zip(*(series.tolist() for series in air), strict=True))
    warm, found = max(float(np.mean(air.air_c[-SPIN_UP_H:])), 0.0), []
    for hour in hours[-SPIN_UP_H:] + hours:
        after = _after_an_hour(warm, hour, depth_m)
        middle_c = 0.5 * (warm + after)
        vapour = max(vapour_wm2(middle_c, hour[1], hour[3]), 0.0)
        found.append((after, vapour * 3600.0 / ((2.501 - 0.002361 * middle_c) * 1e6)))
        warm = after
    return Course(*np.array(found[-len(hours) :]).T)


def _after_an_hour(water_c: float, hour: tuple[float, ...], depth_m: float) -> float:
    air_c, dew_c, sun_wm2, wind_m_s, longwave_wm2 = hour
    gained = (1.0 - ALBEDO) * sun_wm2 - lost_wm2(water_c, air_c, dew_c, wind_m_s, longwave_wm2)
    steep = MMHG_A_KPA * 4098.0 * _vapour_kpa(water_c) / (water_c + 237.3) ** 2
    slope = _radiant(air_c) + (steep + BOWEN_MMHG_C) * wind_function(wind_m_s)
    return max(water_c + gained / slope * (1.0 - math.exp(-slope * 3600.0 / (HEAT_J_M3 * depth_m))), 0.0)


def dew_point_c(air_c: np.ndarray) -> np.ndarray:
    """The day's lowest air temperature for each of its hours, (hours,): where no humidity is measured, the dew point.

    Source: Allen et al. (1998), equation 48.
    """
    return np.repeat(air_c.reshape(-1, 24).min(axis=1), 24)


def oxygen_mg_l(water_c: np.ndarray, elevation_m: float = 0.0) -> np.ndarray:
    """Oxygen that fresh water holds in balance with the air, mg/L, 0 to 40 °C.

    ln C = −139.34411 + 1.575701e5/T − 6.642308e7/T² + 1.2438e10/T³ − 8.621949e11/T⁴, times the pressure's factor above
    the sea. Source: Benson and Krause (1984), as in APHA Standard Methods.

    >>> oxygen_mg_l(np.array([20.0])).round(2).tolist()
    [9.09]
    """
    kelvin = water_c + 273.15
    terms = (-139.34411, 1.575701e5, -6.642308e7, 1.243800e10, -8.621949e11)
    at_sea = np.exp(sum(term / kelvin**power for power, term in enumerate(terms)))
    held: np.ndarray = at_sea * _pressure_factor(water_c, elevation_m)
    return held


def _pressure_factor(water_c: np.ndarray, elevation_m: float) -> np.ndarray:
    """P·(1 − Pw/P)·(1 − θ·P)/((1 − Pw)·(1 − θ)) with P in atmospheres; same source."""
    air, kelvin = pressure_kpa(elevation_m) / pressure_kpa(0.0), water_c + 273.15
    wet = np.exp(11.8571 - 3840.70 / kelvin - 216961.0 / kelvin**2)
    theta = 0.000975 - 1.426e-5 * water_c + 6.436e-8 * water_c**2
    factor: np.ndarray = (air - wet) * (1.0 - theta * air) / ((1.0 - wet) * (1.0 - theta))
    return factor


def cold_season(water_c: np.ndarray, limit_c: float) -> tuple[int, int] | None:
    """First and last day, counted from 0, whose mean is below a limit; the season may run through the new year.

    It is looked for from the warmest day on, around the year.

    >>> days = np.array([3.0, 5.0, 20.0, 6.0, 4.0, 2.0])
    >>> cold_season(np.repeat(days, 24), 4.5)
    (4, 0)
    """
    by_day = water_c.reshape(-1, 24).mean(axis=1)
    warmest = int(by_day.argmax())
    below = np.flatnonzero(np.roll(by_day, -warmest) < limit_c)
    if not len(below):
        return None
    first, last = (below[[0, -1]] + warmest) % len(by_day)
    return int(first), int(last)
