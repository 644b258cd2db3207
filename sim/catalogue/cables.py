"""Conductor sizes and their resistance."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def class5_ohm_per_km() -> dict[float, float]:
    """Area in mm² to the maximum resistance of a flexible copper conductor at 20 °C in Ω/km (IEC 60228 class 5)."""
    text = files("sim.catalogue").joinpath("cables.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {float(row["area_mm2"]): float(row["class5_ohm_km"]) for row in rows}


def ohm_per_km(area_mm2: float) -> float:
    """Resistance of one conductor at 20 °C, Ω/km; for a size between the standard ones that of the nearest, by area.

    >>> ohm_per_km(2.5), round(ohm_per_km(3.0), 3)
    (7.98, 6.65)
    """
    table = class5_ohm_per_km()
    near = min(table, key=lambda area: abs(area - area_mm2))
    return table[near] * near / area_mm2
