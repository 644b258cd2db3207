"""One design through many years of weather: how a poor year differs from a usual one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.scenario import Scenario
from sim.studies.chains import Ran, Years, as_in, recorded, run_years, synthetic
from sim.studies.commissioning import expected_readings
from sim.studies.convergence import FEWEST, Convergence, convergence_of
from sim.studies.result import YearResult
from sim.studies.year import simulate_year
from sim.weather import Weather, weathers_for
from sim.weather.many import seed_of, years_for

__all__ = ["FEWEST", "MOST", "Quantiles", "SpreadResult", "recorded_years", "study_spread"]

MOST = 10_000  # synthetic years
FEWEST_RECORDED = 2  # years are a spread already, though a narrow base for a tenth
POOR = 0.1  # of the years are as poor as the poor year, or poorer
SHARES = (0.1, 0.5, 0.9)
Progress = Callable[[int, int], None]


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
class SpreadResult:
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
    poor_year: YearResult
    typical: YearResult

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

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        poor = self.poor_year.measures
        *by_month, of_the_year = self.light_cv.tolist()
        return {
            "years": self.years,
            **{name: self.quantiles(figure).as_json() for name, figure in _PUBLISHED.items()},
            "ghi_kwh_m2_by_month": Quantiles.of(self.light).as_json(),
            "ghi_cv_by_month": by_month,
            "ghi_cv_year": of_the_year,
            "typical": self.typical.as_json(),
            "typical_rank": {"poorer_years": self.poorer_than_typical, "of": self.years},
            "poor_year_seed": self.seed,
            "poor_year": {"number": self.names[self.poor]} | {name: getattr(poor, name) for name in _OF_A_YEAR},
            "convergence": self.convergence.as_json(),
        }


LEVEL = 5e-4  # of the wanted hours; closer shares are the same
_PUBLISHED = {
    "pump_hours": "hours",
    "longest_stop_h": "longest_stop_h",
    "days_without_running": "idle_days",
    "hours_met_share": "hours_met_share",
    "pump_hours_by_month": "run_h",
}
_OF_A_YEAR = ("pump_hours", "hours_met_share", "longest_stop_h", "days_without_running")


def poor_year(hours: np.ndarray, met_share: np.ndarray) -> int:
    """The year that stands at a tenth of all years from the poorest on: by wanted hours met, then by pump hours.

    >>> poor_year(np.array([5.0, 5.0, 7.0, 6.0, 8.0]), np.array([0.9, 0.8, 1.0, 1.0, 1.0]))
    1
    """
    order = np.lexsort((hours, met_share))
    return int(order[int(POOR * len(order))])


def study_spread(
    scenario: Scenario,
    years: int = 200,
    seed: int | None = None,
    weathers: Sequence[Weather] | None = None,
    progress: Progress = lambda done, of: None,
    typical: YearResult | None = None,
) -> SpreadResult:
    """The design through many years, made up or those given; nothing is written.

    ``typical`` is the scenario's own year, where it has been simulated already.
    """
    if weathers is None:
        _check(scenario, years, seed)
        seed = seed_of(scenario) if seed is None else seed
        many, names = synthetic(years_for(scenario, weathers_for(scenario), seed), years), tuple(range(years))
    else:
        many, names = recorded(weathers), tuple(int(weather.index[0].year) for weather in weathers)
        seed = None
    ran = run_years([scenario], many, progress)
    return _result(scenario, many, ran, (seed, names), typical or simulate_year(scenario))


def _check(scenario: Scenario, years: int, seed: int | None) -> None:
    """Refuse numbers that say nothing."""
    if not FEWEST <= years <= MOST:
        raise InputError(str(scenario.path), "--years", years, f"a whole number from {FEWEST} to {MOST}")
    if seed is not None and seed < 0:
        raise InputError(str(scenario.path), "--seed", seed, "a whole number from 0 on")


def recorded_years(scenario: Scenario) -> tuple[Weather, ...]:
    """The calendar years of a scenario's weather data, to be run as they are.

    Raises InputError where the data hold a single year or are monthly means.
    """
    weathers = weathers_for(scenario)
    if len(weathers) < FEWEST_RECORDED:
        key = next(name for name in ("file", "files", "sample", "monthly") if getattr(scenario.weather, name, None))
        allowed = f"weather of {FEWEST_RECORDED} calendar years or more, for --recorded; without it years are made up"
        raise InputError(str(scenario.path), f"weather.{key}", len(weathers), allowed)
    return weathers


def _days_by_month(weather: Weather) -> np.ndarray:
    return np.bincount(weather.index.month.to_numpy()[::24], minlength=13)[1:]


def _wanted_h(scenario: Scenario, many: Years) -> np.ndarray:
    """(years,) hours wanted in each year; made-up ones are all of one calendar."""
    by_month = np.asarray(scenario.need.hours_per_day)
    numbers = (0,) if many.leads_in else range(many.count)
    return np.resize([by_month @ _days_by_month(many.weather(number)) for number in numbers], many.count)


def _result(
    scenario: Scenario, many: Years, ran: Ran, named: tuple[int | None, tuple[int, ...]], typical: YearResult
) -> SpreadResult:
    """What the years come to."""
    (figures,), (seed, names), wanted_h = ran.figures, named, _wanted_h(scenario, many)
    met_h = figures["met_h"].sum(axis=1)
    met = met_h / wanted_h if wanted_h.all() else np.ones(len(met_h))
    what, matter = ("wanted hours met", met_h) if wanted_h.all() else ("pump hours", figures["hours"])
    poor, days = poor_year(figures["hours"], met), _days_by_month(many.weather(0))
    return SpreadResult(
        scenario=scenario,
        seed=seed,
        names=names,
        figures=figures,
        light=ran.light,
        hours_met_share=met,
        days_by_month=days,
        wanted_by_month=np.asarray(scenario.need.hours_per_day) * days,
        convergence=convergence_of(what, matter, POOR),
        poor=poor,
        poor_year=_whole(scenario, many, ran, poor),
        typical=typical,
    )


def _whole(scenario: Scenario, many: Years, ran: Ran, number: int) -> YearResult:
    """A year simulated with all that its report tells, from what the year before it left."""
    weather = many.weather(number)
    design = as_in(scenario, weather, number)
    made = simulate_year(design, weather, ended=ran.before(0, number))
    return replace(made, readings=expected_readings(design))
