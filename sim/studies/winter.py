"""Whether a bigger battery would help over the winter."""

import numpy as np

from sim.plant.run import run, total
from sim.scenario import Scenario


def with_battery(scenario: Scenario, times: float) -> Scenario:
    """The scenario with a battery of so many times the capacity; what goes with the capacity goes along."""
    battery, measured = scenario.battery, scenario.battery.resistance_mohm
    bigger = {"capacity_ah": battery.capacity_ah * times, "resistance_mohm": measured / times if measured else None}
    return scenario.but(battery=bigger, controller={"charge_ends_a": scenario.controller.charge_ends_a * times})


def hours_with_battery(scenario: Scenario, sky: np.ndarray, times: float = 2.0) -> float:
    """The year's pump hours with a battery of so many times the capacity, under the same ``sky`` (hours,)."""
    ((log, _),) = run([with_battery(scenario, times)], sky[None])
    return total(log, "run_s") / 3600.0
