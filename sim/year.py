"""The story: from a scenario to a report, one line an arrow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from sim import ledger
from sim.availability import spread_of
from sim.checks import Finding, findings
from sim.checks.battery import DEFICIT_DAYS
from sim.commissioning import Commissioning, expected_readings
from sim.engine import Plant, simulate
from sim.fading import AgedYear, fading_years, replacement_year
from sim.files import write_text
from sim.hourlog import Log, as_csv
from sim.lanes import lanes_from
from sim.measured import Measured, against
from sim.measures import Measures, measure
from sim.people import processes
from sim.records import EVENT
from sim.scenario import Scenario
from sim.studies.winter import hours_with_battery
from sim.sunlight import Sunlight, sunlight_on
from sim.tables import sky_row
from sim.twins import twins_of
from sim.weather import Weather, weather_for

EVENTS_KEPT = 1_100_000  # more starts and stops than a year of the shortest delays, 61 s of overload, can bring


@dataclass(frozen=True)
class YearResult:
    """A simulated year with everything it was made from and where it was written."""

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
    poor: Measures | None = None
    measured: Measured | None = None
    report_path: Path | None = None
    log_path: Path | None = None
    ledger_path: Path | None = None

    def as_json(self) -> dict[str, Any]:
        """The figures and the checks as plain data."""
        found = figures(self.measures, self.findings)
        if self.over_seeds is not None:
            found["availability"] = found["availability"] | {"over_seeds": spread_of(self.over_seeds)}
        if self.aged:
            found["years"] = [vars(year) for year in self.aged]
            found["replacement_year"] = replacement_year(self.aged)
        if self.measured:
            found["measured"] = self.measured.as_json()
        if self.poor:
            found["poor_year"] = self.poor.as_json()
        return found


def figures(measures: Measures, found: Sequence[Finding]) -> dict[str, Any]:
    """The figures of a year and what the checks say of it, as plain data under the published names."""
    entries = ledger.as_json(measures.stops, measures.pump_hours)
    return measures.as_json() | {"checks": [vars(finding) for finding in found], "ledger": entries}


def simulate_year(scenario: Scenario, weather: Weather | None = None) -> YearResult:
    """One design through one year, the scenario's own or the one given; nothing is written."""
    weather = weather or weather_for(scenario)
    sunlight = sunlight_on(scenario, weather)
    sky = sky_row(sunlight, weather, scenario.battery)
    lanes = lanes_from([scenario], places=[0])
    plant = Plant(lanes, sky[np.newaxis], events=np.empty((1, EVENTS_KEPT), EVENT))
    log = simulate(plant, processes(plant, [scenario]))
    measures = measure(scenario, weather, sunlight, sky["cell_c"], log, twins=twins_of(scenario, weather, log))
    return YearResult(scenario, weather, sunlight, sky, log, *checked(scenario, measures, sky))


def checked(scenario: Scenario, measures: Measures, sky: np.ndarray) -> tuple[Measures, tuple[Finding, ...]]:
    """The measures of a year under a ``sky`` (hours,) with what the checks ask for, and what these find."""
    if measures.longest_deficit_days >= DEFICIT_DAYS:
        measures = replace(measures, double_battery_hours=hours_with_battery(scenario, sky))
    return measures, findings(scenario, measures)


def run_year(
    scenario: Scenario, out: Path, log: bool = True, years: int = 1, poor_of: int = 0, measured: Path | None = None
) -> YearResult:
    """Simulate a year and write its report, and its hourly log and its ledger of stops unless ``log`` is false.

    With several ``years`` the battery fades through them: the report has a table of that, and all else is the first.
    The poor year on the client's page is the one of ``poor_of`` synthetic years that a tenth of them do not reach;
    ``measured`` is a log from site that is held against the simulated year.
    """
    from sim.report import year_report
    from sim.studies.fault_seeds import faults_over_seeds

    result = replace(simulate_year(scenario), readings=expected_readings(scenario))
    if scenario.care.fault:
        result = replace(result, over_seeds=faults_over_seeds(scenario, result.sky))
    if years > 1:
        result = replace(result, aged=tuple(fading_years(result, years)))
    if measured:
        result = replace(result, measured=against(measured, result))
    if poor_of:
        from sim.studies.spread import study_spread

        result = replace(result, poor=study_spread(scenario, poor_of).poor_year.measures)
    report_path = out / f"{scenario.name}-year.html"
    log_path, ledger_path = (out / f"{scenario.name}-{kind}.csv" if log else None for kind in ("year", "ledger"))
    write_text(report_path, year_report(result, result.poor.pump_hours_by_month if result.poor else None))
    if log_path:
        write_text(
            log_path, as_csv(result.log, result.weather, result.sunlight, result.sky, water=result.measures.water)
        )
    if ledger_path:
        write_text(ledger_path, ledger.as_csv(ledger.ledger_of(result)))
    return replace(result, report_path=report_path, log_path=log_path, ledger_path=ledger_path)
