"""Design checks: each a rule with a number, a limit, a plain sentence and where the limit comes from."""

from sim.checks import battery, energy, panel, water, wiring
from sim.checks.finding import LEVELS, Finding, Passed
from sim.figures.measures import Measures
from sim.scenario import Scenario

__all__ = ["Finding", "Passed", "findings", "passed"]

RULES = (*energy.RULES, *battery.RULES, *panel.RULES, *wiring.RULES, *water.RULES)


def findings(scenario: Scenario, measures: Measures) -> tuple[Finding, ...]:
    """Everything that the rules find, warnings first."""
    found = [said for rule in RULES if isinstance(said := rule(scenario, measures), Finding)]
    return tuple(sorted(found, key=lambda finding: LEVELS.index(finding.level)))


def passed(scenario: Scenario, measures: Measures) -> tuple[Passed, ...]:
    """Every rule that was judged and is kept, in the order of the rules."""
    return tuple(said for rule in RULES if isinstance(said := rule(scenario, measures), Passed))
