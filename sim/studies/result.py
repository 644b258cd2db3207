"""A simulated year: what it was made from and what came out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from sim.checks import Finding, Passed, passed
from sim.figures.availability import spread_of
from sim.figures.hourly import table_of
from sim.figures.lengths import lengths_of, steps_of
from sim.figures.measures import Measures
from sim.light.sunlight import Sunlight
from sim.plant.log import Log
from sim.scenario import Scenario
from sim.studies.aged import AgedYear, in_words, replacement_year
from sim.studies.commissioning import Commissioning
from sim.studies.cost import cost_of
from sim.studies.dirt import Dirt
from sim.studies.ledger import as_json as books
from sim.studies.many_years import ManyYears
from sim.studies.measured_result import Measured
from sim.studies.sunless import Sunless
from sim.weather import Weather


@dataclass(frozen=True)
class YearResult:
    """A simulated year with everything it was made from"""

    scenario: Scenario
    weather: Weather
    sunlight: Sunlight
    sky: np.ndarray
    log: Log
    measures: Measures
    findings: tuple[Finding, ...]
    aged: tuple[AgedYear, ...] = ()
    over_seeds: np.ndarray | None = None  # (seeds, 3) availability by energy, by faults and by both
    readings: Commissioning | None = None
    dirt: tuple[Dirt, ...] = ()
    sunless: Sunless | None = None
    measured: Measured | None = None
    many: ManyYears[YearResult] | None = None  # the same design through many years

    def hourly(self) -> pd.DataFrame:
        """The hourly log as a table, with the units in its column names."""
        return table_of(self.log, self.weather, self.sunlight, self.sky, water=self.measures.water)

    @property
    def years_said(self) -> tuple[str, ...]:
        """Of several years: how long the battery lasts, and why a worn one serves more where it does."""
        return in_words(self.aged) if self.aged else ()

    @property
    def passed(self) -> tuple[Passed, ...]:
        """The design rules that were judged and are kept."""
        return passed(self.scenario, self.measures)

    def as_json(self) -> dict[str, Any]:
        """The figures and the checks as plain data."""
        found = figures(self.scenario, self.measures, self.findings)
        if self.dirt:
            found["dirt"] = [one.as_json() for one in self.dirt]
        if self.sunless:
            found["without_sun"] = self.sunless.as_json()
        if self.over_seeds is not None:
            found["availability"] = found["availability"] | {"over_seeds": spread_of(self.over_seeds)}
        if self.aged:
            found["years"] = [vars(year) for year in self.aged]
            found["replacement_year"] = replacement_year(self.aged)
            found["years_said"] = list(self.years_said)
        if self.measured:
            found["measured"] = self.measured.as_json()
        if self.many:
            found["poor_year"] = self.many.poor_year.measures.as_json()
            found["many_years"] = self.many.spans()
        return found


def figures(scenario: Scenario, measures: Measures, found: Sequence[Finding]) -> dict[str, Any]:
    """The figures of a year and what the checks say of it, as plain data under the published names."""
    return measures.as_json() | {
        "checks": [finding.as_json() for finding in found],
        "checks_passed": [one.as_json() for one in passed(scenario, measures)],
        "ledger": books(measures.stops, measures.pump_hours),
        "stop_lengths": [one._asdict() for one in lengths_of(measures.stops, steps_of(scenario))],
        "yearly_cost": cost_of(scenario, measures).as_json(),
    }
