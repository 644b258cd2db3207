"""The books of some scenarios after a piece of sky; loads little, for a process of its own."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from sim.plant.engine import Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.people import processes
from sim.plant.records import TOTALS
from sim.scenario import parse


def last_totals(several: list[dict[str, Any]], sky: np.ndarray) -> list[list[float]]:
    """What stands in the books of scenarios at the end."""
    scenarios = [parse(data, Path("pond.toml")) for data in several]
    plant = Plant(lanes_from(scenarios, [0] * len(scenarios)), sky)
    log = simulate(plant, processes(plant, scenarios))
    return [[float(log.totals[name][-1, k]) for name in TOTALS.names] for k in range(len(scenarios))]
