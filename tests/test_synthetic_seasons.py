"""Pump hours of a real year against those of synthetic years made from its monthly means."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np
import pytest

from sim.figures.lanes import hours_by_day
from sim.light.sunlight import sunlight_on
from sim.plant.run import How, run
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.weather import Weather, weather_for
from sim.weather.samples import SAMPLES
from sim.weather.synthesis import monthly_means, synthesiser

YEARS = 50
AT_ONCE = 17  # sky tables in memory
WINTER, SPRING, SUMMER, AUTUMN = range(4)
SEASON = np.array([WINTER, WINTER, SPRING, SPRING, SPRING, SUMMER, SUMMER, SUMMER, AUTUMN, AUTUMN, AUTUMN, WINTER])
# Outside by which share at most: that spring had fewer hours of frost, in which LFP takes no charge, than its monthly
# means make likely.
OUTSIDE = {("aleutian", SPRING): 0.04}


def season_hours(scenario: Scenario, years: Iterable[Weather]) -> np.ndarray:
    """(years, 4) pump hours by season of one design in several years, a lane each."""
    years = list(years)
    sky = np.array([sky_row(sunlight_on(scenario, year), year, scenario.battery) for year in years])
    how = How(at_once=AT_ONCE, places=range(len(years)))
    season = SEASON[years[0].index.month.to_numpy()[::24] - 1]
    days = run([scenario] * len(years), sky, lambda log, _: list(hours_by_day(log, "run_s")), how)
    return np.array([[year[season == one].sum() for one in range(4)] for year in days])


@pytest.mark.parametrize("sample", SAMPLES)
def test_pump_hours_of_a_real_year_lie_in_the_spread(sample: str, design: Callable[..., Scenario]) -> None:
    """In each season the courtyard's pump hours of a typical year lie between P5 and P95 of fifty synthetic years.

    But for one of the twelve seasons, as may happen when one in ten would lie outside by chance.
    """
    scenario = design({"weather.sample": sample})
    real = weather_for(scenario)
    make = synthesiser(monthly_means(real), real.site)
    years = [real, *(make((1, number)) for number in range(YEARS))]
    hours = np.vstack([season_hours(scenario, years[k : k + AT_ONCE]) for k in range(0, len(years), AT_ONCE)])
    low, high = np.quantile(hours[1:], [0.05, 0.95], axis=0)
    for season, (mine, least, most) in enumerate(zip(hours[0], low, high, strict=True)):
        room = OUTSIDE.get((sample, season), 1e-9)
        assert least * (1 - room) <= mine <= most * (1 + room), (sample, season)
