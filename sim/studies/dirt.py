"""What dirt costs: the same year with so much of the panel's light lost, against a clean panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sim.figures.lanes import met_by_day
from sim.plant.engine import Plant, Process
from sim.plant.log import Log
from sim.plant.people import processes
from sim.plant.run import How, run
from sim.scenario import Scenario
from sim.studies.twins import KEPT_CLEAN

SHARES = (0.02, 0.05, 0.10, 0.20)  # of the light that dirt takes


@dataclass(frozen=True)
class Dirt:
    """Hours of a year that a share of dirt costs against a clean panel: wanted ones, and any."""

    share: float
    met_h: float
    pump_h: float

    def as_json(self) -> dict[str, float]:
        """Plain data under the published names."""
        return {"share": self.share, "lost_wanted_hours": self.met_h, "lost_pump_hours": self.pump_h}


def dirt_costs(scenario: Scenario, sky: np.ndarray, wanted: np.ndarray) -> tuple[Dirt, ...]:
    """The hours that each of SHARES costs, under the scenario's ``sky`` (hours,) and hours ``wanted`` (days,).

    Dirt that grows and is cleaned away, and snow, are left out: it is a constant film that is asked for.
    """
    film = scenario.but(care=KEPT_CLEAN)
    left = np.array([1.0 - share for share in (0.0, *SHARES)]) / (1.0 - scenario.panel.soiling)

    def dirtied(lanes: np.ndarray, numbers: np.ndarray) -> None:
        lanes["inputs"]["clean"] = left[numbers]

    def people(plant: Plant, scenarios: Sequence[Scenario], numbers: np.ndarray) -> list[Process]:
        return processes(plant, scenarios, left[numbers].tolist())

    def hours(log: Log, numbers: np.ndarray) -> Any:
        met = met_by_day(log, wanted).sum(axis=1)
        return list(zip(met.tolist(), (log.totals["run_s"][-1] / 3600.0).tolist(), strict=True))

    how = replace(How(), tune=dirtied, people=people)
    (clean_met, clean_run), *dirty = run([film] * len(left), sky[np.newaxis], hours, how)
    return tuple(Dirt(share, clean_met - met, clean_run - ran) for share, (met, ran) in zip(SHARES, dirty, strict=True))
