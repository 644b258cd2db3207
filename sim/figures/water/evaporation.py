"""Evaporation from open water, day by day: Penman's equation, with measured humidity or what a cold night leaves.

Without measured humidity the dew point is taken as the day's lowest air temperature (Allen et al. 1998, equation 48).
Temperatures are °C, pressures kPa, radiation MJ/m² a day; arrays are (days,).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sim.weather.wind import wind_at_2m

ALBEDO = 0.08  # of open water; Shuttleworth, in Handbook of Hydrology (1993)
STEFAN_BOLTZMANN = 4.903e-9  # MJ/(K⁴·m²·day)


def vapour_pressure(air_c: np.ndarray) -> np.ndarray:
    """Saturation vapour pressure, kPa: 0.6108·exp(17.27·t/(t + 237.3)) (Allen et al. 1998, equation 11).

    >>> round(float(vapour_pressure(np.array(21.5))), 3)
    2.564
    """
    pressure: np.ndarray = 0.6108 * np.exp(17.27 * air_c / (air_c + 237.3))
    return pressure


def slope(air_c: np.ndarray) -> np.ndarray:
    """Slope Δ of that pressure, kPa/°C (Allen et al. 1998, equation 13).

    >>> round(float(slope(np.array(16.9))), 3)
    0.122
    """
    return 4098.0 * vapour_pressure(air_c) / (air_c + 237.3) ** 2


def pressure_kpa(elevation_m: float) -> float:
    """Atmospheric pressure, kPa (Allen et al. 1998, equation 7).

    >>> round(pressure_kpa(100.0), 1)
    100.1
    """
    return float(101.3 * ((293.0 - 0.0065 * elevation_m) / 293.0) ** 5.26)


def extraterrestrial(latitude_deg: float, day: np.ndarray) -> np.ndarray:
    """Radiation on the level above the air, MJ/m² a day; ``day`` counts from 1 (Allen et al. 1998, equation 21).

    >>> round(float(extraterrestrial(-20.0, np.array(246))), 1)
    32.2
    """
    latitude, angle = np.radians(latitude_deg), 2.0 * np.pi * day / 365.0
    declination = 0.409 * np.sin(angle - 1.39)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(declination), -1.0, 1.0))
    height = sunset * np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    over_air: np.ndarray = 24.0 * 60.0 / np.pi * 0.0820 * (1.0 + 0.033 * np.cos(angle)) * height
    return over_air


def net_longwave(low_c: np.ndarray, high_c: np.ndarray, vapour: np.ndarray, clearness: np.ndarray) -> np.ndarray:
    """What the surface radiates to the sky, MJ/m² a day; ``clearness`` is sun over that of a clear day, up to 1.

    σ·(T⁴max + T⁴min)/2·(0.34 − 0.14·√e)·(1.35·clearness − 0.35) (Allen et al. 1998, equation 39).
    """
    black = STEFAN_BOLTZMANN * ((high_c + 273.16) ** 4 + (low_c + 273.16) ** 4) / 2.0
    lost: np.ndarray = black * (0.34 - 0.14 * np.sqrt(vapour)) * (1.35 * clearness - 0.35)
    return lost


def penman_mm(
    air_c: np.ndarray, net_mj: np.ndarray, deficit_kpa: np.ndarray, wind_2m: np.ndarray, air_kpa: float | np.ndarray
) -> np.ndarray:
    """Evaporation of open water, mm a day: (Δ·Rn + γ·6.43·(1 + 0.536·u₂)·D)/(λ·(Δ + γ)), not below zero.

    λ = 2.501 − 0.002361·t in MJ/kg, γ = 0.665e-3·P. Source: Shuttleworth, in Handbook of Hydrology (1993), after Penman
    (1948).

    >>> round(float(penman_mm(np.array(20.0), np.array(15.0), np.array(1.0), np.array(2.0), 101.3)), 1)
    6.0
    """
    delta, gamma, latent = slope(air_c), 0.665e-3 * air_kpa, 2.501 - 0.002361 * air_c
    driven = delta * net_mj + gamma * 6.43 * (1.0 + 0.536 * wind_2m) * deficit_kpa
    evaporated: np.ndarray = np.maximum(driven / (latent * (delta + gamma)), 0.0)
    return evaporated


class Air(NamedTuple):
    """Hours (hours,) of air: °C, and dew point in °C and pressure in kPa where they were measured."""

    air_c: np.ndarray
    dew_c: np.ndarray | None = None
    kpa: np.ndarray | None = None

    def vapour(self) -> np.ndarray:
        """(days,) mean vapour pressure, kPa; without a dew point that of the day's lowest temperature."""
        if self.dew_c is None:
            return vapour_pressure(self.air_c.reshape(-1, 24).min(axis=1))
        return np.asarray(vapour_pressure(self.dew_c).reshape(-1, 24).mean(axis=1))


def daily_mm(
    hours: Air, sun_wm2: np.ndarray, wind_m_s: np.ndarray, latitude_deg: float, elevation_m: float
) -> np.ndarray:
    """Evaporation of each day, mm, from hours of air, global radiation and wind at 10 m, each (hours,)."""
    air_c, kpa = hours.air_c, hours.kpa
    air, sun, wind = (series.reshape(-1, 24) for series in (air_c, sun_wm2, wind_m_s))
    low, high, sun_mj = air.min(axis=1), air.max(axis=1), sun.sum(axis=1) * 3600.0 / 1e6
    vapour = hours.vapour()
    clear_mj = (0.75 + 2e-5 * elevation_m) * extraterrestrial(latitude_deg, np.arange(1, len(low) + 1))
    clearness = np.clip(sun_mj / np.maximum(clear_mj, 0.1), 0.25, 1.0)
    net = (1.0 - ALBEDO) * sun_mj - net_longwave(low, high, vapour, clearness)
    deficit = np.maximum((vapour_pressure(low) + vapour_pressure(high)) / 2.0 - vapour, 0.0)
    pressure = pressure_kpa(elevation_m) if kpa is None else kpa.reshape(-1, 24).mean(axis=1)
    return penman_mm((low + high) / 2.0, net, deficit, wind_at_2m(wind.mean(axis=1)), pressure)
