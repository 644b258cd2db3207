"""Pipe materials, fittings and valves by name."""

import tomllib
from functools import cache
from typing import Any

from sim.catalogue import ROOM


@cache
def _tables() -> dict[str, dict[str, Any]]:
    return tomllib.loads((ROOM / "pipework.toml").read_text(encoding="utf-8"))


def roughness_mm() -> dict[str, float]:
    """Absolute roughness by material, mm.

    >>> roughness_mm()["smooth-plastic"]
    0.0015
    """
    return _tables()["roughness_mm"]


def fittings() -> dict[str, float]:
    """Loss coefficient K of each fitting on its pipe's velocity head.

    >>> fittings()["elbow"]
    1.5
    """
    return _tables()["fitting"]


def inside_mm() -> dict[str, float]:
    """Inside diameter of the trade's sizes of pipe and hose, mm.

    >>> inside_mm()["pe-32"]
    26.2
    """
    return _tables()["inside_mm"]


def valves() -> dict[str, list[list[float]]]:
    """Pairs of opening in per cent and loss coefficient, by kind of valve, opening rising.

    >>> sorted(valves())
    ['ball', 'gate']
    """
    return _tables()["valve"]
