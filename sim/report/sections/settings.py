"""The settings as left."""

from sim.report.section import Section
from sim.report.settings import settings_of
from sim.studies.result import YearResult


def section(result: YearResult) -> Section:
    """Every value of the scenario, part by part."""
    return Section("settings", "Settings as left", settings_of(result.scenario, result.weather), "settings")
