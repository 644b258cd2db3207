"""Vapour and radiation over open water, after the irrigation handbook: Allen et al. (1998), FAO paper 56.

Temperatures are °C, pressures kPa, radiation MJ/m² a day; arrays are (days,).
"""

import numpy as np

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


def longwave_wm2(
    air_c: np.ndarray, dew_c: np.ndarray, sun_wm2: np.ndarray, latitude_deg: float, elevation_m: float
) -> np.ndarray:
    """(hours,) what water as warm as the air radiates to the sky on the mean of each day, W/m², from hours (hours,)."""
    air, sun = air_c.reshape(-1, 24), sun_wm2.reshape(-1, 24)
    vapour, sun_mj = vapour_pressure(dew_c).reshape(-1, 24).mean(axis=1), sun.sum(axis=1) * 3600.0 / 1e6
    clear_mj = (0.75 + 2e-5 * elevation_m) * extraterrestrial(latitude_deg, np.arange(1, len(air) + 1))
    clearness = np.clip(sun_mj / np.maximum(clear_mj, 0.1), 0.25, 1.0)
    lost = net_longwave(air.min(axis=1), air.max(axis=1), vapour, clearness)
    return np.repeat(lost * 1e6 / 86400.0, 24)
