"""Without a log: trials drawn as they are likely beforehand, weighed by what was seen by hand."""

from __future__ import annotations

import numpy as np

from sim.scenario import Scenario
from sim.studies.diagnose_causes import Shown, hypotheses, shown
from sim.studies.diagnose_hand import Hand, hand_likelihood
from sim.studies.diagnose_search import Hypothesis, Space
from sim.studies.diagnose_trials import Days, Ran, run_trials
from sim.studies.diagnose_weighed import Weighed

DRAWN, SEED = 24, 1


def weigh_hand(scenario: Scenario, days: Days, hand: Hand) -> tuple[Weighed, ...]:
    """How likely each way of being wrong is, the likeliest first; one that may have several causes stands for each."""
    every = hypotheses(scenario)
    drawn = [_drawn(one, number) for number, one in enumerate(every)]
    ran = run_trials(days, np.concatenate(drawn))
    likely = hand_likelihood(scenario, hand, ran, days.at_s, days.wanted_h * days.count)
    found: list[Weighed] = []
    for number, one in enumerate(every):
        rows = np.arange(number * DRAWN, (number + 1) * DRAWN)
        found += _by_cause(one, days, ran.some(rows), likely[rows])
    return tuple(sorted(found, key=lambda it: -it.likely))


def _drawn(one: Hypothesis, number: int) -> np.ndarray:
    space = Space(one)
    timers = np.array(one.timers)[np.arange(DRAWN) % len(one.timers)]
    return space.trials(space.first(DRAWN, np.random.default_rng((SEED, number))), timers)


def _by_cause(one: Hypothesis, days: Days, ran: Ran, likely: np.ndarray) -> list[Weighed]:
    """The trials of a hypothesis by their cause: the likeliest of them, and how likely all together are."""
    if one.cause:
        best = int(likely.argmax())
        return [_weighed(one, one.cause, ran, likely, best, shown(days, ran.trials[best : best + 1])[0])]
    does = shown(days, ran.trials)
    names = np.array([it.cause for it in does])
    return [
        _weighed(one, str(cause), ran, np.where(names == cause, likely, -np.inf), k, does[k])
        for cause in dict.fromkeys(names.tolist())
        if (k := int(np.where(names == cause, likely, -np.inf).argmax())) is not None
    ]


def _weighed(one: Hypothesis, cause: str, ran: Ran, likely: np.ndarray, best: int, does: Shown) -> Weighed:
    most = likely.max()
    total = float(most + np.log(np.exp(likely - most).sum() / DRAWN) + np.log(one.prior))
    return Weighed(one, ran.trials[best : best + 1], total, 0.0, cause, does)
