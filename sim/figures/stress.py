"""What a year does to a battery: cycles counted by rainflow, damage by Miner's sum, calendar ageing by temperature.

Lead-acid that is not charged full wears faster with every cycle (:mod:`sim.figures.wear`). Cycles and calendar add up.
"""

from dataclasses import dataclass

import numpy as np
import rainflow

from sim.catalogue.cells import Cell
from sim.figures.wear import sulphation

LEAST_WEAR = 1e-6  # a year: a battery that is not cycled has a cycle life of a million years


@dataclass(frozen=True)
class Stress:
    """A year's wear. ``cycles`` are (depth 0…1, count) pairs; lives are in years.

    ``sulphation`` is how much more a cycle wears than one of a battery charged full each time, 1 for lithium.
    """

    equivalent_full_cycles: float
    cycles: tuple[tuple[float, float], ...]
    cycle_life_years: tuple[float, float]
    calendar_life_years: tuple[float, float]
    sulphation: float

    @property
    def life_years(self) -> tuple[float, float]:
        """Both wears together, low and high: 1/(1/cycles + 1/calendar)."""
        return tuple(map(together, self.cycle_life_years, self.calendar_life_years))  # type: ignore[return-value]


def together(one_years: float, other_years: float) -> float:
    """The life under two wears that add up, years.

    >>> together(10.0, 10.0)
    5.0
    """
    return 1.0 / (1.0 / one_years + 1.0 / other_years)


def turning_points(series: np.ndarray) -> np.ndarray:
    """The first and the last value of a series and where it turns between: all that counting of cycles looks at.

    A series that never turns is left as it is.

    >>> turning_points(np.array([1.0, 2.0, 2.0, 3.0, 1.0, 0.0, 5.0]))
    array([1., 3., 0., 5.])
    """
    moving = series[np.concatenate(([True], np.diff(series) != 0.0))]
    rising = np.diff(moving) > 0.0
    turns = np.flatnonzero(rising[1:] != rising[:-1]) + 1
    return moving[[0, *turns, -1]] if len(turns) else series


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
    cycles = counted(turning_points(soc))
    factor = 1.0 if chemistry.lithium else sulphation(soc)
    low, high = (
        1.0 / max(factor * miner_sum(cycles, full, power), LEAST_WEAR)
        for full, power in zip(chemistry.cycles_at_full_depth, chemistry.depth_exponent, strict=True)
    )
    pace = max(calendar_pace(cell_c, chemistry.ageing_doubles_per_c), 1.0)
    calendar_low, calendar_high = (years / pace for years in chemistry.calendar_years_25c)
    return Stress(discharged_share, cycles, (min(low, high), max(low, high)), (calendar_low, calendar_high), factor)
