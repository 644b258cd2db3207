"""A year of the event-driven kernel against the same year integrated second by second.

Several pairs chatter in frost, where the battery takes no charge, with each way a controller has of meeting that, and
with a pump that drains the battery to its protection circuit. Delays are whole seconds here, because the
second-by-second run knows no others.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import brute_force
import numpy as np
import pytest
from kit.second_by_second import hard_way

from sim.plant.engine import Plant, simulate
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
    "frost, small block": pair(12.4, 13.1, 10, battery__capacity_ah=25),
}  # fmt: skip
CHATTERING = ("chatters", "chatters more")


def kernel_way(scenario: Scenario, sky: np.ndarray) -> np.void:
    """The totals of the same year by the engine."""
    plant = Plant(lanes_from([scenario], [0]), sky[np.newaxis])
    return simulate(plant, processes(plant, [scenario])).totals[-1, 0]  # type: ignore[no-any-return]


@pytest.fixture(scope="module")
def both(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> dict[str, tuple[np.void, brute_force.Year]]:
    """Every pair's year by the kernel and second by second."""
    scenarios = {name: design(changes) for name, changes in PAIRS.items()}
    skies = {name: sky_for(scenario) for name, scenario in scenarios.items()}
    with ThreadPoolExecutor(2) as pool:
        hard = {name: pool.submit(hard_way, scenario, skies[name]) for name, scenario in scenarios.items()}
        return {name: (kernel_way(scenarios[name], skies[name]), run.result()) for name, run in hard.items()}


@pytest.mark.parametrize("name", PAIRS)
def test_pump_hours_are_those_of_the_second_by_second_run(name: str, both) -> None:  # type: ignore[no-untyped-def]
    """Within 0.05 % over a year."""
    kernel, hard = both[name]
    assert kernel["run_s"] / 3600.0 == pytest.approx(hard.run_h, rel=5e-4)


@pytest.mark.parametrize("name", PAIRS)
def test_starts_are_those_of_the_second_by_second_run(name: str, both) -> None:  # type: ignore[no-untyped-def]
    """Within 0.5 % or one start over a year, and disconnects alike."""
    kernel, hard = both[name]
    assert kernel["starts"] == pytest.approx(hard.starts, rel=5e-3, abs=1.0)
    assert kernel["disconnects"] == pytest.approx(hard.disconnects, rel=5e-3, abs=1.0)


@pytest.mark.parametrize("name", PAIRS)
def test_charge_is_that_of_the_second_by_second_run(name: str, both) -> None:  # type: ignore[no-untyped-def]
    """The battery ends the year within 0.2 % of its charge, and took the same Ah within 0.1 %."""
    kernel, hard = both[name]
    assert kernel["soc"] == pytest.approx(hard.final_soc, abs=2e-3)
    assert kernel["charge_ah"] == pytest.approx(hard.charge_ah, rel=1e-3)


@pytest.mark.parametrize("name", PAIRS)
def test_protection_is_that_of_the_second_by_second_run(name: str, both) -> None:  # type: ignore[no-untyped-def]
    """Hours behind an open protection circuit within 1 % or a tenth of an hour."""
    kernel, hard = both[name]
    assert kernel["protection_s"] / 3600.0 == pytest.approx(hard.protection_h, rel=0.01, abs=0.1)


def test_the_pairs_are_worth_comparing(both) -> None:  # type: ignore[no-untyped-def]
    """Two pairs chatter (more than 50,000 starts and stops), and each of the others stops the pump by voltage."""
    for name in CHATTERING:
        assert 2 * both[name][1].starts > 50_000
    assert all(year.disconnects > 10 for _, year in both.values())
