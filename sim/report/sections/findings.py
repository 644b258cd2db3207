"""What the design checks found."""

from sim.checks import Finding
from sim.language import mark, say
from sim.report.blocks import Found, Words
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.units import told

LEVELS = {"warning": mark("Warning"), "caution": mark("Caution"), "note": mark("Note")}


def section(result: YearResult) -> Section:
    """Every finding, warnings first."""
    nothing = Words(say("None of the design checks found anything."))
    return Section("findings", say("Findings"), tuple(map(_found, result.findings)) or (nothing,))


def _found(finding: Finding) -> Found:
    limit, value = finding.read(finding.limit), finding.read(finding.value)
    limited = say("The limit is {limit}, here it is {value}.", limit=limit, value=value)
    against = limited if finding.limit else say("There should be none.")
    source = say("Source: {source}.", source=told(finding.source))
    return Found(finding.level, finding.message, f"{against} {source}", say(LEVELS[finding.level]))
