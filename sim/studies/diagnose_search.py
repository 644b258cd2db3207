"""What may be wrong, and the search for how much of it explains best what was seen."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

import numpy as np

from sim.studies.diagnose_trials import PLAIN, Ran, plain

Span = tuple[float, float]

# What differs a little in every system, as the standard deviation of its logarithm, or of what is added.
SMALL_LOG = {"capacity": 0.07, "resistance": 0.15, "light": 0.05, "pump": 0.05}
SMALL_ADDED = {"soc": 0.12}
FIRST, NEXT, CLOSE = 40, 24, 32  # trials of the first round, of the next ones, and of those between a few
BEST = 8  # of them, that lead on
SHARED = 6  # of the next ones, that have the small differences of the hypothesis that leads


@dataclass(frozen=True)
class Hypothesis:
    """One way to be wrong: what of it is large, ``wide`` from low to high evenly in its logarithm, ``added`` evenly
    in itself; its ``timers``, of which one holds; and how likely it is before anything was seen. It is searched with
    ``effort`` times the usual number of trials.
    """

    name: str
    cause: str
    wide: Mapping[str, Span] = field(default_factory=dict)
    added: Mapping[str, Span] = field(default_factory=dict)
    timers: tuple[int, ...] = (0,)
    prior: float = 1.0
    effort: int = 1
    follow: Callable[[np.ndarray], None] = lambda trials: None

    @property
    def large(self) -> tuple[str, ...]:
        """What it makes large."""
        return (*self.wide, *self.added)


@dataclass(frozen=True)
class Space:
    """The unknowns of a hypothesis as numbers that spread evenly: (k, n) of which become trials."""

    hypothesis: Hypothesis

    @property
    def names(self) -> tuple[str, ...]:
        """The unknowns in order."""
        small = (name for name in (*SMALL_LOG, *SMALL_ADDED) if name not in self.hypothesis.large)
        return (*self.hypothesis.large, *small)

    def first(self, count: int, rng: np.random.Generator) -> np.ndarray:
        """(count, n) drawn as they are likely before anything was seen."""
        drawn = rng.normal(size=(count, len(self.names)))
        for column, name in enumerate(self.hypothesis.large):
            low, high = self._span(name)
            order = (rng.permutation(count) + rng.random(count)) / count
            drawn[:, column] = low + (high - low) * order
        return drawn

    def prior(self, drawn: np.ndarray) -> np.ndarray:
        """(k,) logarithm of how likely the small differences are; what is large is so evenly within its span."""
        wide = len(self.hypothesis.large)
        likely = -0.5 * (drawn[:, wide:] ** 2).sum(axis=1)
        for column, name in enumerate(self.hypothesis.large):
            low, high = self._span(name)
            outside = np.maximum(np.maximum(low - drawn[:, column], drawn[:, column] - high), 0.0)
            likely = likely - 0.5 * (outside / (0.02 * (high - low))) ** 2
        return np.asarray(likely)

    def trials(self, drawn: np.ndarray, timers: np.ndarray) -> np.ndarray:
        """(k,) of TRIAL."""
        trials = plain(len(drawn))
        for column, name in enumerate(self.names):
            trials[name] = self._value(name, drawn[:, column])
        trials["timer"] = timers
        self.hypothesis.follow(trials)
        return trials

    def _span(self, name: str) -> Span:
        if name in self.hypothesis.wide:
            low, high = self.hypothesis.wide[name]
            return float(np.log(low)), float(np.log(high))
        return self.hypothesis.added[name]

    def _value(self, name: str, drawn: np.ndarray) -> np.ndarray:
        if name in self.hypothesis.wide:
            return np.asarray(np.exp(drawn))
        if name in self.hypothesis.added:
            return drawn
        if name in SMALL_LOG:
            return np.asarray(PLAIN[name] * np.exp(SMALL_LOG[name] * drawn))
        return np.asarray(SMALL_ADDED[name] * drawn)


@dataclass
class Search:
    """The search within one hypothesis: everything tried, and how well it did; ``hints`` (k, n) of what it makes large
    come first.
    """

    space: Space
    rng: np.random.Generator
    hints: np.ndarray
    drawn: np.ndarray = field(default_factory=lambda: np.empty((0, 0)))
    timers: np.ndarray = field(default_factory=lambda: np.empty(0))
    likely: np.ndarray = field(default_factory=lambda: np.empty(0))

    def ask(self, lead: Mapping[str, float], usual: int) -> tuple[np.ndarray, np.ndarray]:
        """The next (k, n) unknowns to try, and the timers; some have the small differences of whoever leads."""
        choices, effort = np.array(self.space.hypothesis.timers), self.space.hypothesis.effort
        if not len(self.likely):
            count = FIRST * effort
            drawn = self.space.first(count, self.rng)
            drawn[: len(self.hints), : self.hints.shape[1]] = self.hints
            return drawn, choices[np.arange(count) % len(choices)]
        count = max(usual, NEXT * effort)
        best = np.argsort(-self.likely)[:BEST]
        led = self.drawn[best]
        weight = np.exp(np.maximum(self.likely[best] - self.likely[best[0]], -20.0) / 4.0) + 0.02
        chosen = self.rng.choice(len(best), count, p=weight / weight.sum())
        apart = led[self.rng.integers(len(best), size=count)] - led[self.rng.integers(len(best), size=count)]
        jitter = self.rng.normal(size=apart.shape) * 0.3 * led.std(axis=0)
        moved = led[chosen] + self.rng.uniform(0.2, 0.9, (count, 1)) * apart + jitter
        small = len(self.space.hypothesis.large)
        for column, name in enumerate(self.space.names[small:], small):
            moved[:SHARED, column] = lead.get(name, 0.0)
        return moved, self.timers[best][chosen]

    @property
    def best(self) -> dict[str, float]:
        """The small differences of the likeliest trial, by name."""
        return (
            dict(zip(self.space.names, self.drawn[self.likely.argmax()].tolist(), strict=True))
            if len(self.likely)
            else {}
        )

    @property
    def most(self) -> float:
        """How likely that is."""
        return float(self.likely.max()) if len(self.likely) else -np.inf

    def tell(self, drawn: np.ndarray, timers: np.ndarray, likely: np.ndarray) -> None:
        """How well those did."""
        old = self.drawn if len(self.drawn) else np.empty((0, drawn.shape[1]))
        self.drawn = np.vstack([old, drawn])
        self.timers = np.concatenate([self.timers, timers])
        self.likely = np.concatenate([self.likely, likely + self.space.prior(drawn)])


Run = Callable[[np.ndarray], Ran]
