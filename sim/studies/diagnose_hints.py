"""What a log tells without any search: the voltages at which the controller seems to have switched."""

from __future__ import annotations

from itertools import product

import numpy as np

from sim.scenario import Scenario
from sim.studies.measured_log import Readings

SHARES = (10.0, 30.0, 50.0, 70.0, 90.0)  # percentiles of the voltages beside a switching; a timer switches too
FEWEST = 2  # switchings that tell something


def switched_at(readings: Readings, scenario: Scenario) -> np.ndarray:
    """(k, 2) by how much the load disconnect and reconnect voltages may be higher than written, V; k is 0 where the log
    does not say when the pump ran.

    The last reading before the pump stands is close to the one voltage, the last before it runs to the other.
    """
    if readings.pump is None:
        return np.empty((0, 2))
    on = np.nan_to_num(readings.pump) > 0.5
    control, volts = scenario.controller, readings.voltage_v[:-1]
    stops, starts = volts[on[:-1] & ~on[1:]], volts[~on[:-1] & on[1:]]
    if min(len(stops), len(starts)) < FEWEST:
        return np.empty((0, 2))
    off_v = np.percentile(stops, SHARES) - control.load_disconnect_v
    on_v = np.percentile(starts, SHARES) - control.load_reconnect_v
    return np.array(list(product(off_v, on_v)))
