"""A scenario's year the hard way."""

from __future__ import annotations

import brute_force
import numpy as np

from sim.plant.engine import WHOLE_DAY, Hours
from sim.plant.lanes import lanes_from
from sim.scenario import Scenario

DAYS = 365


def hard_way(scenario: Scenario, sky: np.ndarray) -> brute_force.Year:
    """The year second by second; it releases the interpreter lock."""
    hours = Hours(scenario.controller.load_windows_s or WHOLE_DAY)
    scheduled = np.tile([hours.holds(60.0 * minute) for minute in range(1440)], DAYS)
    lane, begins = (lanes_from([scenario], [0])[part][0] for part in ("lane", "state"))
    return brute_force.second_by_second(lane, sky, scheduled, begins["soc"], DAYS)  # type: ignore[no-any-return]
