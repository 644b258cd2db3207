"""What the design checks found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.report.blocks import Found, Words
from sim.report.section import Section

if TYPE_CHECKING:
    from sim.checks import Finding
    from sim.studies.result import YearResult

NOTHING = Words("None of the design checks found anything.")


def section(result: YearResult) -> Section:
    """Every finding, warnings first."""
    return Section("findings", "Findings", tuple(map(_found, result.findings)) or (NOTHING,))


def _found(finding: Finding) -> Found:
    limit = (
        f"The limit is {finding.limit:.4g}, here it is {finding.value:.4g}."
        if finding.limit
        else "There should be none."
    )
    return Found(finding.level, finding.message, f"{limit} Source: {finding.source}.")
