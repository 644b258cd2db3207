"""The smallest scenario: what has no default, and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sim.scenario import overridden, parse

POND = Path("pond.toml")
SMALLEST: dict[str, Any] = {
    "weather": {"sample": "piedmont"},
    "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}


def changed(**changes: Any) -> Any:
    """The smallest scenario with values set; two underscores stand for a dot."""
    return parse(overridden(SMALLEST, {key.replace("__", "."): value for key, value in changes.items()}), POND)
