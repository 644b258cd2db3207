"""Ways of being wrong with how likely they are, and what that makes of the causes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sim.studies.diagnose_causes import CAUSES, Shown
from sim.studies.diagnose_search import Hypothesis
from sim.studies.diagnose_seen import Seen

# That none of what was simulated is true, shared by all causes: in its own sun, and where that is not known, in which
# one of four first causes was wrong on made-up systems and none is to be believed; our own defaults.
OUTSIDE, OUTSIDE_DARK = 0.03, 0.35
OF_THE_LIGHT = ("nothing", "too-small", "shade-or-dirt")  # alike in a log's own current: less of it than is usual


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


def probabilities(weighed: Sequence[Weighed], seen: Seen | None = None) -> dict[str, float]:
    """Of each cause, the likeliest first, with more left for what was not thought of where what was ``seen`` leaves the
    likeliest in doubt; they add up to 1.
    """
    likely = np.array([one.likely for one in weighed])
    share = np.exp(likely - likely.max())
    of_cause = dict.fromkeys(CAUSES, 0.0)
    for one, part in zip(weighed, share / share.sum(), strict=True):
        of_cause[one.cause] += float(part)
    outside = OUTSIDE_DARK if _in_doubt(max(of_cause, key=of_cause.__getitem__), seen) else OUTSIDE
    found = {cause: (1.0 - outside) * part + outside / len(CAUSES) for cause, part in of_cause.items()}
    return dict(sorted(found.items(), key=lambda item: -item[1]))


def _in_doubt(cause: str, seen: Seen | None) -> bool:
    """Whether a cause is not to be believed, since the sun is not known, or only as the log's own current tells it."""
    return seen is not None and (not seen.certain or (seen.light is not None and cause in OF_THE_LIGHT))


def best_of(weighed: Sequence[Weighed], cause: str) -> Weighed | None:
    """The likeliest way in which a cause holds, if there is one."""
    return max((one for one in weighed if one.cause == cause), key=lambda one: one.likely, default=None)
