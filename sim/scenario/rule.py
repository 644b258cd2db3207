"""What a rule between values of a scenario is."""

from collections.abc import Callable
from typing import NamedTuple

from sim.scenario.models import Scenario


class Rule(NamedTuple):
    """A key, whether its value holds, and what is allowed if it does not."""

    key: str
    holds: Callable[[Scenario], bool]
    allowed: Callable[[Scenario], str]
