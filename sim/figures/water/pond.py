"""The pond's temperature hour by hour, and how much oxygen its water can hold."""

from __future__ import annotations

import math

import numpy as np

from sim.figures.water.evaporation import pressure_kpa

HEAT_J_M3 = 4.18e6  # that a cubic metre of water takes up for each degree
SPIN_UP_H = 30 * 24  # the last month of the year comes before its first


def exchange(water_c: float, dew_c: float, wind_m_s: float) -> float:
    """Coefficient of heat exchange between water and air, W/(m²·K).

    K = 4.5 + 0.05·T + (β + 0.47)·f, f = 9.2 + 0.46·W², β = 0.35 + 0.015·Tm + 0.0012·Tm², Tm midway between water and
    dew point. Source: Brady, Graves and Geyer (1969), in Edinger, Brady and Geyer (1974), from memory.

    >>> round(exchange(20.0, 20.0, 0.0), 2)
    20.22
    """
    mean_c = (water_c + dew_c) / 2.0
    beta = 0.35 + 0.015 * mean_c + 0.0012 * mean_c**2
    return 4.5 + 0.05 * water_c + (beta + 0.47) * (9.2 + 0.46 * wind_m_s**2)


def equilibrium_c(dew_c: float, sun_wm2: float, exchange_w: float) -> float:
    """The temperature at which water neither gains nor loses heat, °C: T = dew point + sun/K; same source.

    >>> equilibrium_c(10.0, 200.0, 20.0)
    20.0
    """
    return dew_c + sun_wm2 / exchange_w


def temperature_c(dew_c: np.ndarray, sun_wm2: np.ndarray, wind_m_s: np.ndarray, depth_m: float) -> np.ndarray:
    """Temperature of well mixed water at the end of each hour, °C, each series (hours,); not below 0 °C.

    It closes the share 1 − e^(−K·1 h/(ρ·c·depth)) of the gap to equilibrium in an hour; ice is not simulated.

    >>> steady = np.full(24 * 60, 10.0)
    >>> round(float(temperature_c(steady, 0.0 * steady, 0.0 * steady, 0.5)[-1]), 6)
    10.0
    """
    hours = list(zip(dew_c.tolist(), sun_wm2.tolist(), wind_m_s.tolist(), strict=True))
    warm = max(float(np.mean(dew_c[-SPIN_UP_H:])), 0.0)
    out = []
    for dew, sun, wind in hours[-SPIN_UP_H:] + hours:
        k = exchange(warm, dew, wind)
        goal = equilibrium_c(dew, sun, k)
        warm = max(goal + (warm - goal) * math.exp(-k * 3600.0 / (HEAT_J_M3 * depth_m)), 0.0)
        out.append(warm)
    return np.array(out[-len(hours) :])


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
