"""How far a month's light lies from its mean from year to year, and how its days are made to vary so.

Days are driven by Gaussian scores. A month's mean score has a part that its days make by themselves and a part of the
month's own. Each day's score keeps unit variance whatever the parts are, so that daily clearness keeps its distribution
and each month its mean over the years.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from math import factorial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.polynomial import hermite_e

from sim.weather.clearness import quantile
from sim.weather.monthly import MONTHS, monthly_means

if TYPE_CHECKING:
    from sim.weather.weather import Weather

# Of scores from day to day without the month's own part; with that part the nine places' median of 0.34 comes out.
LAG_1 = 0.36
# Of the variance of a month's mean score this is shared with its neighbours: means of four months' noise (NEAR), which
# correlate by 3/4 from one to the next, so that neighbouring months do by some 0.2, as recorded ones.
NEAR_SHARE = 0.27
NEAR = 4
# Coefficient of variation of a month's light, fitted to nine places with 20 to 50 recorded years: 0.20·(1 − K), where K
# counts as at least 0.38, more in midwinter and less in midsummer, and less in the tropics, where one place says so.
CLOUDY, WINTRY, TROPICAL = 0.205, 0.15, 0.7
DULLEST = 0.38
TROPICS_DEG = (15.0, 30.0)
USUAL_MOST = 0.2  # variance of a month's mean score where nothing is asked: beyond, days are too much alike; a choice
MOST = 1.0  # and where something is; about half of a day's variance is then its month's
LEAST = 1e-4  # of which a month still has some, for what goes with it
FEWEST_YEARS = 5  # from which on recorded years have coefficients of their own; a choice
_NODES, _TERMS, _NEAR_ENOUGH = 64, 12, 1e-9


class Mixture(NamedTuple):
    """How scores of days come from their driver z: ``scale``·(z − (1 − ``kept``)·mean of z + …).

    To them come the month's own parts, ``near`` times a disturbance shared with neighbours and ``alone`` times one
    of its own. All are (12,), but ``scale`` is (days,). ``mean_sd`` (12,) is the standard deviation of a month's mean
    score, ``coefficient`` (12,) that of its light over the mean.
    """

    kept: np.ndarray
    near: np.ndarray
    alone: np.ndarray
    scale: np.ndarray
    mean_sd: np.ndarray
    coefficient: np.ndarray


class Month(NamedTuple):
    """A month's clearness: its mean, the squares (terms,) of its Hermite coefficients, and its days."""

    mean: float
    powers: np.ndarray
    days: int


def usual_coefficients(latitude_deg: float, mean: np.ndarray) -> np.ndarray:
    """(12,) coefficients of variation of the months' light, from their mean clearness (12,).

    >>> usual_coefficients(45.0, np.full(12, 0.5)).round(3)[[0, 6]].tolist()
    [0.118, 0.087]
    """
    away, turn = abs(latitude_deg), 2.0 * np.pi * np.arange(MONTHS) / MONTHS
    season = np.cos(turn) * np.sign(latitude_deg) * min(away / TROPICS_DEG[1], 1.0)
    place = np.interp(away, TROPICS_DEG, (TROPICAL, 1.0))
    return np.asarray(CLOUDY * (1.0 - np.maximum(mean, DULLEST)) * (1.0 + WINTRY * season) * place)


def recorded_coefficients(weathers: Sequence[Weather]) -> tuple[float, ...] | None:
    """Coefficients of variation of each month's light in recorded years, where there are five or more; else None.

    Of five years a coefficient is uncertain by a third already; of fewer the usual ones say more.
    """
    if len(weathers) < FEWEST_YEARS:
        return None
    light = np.array([monthly_means(weather).daily_ghi_kwh_m2 for weather in weathers])
    mean = light.mean(axis=0)
    return tuple(np.divide(light.std(axis=0, ddof=1), mean, out=np.zeros(MONTHS), where=mean > 0.0).tolist())


@lru_cache(maxsize=1)
def _polynomials() -> tuple[np.ndarray, np.ndarray]:
    """Normal scores (64,), and Hermite polynomials of unit variance times the weights there, (terms + 1, 64)."""
    nodes, weights = hermite_e.hermegauss(_NODES)
    scale = np.sqrt([float(factorial(order)) for order in range(_TERMS + 1)])
    return nodes, hermite_e.hermevander(nodes, _TERMS).T * (weights / weights.sum()) / scale[:, np.newaxis]


