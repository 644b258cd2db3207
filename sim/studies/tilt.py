"""Which tilt and which azimuth give a panel the most light, in chosen months, past its own shades."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from itertools import product
from typing import Any

import numpy as np

from sim.figures.series import by_month
from sim.light.substrings import levels
from sim.light.sunlight import planes_of
from sim.scenario import Scenario
from sim.weather import Weather

Months = tuple[int, ...]
Light = Callable[[float, float], np.ndarray]
CURVE_DEG = 5.0  # from one tilt of the curve to the next
WIDE_DEG = (15.0, 30.0)  # tilt and azimuth steps of the first look around
FINE_DEG = 0.02  # how close the search comes
ROUNDS = 3  # of the search in tilt and azimuth by turns


@dataclass(frozen=True)
class Best:
    """The best position for some months: the tilt at the present azimuth, and both at once, with their light there."""

    months: Months
    azimuth_deg: float
    tilt_deg: float
    in_plane_kwh_m2: float
    free_tilt_deg: float
    free_azimuth_deg: float
    free_in_plane_kwh_m2: float


@dataclass(frozen=True)
class TiltCurve:
    """In-plane irradiation by month (tilts, 12) against tilt at the present azimuth, kWh/m²."""

    tilt_deg: np.ndarray
    by_month_kwh_m2: np.ndarray

    def over(self, months: Months) -> np.ndarray:
        """(tilts,) the sum over some months."""
        return np.asarray(self.by_month_kwh_m2[:, [month - 1 for month in months]].sum(axis=1))


def wanted_months(wanted_h: np.ndarray) -> Months:
    """The months in which the pump is wanted at all, of hours wanted in each (12,); every month where it never is."""
    wanted = tuple(int(month) for month in np.flatnonzero(wanted_h) + 1)
    return wanted or tuple(range(1, 13))


def light_on(scenario: Scenario, weather: Weather) -> Light:
    """A function of tilt and azimuth in degrees that gives (12,) in-plane irradiation by month, kWh/m².

    Past the scenario's shades, on the mean of the panel's strings of cells; remembered for the next question.
    """
    months = weather.index.month.to_numpy()
    strings = [count for count, _ in levels(scenario.panel)]

    @lru_cache(maxsize=4096)
    def light(tilt_deg: float, azimuth_deg: float) -> np.ndarray:
        planes = planes_of(scenario.but(panel={"tilt_deg": tilt_deg, "azimuth_deg": azimuth_deg}), weather)[1]
        return by_month(np.average([plane.total for plane in planes], axis=0, weights=strings), months) / 1000.0

    return light


def curve_of(light: Light, azimuth_deg: float) -> TiltCurve:
    """The light at every fifth degree of tilt."""
    tilts = np.arange(0.0, 90.1, CURVE_DEG)
    return TiltCurve(tilts, np.array([light(float(tilt), azimuth_deg) for tilt in tilts]))


def peak(value: Callable[[float], float], low: float, high: float) -> float:
    """Where a function of one variable with a single peak is greatest between two bounds (Brent's bounded search).

    >>> round(peak(lambda tilt: -((tilt - 33.3) ** 2), 0.0, 90.0), 1)
    33.3
    """
    from scipy.optimize import minimize_scalar

    found = minimize_scalar(lambda at: -value(float(at)), bounds=(low, high), method="bounded", options=_CLOSE)
    return max((low, float(found.x), high), key=value)


_CLOSE: dict[str, Any] = {"xatol": FINE_DEG}


def best_tilt_deg(value: Callable[[float], float], scanned_deg: Sequence[float]) -> float:
    """The tilt 0…90° of the greatest value: the best of a scan, refined between its neighbours."""
    near = max(scanned_deg, key=value)
    step = float(scanned_deg[1] - scanned_deg[0])
    return peak(value, max(near - step, 0.0), min(near + step, 90.0))


def best_position(light: Light, months: Months, azimuth_deg: float) -> Best:
    """The best tilt for some months at an azimuth, and the best of all positions."""
    chosen = [month - 1 for month in months]

    def value(tilt: float, azimuth: float) -> float:
        return float(light(tilt, azimuth % 360.0)[chosen].sum())

    curve = [float(tilt) for tilt in np.arange(0.0, 90.1, CURVE_DEG)]
    here = best_tilt_deg(lambda tilt: value(tilt, azimuth_deg), curve)
    tilt, azimuth = _around(value, (here, azimuth_deg))
    return Best(months, azimuth_deg, here, value(here, azimuth_deg), tilt, azimuth % 360.0, value(tilt, azimuth))


def _around(value: Callable[[float, float], float], start: tuple[float, float]) -> tuple[float, float]:
    """Tilt and azimuth of the greatest value: a look all around, then a search in each of the two by turns."""
    wide, turn = WIDE_DEG
    grid = product(np.arange(wide, 90.1, wide).tolist(), np.arange(0.0, 359.9, turn).tolist())
    tilt, azimuth = max((start, *grid), key=lambda at: value(*at))
    for _ in range(ROUNDS):
        azimuth = peak(partial(value, tilt), azimuth - turn, azimuth + turn)
        tilt = peak(partial(_swapped, value, azimuth), max(tilt - wide, 0.0), min(tilt + wide, 90.0))
    return tilt, azimuth


def _swapped(value: Callable[[float, float], float], second: float, first: float) -> float:
    return value(first, second)
