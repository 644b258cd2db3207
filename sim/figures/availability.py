"""For which share of the hours in which the pump may run there is energy, and nothing is broken.

IEEE 1013 and IEEE 1562 size a stand-alone system by its availability: the share of time in which it can feed its load,
by energy alone, with failures left out of account (from memory, unchecked). Here the time that counts is all but the
season and the schedule, and downtime is split in two: faults, and all else, which is short energy and its settings.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

PLANNED = ("schedule", "seasonal")  # stops in which nobody asks for water
FAULTS = ("fault",)
PERCENTILES = (10, 50, 90)


@dataclass(frozen=True)
class Availability:
    """Hours in which the pump may run, and those of them in which it stands for want of energy and for faults."""

    demanded_h: float
    energy_down_h: float
    faults_down_h: float

    def _without(self, down_h: float) -> float:
        return 1.0 - down_h / self.demanded_h if self.demanded_h > 0.0 else 1.0

    @property
    def energy(self) -> float:
        """Availability by energy alone, 0…1."""
        return self._without(self.energy_down_h)

    @property
    def faults(self) -> float:
        """Availability by faults alone, 0…1.

        >>> Availability(1000.0, 100.0, 20.0).faults
        0.98
        """
        return self._without(self.faults_down_h)

    @property
    def total(self) -> float:
        """Availability by both, 0…1: the share of the hours that count in which the pump ran."""
        return self._without(self.energy_down_h + self.faults_down_h)

    def as_json(self) -> dict[str, float]:
        """Plain data under the published names."""
        return {"energy": self.energy, "faults": self.faults, "total": self.total, **vars(self)}


def availability_of(hours_by_cause: Mapping[str, float], run_h: float) -> Availability:
    """From the hours of standing by cause, and those of running.

    >>> availability_of({"schedule": 4000.0, "night": 500.0, "fault": 260.0}, 4000.0)
    Availability(demanded_h=4760.0, energy_down_h=500.0, faults_down_h=260.0)
    """
    unplanned = sum(hours for cause, hours in hours_by_cause.items() if cause not in PLANNED)
    faults = sum(hours_by_cause[cause] for cause in FAULTS)
    return Availability(run_h + unplanned, unplanned - faults, faults)


def spread_of(over_seeds: np.ndarray) -> dict[str, Any]:
    """Percentiles of availability over seeds: ``over_seeds`` (seeds, 3) holds energy, faults and total of each."""
    found: dict[str, Any] = {"seeds": len(over_seeds)}
    for name, column in zip(("energy", "faults", "total"), over_seeds.T, strict=True):
        found[name] = {f"p{p}": float(np.percentile(column, p)) for p in PERCENTILES}
    return found
