"""Hours a day as the days of a month have them: not the mean, but how poor its poor days are."""

from dataclasses import dataclass
from typing import Any

import numpy as np

SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Days:
    """(12,) hours a day that a tenth, a half and nine tenths of a month's days stay below, and its poorest day's."""

    p10: np.ndarray
    p50: np.ndarray
    p90: np.ndarray
    least: np.ndarray

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        named = {"p10": self.p10, "p50": self.p50, "p90": self.p90, "min": self.least}
        return {name: values.tolist() for name, values in named.items()}


def days_of(hours: np.ndarray, months: np.ndarray) -> Days:
    """Of hours by day (days,) with the month 1…12 of each; 0 in a month that is not there.

    >>> days_of(np.array([4.0, 8.0]), np.array([1, 1])).least[:2].tolist()
    [4.0, 0.0]
    """
    each = [hours[months == month] for month in range(1, 13)]
    shares = np.array([np.quantile(days, SHARES) if len(days) else np.zeros(len(SHARES)) for days in each])
    least = np.array([days.min() if len(days) else 0.0 for days in each])
    return Days(p10=shares[:, 0], p50=shares[:, 1], p90=shares[:, 2], least=least)
