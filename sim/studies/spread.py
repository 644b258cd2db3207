"""One design through many years of weather: how a poor year differs from a usual one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sim.errors import InputError
from sim.scenario import Scenario
from sim.studies.chains import Ran, Years, as_in, recorded, run_years, synthetic
from sim.studies.commissioning import expected_readings
from sim.studies.common_years import wanted_in
from sim.studies.convergence import FEWEST, convergence_of
from sim.studies.many_years import POOR, ManyYears
from sim.studies.result import YearResult
from sim.studies.year import simulate_year
from sim.weather import Weather, weathers_for
from sim.weather.many import seed_of, years_for
from sim.weather.monthly import days_by_month

__all__ = ["FEWEST", "MOST", "SpreadResult", "recorded_years", "study_spread"]

MOST = 10_000  # synthetic years
FEWEST_RECORDED = 2  # years are a spread already, though a narrow base for a tenth
Progress = Callable[[int, int], None]


SpreadResult = ManyYears[YearResult]


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
    *,
    own: Sequence[Weather] | None = None,
) -> SpreadResult:
    """The design through many years, made up or those given; nothing is written.

    ``typical`` is the scenario's own year, where it has been simulated already, and ``own`` are the calendar years of
    its data, where they have been read.
    """
    if weathers is None:
        _check(scenario, years, seed)
        seed = seed_of(scenario) if seed is None else seed
        many, names = synthetic(years_for(scenario, own or weathers_for(scenario), seed), years), tuple(range(years))
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


def _wanted_h(scenario: Scenario, many: Years) -> np.ndarray:
    """(years,) hours wanted in each year; made-up ones are all of one calendar."""
    numbers = (0,) if many.leads_in else range(many.count)
    return np.resize([wanted_in(scenario, many.weather(number)).sum() for number in numbers], many.count)


def _result(
    scenario: Scenario, many: Years, ran: Ran, named: tuple[int | None, tuple[int, ...]], typical: YearResult
) -> SpreadResult:
    """What the years come to."""
    (figures,), (seed, names), wanted_h = ran.figures, named, _wanted_h(scenario, many)
    met_h = figures["met_h"].sum(axis=1)
    met = met_h / wanted_h if wanted_h.all() else np.ones(len(met_h))
    what, matter = ("wanted hours met", met_h) if wanted_h.all() else ("pump hours", figures["hours"])
    poor, days = poor_year(figures["hours"], met), days_by_month(many.weather(0))
    return SpreadResult(
        scenario=scenario,
        seed=seed,
        names=names,
        figures=figures,
        light=ran.light,
        hours_met_share=met,
        days_by_month=days,
        wanted_by_month=wanted_in(scenario, many.weather(0)),
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
