"""The timer, which costs nothing: the wanted time of day, and windows in it that are as long as the hours wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import length_h, seconds

if TYPE_CHECKING:
    from sim.scenario import Scenario

Window = tuple[str, str]
STARTS = 5  # that are tried, from as early to as late as is wanted
DAY_MIN = 24 * 60


def clock(minutes: float) -> str:
    """Minutes from midnight as a clock shows them, on the quarter.

    >>> clock(8 * 60), clock(24 * 60), clock(25 * 60 + 7)
    ('08:00', '24:00', '01:00')
    """
    quarter = round(minutes / 15) * 15
    within = quarter if quarter == DAY_MIN else quarter % DAY_MIN
    return f"{within // 60:02d}:{within % 60:02d}"


def windows_of(scenario: Scenario) -> tuple[Window, ...]:
    """The wanted time of day, and windows in it that are as long as the most hours wanted of a day.

    None where that is the whole day, which no clock need switch.
    """
    need = scenario.need
    most_h, wide_h = max(need.hours_per_day), length_h(need.between)
    first_min, spare_min = seconds(need.between[0]) / 60.0, 60.0 * (wide_h - most_h)
    starts = np.linspace(0.0, spare_min, STARTS if spare_min else 1) if most_h > 0.0 else ()
    inside = [(clock(first_min + late), clock(first_min + late + 60.0 * most_h)) for late in starts]
    every = dict.fromkeys((need.between, *inside))
    return tuple(window for window in every if length_h(window) < 24.0)
