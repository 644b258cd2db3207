"""Resistance, panel, first charge and the meter's offset that explain a log best, with errors that hold.

Least squares with the soft-l1 loss, since readings next to a switching of the pump are off by its whole sag. What
differs within a day is of one cause, so errors are clustered by days.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.calendar import DAY_S
from sim.studies.diagnose_seen import NOISE_V, OFFSET_V
from sim.studies.diagnose_trials import plain
from sim.studies.measured_window import Window

LOWEST, HIGHEST = np.array([0.2, 0.2, 0.02, -0.3]), np.array([10.0, 1.5, 1.0, 0.3])  # resistance, panel, charge, offset
STEPS = np.array([0.05, 0.02, 0.02])  # of the differences that show the way
FIRST_ROUNDS, ROUNDS = 8, 15  # from each charge, and from the best of them
CHARGES = (0.2, 0.5, 0.8)  # at which a search begins: a charge and the meter's offset look alike on a flat curve
VOLTS_PER_A = 0.05  # an ampere of misfit counts as so many volts; our own default
AMMETER = 0.05  # by which a current may be off that stands for the sun
OFFSET_WEIGHT = 5.0  # readings that the belief in a meter is worth


@dataclass(frozen=True)
class Fitted:
    """What explains a log best: (4,) resistance and panel against the scenario's, charge and offset in V; their
    errors.
    """

    best: np.ndarray
    error: np.ndarray


def trials_of(window: Window, unknowns: np.ndarray) -> np.ndarray:
    """(k,) of TRIAL from (k, 4)."""
    trials = plain(len(unknowns))
    trials["resistance"], trials["light"] = unknowns[:, 0], unknowns[:, 1]
    trials["soc"] = unknowns[:, 2] - window.own_charge
    return trials


def fit(window: Window, sunny: bool) -> Fitted:
    """The unknowns that explain a log best; where the log's own current stands for the sun the panel is known."""
    from scipy.optimize import OptimizeResult, least_squares

    known: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

    def around(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        if x.tobytes() not in known:
            known[x.tobytes()] = _around(window, x, sunny)
        return known[x.tobytes()]

    def search(begins: np.ndarray, rounds: int) -> OptimizeResult:
        return least_squares(
            lambda x: around(x)[0],
            np.clip(begins, LOWEST + 1e-3, HIGHEST - 1e-3),
            lambda x: around(x)[1],
            bounds=(LOWEST, HIGHEST),
            loss="soft_l1",
            f_scale=2.0 * NOISE_V,
            max_nfev=rounds,
            x_scale=np.append(STEPS, 0.02),
        )

    tried = [search(begins, FIRST_ROUNDS) for begins in _first_guesses(window, sunny)]
    found = search(min(tried, key=lambda one: float(one.cost)).x, ROUNDS)
    day = np.append(np.resize(window.readings.at_s // DAY_S, len(around(found.x)[0]) - 2), (-1.0, -2.0))
    return Fitted(found.x, _errors(*around(found.x), day))


def misfit(window: Window, trials: np.ndarray) -> np.ndarray:
    """(trials, k) what the simulation lies above the readings, V; currents weighed as so many volts."""
    ran, log = window.run(trials), window.readings
    parts = [ran.volts.T.astype(float) - log.voltage_v]
    if log.current_a is not None:
        parts.append(VOLTS_PER_A * np.nan_to_num(ran.amps.T - log.current_a))
    return np.concatenate(parts, axis=1)


def _around(window: Window, x: np.ndarray, sunny: bool) -> tuple[np.ndarray, np.ndarray]:
    """Misfit (k,) and its slopes (k, 4), of one run of lanes; what is believed of panel and meter stands behind."""
    steps = np.where(x[:3] + STEPS <= HIGHEST[:3], STEPS, -STEPS)
    moved = np.column_stack([np.vstack([x[:3], x[:3] + np.diag(steps)]), np.full(4, x[3])])
    own, *others = misfit(window, trials_of(window, moved))
    offset = np.zeros(len(own))
    offset[: len(window.readings.at_s)] = 1.0
    slopes = np.column_stack([((np.array(others) - own) / steps[:, np.newaxis]).T, offset])
    believed = NOISE_V * np.sqrt(OFFSET_WEIGHT) / np.array([1e3 if sunny else AMMETER, OFFSET_V])
    rows = np.concatenate([own + x[3] * offset, (x[[1, 3]] - (1.0, 0.0)) * believed])
    return rows, np.vstack([slopes, np.eye(4)[[1, 3]] * believed[:, np.newaxis]])


def _first_guesses(window: Window, sunny: bool) -> list[np.ndarray]:
    """At each charge the best of a coarse grid over resistance and panel, large misfits counted once only."""
    panels = (0.5, 0.7, 0.9, 1.1) if sunny else (1.0,)
    grid = np.array([(r, p, c, 0.0) for r in (0.6, 1.0, 1.7, 3.0) for p in panels for c in CHARGES])
    apart = misfit(window, trials_of(window, grid))
    cost = np.log1p((apart / NOISE_V) ** 2).sum(axis=1)
    each = [np.flatnonzero(grid[:, 2] == charge) for charge in CHARGES]
    return [grid[rows[cost[rows].argmin()]] for rows in each]


def _errors(rows: np.ndarray, slopes: np.ndarray, day: np.ndarray) -> np.ndarray:
    """(4,) standard errors, clustered by the ``day`` (k,) of a misfit, since what differs within a day is of one cause.

    Sandwich of (JᵀWJ)⁻¹ and the days' own pulls JᵀWr (Liang & Zeger 1986), W the weights of the soft-l1 loss.
    """
    weight = 1.0 / np.sqrt(1.0 + (rows / (2.0 * NOISE_V)) ** 2)
    weighed = slopes * weight[:, np.newaxis]
    bread = np.linalg.pinv(weighed.T @ slopes)
    pulls = np.array([weighed[day == one].T @ rows[day == one] for one in np.unique(day)])
    few = len(pulls) / max(len(pulls) - 4, 1)
    return np.asarray(np.sqrt(np.diag(bread @ (pulls.T @ pulls * few) @ bread)))