def month_of(low: float, high: float, steepness: float, days: int) -> Month:
    """A month whose days lie between two clearnesses with this steepness of their distribution.

    >>> month = month_of(0.1, 0.7, 0.0, 31)
    >>> round(month.mean, 4), round(float(month.powers.sum()) * 12 / 0.36, 2)
    (0.4, 1.0)
    """
    nodes, polynomials = _polynomials()
    terms = polynomials @ (low + (high - low) * quantile(nodes, steepness))
    return Month(float(terms[0]), terms[1:] ** 2, days)


class Parts(NamedTuple):
    """What is kept of the days' own mean, the variances added to it, and the (days, days) covariance of scores.

    The scores are not brought to unit variance yet.
    """

    kept: float
    near: float
    alone: float
    covariance: np.ndarray


def parts(total: float, days: int) -> Parts:
    """The parts of a month whose mean score has this variance.

    >>> kept, near, alone, covariance = parts(0.1, 31)
    >>> round(kept, 3), round(near, 3), round(alone, 3), round(float(covariance.mean()), 9)
    (1.0, 0.027, 0.006, 0.1)
    """
    of_days = LAG_1 ** np.abs(np.subtract.outer(np.arange(days), np.arange(days)))
    of_mean, near = float(of_days.mean()), NEAR_SHARE * total
    alone = max(total - near - of_mean, 0.0)
    kept = ((total - near - alone) / of_mean) ** 0.5
    taken = (1.0 - kept) * of_days.mean(axis=0)
    covariance = of_days - taken - taken[:, np.newaxis] + (1.0 - kept) ** 2 * of_mean + near + alone
    return Parts(kept, near, alone, covariance)


def correlation(covariance: np.ndarray) -> np.ndarray:
    """Covariances brought to unit variance."""
    scale = 1.0 / np.sqrt(np.diag(covariance))
    return np.asarray(covariance * scale * scale[:, np.newaxis])


def coefficient(month: Month, total: float) -> float:
    """Coefficient of variation of a month's light for a variance of its mean score.

    The covariance of f(x) and f(y) is Σ c_k²·ρ^k, with f's Hermite coefficients c_k and the scores' correlation ρ.
    """
    rho = correlation(parts(total, month.days).covariance)
    powers = np.cumprod(np.broadcast_to(rho, (_TERMS, *rho.shape)), axis=0).mean(axis=(1, 2))
    return float(np.sqrt(month.powers @ powers)) / month.mean if month.mean > 0.0 else 0.0


def total_for(month: Month, asked: float, most: float) -> float:
    """The variance of the mean score, up to ``most``, with which a month varies as asked, or as nearly as it can.

    Some 0.02 are left even without any, since light is not in proportion to scores.
    """
    from scipy.optimize import brentq

    if asked >= coefficient(month, most):
        return most
    if asked <= coefficient(month, LEAST):
        return LEAST
    return float(brentq(lambda total: coefficient(month, total) - asked, LEAST, most, xtol=_NEAR_ENOUGH))


def mixture(months: Sequence[Month], asked: np.ndarray, most: float) -> Mixture:
    """How scores are made for these coefficients (12,), or as close to them as ``most`` allows."""
    totals = [total_for(month, one, most) for month, one in zip(months, asked.tolist(), strict=True)]
    found = [parts(total, month.days) for month, total in zip(months, totals, strict=True)]
    return Mixture(
        kept=np.array([part.kept for part in found]),
        near=np.sqrt([part.near for part in found]),
        alone=np.sqrt([part.alone for part in found]),
        scale=np.concatenate([1.0 / np.sqrt(np.diag(part.covariance)) for part in found]),
        mean_sd=np.sqrt([correlation(part.covariance).mean() for part in found]),
        coefficient=np.array([coefficient(month, total) for month, total in zip(months, totals, strict=True)]),
    )


def disturbance(noise: np.ndarray) -> np.ndarray:
    """Means of each month's noise and of that of the three before, of unit variance; the first three months lack some.

    >>> disturbance(np.array([2.0, 0.0, 0.0, 0.0, 0.0])).round(6).tolist()
    [1.0, 1.0, 1.0, 1.0, 0.0]
    """
    return np.asarray(np.convolve(noise, np.full(NEAR, NEAR**-0.5))[: len(noise)])
