"""How long the stops of a year last, against the steps in which a filter suffers."""

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from sim.figures.causes import Stop, whole_stretches
from sim.figures.nights import OVER_H
from sim.scenario import Scenario

SHORT_H = 0.5  # from where on filter bacteria decline; trade advice from 0.5 to 3 h


class Length(NamedTuple):
    """Stops that last longer than ``over_h`` and up to ``up_to_h``, None: without end; how many, and their hours."""

    over_h: float
    up_to_h: float | None
    stops: int
    hours: float


def steps_of(scenario: Scenario) -> tuple[float, ...]:
    """The hours after which the scenario's filter suffers, or the usual ones, in order; half an hour before them."""
    strainer = scenario.water.filter if scenario.water else None
    steps = OVER_H if strainer is None else (strainer.note_after_h, strainer.warning_after_h, strainer.flush_after_h)
    return tuple(sorted({SHORT_H, *steps}))


def lengths_of(stops: Iterable[Stop], steps_h: Sequence[float]) -> tuple[Length, ...]:
    """Whole stretches without running, of any cause, by their length.

    >>> [one.stops for one in lengths_of([Stop(0.0, 1.0, "night", 0.1, 12.0)], (0.5, 2.0))]
    [0, 1, 0]
    """
    begun, ended = whole_stretches(stops).T
    lasted = ended - begun
    edges = (0.0, *steps_h, np.inf)
    found = []
    for over, up_to in pairwise(edges):
        those = lasted[(lasted > over) & (lasted <= up_to)]
        found.append(Length(over, None if up_to == np.inf else up_to, len(those), float(those.sum())))
    return tuple(found)
