"""One design through many years of weather: how a poor year differs from a usual one."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.figures.lanes import FIGURES, figures_of
from sim.light.sunlight import sunlight_on
from sim.plant.records import SKY
from sim.plant.run import How, run, tally
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.studies.commissioning import expected_readings
from sim.studies.convergence import FEWEST, Convergence, convergence_of
from sim.studies.result import YearResult
from sim.studies.year import simulate_year
from sim.weather import Weather, weather_for, weathers_for
from sim.weather.synthesis import monthly_means, synthesiser, synthesiser_for

__all__ = ["FEWEST", "MOST", "Quantiles", "SpreadResult", "recorded_years", "study_spread"]

MOST = 10_000  # synthetic years
FEWEST_RECORDED = 2  # years are a spread already, though a narrow base for a tenth
YEARS_AT_ONCE = 20  # a hand's sky is then some 80 MB, and of two cores two hands are in memory
POOR = 0.1  # of the years are as poor as the poor year, or poorer
SHARES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Quantiles:
    """What a tenth, a half and nine tenths of the years stay below, or (12,) of them month by month."""

    p10: Any
    p50: Any
    p90: Any

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        return {name: np.asarray(value).tolist() for name, value in vars(self).items()}


@dataclass(frozen=True)
class SpreadResult:
    """``figures`` (years,) of FIGURES, one a year in order; ``names`` (years,) are the seeds or the years as recorded.

    ``typical`` is the weather whose monthly means the synthetic years have, where it is a file or a sample.
    ``hours_met_share`` is (years,), ``days_by_month`` and ``wanted_by_month`` are (12,). ``poor`` is the place of the
    poor year, and ``poor_year`` what the whole simulation says of it.
    """

    scenario: Scenario
    synthetic: bool
    typical: Weather | None
    names: tuple[int, ...]
    figures: np.ndarray
    hours_met_share: np.ndarray
    days_by_month: np.ndarray
    wanted_by_month: np.ndarray
    convergence: Convergence
    poor: int
    poor_year: YearResult

    @property
    def years(self) -> int:
        """How many years."""
        return len(self.figures)

    @property
    def poor_name(self) -> str:
        """The poor year in words."""
        return f"{'seed' if self.synthetic else 'year'} {self.names[self.poor]}"

    def quantiles(self, name: str) -> Quantiles:
        """Of one of the FIGURES, or of ``hours_met_share``."""
        values = self.hours_met_share if name == "hours_met_share" else self.figures[name]
        return Quantiles(*np.quantile(values, SHARES, axis=0))

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        poor = self.poor_year.measures
        return {
            "years": self.years,
            **{name: self.quantiles(figure).as_json() for name, figure in _PUBLISHED.items()},
            "poor_year_seed": self.names[self.poor] if self.synthetic else None,
            "poor_year": {name: getattr(poor, name) for name in _OF_A_YEAR},
            "convergence": self.convergence.as_json(),
        }


_PUBLISHED = {
    "pump_hours": "hours",
    "longest_stop_h": "longest_stop_h",
    "days_without_running": "idle_days",
    "hours_met_share": "hours_met_share",
    "pump_hours_by_month": "run_h",
}
_OF_A_YEAR = ("pump_hours", "hours_met_share", "longest_stop_h", "days_without_running")


def synthetic_years(scenario: Scenario, typical: Weather | None = None) -> Callable[[int], Weather]:
    """Makes a year for any seed: from the scenario's monthly means, or from those of its file or sample."""
    if scenario.weather.monthly is not None:
        return synthesiser_for(scenario)
    typical = typical or weather_for(scenario)
    return synthesiser(monthly_means(typical), typical.site, scenario.weather.year, str(scenario.path))


def first_seed(scenario: Scenario) -> int:
    """The seed that the scenario's monthly means name, or 1."""
    return scenario.weather.monthly.seed if scenario.weather.monthly else 1


def poor_year(hours: np.ndarray, met_share: np.ndarray) -> int:
    """The year that stands at a tenth of all years from the poorest on: by wanted hours met, then by pump hours.

    >>> poor_year(np.array([5.0, 5.0, 7.0, 6.0, 8.0]), np.array([0.9, 0.8, 1.0, 1.0, 1.0]))
    1
    """
    order = np.lexsort((hours, met_share))
    return int(order[int(POOR * len(order))])


def as_in(scenario: Scenario, weather: Weather, number: int = 0) -> Scenario:
    """The scenario in the calendar of a weather, with the chance faults of a year of its own; 0 has the scenario's."""
    dated = scenario.weather.model_copy(update={"year": int(weather.index[0].year)})
    care = scenario.care.model_copy(update={"fault_seed": scenario.care.fault_seed + number})
    return scenario.model_copy(update={"weather": dated, "care": care if scenario.care.fault else scenario.care})


