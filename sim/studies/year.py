"""The story: from a scenario to a year's results, one line an arrow."""

from dataclasses import replace

import numpy as np

from sim.checks import Finding, findings
from sim.checks.battery import DEFICIT_DAYS
from sim.figures.measures import Measures, measure
from sim.light.sunlight import Sunlight, sunlight_on
from sim.plant.run import HOURLY, run
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.studies.twins import twins_of
from sim.studies.winter import hours_with_battery
from sim.weather import Weather, weather_for

EVENTS_KEPT = 1_100_000  # more starts and stops than a year of the shortest delays, 61 s of overload, can bring


def simulate_year(
    scenario: Scenario,
    weather: Weather | None = None,
    sunlight: Sunlight | None = None,
    with_twins: bool = True,
    ended: np.ndarray | None = None,
) -> YearResult:
    """One design through one year, the scenario's own or the one given, in its light if that is known already.

    Nothing is written. Without twins no stop is put down to shade or dirt; all other figures are the same. A year that
    follows another begins as its lane ``ended`` (1,) of PLANT; otherwise it begins as it ends.
    """
    weather = weather or weather_for(scenario)
    sunlight = sunlight or sunlight_on(scenario, weather)
    sky = sky_row(sunlight, weather, scenario.battery)
    how = replace(HOURLY, ended=ended)
    ((log, _),) = run([scenario], sky[np.newaxis], how=replace(how, events=EVENTS_KEPT))
    twins = twins_of(scenario, weather, log, how=how) if with_twins else None
    measures = measure(scenario, weather, sunlight, sky["cell_c"], log, twins=twins)
    return YearResult(scenario, weather, sunlight, sky, log, *checked(scenario, measures, sky))


def checked(scenario: Scenario, measures: Measures, sky: np.ndarray) -> tuple[Measures, tuple[Finding, ...]]:
    """The measures of a year under a ``sky`` (hours,) with what the checks ask for, and what these find."""
    if measures.longest_deficit_days >= DEFICIT_DAYS:
        measures = replace(measures, double_battery_hours=hours_with_battery(scenario, sky))
    return measures, findings(scenario, measures)
