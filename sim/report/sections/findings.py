"""What the design checks found."""

from sim.checks import Finding
from sim.report.blocks import Found, Words
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.units import told

NOTHING = Words("None of the design checks found anything.")


def section(result: YearResult) -> Section:
    """Every finding, warnings first."""
    return Section("findings", "Findings", tuple(map(_found, result.findings)) or (NOTHING,))


def _found(finding: Finding) -> Found:
    limited = f"The limit is {finding.read(finding.limit)}, here it is {finding.read(finding.value)}."
    limit = limited if finding.limit else "There should be none."
    return Found(finding.level, finding.message, f"{limit} Source: {told(finding.source)}.")
