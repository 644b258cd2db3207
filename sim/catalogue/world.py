"""The climate of any place on land: twelve means of light and air out of a small table for the whole Earth."""

import csv
from functools import cache
from typing import NamedTuple

import numpy as np

from sim.catalogue import ROOM
from sim.units import Quantity, sentence

TABLE = ROOM / "world_climate.csv"
SOURCE = "World climate of the catalogue, twelve means for this place"
LICENCE = "our own fit to open data, see world_climate.txt in the catalogue"
COARSE = sentence(
    "The weather is the world climate of this place, which is coarse: light ± 10 % a month, ± 20 % in snowy winters, "
    "in hills and on foggy coasts, more on cold islands; air ± {air}. It is good for a first answer, not for a "
    "promise. A fetched year or a weather file of the place says more.",
    air=Quantity(2.0, "k", "g"),
)
GUESSED_HEIGHT = sentence(
    "The height of the place is not given (site.elevation_m): the usual one of the land around is taken, which beside "
    "mountains is far off; {higher} higher is {colder} colder.",
    higher=Quantity(100.0, "m", "g"),
    colder=Quantity(0.65, "k", "g"),
)
SOLAR_KW_M2 = 1.361  # on a plane that faces the sun, above the air: Kopp & Lean 2011, 10.1029/2010GL045777
MIDDLES = (17, 47, 75, 105, 135, 162, 198, 228, 258, 288, 318, 344)  # day of each month's mean sun: Klein 1977
LAPSE_C_M = 0.0065  # colder with height: ISO 2533
LATITUDES = (-56.0, 79.0)
CLEARNESS = (0.05, 0.85)  # beyond these the fit swings, not the sky
NIGHT_KWH_M2 = 0.3  # above the air; with less in a day a month counts as dark


class WorldClimate(NamedTuple):
    """Twelve means, and the height that they are for: the one that was asked for, or the usual one of the land there.

    Global irradiation of a day on the horizontal in kWh/m², air in °C, metres above the sea.
    """

    daily_ghi_kwh_m2: tuple[float, ...]
    temp_air_c: tuple[float, ...]
    elevation_m: float


def world_climate(latitude_deg: float, longitude_deg: float, elevation_m: float | None = None) -> WorldClimate:
    """The climate of a place: daily light on the horizontal and air, ``COARSE`` as they are.

    Light is clearness times what arrives above the air. Air is that at the sea's level less 6.5 K a kilometre or, where
    no height is given, that at the usual height of the land, which beside high mountains is far off. Fitted were land
    and coasts within ``LATITUDES``, not the open sea.

    >>> light, air_c, _ = world_climate(51.5, -2.6, 0.0)
    >>> [round(mean, 2) for mean in light[:3]], round(air_c[6], 1)
    ([0.68, 1.38, 2.58], 16.5)
    """
    clearness, at_sea_c, there_c = (_fitted(name, latitude_deg, longitude_deg) for name in _QUANTITIES)
    above = above_the_air_kwh_m2(latitude_deg)
    light = np.where(above < NIGHT_KWH_M2, 0.0, np.clip(clearness, *CLEARNESS) * above)
    usual_m = float(round(float(np.mean(at_sea_c - there_c)) / LAPSE_C_M))
    air_c = there_c if elevation_m is None else at_sea_c - LAPSE_C_M * elevation_m
    height_m = max(usual_m, 0.0) if elevation_m is None else elevation_m
    return WorldClimate(tuple(light.tolist()), tuple(air_c.tolist()), height_m)


def above_the_air_kwh_m2(latitude_deg: float) -> np.ndarray:
    """(12,) daily irradiation of a level plane above the air in the middle of each month, kWh/m².

    24/π · G · (1 + 0.033·cos(2πn/365)) · (cos φ·cos δ·sin ω + ω·sin φ·sin δ), with δ = 23.45°·sin(2π(284 + n)/365) and
    cos ω = −tan φ·tan δ: Duffie & Beckman, Solar Engineering of Thermal Processes, eq. 1.4.1a to 1.10.3.

    >>> above_the_air_kwh_m2(0.0)[[0, 5]].round(1).tolist(), above_the_air_kwh_m2(80.0)[0]
    ([10.0, 9.3], np.float64(0.0))
    """
    day, latitude = np.array(MIDDLES), np.radians(latitude_deg)
    decline = np.radians(23.45) * np.sin(2.0 * np.pi * (284 + day) / 365.0)
    sunset = np.arccos(np.clip(-np.tan(latitude) * np.tan(decline), -1.0, 1.0))
    course = np.cos(latitude) * np.cos(decline) * np.sin(sunset) + sunset * np.sin(latitude) * np.sin(decline)
    near = 1.0 + 0.033 * np.cos(2.0 * np.pi * day / 365.0)
    return np.asarray(np.maximum(24.0 / np.pi * SOLAR_KW_M2 * near * course, 0.0))


class _Fit(NamedTuple):
    """Coefficients (n, 12) of n real or imaginary parts of spherical harmonics, by degree and order (n,)."""

    degree: np.ndarray
    order: np.ndarray
    imaginary: np.ndarray
    by_month: np.ndarray


_QUANTITIES = ("clearness", "temp_sea_level_c", "temp_air_c")


@cache
def _fits() -> dict[str, _Fit]:
    """The table, by quantity."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.reader(file) if row[0] in _QUANTITIES]
    return {name: _fit([row[1:] for row in rows if row[0] == name]) for name in _QUANTITIES}


def _fit(rows: list[list[str]]) -> _Fit:
    degree, order = (np.array([int(row[k]) for row in rows]) for k in (0, 1))
    imaginary = np.array([row[2] == "im" for row in rows])
    return _Fit(degree, order, imaginary, np.array([[float(cell) for cell in row[3:]] for row in rows]))


def _fitted(name: str, latitude_deg: float, longitude_deg: float) -> np.ndarray:
    """(12,) of a quantity: Σ coefficient · Re or Im Y(degree, order) at colatitude and longitude, Y orthonormal."""
    from scipy.special import sph_harm_y

    fit = _fits()[name]
    waves = sph_harm_y(fit.degree, fit.order, np.radians(90.0 - latitude_deg), np.radians(longitude_deg))
    return np.asarray(np.where(fit.imaginary, waves.imag, waves.real) @ fit.by_month)
