"""Air temperature that goes with synthetic light: season, warm and cold spells, day and night."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H

if TYPE_CHECKING:
    import pandas as pd

    from sim.weather.hourly import Sky

WARMEST_H = 15.0  # by the clock; a choice
RANGE_FACTOR = 0.17  # in clearness = f·√range: Hargreaves & Samani 1982; FAO-56 gives 0.16 inland, 0.19 at coasts
WIDEST_RANGE_C = 16.0  # a choice
SPELL_LAG_1 = 0.65  # of daily means from day to day; our own default
_MONTHS = 12


@dataclass(frozen=True, eq=False)
class Course:
    """What a year of air temperatures is bent by: ``bend`` (hours, 12) interpolates smoothly, ``means`` (12,) is met.

    ``share`` (12, hours) takes monthly means; ``spell_c`` (days,) is the standard deviation of daily means.
    """

    bend: np.ndarray
    share: np.ndarray
    means_c: np.ndarray
    spell_c: np.ndarray

    def met(self, temperature_c: np.ndarray) -> np.ndarray:
        """The temperatures moved, smoothly over the year, until the months have their means."""
        return np.asarray(temperature_c + self.bend @ (self.means_c - self.share @ temperature_c))


def course_of(means_c: np.ndarray, index: pd.DatetimeIndex) -> Course:
    """The course of the year through twelve monthly means.

    Straight lines between the middles of months, their corners placed such that the months' means come out.
    """
    month = index.month.to_numpy() - 1
    hours = np.arange(len(month)) + 0.5
    count = np.bincount(month, minlength=_MONTHS)
    middle = np.cumsum(count) - 0.5 * count
    lines = np.array([np.interp(hours, middle, corner, period=len(month)) for corner in np.eye(_MONTHS)]).T
    share = (month == np.arange(_MONTHS)[:, np.newaxis]) / count[:, np.newaxis]
    bend = lines @ np.linalg.inv(share @ lines)
    return Course(bend, share, means_c, np.full(len(month) // DAY_H, 3.5))


def temperature_c(clear: np.ndarray, noise: np.ndarray, sky: Sky, course: Course) -> np.ndarray:
    """(hours,) air temperature of days of this clearness (days,), from independent normal noise (days,)."""
    days = np.arange(len(clear)) + 0.5
    hours = (np.arange(len(clear) * DAY_H) + 0.5) / DAY_H
    spells = np.interp(hours, days, correlated(noise, SPELL_LAG_1) * course.spell_c)
    lit = sky.extra_day_wh > 0.0
    width = np.interp(hours, days, np.minimum((clear * lit / RANGE_FACTOR) ** 2, WIDEST_RANGE_C))
    swing = 0.5 * width * np.cos(2.0 * np.pi * (hours - WARMEST_H / DAY_H))
    return course.met(spells + swing)
