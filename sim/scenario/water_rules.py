"""What the parts of the water must be to each other."""

from collections.abc import Callable

from sim.scenario.models import Scenario
from sim.scenario.rule import Rule
from sim.scenario.water import Water


def _piped(water: Water) -> set[str]:
    return {pipe.where for pipe in water.pipe}


def _fitted(water: Water) -> set[str]:
    return {fitting.where for fitting in water.fittings}


def _on_water(holds: Callable[[Water], bool]) -> Callable[[Scenario], bool]:
    """A rule that only a scenario with water can break."""
    return lambda scenario: scenario.water is None or holds(scenario.water)


RULES = (
    Rule(
        "water",
        _on_water(lambda water: "main" in _piped(water)),
        lambda s: 'at least one [[water.pipe]] with where = "main", from the pump to the tee or the outlet',
    ),
    Rule(
        "water",
        _on_water(lambda water: (water.branch is not None) == ("branch" in _piped(water))),
        lambda s: 'both a [water.branch] and a [[water.pipe]] with where = "branch", or neither',
    ),
    Rule(
        "water",
        _on_water(lambda water: _fitted(water) <= _piped(water)),
        lambda s: "a [[water.pipe]] at every place (where) that has fittings",
    ),
)
