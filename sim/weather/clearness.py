"""Daily clearness: how it is distributed within a month, and how days follow each other.

Clearness is horizontal irradiation over what arrives above the atmosphere.
"""

import numpy as np

LAG_1 = 0.29  # of daily clearness made normal month by month: Graham, Hollands & Huget 1988, Solar Energy 40, 83–92
DAYS_A_MONTH = 365.0 / 12.0
# Of the dullest day. Bendt, Collares-Pereira & Rabl 1981 put 0.05; the dullest of the 1095 days of three open typical
# years has 0.111, and with 0.05 a cloudy coast would get dull days by the dozen that its open year does not have.
LOWEST = 0.11
# Under a low sun where many years are made: between both, by the stores that recorded winters of four places need.
LOWEST_LOW_SUN = 0.07
LOW_SUN_WH = (2500.0, 6500.0)  # a day's irradiation above the atmosphere with a low sun, and from which on it is high
_FITTED = (0.2, 0.8)  # monthly means beyond which the formula of the clearest day is not followed; a choice
_STEEPEST = 700.0
_HALVINGS = 60
_STRAIGHT = 1e-3  # steepness below which a series or a limit stands for the formula


def clearest(mean: np.ndarray | float) -> np.ndarray:
    """Clearness of the clearest day for a monthly mean: Hollands & Huget 1983, Solar Energy 30, 195–209.

    K_max = 0.6313 + 0.267·K − 11.9·(K − 0.75)⁸, with K kept within 0.2 and 0.8.

    >>> round(float(clearest(0.5)), 4)
    0.7646
    """
    inside = np.clip(mean, *_FITTED)
    return np.asarray(0.6313 + 0.267 * inside - 11.9 * (inside - 0.75) ** 8)


def low_sun(extra_wh: np.ndarray) -> np.ndarray:
    """How low the sun is on days with this irradiation above the atmosphere, Wh/m²: 1 in a northern winter … 0.

    >>> low_sun(np.array([2000.0, 4500.0, 9000.0])).tolist()
    [1.0, 0.5, 0.0]
    """
    return np.asarray(np.interp(extra_wh, LOW_SUN_WH, (1.0, 0.0)))


def lowest(low_sun: np.ndarray) -> np.ndarray:
    """Clearness of the dullest day where the sun is so low, 0 … 1."""
    return np.asarray(LOWEST - low_sun * (LOWEST - LOWEST_LOW_SUN))


def mean_of(g: np.ndarray | float) -> np.ndarray:
    """The mean of the density ∝ e^(g·x) on 0 … 1: 1/(1 − e^(−g)) − 1/g, by its series where g is small.

    >>> mean_of(np.array([-2.0, 0.0, 2.0])).round(4).tolist()
    [0.3435, 0.5, 0.6565]
    """
    flat = np.abs(g) < _STRAIGHT
    safe = np.where(flat, 1.0, g)
    return np.asarray(np.where(flat, 0.5 + np.asarray(g) / 12.0, -1.0 / np.expm1(-safe) - 1.0 / safe))


def steepness(mean: np.ndarray | float) -> np.ndarray:
    """The g of the density ∝ e^(g·x) on 0 … 1 that has this mean, −700 … 700; by halving an interval.

    This is the exact root of Bendt, Collares-Pereira & Rabl 1981, Solar Energy 27, 1–5: their γ is g/(K_max − K_min)
    for the mean (K − K_min)/(K_max − K_min).

    >>> mean_of(steepness(np.array([0.1, 0.5, 0.9]))).round(9).tolist()
    [0.1, 0.5, 0.9]
    """
    low, high = np.full(np.shape(mean), -_STEEPEST), np.full(np.shape(mean), _STEEPEST)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        below = mean_of(middle) < mean
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def below(x: np.ndarray | float, g: np.ndarray | float) -> np.ndarray:
    """The share of days below x, 0 … 1, where the density is ∝ e^(g·x): (1 − e^(g·x))/(1 − e^g).

    >>> float(below(0.25, 0.0))
    0.25
    """
    safe = np.where(np.abs(g) < _STRAIGHT**2, _STRAIGHT**2, g)
    return np.asarray(np.round(np.expm1(safe * x) / np.expm1(safe), 12))


def quantile(z: np.ndarray, g: np.ndarray | float) -> np.ndarray:
    """The x in 0 … 1 below which lies the share Φ(z) of the density ∝ e^(g·x).

    x = ln(Φ(z)·e^g + 1 − Φ(z))/g, in logarithms so that it holds for any g and z.

    >>> quantile(np.array([-40.0, 0.0, 40.0]), 0.0).round(6).tolist()
    [0.0, 0.5, 1.0]
    """
    from scipy.special import log_ndtr

    safe = np.where(np.abs(g) < _STRAIGHT**2, _STRAIGHT**2, g)
    return np.asarray(np.clip(np.logaddexp(log_ndtr(z) + safe, log_ndtr(-z)) / safe, 0.0, 1.0))


def driver_lag_1(measured: float = LAG_1, days: float = DAYS_A_MONTH) -> float:
    """Lag-1 of the Gaussian for a lag-1 measured within months, whose own means are taken out.

    Taking out the mean of n values lowers a lag-1 of φ by (1 + 4·φ)/n: Marriott & Pope 1954, Biometrika 41, 390–402.

    >>> round(driver_lag_1(), 3)
    0.372
    """
    return (measured + 1.0 / days) / (1.0 - 4.0 / days)


def correlated(noise: np.ndarray, lag_1: float) -> np.ndarray:
    """A first-order autoregressive series of unit variance from independent normal noise (n,).

    z_k = φ·z_(k−1) + √(1 − φ²)·ε_k, begun in its steady state.

    >>> correlated(np.array([1.0, 0.0, 0.0]), 0.5).tolist()
    [1.0, 0.5, 0.25]
    """
    from scipy.signal import lfilter

    driven = noise * np.sqrt(1.0 - lag_1**2)
    driven[0] = noise[0]
    return np.asarray(lfilter([1.0], [1.0, -lag_1], driven))
