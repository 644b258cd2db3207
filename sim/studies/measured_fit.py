"""Resistance, panel, first charge and the meter's offset that explain a log best, with errors that hold.

The best is sought from several first guesses by least squares. Around it a cloud of trials, each weighed by how well it
explains the log, says how far each may be off: importance sampling, its proposal fitted anew in each round (Cappé,
Guillin, Marin & Robert 2004). How well is told by the scale of what is left unexplained, so that a log that nothing
explains well says little.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.calendar import DAY_S
from sim.studies.diagnose_seen import NOISE_V, OFFSET_V
from sim.studies.measured_misfit import (
    CHARGE,
    HIGHEST,
    LEADS,
    LOOSE_V,
    LOWEST,
    MOST_OFFSET_V,
    OFFSET_WEIGHT,
    PANEL,
    RESISTANCE,
    Misfit,
)
from sim.studies.measured_result import Estimate
from sim.studies.measured_window import Window

BELIEVED = np.array([np.log(1.3), 0.9, 0.5, 0.0, 0.0, 0.0])
SPREAD = np.array([0.7, 0.25, np.inf, 0.05, 0.05, np.inf])  # of what is believed before a log is seen; our own defaults
MEAN_LEADS = 0.5  # of the leads' share, which is likelier the smaller it is; our own default
AMMETER = 0.05  # by which a current may be off that stands for the sun
STEPS = np.array([0.05, 0.02, 0.02, 0.02, 0.02, 0.05])  # of the differences that show the way
APART = np.array([0.5, 0.15, 0.15, np.inf, np.inf, 2.0])  # of first guesses
CLOUD = np.array([0.12, 0.03, 0.03, 0.03, 0.03, 0.12])  # of the first cloud, in standard deviations
GUESSES, STARTS, ROUNDS = 384, 3, 10
MEMBERS, CLOUDS = 120, 8
WIDER, TAILS = 1.2, 5.0  # of a cloud's covariance against the last one's; degrees of freedom of Student's t
LEFT = 0.2  # share of a cloud that must count at least
WITNESSES = 3.0  # independent readings a day; tried on made-up systems


@dataclass(frozen=True)
class Cloud:
    """Trials (k, 6) around the best, their offsets (k,) in V, and what each weighs (k,), in all 1; ``best`` explains
    the log best.
    """

    members: np.ndarray
    offset_v: np.ndarray
    weight: np.ndarray
    best: np.ndarray
    best_offset_v: float

    @cached_property
    def resistance(self) -> Estimate:
        """Of battery and leads, in times the battery's."""
        return self._of(np.exp(self.members[:, RESISTANCE]) + self.members[:, LEADS])

    @property
    def panel(self) -> Estimate:
        """Of the panel's current."""
        return self._of(self.members[:, PANEL])

    @property
    def charge(self) -> Estimate:
        """At the first of the days."""
        return self._of(self.members[:, CHARGE])

    @property
    def offset(self) -> Estimate:
        """By which the meter reads high, V."""
        return self._of(self.offset_v)

    def _of(self, values: np.ndarray) -> Estimate:
        mean = float(self.weight @ values)
        return Estimate(mean, float(np.sqrt(self.weight @ (values - mean) ** 2)))


