"""Running as fish need it: most before dawn in warm water, which holds least oxygen."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sim.figures.series import by_day
from sim.scenario.water import Water as Pond

SMALL_HOURS = slice(0, 6)  # after midnight, when water holds least oxygen
FISH_WEIGHTS = {"any other hour": 1.0, "warm water": 2.0, "00 to 06 of a warm night": 4.0}  # our own defaults


@dataclass(frozen=True)
class ForFish:
    """Running as fish need it: hours of the year, weighed by ``weights``, and the share of them in which it ran."""

    weights: Mapping[str, float]
    hours: float
    weighted_h: float
    share: float


def warm_nights(pond: Pond, water_c: np.ndarray) -> np.ndarray:
    """(days,) whether the water is warm between midnight and six."""
    return np.asarray(by_day(water_c)[:, SMALL_HOURS].mean(axis=1) > pond.warm_limit_c)


def fish_weights(warm: np.ndarray, water_c: np.ndarray, warm_c: float) -> np.ndarray:
    """(hours,) what an hour of running is worth to fish: once; more in warm water; most in its small hours.

    ``warm`` nights are (days,), the water's temperature (hours,).

    >>> fish_weights(np.array([True]), np.repeat([25.0, 15.0], 12), 20.0)[[0, 6, 12]].tolist()
    [4.0, 2.0, 1.0]
    """
    weights = by_day(np.where(water_c > warm_c, FISH_WEIGHTS["warm water"], FISH_WEIGHTS["any other hour"]))
    weights[warm, SMALL_HOURS] = FISH_WEIGHTS["00 to 06 of a warm night"]
    return weights.ravel()


def for_fish(pond: Pond, water_c: np.ndarray, run_h: np.ndarray) -> ForFish:
    """Hours run, weighed; the water's temperature and hours run are (hours,)."""
    weights = fish_weights(warm_nights(pond, water_c), water_c, pond.warm_limit_c)
    whole, ran = float(weights.sum()), float(weights @ run_h)
    return ForFish(FISH_WEIGHTS, whole, ran, ran / whole)
