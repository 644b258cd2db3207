"""Pump hours of a real year against those of synthetic years made around its monthly means."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from sim.scenario import Scenario
from sim.studies.chains import Years, recorded, run_years, synthetic
from sim.weather import weather_for
from sim.weather.many import years_for
from sim.weather.samples import SAMPLES

SEASONS = {"winter": (12, 1, 2), "spring": (3, 4, 5), "summer": (6, 7, 8), "autumn": (9, 10, 11)}


def season_hours(scenario: Scenario, years: Years) -> np.ndarray:
    """(years, 4) pump hours by season."""
    by_month = run_years([scenario], years).figures["run_h"][0]
    return np.array([by_month[:, np.array(months) - 1].sum(axis=1) for months in SEASONS.values()]).T


@pytest.mark.parametrize("years", [15, pytest.param(60, marks=pytest.mark.long)])
@pytest.mark.parametrize("sample", SAMPLES)
def test_pump_hours_of_a_real_year_lie_in_the_spread(sample: str, years: int, design: Callable[..., Scenario]) -> None:
    """In each season the courtyard's pump hours of a typical year lie between P5 and P95 of the synthetic years."""
    scenario = design({"weather.sample": sample})
    real = weather_for(scenario)
    (mine,) = season_hours(scenario, recorded([real]))
    made = season_hours(scenario, synthetic(years_for(scenario, [real]), years))
    low, high = np.quantile(made, [0.05, 0.95], axis=0)
    for season, hours, least, most in zip(SEASONS, mine, low, high, strict=True):
        assert least - 1e-9 <= hours <= most + 1e-9, (sample, season)
