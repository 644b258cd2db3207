"""What the design checks found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report.section import Section

if TYPE_CHECKING:
    from sim.checks import Finding
    from sim.studies.result import YearResult


@dataclass(frozen=True)
class Found:
    """A finding in words."""

    level: str
    message: str
    value: str
    limit: str
    source: str


def section(result: YearResult) -> Section:
    """Every finding, warnings first."""
    return Section("findings", "Findings", "findings", tuple(map(_found, result.findings)))


def _found(finding: Finding) -> Found:
    return Found(finding.level, finding.message, f"{finding.value:.4g}", f"{finding.limit:.4g}", finding.source)
