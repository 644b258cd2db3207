"""How far a system that is off from what is written lies from a log, and what is unknown of it.

Labels are not quite true: capacity and pump power are unknowns beside resistance, panel and first charge, and so is
what the leads have of the resistance, which does not change with the cold.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from sim.studies.diagnose_seen import NOISE_V, OFFSET_V
from sim.studies.diagnose_trials import plain
from sim.studies.measured_window import Window

# The unknowns: resistance, capacity and pump in the logarithm of times the scenario's; panel as times its current;
# charge at first; the leads' share of resistance, in times the battery's.
RESISTANCE, PANEL, CHARGE, CAPACITY, PUMP, LEADS = range(6)
LOWEST = np.array([np.log(0.2), 0.2, 0.02, -0.3, -0.3, 0.0])
HIGHEST = np.array([np.log(10.0), 1.5, 0.999, 0.3, 0.3, 6.0])
MOST_OFFSET_V = 0.3
LOOSE_V = 2.0 * NOISE_V  # from here on a misfit counts by its size instead of its square
VOLTS_PER_A = 0.05  # an ampere of misfit counts as so many volts; our own default
OFFSET_WEIGHT = 5.0  # readings that a belief is worth


def trials_of(window: Window, unknowns: np.ndarray) -> np.ndarray:
    """(k,) of TRIAL from (k, 6)."""
    trials = plain(len(unknowns))
    for name, place in (("resistance", RESISTANCE), ("capacity", CAPACITY), ("pump", PUMP)):
        trials[name] = np.exp(unknowns[:, place])
    trials["light"] = unknowns[:, PANEL]
    trials["soc"] = unknowns[:, CHARGE] - window.own_charge
    trials["lead_ohm"] = unknowns[:, LEADS] * window.ohm
    return trials


@dataclass(frozen=True)
class Misfit:
    """What trials lie above the readings: volts (k, n), and currents (k, n or 0) weighed as so many volts."""

    volts: np.ndarray
    amps: np.ndarray

    @classmethod
    def of(cls, window: Window, unknowns: np.ndarray) -> Misfit:
        """That of (k, 6) unknowns."""
        ran, log = window.run(trials_of(window, unknowns)), window.readings
        amps = np.empty((len(unknowns), 0))
        if log.current_a is not None:
            amps = VOLTS_PER_A * np.nan_to_num(ran.amps.T - log.current_a)
        return cls(ran.volts.T.astype(float) - log.voltage_v, amps)

    @property
    def rows(self) -> np.ndarray:
        """(k, n or 2n) both."""
        return np.concatenate([self.volts, self.amps], axis=1)

    @cached_property
    def offset_v(self) -> np.ndarray:
        """(k,) what is to be added to each trial so that it explains the log best: the meter's offset."""
        offset = -np.median(self.volts, axis=1)
        for _ in range(4):
            weight = 1.0 / np.sqrt(1.0 + ((self.volts + offset[:, np.newaxis]) / LOOSE_V) ** 2)
            believed = OFFSET_WEIGHT * (NOISE_V / OFFSET_V) ** 2
            offset = -(weight * self.volts).sum(axis=1) / (weight.sum(axis=1) + believed)
        return np.asarray(np.clip(offset, -MOST_OFFSET_V, MOST_OFFSET_V))

    @cached_property
    def cost(self) -> np.ndarray:
        """(k,) what is left unexplained, V²."""
        left = _loss(self.volts + self.offset_v[:, np.newaxis]).sum(axis=1) + _loss(self.amps).sum(axis=1)
        return np.asarray(left + 0.5 * OFFSET_WEIGHT * (NOISE_V * self.offset_v / OFFSET_V) ** 2)


def _loss(volts: np.ndarray) -> np.ndarray:
    """Half the square of a small misfit, and a straight line for a large one: the soft-l1 loss."""
    return np.asarray(LOOSE_V**2 * (np.sqrt(1.0 + (volts / LOOSE_V) ** 2) - 1.0))
