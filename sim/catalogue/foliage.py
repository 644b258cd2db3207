"""What crowns of trees let through, and when they are in leaf."""

import csv
from datetime import date, timedelta
from functools import cache
from typing import NamedTuple

from sim.catalogue import ROOM

_DAYS = [date(2001, 1, 1) + timedelta(days=day) for day in range(365)]


class Crown(NamedTuple):
    """The share of the light that a crown lets through in leaf and out of leaf, 0…1."""

    leaf_on: float
    leaf_off: float


@cache
def foliage() -> dict[str, Crown]:
    """The crowns by kind of tree; ``foliage.csv`` says where each figure comes from.

    >>> foliage()["birch"]
    Crown(leaf_on=0.24, leaf_off=0.54)
    """
    text = (ROOM / "foliage.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    return {row["name"]: Crown(float(row["leaf_on"]), float(row["leaf_off"])) for row in rows}


def leafy_share(leaf_on: str, leaf_off: str) -> tuple[float, ...]:
    """(12,) share of each month's days in leaf, from the day "MM-DD" of leaf-on to the one before leaf-off.

    Leaves that come late in the year and fall early in the next, as in the south, are fine.

    >>> leafy_share("04-16", "11-01")[2:5], leafy_share("10-01", "05-01")[3:5]
    ((0.0, 0.5, 1.0), (1.0, 0.0))
    """
    start, end = (date.fromisoformat(f"2001-{day}") for day in (leaf_on, leaf_off))
    leafy = [start <= day < end if start < end else day >= start or day < end for day in _DAYS]
    months = [[leaf for leaf, day in zip(leafy, _DAYS, strict=True) if day.month == month] for month in range(1, 13)]
    return tuple(sum(days) / len(days) for days in months)
