"""Why the pump stood."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.report import figures
from sim.report.section import Section

if TYPE_CHECKING:
    from sim.year import YearResult


def section(result: YearResult) -> Section:
    """Hours of standing by cause."""
    return Section("causes", "Why the pump stood", "causes", figures.causes_figure(result))
