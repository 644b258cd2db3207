"""Two figures by which textbooks size a stand-alone system: its array and its store, each against the daily load.

Egido & Lorenzo, The sizing of stand-alone PV systems, Solar Energy Materials and Solar Cells 26 (1992) 51–69 (from
memory, unchecked). They know no losses, no frost and no clock, so they stand beside a simulation and not in its place.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np


class Ratios(NamedTuple):
    """``array_to_load`` in the month (1…12) where it is least, and the days that a full battery carries the load."""

    array_to_load: float
    month: int
    days_of_autonomy: float


def ratios_of(array_w: float, battery_wh: float, daily_kwh_m2: np.ndarray, load_wh: np.ndarray) -> Ratios:
    """C_A and C_S of a system in the month in which C_A is least; light in the plane and load of a day are (12,).

    C_A = light·array/load, with the light in hours of 1 kW/m²; C_S = store/load of that month. Months without a load
    are left out.

    >>> ratios_of(100.0, 600.0, np.full(12, 2.0), np.where(np.arange(12) == 5, 150.0, 100.0))
    Ratios(array_to_load=1.3333333333333333, month=6, days_of_autonomy=4.0)
    """
    ratio = np.full(12, np.inf)
    np.divide(daily_kwh_m2 * array_w, load_wh, out=ratio, where=load_wh > 0.0)
    month = int(ratio.argmin())
    return Ratios(float(ratio[month]), month + 1, float(battery_wh / load_wh[month]))
