"""Air temperature that goes with synthetic light: season, warm and cold spells, day and night.

The numbers are our own defaults, set by eye to three open typical years: daily means vary more in the cold season and
inland; a clear day is warm under a high sun and cold under a low one; clear days have wider swings.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H
from sim.weather.monthly import MONTHS

WARMEST_H, COLDEST_H = 14.5, 5.5  # solar time
# f in K = f·√(daily range), Hargreaves & Samani 1982; FAO-56, eq. 50, puts 0.19 at coasts and 0.16 inland, which is
# told here by the year's range of monthly means, °C.
SEASONS_C, RANGE_FACTORS = (10.0, 25.0), (0.19, 0.16)
WIDEST_C = 20.0
CLEAR_SHARE = 0.6  # of the swing that grows with the day's clearness
SPELL_LAG_1 = 0.7  # of daily means from day to day
# Standard deviation of daily means in the coldest and the warmest month: K, and its growth with the year's range of
# monthly means, since spells are wilder inland.
SPELL_COLD, SPELL_WARM = (1.6, 0.205), (0.75, 0.06)
TIE = 0.5  # largest correlation of daily mean and clearness
EVEN_WH, TIED_WH = 6500.0, 4000.0  # a day's irradiation above the atmosphere without such a tie, and from there to TIE
_SEASONLESS_C = 3.0  # range of monthly means below which winter and summer draw together


@dataclass(frozen=True, eq=False)
class Course:
    """How a year of air is bent to its monthly means, and how its days vary.

    ``bend`` (hours, 12) draws a line without jumps from corrections of twelve means that ``share`` (12, hours) takes;
    ``spell_c``, ``tie`` and ``swing_c`` are (days,), ``cycle`` (hours,) is −½ … ½ from coldest to warmest.
    """

    bend: np.ndarray
    share: np.ndarray
    means_c: np.ndarray
    spell_c: np.ndarray
    tie: np.ndarray
    swing_c: np.ndarray
    cycle: np.ndarray

    def width_c(self, clear: np.ndarray) -> np.ndarray:
        """The swing of days whose clearness over the month's mean is ``clear`` (…, days), °C."""
        return np.asarray(self.swing_c * (1.0 - CLEAR_SHARE + CLEAR_SHARE * clear))

    def met(self, temperature_c: np.ndarray) -> np.ndarray:
        """The temperatures moved, without jumps, until the months have their means."""
        return np.asarray(temperature_c + self.bend @ (self.means_c - self.share @ temperature_c))


def course_of(
    means_c: np.ndarray, clearness: np.ndarray, index: pd.DatetimeIndex, solar_h: np.ndarray, extra_wh: np.ndarray
) -> Course:
    """The course of a year from twelve means of air, °C, and of clearness.

    ``solar_h`` (hours,) is solar time, ``extra_wh`` (days,) the irradiation above the atmosphere in Wh/m².

    Straight lines run between the middles of months; their corners are placed such that the months' means come out.
    """
    month = index.month.to_numpy() - 1
    count = np.bincount(month, minlength=MONTHS)
    middle, hours = np.cumsum(count) - 0.5 * count, np.arange(len(month)) + 0.5
    lines = np.array([np.interp(hours, middle, corner, period=len(month)) for corner in np.eye(MONTHS)]).T
    share = (month == np.arange(MONTHS)[:, np.newaxis]) / count[:, np.newaxis]
    of_day = month[::DAY_H]
    swing = np.minimum((clearness / np.interp(np.ptp(means_c), SEASONS_C, RANGE_FACTORS)) ** 2, WIDEST_C)[of_day]
    bend = lines @ np.linalg.inv(share @ lines)
    return Course(bend, share, means_c, spells_c(means_c)[of_day], tie(extra_wh), swing, cycle(solar_h))


def season(means_c: np.ndarray) -> np.ndarray:
    """(12,) −1 in the coldest month to 1 in the warmest, less far apart where there are hardly seasons.

    >>> season(np.array([0.0, 10.0, 20.0])).tolist(), season(np.full(12, 26.0))[0]
    ([-1.0, 0.0, 1.0], np.float64(0.0))
    """
    low, high = means_c.min(), means_c.max()
    return np.asarray((2.0 * means_c - low - high) / max(high - low, _SEASONLESS_C))


def tie(extra_wh: np.ndarray) -> np.ndarray:
    """(days,) correlation of a day's clearness with its warmth, from its irradiation above the atmosphere, Wh/m².

    A clear sky warms where the sun gives more by day than the sky takes by night, and cools where it gives less.

    >>> tie(np.array([0.0, 6500.0, 8500.0, 11000.0])).tolist()
    [-0.5, 0.0, 0.25, 0.5]
    """
    return np.asarray(TIE * np.clip((extra_wh - EVEN_WH) / TIED_WH, -1.0, 1.0))


def spells_c(means_c: np.ndarray) -> np.ndarray:
    """(12,) standard deviation of daily means about the month's, °C, between its values in winter and in summer.

    >>> spells_c(np.array([0.0, 10.0, 20.0])).round(2).tolist()
    [5.7, 3.82, 1.95]
    """
    cold, warm = (constant + growth * np.ptp(means_c) for constant, growth in (SPELL_COLD, SPELL_WARM))
    return np.asarray(cold + 0.5 * (season(means_c) + 1.0) * (warm - cold))


def cycle(solar_h: np.ndarray) -> np.ndarray:
    """Half a cosine down from the warmest to the coldest hour and half a one up again, ½ … −½.

    >>> cycle(np.array([14.5, 22.0, 5.5, 10.0])).round(6).tolist()
    [0.5, 0.0, -0.5, 0.0]
    """
    falling_h = (COLDEST_H - WARMEST_H) % DAY_H
    since_h = (solar_h - WARMEST_H) % DAY_H
    phase = np.where(since_h < falling_h, since_h / falling_h, 1.0 + (since_h - falling_h) / (DAY_H - falling_h))
    return np.asarray(0.5 * np.cos(np.pi * phase))


def temperature_c(clear: np.ndarray, scores: np.ndarray, noise: np.ndarray, course: Course) -> np.ndarray:
    """(hours,) air temperature, °C, of days whose clearness over the month's mean is ``clear`` (days,).

    ``scores`` (days,) are the normal scores of the days' clearness, ``noise`` (days,) is independent of them. Means
    and swings of days run on straight lines from noon to noon.
    """
    spells = course.tie * scores + np.sqrt(1.0 - course.tie**2) * correlated(noise, SPELL_LAG_1)
    noons, hours = np.arange(len(clear)) + 0.5, (np.arange(len(course.cycle)) + 0.5) / DAY_H
    mean, swing = (np.interp(hours, noons, values) for values in (course.spell_c * spells, course.width_c(clear)))
    return course.met(mean + swing * course.cycle)
