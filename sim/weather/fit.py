"""Whether the recorded light fits the sun: gaps filled along the day's course, clock, limits, beam against global."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.errors import InputError
from sim.weather.dates import DAY_H
from sim.weather.order import refuse_rows
from sim.weather.weather import COLUMNS, IRRADIANCES

if TYPE_CHECKING:
    import pandas as pd

    from sim.weather.sun import Sun
    from sim.weather.weather import Site

MINUTES_A_DAY = 1440.0
CLOCK_NOTE_MIN, CLOCK_LIMIT_MIN = 20.0, 45.0  # choices: a whole hour must be refused, afternoon clouds must not
CLEAR_SHARE = 0.25  # of the days, the clearest, tell the clock
ALLOWANCE_WM2 = 100.0  # above extraterrestrial, for low sun within an hour: the additive term of BSRN's tests, 2002
NIGHT_ZENITH_DEG, NIGHT_WM2 = 110.0, 10.0  # sun below the horizon for the whole hour, clock error included; choices
CLOSURE_NOTE, CLOSURE_LIMIT = 0.05, 0.15  # share of the year's global irradiation; choices


def filled(table: pd.DataFrame, sun: Sun) -> pd.DataFrame:
    """Gaps filled: air linearly in time; light by its share of the extraterrestrial, linear between lit hours.

    Hours in which the sun is below the horizon get no light.
    """
    scales = {"ghi": sun.extra_horizontal_wm2, "dhi": sun.extra_horizontal_wm2, "dni": sun.extra_normal_wm2 * sun.up}
    out = {name: _filled(table[name].to_numpy(dtype=float), scales.get(name)) for name in COLUMNS}
    return table.assign(**out)


def _filled(values: np.ndarray, scale: np.ndarray | None) -> np.ndarray:
    """Interpolate value/scale over the hours in which scale is above zero.

    >>> _filled(np.array([1.0, np.nan, 3.0]), None)
    array([1., 2., 3.])
    >>> _filled(np.array([0.0, np.nan, 6.0, np.nan]), np.array([0.0, 4.0, 12.0, 0.0]))
    array([0., 2., 6., 0.])
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    scale = np.ones(len(values)) if scale is None else scale
    known = ~missing & (scale > 0)
    hours = np.arange(len(values))
    share = np.interp(hours[missing], hours[known], values[known] / scale[known])
    out = values.copy()
    out[missing] = share * scale[missing]
    return out


def clock_error_min(ghi: np.ndarray, extra_horizontal: np.ndarray) -> float:
    """Minutes by which the recorded light comes later than the sun, −720 … 720.

    Each day's light, hung on a 24 h dial, has a centre of mass; so has the extraterrestrial light. The angle between
    the two, weighted by their lengths over the clearest quarter of the days, is the error of the clock.

    >>> hours = np.arange(8760) % 24
    >>> sun = np.clip(np.sin((hours - 5.5) / 12 * np.pi), 0, None)
    >>> round(clock_error_min(np.roll(sun, 3), sun), 6)
    180.0
    """
    dial = np.exp(2j * np.pi * (np.arange(DAY_H) + 0.5) / DAY_H)
    light, above = ghi.reshape(-1, DAY_H), extra_horizontal.reshape(-1, DAY_H)
    sums = above.sum(axis=1)
    clearness = np.divide(light.sum(axis=1), sums, out=np.zeros(len(sums)), where=sums > 0.1 * sums.max())
    clear = clearness >= np.quantile(clearness, 1.0 - CLEAR_SHARE)
    turn = np.sum((light[clear] @ dial) * np.conj(above[clear] @ dial))
    return float(np.angle(turn)) / (2 * np.pi) * MINUTES_A_DAY


def check_clock(file: str, table: pd.DataFrame, sun: Sun, site: Site) -> list[str]:
    """A clock CLOCK_LIMIT_MIN or more off the sun is an error naming the minutes; a smaller error is noted."""
    error = clock_error_min(table["ghi"].to_numpy(), sun.extra_horizontal_wm2)
    words = f"{abs(error):.0f} minutes {'late' if error > 0 else 'early'}"
    if abs(error) >= CLOCK_LIMIT_MIN:
        where = f"longitude {site.longitude_deg:.2f} and {site.utc_offset_h:+g} h from UTC"
        allowed = f"less than {CLOCK_LIMIT_MIN:.0f} minutes off the sun at {where}"
        raise InputError(file, "clock", words, allowed)
    return [f"The recorded light comes {words} against the sun."] if abs(error) >= CLOCK_NOTE_MIN else []


def check_limits(file: str, table: pd.DataFrame, sun: Sun) -> None:
    """More light than arrives above the atmosphere is an error.

    Means of an hour are held against the sun in its middle, so global and diffuse are given ALLOWANCE_WM2 on top, and
    NIGHT_WM2 when the sun is far below the horizon.
    """
    allowance = np.where(sun.zenith_deg < NIGHT_ZENITH_DEG, ALLOWANCE_WM2, NIGHT_WM2)
    highest = sun.extra_horizontal_wm2 + allowance
    beam = np.where(sun.zenith_deg < NIGHT_ZENITH_DEG, sun.extra_normal_wm2, NIGHT_WM2)
    limits = {"ghi": highest, "dhi": highest, "dni": beam}
    for name in IRRADIANCES:
        over = table[name].to_numpy() > limits[name]
        limit = limits[name][over.argmax()]
        refuse_rows(file, table, name, over, f"0 to {limit:.0f} W/m2, what arrives above the atmosphere in that hour")


def closure(table: pd.DataFrame, sun: Sun) -> float:
    """Year's sum of dni·cos(zenith) + dhi over that of ghi."""
    beam = table["dni"].to_numpy() * sun.cos_zenith
    return float((beam + table["dhi"].to_numpy()).sum() / table["ghi"].to_numpy().sum())


def check_closure(file: str, table: pd.DataFrame, sun: Sun) -> list[str]:
    """Beam and diffuse must make up global: CLOSURE_LIMIT off is an error, CLOSURE_NOTE off is noted."""
    if not table["ghi"].to_numpy().any():
        raise InputError(file, "ghi", None, "some light; every hour has 0 W/m2")
    share = closure(table, sun)
    if abs(share - 1.0) > CLOSURE_LIMIT:
        allowed = f"{100 - 100 * CLOSURE_LIMIT:.0f} to {100 + 100 * CLOSURE_LIMIT:.0f} % of ghi over the year"
        raise InputError(file, "dni*cos(zenith) + dhi", f"{100 * share:.0f} %", allowed)
    if abs(share - 1.0) > CLOSURE_NOTE:
        return [f"Over the year, beam and diffuse make {100 * share:.0f} % of the recorded global irradiation."]
    return []
