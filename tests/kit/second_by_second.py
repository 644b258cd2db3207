"""Pairs of thresholds by the kernel and second by second, whole years or some days.

Several chatter in frost, where the battery takes no charge, with each way a controller has of meeting that, and with a
pump that drains the battery to its protection circuit. Delays are whole seconds here, because the second-by-second run
knows no others.
"""

from __future__ import annotations

from typing import Any

import brute_force
import numpy as np
import pytest
from conftest import changed, sky_of

from sim.plant.engine import WHOLE_DAY, Hours, Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.people import processes
from sim.scenario import Scenario

CLOCK = [["09:30", "17:00"]]


def pair(off_v: float, on_v: float, power_w: float = 20, **others: Any) -> dict[str, Any]:
    """A disconnect and a reconnect voltage with what else differs from the courtyard; __ stands for a dot."""
    keys = {"weather__sample": "piedmont", "battery__capacity_ah": 100, "pump__power_w": power_w} | others
    thresholds = {"controller.load_disconnect_v": off_v, "controller.load_reconnect_v": on_v}
    return thresholds | {key.replace("__", "."): value for key, value in keys.items()}


PAIRS = {
    "usual": pair(12.2, 13.1),
    "chatters": pair(13.1, 13.12),
    "chatters more": pair(13.15, 13.16),
    "tracker": pair(12.6, 13.0, 30, controller__kind="mppt"),
    "direct pump": pair(12.9, 13.2, pump__supply="direct"),
    "daylight": pair(13.0, 13.3, 40, controller__load_mode="daylight"),
    "clock": pair(13.0, 13.1, 45, weather__sample="subtropic", controller__load_mode="clock",
                  controller__load_windows=CLOCK),
    "frost": pair(13.0, 13.1, 24, weather__sample="aleutian"),
    "frost, chatters": pair(13.1, 13.15, 24, weather__sample="aleutian"),
    "frost, held": pair(12.6, 13.1, 24, weather__sample="aleutian", controller__on_refusal="holds"),
    "frost, load cut": pair(12.8, 13.1, 30, controller__on_refusal="cuts-load"),
    "frost, emptied": pair(10.2, 12.5, 45, weather__sample="aleutian"),
    "frost, emptied, tracker": pair(10.2, 12.5, 45, weather__sample="aleutian", controller__kind="mppt"),
    "frost, small block": pair(12.4, 13.1, 10, battery__capacity_ah=25),
}  # fmt: skip
Span = tuple[int, int]  # days of the year: the first, and how many


def hard_way(scenario: Scenario, sky: np.ndarray) -> brute_force.Year:
    """The days of a sky (hours,) of SKY second by second; it releases the interpreter lock."""
    days = len(sky) // 24
    hours = Hours(scenario.controller.load_windows_s or WHOLE_DAY)
    scheduled = np.tile([hours.holds(60.0 * minute) for minute in range(1440)], days)
    lane, begins = (lanes_from([scenario], [0])[part][0] for part in ("lane", "state"))
    return brute_force.second_by_second(lane, sky, scheduled, begins["soc"], days)  # type: ignore[no-any-return]


def both_ways(pair: dict[str, Any], span: Span) -> tuple[np.void, brute_force.Year]:
    """The totals of some days of a pair by the engine, and what second by second came to."""
    scenario, (first, days) = changed(pair), span
    sky = sky_of(scenario)[24 * first : 24 * (first + days)]
    plant = Plant(lanes_from([scenario], [0]), sky[np.newaxis])
    return simulate(plant, processes(plant, [scenario])).totals[-1, 0], hard_way(scenario, sky)


def agree(kernel: np.void, hard: brute_force.Year, capacity_ah: float) -> None:
    """Hours within 0.05 %, starts and disconnects within 0.5 % or one; charge within 0.2 % of the capacity, and what it
    took within 0.1 %, of little within 0.1 % of the capacity: a stop a minute sooner or later moves so much.
    """
    assert kernel["run_s"] / 3600.0 == pytest.approx(hard.run_h, rel=5e-4)
    assert kernel["starts"] == pytest.approx(hard.starts, rel=5e-3, abs=1.0)
    assert kernel["disconnects"] == pytest.approx(hard.disconnects, rel=5e-3, abs=1.0)
    assert kernel["soc"] == pytest.approx(hard.final_soc, abs=2e-3)
    assert kernel["charge_ah"] == pytest.approx(hard.charge_ah, rel=1e-3, abs=1e-3 * capacity_ah)
    assert kernel["protection_s"] / 3600.0 == pytest.approx(hard.protection_h, rel=0.01, abs=0.1)
