"""What may be wrong with a whole column and still pass every limit: kinds of damage, and years to damage.

A kind changes the five columns of a year of hours; ``must`` are words of the refusal, ids of doubts or words of notes,
one of which has to come. ``HIDDEN`` lists what cannot be found, and why.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from sim.errors import InputError
from sim.weather.readings import Readings
from sim.weather.samples import read_sample
from sim.weather.synthesis import MonthlyMeans, synthesise
from sim.weather.weather import COLUMNS, IRRADIANCES, Site, Weather
from sim.weather.year import checked_year

LIGHT = list(IRRADIANCES)
STAMPS = pd.date_range("2001-01-01", periods=8760, freq="h")
MONTH, HOUR = STAMPS.month.to_numpy(), STAMPS.hour.to_numpy()


class Kind(NamedTuple):
    """A kind of damage, and what must come of it."""

    name: str
    change: Callable[[pd.DataFrame], pd.DataFrame]
    must: tuple[str, ...]


def times(factor: float, chosen: np.ndarray | slice = slice(None), names: list[str] = LIGHT) -> Callable:
    """Some hours of some columns times a factor."""

    def change(rows: pd.DataFrame) -> pd.DataFrame:
        out = rows.copy()
        values = out[names].to_numpy(copy=True)
        values[chosen] *= factor
        out[names] = values
        return out

    return change


def drifting(end: float) -> Callable:
    """All light times a factor that goes from 1 to this."""
    return lambda rows: rows.assign(**{name: rows[name] * np.linspace(1.0, end, len(rows)) for name in LIGHT})


def clipped(at: float) -> Callable:
    """Global cut off, and beam and diffuse with it."""

    def change(rows: pd.DataFrame) -> pd.DataFrame:
        share = np.minimum(rows["ghi"], at) / rows["ghi"].where(rows["ghi"] > 0, 1.0)
        return rows.assign(**{name: rows[name] * share.where(rows["ghi"] > 0, 1.0) for name in LIGHT})

    return change


def night_light(wm2: float, names: tuple[str, ...] = ("ghi", "dhi")) -> Callable:
    """A sensor's offset, also by night."""
    return lambda rows: rows.assign(**{name: rows[name] + wm2 for name in names})


