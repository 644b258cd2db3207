"""A design with as much to say as there is, and a year that stands beside many."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from conftest import changed

from kit.pages import HOSTILE
from sim.figures.lanes import FIGURES
from sim.studies.commissioning import expected_readings
from sim.studies.convergence import convergence_of
from sim.studies.result import YearResult
from sim.studies.spread import SpreadResult
from sim.studies.year import simulate_year

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
FULLEST = {
    "title": HOSTILE["300 letters"],
    "controller.load_mode": "clock",
    "controller.load_windows": [["06:00", "08:30"], ["09:15", "12:00"], ["13:15", "17:45"], ["18:30", "22:00"]],
    "care.shut_down": "12-15",
    "care.start_up": "02-15",
    "care.panel_cleaning": ["03-15", "05-15", "07-15", "09-15", "11-15"],
    "need.hours_per_day": [6, 6, 8, 8, 10, 10, 12, 12, 10, 8, 6, 6],
    "panel.count": 2,
    "cost.currency": "EUR",
    "cost.battery_per_ah": 4.0,
    "cost.cleaning_per_visit": 10.0,
}


@cache
def fullest_year() -> YearResult:
    """Its simulated year with the readings to expect."""
    scenario = changed(FULLEST)
    return replace(simulate_year(scenario), readings=expected_readings(scenario))


def beside_many(year: YearResult, poor_share: float = 0.9) -> YearResult:
    """A year beside eleven with 0.7 to 1.1 of its hours, of which the poor one has a share of them."""
    months, share = year.measures.pump_hours_by_month, np.linspace(0.7, 1.1, 11)
    figures = np.zeros(11, FIGURES)
    figures["run_h"], figures["hours"] = share[:, np.newaxis] * months, share * months.sum()
    poor = replace(
        year.measures,
        pump_hours=year.measures.pump_hours * poor_share,
        met_by_day=0.8 * year.measures.wanted_by_day,
    )
    many = SpreadResult(
        scenario=year.scenario,
        seed=1,
        names=tuple(range(11)),
        figures=figures,
        light=np.ones((11, 12)),
        hours_met_share=np.linspace(0.5, 0.99, 11),
        days_by_month=DAYS,
        wanted_by_month=8.0 * DAYS,
        convergence=convergence_of("pump hours", figures["hours"], 0.1),
        poor=1,
        poor_year=replace(year, measures=poor),
        typical=year,
    )
    return replace(year, many=many)
