"""Many years of one design side by side: what they lie between, and where the typical and the poor year stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Generic, Protocol, TypeVar

import numpy as np

from sim.weather.monthly import light_by_month

if TYPE_CHECKING:
    from sim.figures.measures import Measures
    from sim.scenario import Scenario
    from sim.studies.convergence import Convergence
    from sim.weather import Weather

POOR = 0.1  # of the years are as poor as the poor year, or poorer
SHARES = (0.1, 0.5, 0.9)
LEVEL = 5e-4  # of the wanted hours; closer shares are the same
_PUBLISHED = {
    "pump_hours": "hours",
    "longest_stop_h": "longest_stop_h",
    "days_without_running": "idle_days",
    "hours_met_share": "hours_met_share",
    "pump_hours_by_month": "run_h",
}
_OF_A_YEAR = ("pump_hours", "hours_met_share", "longest_stop_h", "days_without_running")


class Simulated(Protocol):
    """A year that was simulated in full."""

    @property
    def weather(self) -> Weather:
        """Its weather."""

    @property
    def measures(self) -> Measures:
        """Its figures."""

    def as_json(self) -> dict[str, Any]:
        """Its figures as plain data."""


Whole = TypeVar("Whole", bound=Simulated)


@dataclass(frozen=True)
class Quantiles:
    """What a tenth, a half and nine tenths of the years stay below, or (12,) of them month by month."""

    p10: Any
    p50: Any
    p90: Any

    @classmethod
    def of(cls, values: np.ndarray) -> Quantiles:
        """Of values (years,) or (years, 12)."""
        return cls(*np.quantile(values, SHARES, axis=0))

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        return {name: np.asarray(value).tolist() for name, value in vars(self).items()}


@dataclass(frozen=True)
class ManyYears(Generic[Whole]):
    """``figures`` (years,) of FIGURES, one a year in order, and ``light`` (years, 12), kWh/m² on the level.

    ``names`` (years,) are the numbers of synthetic years of a ``seed``, or the calendar years of recorded ones, which
    have none. ``hours_met_share`` is (years,), ``days_by_month`` and ``wanted_by_month`` are (12,). ``poor`` is the
    place of the poor year, and ``poor_year`` what the whole simulation says of it; ``typical`` is the scenario's own
    year.
    """

    scenario: Scenario
    seed: int | None
    names: tuple[int, ...]
    figures: np.ndarray
    light: np.ndarray
    hours_met_share: np.ndarray
    days_by_month: np.ndarray
    wanted_by_month: np.ndarray
    convergence: Convergence
    poor: int
    poor_year: Whole
    typical: Whole

    @property
    def synthetic(self) -> bool:
        """Whether the years were made up."""
        return self.seed is not None

    @property
    def years(self) -> int:
        """How many years."""
        return len(self.figures)

    @property
    def poor_name(self) -> str:
        """The poor year in words."""
        name = self.names[self.poor]
        return f"year {name} of seed {self.seed}" if self.synthetic else f"year {name}"

    def quantiles(self, name: str) -> Quantiles:
        """Of one of the FIGURES, or of ``hours_met_share``."""
        return Quantiles.of(self.hours_met_share if name == "hours_met_share" else self.figures[name])

    @property
    def hours_a_day(self) -> Quantiles:
        """Of each month's hours a day, (12,)."""
        return Quantiles.of(self.figures["run_h"] / self.days_by_month)

    @property
    def typical_light(self) -> np.ndarray:
        """(12,) kWh/m² on the level in the typical year."""
        return light_by_month(self.typical.weather)

    @property
    def light_cv(self) -> np.ndarray:
        """(13,) standard deviation over the mean of the months' light and of the years'; 0 where there is none."""
        light = np.column_stack((self.light, self.light.sum(axis=1)))
        mean, apart = light.mean(axis=0), light.std(axis=0, ddof=1)
        return np.asarray(np.divide(apart, mean, out=np.zeros(len(mean)), where=mean > 0.0))

    @property
    def poorer_than_typical(self) -> int:
        """How many years meet less of the wanted hours than the typical one, or as much in fewer pump hours."""
        own, met = self.typical.measures, self.hours_met_share
        level = np.abs(met - own.hours_met_share) < LEVEL
        return int(np.count_nonzero(np.where(level, self.figures["hours"] < own.pump_hours, met < own.hours_met_share)))

    def spans(self) -> dict[str, Any]:
        """What the years lie between, and where the typical one stands, under the published names."""
        found = {name: self.quantiles(figure).as_json() for name, figure in _PUBLISHED.items()}
        found["pump_hours_by_month"]["min"] = self.figures["run_h"].min(axis=0).tolist()
        return {
            "years": self.years,
            **found,
            "typical_rank": {"poorer_years": self.poorer_than_typical, "of": self.years},
        }

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        poor = self.poor_year.measures
        *by_month, of_the_year = self.light_cv.tolist()
        return self.spans() | {
            "ghi_kwh_m2_by_month": Quantiles.of(self.light).as_json(),
            "ghi_cv_by_month": by_month,
            "ghi_cv_year": of_the_year,
            "typical": self.typical.as_json(),
            "poor_year_seed": self.seed,
            "poor_year": {"number": self.names[self.poor]} | {name: getattr(poor, name) for name in _OF_A_YEAR},
            "convergence": self.convergence.as_json(),
        }