def over_days(days: int, names: list[str]) -> Callable:
    """Every hour the mean of that hour over some days around."""

    def change(rows: pd.DataFrame) -> pd.DataFrame:
        out = rows.copy()
        for name in names:
            by_day = out[name].to_numpy().reshape(-1, 24)
            around = range(-(days // 2), days - days // 2)
            out[name] = np.mean([np.roll(by_day, by, axis=0) for by in around], axis=0).ravel()
        return out

    return change


def mean_days(rows: pd.DataFrame) -> pd.DataFrame:
    """Every day the mean day of its month."""
    means = rows[LIGHT].groupby([MONTH, HOUR]).transform("mean")
    wiggle = 1.0 + 0.001 * np.sin(np.arange(len(rows)) // 24)
    return rows.assign(**{name: means[name] * wiggle for name in LIGHT})


def copy_of(to: int, source: int, names: list[str] = LIGHT) -> Callable:
    """A month has the hours of another."""

    def change(rows: pd.DataFrame) -> pd.DataFrame:
        out = rows.copy()
        there, here = np.flatnonzero(source == MONTH), np.flatnonzero(to == MONTH)
        count = min(len(there), len(here))
        out.loc[here[:count], names] = out.loc[there[:count], names].to_numpy()
        return out

    return change


def air(change: Callable[[np.ndarray], np.ndarray]) -> Callable:
    """The air changed."""
    return lambda rows: rows.assign(temp_air=change(rows["temp_air"].to_numpy(copy=True)))


def daily_means(values: np.ndarray) -> np.ndarray:
    """Every hour the mean of its day, with a wiggle so that it does not stand still."""
    return np.repeat(values.reshape(-1, 24).mean(axis=1), 24) + 0.01 * (np.arange(len(values)) % 2)


def like_dew(values: np.ndarray) -> np.ndarray:
    """Something like a dew point: below each day's lowest, wandering from day to day and hardly with the sun."""
    low = values.reshape(-1, 24).min(axis=1)
    wander = np.random.default_rng(1).normal(0.0, 0.3, len(values)).cumsum()
    wander -= np.interp(np.arange(len(values)), np.arange(len(values))[::24], wander[::24])
    return np.interp(np.arange(len(values)), np.arange(12, len(values), 24), low) - 2.0 + wander


def thousands(rows: pd.DataFrame) -> pd.DataFrame:
    """1.013 where 1,013 was meant."""
    return rows.assign(ghi=np.where(rows["ghi"] >= 1000.0, rows["ghi"] / 1000.0, rows["ghi"]))


def thousands_of_all(rows: pd.DataFrame) -> pd.DataFrame:
    """So in all columns of light."""
    return rows.assign(**{name: np.where(rows[name] >= 1000.0, rows[name] / 1000.0, rows[name]) for name in LIGHT})


def all_diffuse(rows: pd.DataFrame) -> pd.DataFrame:
    """No beam, and diffuse as much as global."""
    return rows.assign(dni=0.0, dhi=rows["ghi"])


MORNING, AFTERNOON, NOON = (HOUR >= 8) & (HOUR < 10), (HOUR >= 15) & (HOUR < 18), HOUR == 12
SUMMER_HALF = MONTH >= 7
SCALED = ("light-scaled", "of what arrives above the atmosphere", "allowed is -4 to 1415 W/m2", "light-climate")
UNEVEN = ("light-uneven", "light-step", "light-drift", "light-scaled", "above the atmosphere")
CLIP = ("light-clipped", "away from dni", "dni\\*cos", "beam-sum")
KINDS = (
    *(Kind(f"light x {factor}", times(factor), SCALED) for factor in (0.5, 0.6, 0.7)),
    Kind("light x 0.8", times(0.8), SCALED),
    Kind("light x 0.9", times(0.9), SCALED),
    Kind("light x 1.1", times(1.1), SCALED),
    Kind("light x 1.2", times(1.2), SCALED),
    Kind("light x 1.3", times(1.3), SCALED),
    Kind("global x 0.7", times(0.7, names=["ghi"]), ("dni", "beam-sum")),
    Kind("global x 1.3", times(1.3, names=["ghi"]), ("dni", "beam-sum", "above the atmosphere")),
    Kind("beam x 0.5", times(0.5, names=["dni"]), ("dni", "beam-sum")),
    Kind("June x 0.6", times(0.6, MONTH == 6), UNEVEN),
    Kind("June x 1.3", times(1.3, MONTH == 6), UNEVEN),
    Kind("December x 0.6", times(0.6, MONTH == 12), UNEVEN),
    Kind("from July x 0.7", times(0.7, SUMMER_HALF), UNEVEN),
    Kind("from July x 1.3", times(1.3, SUMMER_HALF), UNEVEN),
    Kind("falling to 0.6", drifting(0.6), UNEVEN),
    Kind("falling to 0.7", drifting(0.7), UNEVEN),
    *(Kind(f"cut off at {at}", clipped(at), CLIP) for at in (300, 400, 500, 600, 700, 800)),
    Kind("global cut off at 500", lambda rows: rows.assign(ghi=rows["ghi"].clip(upper=500.0)), CLIP),
    Kind("shade in the morning", times(0.3, MORNING), ("light-shaded",)),
    Kind("shade in the afternoon", times(0.3, AFTERNOON), ("light-shaded",)),
    Kind("shade at noon", times(0.5, NOON), ("light-shaded",)),
    Kind("thousands in global", thousands, ("Taken as missing", "ghi", "dni")),
    Kind("thousands in all", thousands_of_all, ("Taken as missing", "ghi", "dni")),
    Kind("no beam", all_diffuse, ("beam-none",)),
    Kind("2 W/m2 at night", night_light(2.0), ("light-night", "alike to the watt")),
    Kind("5 W/m2 at night", night_light(5.0), ("light-night", "alike to the watt")),
    Kind("diffuse: 10 W/m2 at night", night_light(10.0, ("dhi",)), ("light-night",)),
    Kind("means of three days", over_days(3, LIGHT), ("light-smooth",)),
    Kind("means of seven days", over_days(7, LIGHT), ("light-smooth",)),
    Kind("mean days", mean_days, ("light-smooth",)),
    Kind("June copied from July", copy_of(6, 7), ("light-copied",)),
    Kind("February copied from January", copy_of(2, 1), ("light-copied",)),
    Kind("air: the sign turned", air(lambda c: -c), ("air-sign", "air-season")),
    Kind("air: signs lost", air(np.abs), ("air-cut", "air-sign")),
    Kind(
        "air: signs of a month lost",
        lambda rows: rows.assign(temp_air=rows["temp_air"].abs().where(MONTH == 1, rows["temp_air"])),
        ("air-cut", "air-season"),
    ),
    Kind("air: frosts at 0", air(lambda c: np.maximum(c, 0.0)), ("air-cut", "temp_air")),
    Kind("air / 10", air(lambda c: c / 10.0), ("air-flat", "air-climate")),
    Kind("air + 10", air(lambda c: c + 10.0), ("air-climate", "temp_air")),
    Kind("air - 10", air(lambda c: c - 10.0), ("air-climate",)),
    Kind("air half a year off", air(lambda c: np.roll(c, 4380)), ("air-season", "air-sign")),
    Kind("air: means of days", air(daily_means), ("air-flat",)),
    Kind("air: dew point", air(like_dew), ("air-course", "air-flat")),
    Kind("air in F", air(lambda c: c * 1.8 + 32.0), ("temp_air", "air-climate")),
)


def _cosine(low: float, high: float, highest_month: float) -> tuple[float, ...]:
    return tuple(low + (high - low) * (0.5 + 0.5 * np.cos(2 * np.pi * (k - highest_month) / 12)) for k in range(12))


MADE_UP = {  # monthly means and places of unusual climates, our own round figures
    "desert": (_cosine(4.2, 7.9, 5.5), _cosine(14, 35, 6.5), Site(25.0, 6.0, 900.0, 1.0)),
    "high desert": (_cosine(4.9, 8.6, 11.5), _cosine(11, 17, 1), Site(-23.0, -68.2, 2400.0, -4.0)),
    "cloud forest": (_cosine(3.1, 3.6, 7), _cosine(16, 17, 1), Site(0.2, -78.4, 1900.0, -5.0)),
    "snow": (
        (0.02, 0.35, 1.5, 3.4, 4.9, 5.6, 5.0, 3.4, 1.8, 0.6, 0.08, 0.0),
        (-14, -13, -9, -3, 4, 10, 13, 11, 6, -1, -8, -12),
        Site(68.0, 24.0, 250.0, 2.0),
    ),
    "foggy coast": (
        (5.6, 5.7, 5.8, 5.2, 3.9, 2.6, 2.3, 2.4, 2.8, 3.7, 4.5, 5.2),
        (22, 23, 22.5, 21, 19, 17.5, 17, 16.7, 17, 17.6, 19, 21),
        Site(-12.0, -77.0, 100.0, -5.0),
    ),
    "monsoon": (
        (4.8, 5.5, 6.2, 6.6, 6.6, 4.6, 3.6, 3.6, 4.5, 4.9, 4.7, 4.5),
        (24, 26, 29, 31, 31, 28.5, 27, 27, 27, 28, 26, 24),
        Site(19.0, 73.0, 100.0, 5.5),
    ),
    "high mountain": (_cosine(4.8, 6.9, 10.5), _cosine(6, 12, 11), Site(-16.5, -68.2, 3800.0, -4.0)),
}
SAMPLED = ("piedmont", "aleutian", "subtropic")


@cache
def sound(climate: str) -> tuple[pd.DataFrame, Site]:
    """The five columns of a sound year, and its place."""
    if climate in SAMPLED:
        table, _, site = read_sample(climate)
        return table, site
    light, warmth, site = MADE_UP[climate]
    year = synthesise(MonthlyMeans(light, warmth), *site)
    return pd.DataFrame({name: getattr(year, name) for name in COLUMNS}), site


def checked(rows: pd.DataFrame, site: Site) -> Weather:
    """A year as if it had been read from a file."""
    stamps = {"month": MONTH, "day": STAMPS.day, "hour_end": HOUR + 1, "year": 2001, "line": np.arange(8760) + 2}
    return checked_year(Readings("year.csv", rows[list(COLUMNS)].assign(**stamps), site, "a test", "none"), 2001)


def outcome(rows: pd.DataFrame, site: Site) -> str:
    """What comes of a year: the refusal, or ids of doubts and notes."""
    try:
        weather = checked(rows, site)
    except InputError as refused:
        return f"refused: {refused}"
    return " | ".join((*(doubt.id for doubt in weather.doubts), *weather.notes))


def harmless(rows: pd.DataFrame, damaged: pd.DataFrame) -> bool:
    """Whether a kind moves less than 1 % of the light of the year and the air by less than 0.3 K in the mean."""
    moved = (damaged - rows).abs()
    return bool((moved[LIGHT].sum() < 0.01 * rows[LIGHT].sum()).all() and moved["temp_air"].mean() < 0.3)


_TURBIDITY = "turbidity differs by as much between places and years"
_FEW_CLEAR = "too few cloudless hours, and fine days differ by as much between months"
_DARK = "too little light there to tell"
_COARSE = "the world climate is off the other way by as much"
HIDDEN = {
    **dict.fromkeys([("light x 0.9", c) for c in (*SAMPLED, *MADE_UP)], _TURBIDITY),
    **dict.fromkeys([("light x 1.1", c) for c in (*SAMPLED, *MADE_UP)], _TURBIDITY),
    **dict.fromkeys([(kind, "high mountain") for kind in ("light x 1.2", "June x 1.3", "falling to 0.7")], _FEW_CLEAR),
    **dict.fromkeys([(kind, "cloud forest") for kind in ("light x 1.2", "June x 1.3")], _FEW_CLEAR),
    ("falling to 0.7", "snow"): _FEW_CLEAR,
    ("February copied from January", "snow"): _DARK,
    ("December x 0.6", "aleutian"): _DARK,
    **dict.fromkeys([("air + 10", climate) for climate in ("snow", "foggy coast")], _COARSE),
    **dict.fromkeys([("air - 10", climate) for climate in ("high desert", "cloud forest", "high mountain")], _COARSE),
}
