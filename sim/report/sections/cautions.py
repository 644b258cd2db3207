"""What a reader must know before touching anything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.report.section import Section

if TYPE_CHECKING:
    from sim.studies.result import YearResult


def section(result: YearResult) -> Section:
    """The cautions; they hold for every system."""
    return Section("cautions", "Cautions", "cautions", None)
