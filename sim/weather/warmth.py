"""How far a month's air lies from its mean from year to year, and air of days that is free to vary so.

The numbers are our own, fitted by eye to nine places with 20 to 50 recorded years: a month's mean temperature varies
most in winter, and inland; a bright month is warm in summer and cold in winter.
"""

from typing import NamedTuple

import numpy as np

from sim.weather.air import SPELL_LAG_1, Course, season
from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H
from sim.weather.monthly import MONTHS

# Standard deviation of the coldest month's mean, K, and its growth with the year's range of means.
WINTER_C = (0.5, 0.1)
SUMMER_C = 1.2  # of the warmest month's
EQUATOR, OUTSIDE_DEG = 0.4, 30.0  # share of both at the equator, and the latitude from which on they hold in full
LIGHT_TIE = (0.1, 0.4)  # correlation of the month's air with its light at mid-season, and its growth with the season
# A line between the middles of months whose means are given: its corners are these shares of the means around, which
# undo what the mean over a month takes from a corner: the inverse of (1/8, 3/4, 1/8), cut after two neighbours.
_RATIO = -(3.0 - 2.0 * np.sqrt(2.0))
_CORNER = _RATIO ** np.abs(np.arange(-2, 3))


class Yearly(NamedTuple):
    """How a place's air varies over years: ``light_c`` and ``own_c`` (12,) are K for one standard deviation.

    ``taken_c`` (12,) is how much of the mean of a month's warm and cold spells is taken out again, K for one,
    ``base_c`` (hours,) leads what days and nights come to on average to the months' means, ``month`` is (days,).
    """

    light_c: np.ndarray
    own_c: np.ndarray
    taken_c: np.ndarray
    base_c: np.ndarray
    month: np.ndarray


class Years(NamedTuple):
    """The year before, a year and the year after: ``clear``, ``scores`` and ``noise`` are (3, days).

    ``clear`` is clearness over the month's mean, ``scores`` its normal scores, ``noise`` independent of them. Of the
    months (36,) are ``light``, how bright they are, and ``own``, both in standard deviations.
    """

    clear: np.ndarray
    scores: np.ndarray
    noise: np.ndarray
    light: np.ndarray
    own: np.ndarray


def spread_c(means_c: np.ndarray, latitude_deg: float) -> np.ndarray:
    """(12,) standard deviation of a month's mean temperature from year to year, K, from the twelve means, °C.

    >>> spread_c(np.array([0.0, 10.0, 20.0]), 45.0).round(2).tolist()
    [2.5, 1.85, 1.2]
    """
    winter = WINTER_C[0] + WINTER_C[1] * np.ptp(means_c)
    place = np.interp(abs(latitude_deg), (0.0, OUTSIDE_DEG), (EQUATOR, 1.0))
    return np.asarray(place * (winter + 0.5 * (season(means_c) + 1.0) * (SUMMER_C - winter)))


def light_tie(means_c: np.ndarray) -> np.ndarray:
    """(12,) correlation of a month's mean temperature with its light.

    >>> light_tie(np.array([0.0, 10.0, 20.0])).round(2).tolist()
    [-0.3, 0.1, 0.5]
    """
    return np.asarray(LIGHT_TIE[0] + LIGHT_TIE[1] * season(means_c))


def yearly_of(course: Course, month: np.ndarray, latitude_deg: float, mean_sd: np.ndarray) -> Yearly:
    """How the air of a place varies, from its course through the year and the months (days,) of its days.

    ``mean_sd`` (12,) is the standard deviation of a month's mean score of light. Days by themselves already make months
    vary: with a score's share ``tie`` and spells of their own. What they lack in covariance with the light and in
    variance is added to the whole month; what they have too much is taken from the spells.
    """
    count = np.bincount(month, minlength=MONTHS)
    wanted_c, wanted_tie = spread_c(course.means_c, latitude_deg), light_tie(course.means_c)
    spell_c, tie = (np.bincount(month, values, MONTHS) / count for values in (course.spell_c, course.tie))
    spells_c = spell_c * np.sqrt((1.0 - tie**2) * [_mean_variance(days) for days in count.tolist()])
    nights_c = _hours(_with_ends(course.swing_c)) * course.cycle
    rest_c = wanted_c * np.sqrt(1.0 - wanted_tie**2)
    kept = np.minimum(rest_c / spells_c, 1.0)
    return Yearly(
        light_c=wanted_tie * wanted_c - tie * spell_c * mean_sd,
        own_c=np.sqrt(np.maximum(rest_c**2 - spells_c**2, 0.0)),
        taken_c=(1.0 - kept) * spell_c * np.sqrt(1.0 - tie**2),
        base_c=course.met(nights_c) - nights_c,
        month=month,
    )


def _mean_variance(days: int) -> float:
    """Variance of the mean of as many days' spells."""
    apart = np.abs(np.subtract.outer(np.arange(days), np.arange(days)))
    return float((SPELL_LAG_1**apart).mean())


def free_c(years: Years, course: Course, yearly: Yearly) -> np.ndarray:
    """(hours,) air temperature of the middle one of three years, °C, which leads on from and to its neighbours."""
    spells = correlated(years.noise.ravel(), SPELL_LAG_1).reshape(years.noise.shape)
    daily = course.spell_c * (course.tie * years.scores + np.sqrt(1.0 - course.tie**2) * spells)
    mean, swing = (_hours(_middle(values)) for values in (daily, course.width_c(years.clear)))
    taken, light, own = (np.tile(values, 3) for values in (yearly.taken_c, yearly.light_c, yearly.own_c))
    months = light * years.light + own * years.own - taken * monthly(spells, yearly.month)
    return np.asarray(mean + swing * course.cycle + yearly.base_c + line_c(months, yearly.month))


def monthly(values: np.ndarray, month: np.ndarray) -> np.ndarray:
    """(36,) means over the months of three years of days (3, days)."""
    count = np.bincount(month, minlength=MONTHS)
    return np.concatenate([np.bincount(month, year, MONTHS) / count for year in values])


def line_c(months: np.ndarray, month: np.ndarray) -> np.ndarray:
    """(hours,) straight lines between the middles of months that have these means (36,), in the second of three years.

    >>> line = line_c(np.ones(36), np.repeat(np.arange(12), 30))
    >>> len(line), round(float(line.min()), 9), round(float(line.max()), 9)
    (8640, 1.0, 1.0)
    """
    count = np.tile(np.bincount(month, minlength=MONTHS), 3)
    middle = DAY_H * (np.cumsum(count) - 0.5 * count - len(month))
    corners = np.convolve(months, _CORNER / _CORNER.sum(), "same")
    return np.asarray(np.interp(np.arange(len(month) * DAY_H) + 0.5, middle, corners))


def _middle(three: np.ndarray) -> np.ndarray:
    """The days of the second of three years, and the ones before and after."""
    days = three.shape[1]
    return np.asarray(three.ravel()[days - 1 : 2 * days + 1])


def _with_ends(days: np.ndarray) -> np.ndarray:
    """A year's days between the last and the first of the same."""
    return np.concatenate((days[-1:], days, days[:1]))


def _hours(days: np.ndarray) -> np.ndarray:
    """(hours,) on straight lines from noon to noon of days that begin with the one before the year's first."""
    count = len(days) - 2
    return np.asarray(np.interp((np.arange(count * DAY_H) + 0.5) / DAY_H, np.arange(count + 2) - 0.5, days))
