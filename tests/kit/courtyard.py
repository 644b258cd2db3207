"""The courtyard's year with keys set, simulated once for all that ask; and what a battery yields in the cold."""

from __future__ import annotations

from functools import cache

import numpy as np
from conftest import COURTYARD, changed, year_in

from sim.catalogue.cells import cell
from sim.plant.sky import exhaustion_ohm
from sim.studies.result import YearResult
from sim.studies.year import simulate_year


@cache
def year_of(**changes: object) -> YearResult:
    """The courtyard's year with keys set; two underscores stand for the dot."""
    dotted = {key.replace("__", "."): value for key, value in changes.items()}
    return simulate_year(changed(dotted)) if dotted else year_in(COURTYARD)


def usable_share(chemistry: str, current_a: float, cell_c: float) -> float:
    """The share of a full 100 Ah block that a current takes out before rest voltage − I·B/soc meets the cut-off."""
    entry = cell(chemistry)
    soc = np.linspace(1.0, 1e-3, 20000)
    rest_v = np.interp(100.0 * soc, entry.rest_percent, entry.rest_v)
    under_load = rest_v - current_a * exhaustion_ohm(entry, np.array([cell_c]))[0] / soc
    return float(1.0 - soc[np.argmax(under_load < entry.capacity_cut_v)])
