"""The courtyard's year with keys set, simulated once for all that ask; and what a battery yields in the cold."""

from __future__ import annotations

from functools import cache

import numpy as np
from conftest import COURTYARD, changed, year_in

from sim.catalogue.cells import cell
from sim.plant.engine import Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.records import SKY
from sim.plant.sky import cold_ohm, ohm_factor
from sim.studies.result import YearResult
from sim.studies.year import simulate_year


@cache
def year_of(**changes: object) -> YearResult:
    """The courtyard's year with keys set; two underscores stand for the dot."""
    dotted = {key.replace("__", "."): value for key, value in changes.items()}
    return simulate_year(changed(dotted)) if dotted else year_in(COURTYARD)


def usable_ah(chemistry: str, current_a: float, cell_c: float) -> float:
    """What a constant current takes out of a full 100 Ah block down to the sheet's cut-off, by the circuit itself."""
    scenario, entry = changed({"battery.chemistry": chemistry, "battery.capacity_ah": 100}), cell(chemistry)
    lanes, hours = lanes_from([scenario], [0]), int(110.0 / current_a) + 2
    lanes["lane"]["own_a"], lanes["lane"]["lead_ohm"], lanes["lane"]["self_discharge_a"] = current_a, 0.0, 0.0
    lanes["lane"]["protect_low_v"], lanes["lane"]["blocked_drop_v"] = entry.capacity_cut_v, 0.0
    lanes["lane"]["protect_low_recover_v"] = 99.0
    lanes["inputs"]["scheduled"], lanes["state"]["soc"], lanes["state"]["side"] = 0, 1.0, -1.0
    sky, at_c = np.zeros((1, hours), SKY), np.full(hours, cell_c)
    sky["cell_c"], sky["ohm_factor"], sky["cold_ohm"] = at_c, ohm_factor(entry, at_c), cold_ohm(entry, at_c)
    return float(simulate(Plant(lanes, sky), []).totals[-1, 0]["discharge_ah"])