def run_years(
    scenario: Scenario,
    weathers: Sequence[Weather],
    progress: Callable[[int, int], None],
    places: Sequence[int] | None = None,
) -> np.ndarray:
    """(years,) of FIGURES: the design through each of these weathers, all of one length.

    Every year is a lane at a place of its own. A hand makes the sky of its years in the table of its thread, runs them,
    keeps their figures and drops the rest, so that memory does not grow with the years. ``places`` (years,) are theirs
    among more years.
    """
    first, chances = weathers[0], range(len(weathers)) if places is None else places
    month = first.index.month.to_numpy()
    months, dated = month[::24], as_in(scenario, first)
    wanted = np.asarray(scenario.need.hours_per_day)[months - 1]
    own = threading.local()

    def sky(numbers: np.ndarray) -> np.ndarray:
        if not hasattr(own, "table"):
            own.table = np.empty((YEARS_AT_ONCE, len(month)), SKY)
        for row, number in zip(own.table, numbers.tolist(), strict=False):
            sky_of(scenario, weathers[number], row)
        return own.table[: len(numbers)]  # type: ignore[no-any-return]

    designs = [as_in(scenario, first, number) for number in chances] if scenario.care.fault else [dated] * len(weathers)
    how, told = How(at_once=YEARS_AT_ONCE), tally(progress, len(weathers))
    return np.array(run(designs, sky, lambda log, _: figures_of(log, months, wanted), how, told))


def sky_of(scenario: Scenario, weather: Weather, out: np.ndarray | None = None) -> np.ndarray:
    """(hours,) of SKY: what a year of weather brings to the design; written into ``out`` where that is given."""
    return sky_row(sunlight_on(scenario, weather), weather, scenario.battery, out)


def study_spread(
    scenario: Scenario,
    years: int = 200,
    seed: int | None = None,
    weathers: Sequence[Weather] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> SpreadResult:
    """The design through many years; nothing is written."""
    if weathers is not None:
        return _through(scenario, weathers, None, progress)
    if not FEWEST <= years <= MOST:
        raise InputError(str(scenario.path), "--years", years, f"a whole number from {FEWEST} to {MOST}")
    if seed is not None and seed < 0:
        raise InputError(str(scenario.path), "--seed", seed, "a whole number from 0 on")
    typical = None if scenario.weather.monthly else weather_for(scenario)
    make, first = synthetic_years(scenario, typical), first_seed(scenario) if seed is None else seed
    return _through(scenario, Synthetic(make, range(first, first + years)), typical, progress)


class Synthetic(Sequence[Weather]):
    """Synthetic years by their seeds, each made when it is asked for."""

    def __init__(self, make: Callable[[int], Weather], seeds: range) -> None:
        """Remember how years are made, and of which seeds."""
        self.make, self.seeds = make, seeds

    def __len__(self) -> int:
        """How many years there are."""
        return len(self.seeds)

    def __getitem__(self, k: Any) -> Any:
        """The year of a seed."""
        return self.make(self.seeds[k])


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


def _figures(scenario: Scenario, weathers: Sequence[Weather], progress: Callable[[int, int], None]) -> np.ndarray:
    """(years,) of FIGURES; recorded years with and without a 29 February are run apart, since each has its length."""
    if isinstance(weathers, Synthetic):
        return run_years(scenario, weathers, progress)
    figures, lengths = np.empty(len(weathers), FIGURES), np.array([len(weather.index) for weather in weathers])
    for length in np.unique(lengths):
        numbers = np.flatnonzero(lengths == length).tolist()
        figures[numbers] = run_years(scenario, [weathers[k] for k in numbers], progress, numbers)
    return figures


def _names(weathers: Sequence[Weather]) -> tuple[int, ...]:
    """The seeds of synthetic years, the calendar years of recorded ones."""
    if isinstance(weathers, Synthetic):
        return tuple(weathers.seeds)
    return tuple(int(weather.index[0].year) for weather in weathers)


def _wanted_h(scenario: Scenario, weathers: Sequence[Weather]) -> np.ndarray:
    """(years,) hours wanted in each year."""
    by_month = np.asarray(scenario.need.hours_per_day)
    if isinstance(weathers, Synthetic):
        return np.full(len(weathers), by_month @ _days_by_month(weathers[0]))
    return np.array([by_month @ _days_by_month(weather) for weather in weathers])


def _through(
    scenario: Scenario,
    weathers: Sequence[Weather],
    typical: Weather | None,
    progress: Callable[[int, int], None] | None,
) -> SpreadResult:
    figures = _figures(scenario, weathers, progress or (lambda done, of: None))
    made, days, wanted_h = isinstance(weathers, Synthetic), _days_by_month(weathers[0]), _wanted_h(scenario, weathers)
    met_h = figures["met_h"].sum(axis=1)
    met = met_h / wanted_h if wanted_h.all() else np.ones(len(met_h))
    what, matter = ("wanted hours met", met_h) if wanted_h.all() else ("pump hours", figures["hours"])
    poor = poor_year(figures["hours"], met)
    weather = weathers[poor]
    design = as_in(scenario, weather, poor)
    return SpreadResult(
        scenario=scenario,
        synthetic=made,
        typical=typical,
        names=_names(weathers),
        figures=figures,
        hours_met_share=met,
        days_by_month=days,
        wanted_by_month=np.asarray(scenario.need.hours_per_day) * days,
        convergence=convergence_of(what, matter, POOR),
        poor=poor,
        poor_year=replace(simulate_year(design, weather), readings=expected_readings(design)),
    )
