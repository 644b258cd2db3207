"""What the design checks judged and found kept, each with its margin."""

from sim.checks.finding import Passed, read
from sim.report.blocks import Closed, Table, Words
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.units import told

HEAD = ("Looked at", "Here", "Limit", "Margin", "Rule", "Source")
SAID = (
    "What is not described in the scenario is not judged. A margin is how far the value lies on the right side of its "
    "limit; a rule with a margin of nothing is kept, but only just."
)


def section(result: YearResult) -> Section:
    """A row for each rule that is kept."""
    kept = result.passed
    count = f"{len(kept)} checks passed, {len(result.findings)} did not."
    table = Closed("Every check that passed, with its margin", Table(HEAD, tuple(map(_row, kept))))
    return Section("passed", "Checks that passed", (Words(f"{count} {SAID}", "small"), table))


def _row(one: Passed) -> tuple[str, ...]:
    limit = f"{'at least' if one.least else 'at most'} {read(one.limit, one.unit)}" if one.limit else "none"
    return (one.what, read(one.value, one.unit), limit, _margin(one), one.id, told(one.source))


def _margin(one: Passed) -> str:
    """The margin as a share of the limit; nothing where there should be none of a thing."""
    return f"{one.margin / abs(one.limit):.0%}" if one.limit else ""
