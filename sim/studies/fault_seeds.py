"""How much a year's availability is a matter of chance: the same design and weather with other seeds of its faults."""

from collections.abc import Sequence

import numpy as np

from sim.figures.availability import Availability
from sim.plant.log import Log
from sim.plant.run import How, run
from sim.scenario import Scenario

SEEDS = range(1, 51)  # of the spread in a year's report; our own default


def with_seed(scenario: Scenario, seed: int) -> Scenario:
    """The scenario with another seed of its faults."""
    return scenario.but(care={"fault_seed": seed})


def faults_over_seeds(scenario: Scenario, sky: np.ndarray, seeds: Sequence[int] = SEEDS) -> np.ndarray:
    """(seeds, 3) availability by energy, by faults and by both, of the year under ``sky`` (hours,) with each seed."""
    designs = [with_seed(scenario, seed) for seed in seeds]
    return np.array(run(designs, sky[np.newaxis], _availabilities, How(at_once=25)))


def _availabilities(log: Log, _: np.ndarray) -> list[tuple[float, float, float]]:
    """Availability of each lane by energy, by faults and by both."""
    last, year_s = log.totals[-1], float(log.at_s[-1])
    down_s = year_s - last["run_s"] - last["schedule_s"] - last["seasonal_s"] - last["fault_s"]
    demanded_s = last["run_s"] + down_s + last["fault_s"]
    found = (Availability(*hours) for hours in np.array([demanded_s, down_s, last["fault_s"]]).T / 3600.0)
    return [(one.energy, one.faults, one.total) for one in found]
