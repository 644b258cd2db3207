"""What a year does to a battery: cycles counted by rainflow, damage by Miner's sum, calendar ageing by temperature."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import rainflow

from sim.catalogue.cells import Cell


@dataclass(frozen=True)
class Stress:
    """A year's wear. ``cycles`` are (depth 0…1, count) pairs; lives are in years, the sooner of cycles and calendar."""

    equivalent_full_cycles: float
    cycles: tuple[tuple[float, float], ...]
    cycle_life_years: tuple[float, float]
    calendar_life_years: tuple[float, float]

    @property
    def life_years(self) -> tuple[float, float]:
        """The shorter of the two lives, low and high."""
        return tuple(map(min, self.cycle_life_years, self.calendar_life_years))  # type: ignore[return-value]


def counted(soc: np.ndarray) -> tuple[tuple[float, float], ...]:
    """Rainflow cycles of a series (ASTM E1049-85, section 5.4.4), as (range, count) pairs in order of range.

    >>> counted(np.array([-2, 1, -3, 5, -1, 3, -4, 4, -2]))
    ((3.0, 0.5), (4.0, 1.5), (6.0, 0.5), (8.0, 1.0), (9.0, 0.5))
    """
    return tuple((float(depth), float(count)) for depth, count in rainflow.count_cycles(soc, ndigits=4))


def miner_sum(cycles: tuple[tuple[float, float], ...], full_depth_cycles: float, exponent: float) -> float:
    """Miner's sum Σ n/N with N(d) = N_full·d^−k; the battery is worn out at 1.

    >>> round(miner_sum(((1.0, 1000.0), (0.5, 1000.0)), 2000.0, 1.0), 6)
    0.75
    """
    return float(sum(count * depth**exponent / full_depth_cycles for depth, count in cycles if depth > 0.0))


def calendar_pace(cell_c: np.ndarray, doubles_per_c: float) -> float:
    """Calendar ageing against that at 25 °C: the mean of 2^((t − 25)/d) over the year.

    >>> calendar_pace(np.array([35.0, 35.0]), 10.0)
    2.0
    """
    return float(np.mean(2.0 ** ((cell_c - 25.0) / doubles_per_c)))


def stress_of(chemistry: Cell, soc: np.ndarray, discharged_share: float, cell_c: np.ndarray) -> Stress:
    """A year's wear from the charge 0…1 hour by hour, the discharge in capacities, and the cells' temperature.

    Cold does not lengthen the calendar life beyond that at 25 °C, since no sheet promises it.
    """
    cycles = counted(soc)
    low, high = (
        1.0 / max(miner_sum(cycles, full, power), 1e-6)
        for full, power in zip(chemistry.cycles_at_full_depth, chemistry.depth_exponent, strict=True)
    )
    pace = max(calendar_pace(cell_c, chemistry.ageing_doubles_per_c), 1.0)
    calendar = tuple(years / pace for years in chemistry.calendar_years_25c)
    return Stress(discharged_share, cycles, (min(low, high), max(low, high)), calendar)  # type: ignore[arg-type]
