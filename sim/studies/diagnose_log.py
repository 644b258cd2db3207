"""A log weighed: how likely each way of being wrong is, and how much of it explains the log best."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from sim.studies.diagnose_causes import SETTINGS, felt, hypotheses, shown
from sim.studies.diagnose_hints import switched_at
from sim.studies.diagnose_search import CLOSE, NEXT, Search, Space
from sim.studies.diagnose_seen import Seen, log_likelihood
from sim.studies.diagnose_trials import Days, run_trials
from sim.studies.diagnose_weighed import Weighed
from sim.studies.measured_log import Readings

MOST_READINGS = 1000
NO_HINTS = np.empty((0, 0))
SEED = 1
ROUNDS, ALL_TURNS = 8, 3  # of the search, and those in which every way of being wrong is tried
SURE, FEWEST_LEFT, MOST_LEFT = 30.0, 3, 5  # nats behind the best: what lies further behind is not searched further
EVIDENT = 30.0  # nats better than a system as written, or with other load voltages: a fault that is there, felt or not
WIDE_COST = 1.5  # nats for each unknown that a hypothesis makes large; our own default


def thinned(readings: Readings, most: int = MOST_READINGS) -> Readings:
    """At most so many readings, evenly chosen."""
    return readings.some(np.unique(np.linspace(0, len(readings.at_s) - 1, most).astype(int)))


def weigh_log(
    days: Days, seen: Seen, told: Callable[[int, int], None] | None = None, rounds: int = ROUNDS
) -> tuple[Weighed, ...]:
    """How likely each way of being wrong is, the likeliest first, after so many rounds of the search."""
    hints = {SETTINGS: switched_at(seen.readings, days.designs[0])}
    searches = [
        Search(Space(one), np.random.default_rng((SEED, number)), hints.get(one.name, NO_HINTS))
        for number, one in enumerate(hypotheses(days.designs[0]))
    ]
    kept: list[list[np.ndarray]] = [[] for _ in searches]
    for turn in range(rounds):
        _turn(days, seen, *_going_on(searches, kept, turn), NEXT if turn < ALL_TURNS else CLOSE)
        if told:
            told(turn + 1, rounds + 1)
    return _ranked(days, searches, kept)


def _going_on(
    searches: list[Search], kept: list[list[np.ndarray]], turn: int
) -> tuple[list[Search], list[list[np.ndarray]]]:
    """The searches that are worth going on with: all at first, then those that are not far behind the best."""
    if turn < ALL_TURNS:
        return searches, kept
    best = np.array([one.likely.max() for one in searches])
    order = np.argsort(-best)
    near = [k for place, k in enumerate(order) if place < FEWEST_LEFT or best[k] > best.max() - SURE][:MOST_LEFT]
    return [searches[k] for k in near], [kept[k] for k in near]


def _turn(days: Days, seen: Seen, searches: list[Search], offsets: list[list[np.ndarray]], usual: int) -> None:
    """All hypotheses try their next trials, in one run."""
    lead = max(searches, key=lambda one: one.most)
    small = {name: value for name, value in lead.best.items() if name not in lead.space.hypothesis.large}
    asked = [one.ask(small, usual) for one in searches]
    trials = [one.space.trials(*ask) for one, ask in zip(searches, asked, strict=True)]
    likely, offset = log_likelihood(seen, run_trials(days, np.concatenate(trials)))
    edges = np.cumsum([len(one) for one in trials])[:-1]
    parts = zip(searches, asked, np.split(likely, edges), np.split(offset, edges), offsets, strict=True)
    for one, (drawn, timers), found, meter, kept in parts:
        one.tell(drawn, timers, found)
        kept.append(meter)


def _ranked(days: Days, searches: list[Search], offsets: list[list[np.ndarray]]) -> tuple[Weighed, ...]:
    """Each hypothesis at its best, with what that shows, for each cause that it may have."""
    best = [int(one.likely.argmax()) for one in searches]
    trials = [
        one.space.trials(one.drawn[k : k + 1], one.timers[k : k + 1]) for one, k in zip(searches, best, strict=True)
    ]
    seen = shown(days.in_usual_weather, np.concatenate(trials))
    causes = [one.space.hypothesis.cause for one in searches]
    plain = max(one.most for one, cause in zip(searches, causes, strict=True) if not cause)
    hurts = felt(days, causes, np.concatenate(trials), seen)
    holds = [one.most > plain + EVIDENT or it_hurts for one, it_hurts in zip(searches, hurts, strict=True)]
    found = []
    for one, k, trial, does, meter, own in zip(searches, best, trials, seen, offsets, holds, strict=True):
        what = one.space.hypothesis
        likely = float(one.likely[k]) + np.log(what.prior) - WIDE_COST * len(what.large)
        offset_v = float(np.concatenate(meter)[k])
        for cause, share in ({what.cause: 1.0} if what.cause and own else does.causes).items():
            found.append(Weighed(what, trial, likely + float(np.log(share)), offset_v, cause, does))
    return tuple(sorted(found, key=lambda it: -it.likely))