class Fit:
    """The search for what explains a log best; chance in it is the same each time."""

    def __init__(self, window: Window, sunny: bool) -> None:
        """Of a window; where the log's own current stands for the sun, not ``sunny``, the panel is known."""
        self.window, self.rng = window, np.random.default_rng(1)
        self.middle, self.spread = BELIEVED.copy(), SPREAD.copy()
        if not sunny:
            self.middle[PANEL], self.spread[PANEL] = 1.0, AMMETER
        days = np.ptp(window.readings.at_s) / DAY_S
        self.witnesses = WITNESSES * max(float(days), 1.0)

    def believed(self, unknowns: np.ndarray) -> np.ndarray:
        """(k,) logarithm of how likely unknowns (k, 6) are before the log is seen."""
        likely = -0.5 * (((unknowns - self.middle) / self.spread) ** 2).sum(axis=1) - unknowns[:, LEADS] / MEAN_LEADS
        return np.asarray(np.where(_possible(unknowns), likely, -np.inf))

    def cloud(self) -> Cloud:
        """Trials around the best, from a first cloud around the best of some searches."""
        best = min((self.search(*begins) for begins in self.first_guesses()), key=lambda one: one[1])[0]
        middle, covariance = best, np.diag(CLOUD**2)
        least = np.inf
        for _ in range(CLOUDS):
            members, proposed = self.drawn(middle, covariance)
            misfit = Misfit.of(self.window, members)
            explained = -0.5 * self.witnesses * np.log(misfit.cost) + self.believed(members)
            weight = _weights(explained - proposed)
            middle = weight @ members
            off = members - middle
            covariance = (off.T * weight) @ off + np.diag((0.01 * STEPS) ** 2)
            if misfit.cost.min() < least:
                least, k = misfit.cost.min(), int(misfit.cost.argmin())
                best, offset_v = members[k], float(misfit.offset_v[k])
        return Cloud(members, misfit.offset_v, weight, best, offset_v)

    def drawn(self, middle: np.ndarray, covariance: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """(k, 6) of Student's t, and the logarithm of its density at each (k,)."""
        root = np.linalg.cholesky(WIDER * covariance)
        members = np.empty((0, len(middle)))
        while len(members) < MEMBERS:
            normal = self.rng.standard_normal((MEMBERS, len(middle)))
            tails = np.sqrt(self.rng.chisquare(TAILS, (MEMBERS, 1)) / TAILS)
            more = middle + normal / tails @ root.T
            members = np.concatenate([members, more[_possible(more)]])[:MEMBERS]
        away = np.linalg.solve(root, (members - middle).T)
        return members, -0.5 * (TAILS + len(middle)) * np.log1p((away**2).sum(axis=0) / TAILS)

    def first_guesses(self) -> list[tuple[np.ndarray, float]]:
        """The best of what is believed, apart from one another, each with its offset."""
        normal = self.rng.standard_normal((2 * GUESSES, len(self.middle)))
        spread = np.where(np.isinf(self.spread), 0.0, self.spread)
        unknowns = self.middle + spread * normal
        unknowns[:, LEADS] = self.rng.exponential(MEAN_LEADS, len(unknowns))
        unknowns[:, CHARGE] = self.rng.uniform(LOWEST[CHARGE], HIGHEST[CHARGE], len(unknowns))
        unknowns = unknowns[_possible(unknowns)][:GUESSES]
        misfit = Misfit.of(self.window, unknowns)
        chosen: list[int] = []
        for k in np.argsort(misfit.cost).tolist():
            if all((((unknowns[k] - unknowns[one]) / APART) ** 2).sum() > 1.0 for one in chosen):
                chosen.append(k)
        return [(unknowns[k], float(misfit.offset_v[k])) for k in chosen[:STARTS]]

    def search(self, begins: np.ndarray, offset_v: float) -> tuple[np.ndarray, float]:
        """By least squares from a first guess: unknowns (6,), and what is left unexplained."""
        from scipy.optimize import least_squares

        known: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

        def around(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            if x.tobytes() not in known:
                known[x.tobytes()] = self.around(x)
            return known[x.tobytes()]

        lowest, highest = np.append(LOWEST, -MOST_OFFSET_V), np.append(HIGHEST, MOST_OFFSET_V)
        found = least_squares(
            lambda x: around(x)[0],
            np.clip(np.append(begins, offset_v), lowest + 1e-3, highest - 1e-3),
            lambda x: around(x)[1],
            bounds=(lowest, highest),
            loss="soft_l1",
            f_scale=LOOSE_V,
            max_nfev=ROUNDS,
            x_scale=np.append(STEPS, NOISE_V),
        )
        return found.x[:-1], float(found.cost)

    def around(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Misfit (k,) of unknowns and offset (7,) and its slopes (k, 7); what is believed stands behind."""
        steps = np.where(x[:-1] + STEPS <= HIGHEST, STEPS, -STEPS)
        misfit = Misfit.of(self.window, np.vstack([x[:-1], x[:-1] + np.diag(steps)]))
        own, *others = misfit.rows
        offset = np.repeat((1.0, 0.0), (misfit.volts.shape[1], misfit.amps.shape[1]))
        slopes = np.column_stack([((np.array(others) - own) / steps[:, np.newaxis]).T, offset])
        spread = np.append(self.spread, OFFSET_V)
        spread[LEADS] = MEAN_LEADS
        belief = NOISE_V * np.sqrt(OFFSET_WEIGHT) / spread
        behind = (x - np.append(self.middle, 0.0)) * belief
        return np.concatenate([own + x[-1] * offset, behind]), np.vstack([slopes, np.diag(belief)])


def _possible(unknowns: np.ndarray) -> np.ndarray:
    """(k,) whether unknowns (k, 6) are within their limits."""
    return np.asarray(np.all((unknowns >= LOWEST) & (unknowns <= HIGHEST), axis=1))


def _weights(logarithm: np.ndarray) -> np.ndarray:
    """(k,) weights, in all 1, tempered so far that they count as LEFT of so many equal ones."""

    def tempered(share: float) -> np.ndarray:
        raw = np.exp(share * (logarithm - logarithm.max()))
        return np.asarray(raw / raw.sum())

    least, most = 0.0, 1.0
    if 1.0 / (tempered(1.0) ** 2).sum() >= LEFT * len(logarithm):
        return tempered(1.0)
    for _ in range(30):
        share = 0.5 * (least + most)
        if 1.0 / (tempered(share) ** 2).sum() < LEFT * len(logarithm):
            most = share
        else:
            least = share
    return tempered(least)
