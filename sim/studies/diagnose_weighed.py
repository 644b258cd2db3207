"""Ways of being wrong with how likely they are, and what that makes of the causes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.studies.diagnose_causes import CAUSES, Shown
from sim.studies.diagnose_search import Hypothesis

# That none of what was simulated is true, shared by all causes: in its own sun, and where that is not known, in which
# one of four first causes was wrong on made-up systems and none is to be believed; our own defaults.
OUTSIDE, OUTSIDE_DARK = 0.03, 0.35


@dataclass(frozen=True)
class Weighed:
    """A hypothesis at its best: the trial (1,) of TRIAL, the logarithm of how likely it is, the meter's offset with
    it, its cause, and what it shows.
    """

    hypothesis: Hypothesis
    trial: np.ndarray
    likely: float
    offset_v: float
    cause: str
    shown: Shown


def probabilities(weighed: Sequence[Weighed], sunny: bool = True) -> dict[str, float]:
    """Of each cause, the likeliest first, in a sun that is known or not; they add up to 1."""
    outside = OUTSIDE if sunny else OUTSIDE_DARK
    likely = np.array([one.likely for one in weighed])
    share = np.exp(likely - likely.max())
    share = (1.0 - outside) * share / share.sum()
    found = dict.fromkeys(CAUSES, outside / len(CAUSES))
    for one, part in zip(weighed, share, strict=True):
        found[one.cause] += float(part)
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def best_of(weighed: Sequence[Weighed], cause: str) -> Weighed | None:
    """The likeliest way in which a cause holds, if there is one."""
    return max((one for one in weighed if one.cause == cause), key=lambda one: one.likely, default=None)
