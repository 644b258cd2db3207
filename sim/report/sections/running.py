"""When the pump runs: by month, and by day and hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.report import figures
from sim.report.section import Section

if TYPE_CHECKING:
    from sim.studies.result import YearResult


def by_month(result: YearResult) -> Section:
    """Hours a day by month against those that are wanted."""
    return Section("months", "Hours a day by month", "chart", figures.months_figure(result))


def by_hour(result: YearResult) -> Section:
    """Every day and hour of the year."""
    return Section("map", "When the pump runs", "chart", figures.map_figure(result))
