"""Hourly and daily series by month and by day."""

import numpy as np

HOURS_A_DAY = 24


def by_month(hourly: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(12,) sums of an hourly series (n,) by the month 1…12 of each hour.

    >>> by_month(np.ones(3), np.array([1, 1, 12])).tolist()
    [2.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0]
    """
    return np.bincount(months, weights=hourly, minlength=13)[1:13]


def sums(place: np.ndarray, values: np.ndarray, count: int) -> np.ndarray:
    """(count,) sums of values (n,) by their place 0…count − 1, also of none at all.

    >>> sums(np.array([1, 1]), np.array([0.5, 0.25]), 3).tolist(), sums(np.empty(0, int), np.empty(0), 1).tolist()
    ([0.0, 0.75, 0.0], [0.0])
    """
    return np.bincount(place, values, count).astype(float)


def by_day(hourly: np.ndarray) -> np.ndarray:
    """(days, 24) of an hourly series that begins at midnight."""
    return hourly.reshape(-1, HOURS_A_DAY)


def longest_run(holds: np.ndarray) -> int:
    """The longest run in which something holds, around a year that is a ring, (n,) of bool.

    >>> longest_run(np.array([True, False, True, True])), longest_run(np.ones(3, bool)), longest_run(np.zeros(3, bool))
    (3, 3, 0)
    """
    return min(longest_without(~np.tile(holds, 2)), len(holds))


def longest_without(reached: np.ndarray) -> int:
    """The longest run of days on which something was not reached.

    >>> longest_without(np.array([False, True, False, False, True]))
    2
    """
    marks = np.flatnonzero(np.concatenate(([True], reached, [True])))
    return int(np.diff(marks).max() - 1)
