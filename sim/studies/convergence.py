"""How many years are enough: a tenth of the years, estimated from more and more of them."""

from dataclasses import dataclass
from typing import Any

import numpy as np

RESAMPLES = 400  # of the bootstrap; gives a standard error within some 4 %
CLOSE = 0.1  # of the distance from the median: a standard error that is small enough; our own default
FEWEST = 10  # years that have a tenth part
FIRST = 5  # years: fewer say nothing
STEP = 1.3  # from one number of years to the next


@dataclass(frozen=True)
class Convergence:
    """The estimate of ``what`` after the first ``years`` (n,) of them, its standard error, and how many are enough.

    ``enough`` is where the standard error is ``allowed``, by its fall with the root of the number of years.
    """

    what: str
    years: tuple[int, ...]
    estimate: tuple[float, ...]
    standard_error: tuple[float, ...]
    allowed: float
    enough: int

    def in_words(self) -> str:
        """How many years are enough, in a sentence."""
        last, error = self.years[-1], self.standard_error[-1]
        if last < FEWEST:
            return f"{last} years are too few to tell the poorest tenth of years."
        are = "are enough" if self.enough <= last else "would be enough"
        return (
            f"With {last} years the P10 of the {self.what} is known within {error:.0f} h (one standard error); about "
            f"{self.enough} years {are} to know it within {self.allowed:.0f} h, a tenth of its distance from the "
            "median."
        )

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "years": list(self.years),
            "of": self.what,
            "p10_h": list(self.estimate),
            "standard_error_h": list(self.standard_error),
            "allowed_error_h": self.allowed,
            "enough_years": self.enough,
        }


def numbers_of_years(years: int) -> tuple[int, ...]:
    """Numbers of years from the first that say something to all, each some share more than the last.

    >>> numbers_of_years(20)
    (5, 6, 8, 11, 14, 19, 20)
    """
    numbers, next_one = [], float(FIRST)
    while next_one < years:
        numbers.append(round(next_one))
        next_one *= STEP
    return (*numbers, years)


def standard_error(values: np.ndarray, share: float, seed: int = 1) -> float:
    """Standard error of a quantile by the bootstrap: Efron 1979, Annals of Statistics 7, 1–26.

    The standard deviation of the quantile over resamples drawn with replacement; the same on every machine.

    >>> standard_error(np.full(20, 7.0), 0.1)
    0.0
    """
    raw = np.random.PCG64(seed).random_raw(RESAMPLES * len(values))
    drawn = values[(raw % np.uint64(len(values))).astype(np.int64)].reshape(RESAMPLES, -1)
    return float(np.std(np.quantile(drawn, share, axis=1), ddof=1))


def convergence_of(what: str, hours: np.ndarray, share: float) -> Convergence:
    """How a quantile of a year's hours (years,) settles as years are added in their order."""
    numbers = numbers_of_years(len(hours))
    errors = tuple(standard_error(hours[:n], share) for n in numbers)
    allowed = CLOSE * abs(float(np.median(hours) - np.quantile(hours, share)))
    enough = int(np.ceil(len(hours) * (errors[-1] / allowed) ** 2)) if allowed > 0.0 else FIRST
    estimates = tuple(float(np.quantile(hours[:n], share)) for n in numbers)
    return Convergence(what, numbers, estimates, errors, allowed, max(enough, FIRST))
