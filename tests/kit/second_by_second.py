"""A scenario's days the hard way."""

from __future__ import annotations

import brute_force
import numpy as np

from sim.plant.engine import WHOLE_DAY, Hours
from sim.plant.lanes import lanes_from
from sim.scenario import Scenario


def hard_way(scenario: Scenario, sky: np.ndarray) -> brute_force.Year:
    """The days of a sky (hours,) of SKY second by second; it releases the interpreter lock."""
    days = len(sky) // 24
    hours = Hours(scenario.controller.load_windows_s or WHOLE_DAY)
    scheduled = np.tile([hours.holds(60.0 * minute) for minute in range(1440)], days)
    lane, begins = (lanes_from([scenario], [0])[part][0] for part in ("lane", "state"))
    return brute_force.second_by_second(lane, sky, scheduled, begins["soc"], days)  # type: ignore[no-any-return]
