"""What the design checks found."""

from sim.checks import Finding
from sim.report.blocks import Found, Words
from sim.report.section import Section
from sim.studies.result import YearResult

NOTHING = Words("None of the design checks found anything.")


def section(result: YearResult) -> Section:
    """Every finding, warnings first."""
    return Section("findings", "Findings", tuple(map(_found, result.findings)) or (NOTHING,))


def _found(finding: Finding) -> Found:
    told = f"The limit is {finding.limit:.4g}, here it is {finding.value:.4g}."
    limit = told if finding.limit else "There should be none."
    return Found(finding.level, finding.message, f"{limit} Source: {finding.source}.")
