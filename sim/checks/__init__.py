"""Design checks: each a rule with a number, a limit, a plain sentence and where the limit comes from."""

from sim.checks import battery, energy, panel, water, wiring
from sim.checks.finding import LEVELS, Finding
from sim.figures.measures import Measures
from sim.scenario import Scenario

__all__ = ["Finding", "findings"]

RULES = (*energy.RULES, *battery.RULES, *panel.RULES, *wiring.RULES, *water.RULES)


def findings(scenario: Scenario, measures: Measures) -> tuple[Finding, ...]:
    """Everything that the rules find, warnings first."""
    found = [finding for rule in RULES if (finding := rule(scenario, measures))]
    return tuple(sorted(found, key=lambda finding: LEVELS.index(finding.level)))
