"""Daily clearness: how it is distributed within a month, how days follow each other, hit to a month's mean.

Clearness is horizontal irradiation over what arrives above the atmosphere.
"""

from __future__ import annotations

import numpy as np

LOWEST = 0.05  # clearness of the dullest day: Bendt, Collares-Pereira & Rabl 1981
LAG_1 = 0.29  # of the Gaussian behind daily clearness: Graham, Hollands & Huget 1988, Solar Energy 40, 83–92
_FITTED = (0.2, 0.8)  # monthly means beyond which the formula of the clearest day is not followed; a choice
_HALVINGS = 60


def clearest(mean: np.ndarray | float) -> np.ndarray:
    """Clearness of the clearest day for a monthly mean: Hollands & Huget 1983, Solar Energy 30, 195–209.

    K_max = 0.6313 + 0.267·K − 11.9·(K − 0.75)⁸, K kept within 0.2 and 0.8, and the result above the mean.

    >>> round(float(clearest(0.5)), 4)
    0.7646
    """
    inside = np.clip(mean, *_FITTED)
    formula = 0.6313 + 0.267 * inside - 11.9 * (inside - 0.75) ** 8
    return np.asarray(np.maximum(formula, 0.5 * (mean + 1.0) * (np.asarray(mean) > _FITTED[1])))


def steepness(mean_share: np.ndarray | float) -> np.ndarray:
    """g of the density ∝ e^(g·x) on 0 … 1 whose mean is ``mean_share``: 1/(1 − e^(−g)) − 1/g = mean.

    The exact root of Bendt, Collares-Pereira & Rabl 1981, whose γ is g/(K_max − K_min). By halving an interval.

    >>> float(abs(steepness(0.5))) < 1e-6
    True
    >>> round(float(steepness(0.6297)) / (0.7646 - 0.05), 2)  # mean clearness 0.5
    2.27
    """
    low, high = np.full(np.shape(mean_share), -700.0), np.full(np.shape(mean_share), 700.0)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        below = _mean_of(middle) < mean_share
        low, high = np.where(below, middle, low), np.where(below, high, middle)
    return np.asarray(0.5 * (low + high))


def _mean_of(g: np.ndarray) -> np.ndarray:
    """1/(1 − e^(−g)) − 1/g, by its series where g is small."""
    safe = np.where(np.abs(g) < 1e-3, 1.0, g)
    return np.asarray(np.where(np.abs(g) < 1e-3, 0.5 + g / 12.0, -1.0 / np.expm1(-safe) - 1.0 / safe))


def quantile(z: np.ndarray, g: np.ndarray) -> np.ndarray:
    """x in 0 … 1 of the density ∝ e^(g·x) at which its distribution equals Φ(z).

    x = ln(Φ(z)·e^g + 1 − Φ(z))/g, in logarithms so that it holds for any g and z.

    >>> quantile(np.array([-40.0, 0.0, 40.0]), np.array(0.0)).round(6).tolist()
    [0.0, 0.5, 1.0]
    """
    from scipy.special import log_ndtr

    g = np.where(np.abs(g) < 1e-6, 1e-6, g)
    return np.clip(np.logaddexp(log_ndtr(z) + g, log_ndtr(-z)) / g, 0.0, 1.0)


def correlated(noise: np.ndarray, lag_1: float) -> np.ndarray:
    """A first-order autoregressive series of unit variance from independent normal noise along the last axis.

    z_k = φ·z_(k−1) + √(1 − φ²)·ε_k, begun in its steady state.

    >>> correlated(np.array([1.0, 0.0, 0.0]), 0.5).tolist()
    [1.0, 0.5, 0.25]
    """
    from scipy.signal import lfilter

    driven = noise * np.sqrt(1.0 - lag_1**2)
    driven[..., 0] = noise[..., 0]
    return np.asarray(lfilter([1.0], [1.0, -lag_1], driven, axis=-1))
