"""Check values from the table of published and derived figures, by id.

``published.check("REF057", value)`` compares with the row's expected value within the row's own tolerance.
"""

from __future__ import annotations

import csv
import functools
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NamedTuple

TABLE = Path(__file__).parent.parent / "shared" / "reference_values.csv"
_NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?"
_ROUNDING = 1e-9
ASKED: set[str] = set()  # the rows that tests have asked for in this session


class Row(NamedTuple):
    """A row of the table as it stands there."""

    id: str
    area: str
    quantity: str
    inputs: str
    expected: str
    unit: str
    tolerance: str
    source: str
    provenance: str


@functools.cache
def rows() -> dict[str, Row]:
    """Every row by its id."""
    with TABLE.open(encoding="utf-8", newline="") as lines:
        return {line["id"]: Row(**line) for line in csv.DictReader(lines)}


def row(id: str) -> Row:
    """The row of an id.

    >>> row("REF057").unit
    'W/m2'
    """
    ASKED.add(id)
    return rows()[id]


def span(text: str) -> tuple[float, float]:
    """The lowest and the highest value a piece of an expectation allows before any tolerance.

    >>> span("0.55..0.6"), span("-12.5"), span("06:12:43")
    ((0.55, 0.6), (-12.5, -12.5), (22363.0, 22363.0))
    """
    text = text.strip()
    if clock := re.fullmatch(r"(\d+):(\d+):(\d+)", text):
        hours, minutes, seconds = map(float, clock.groups())
        return (3600 * hours + 60 * minutes + seconds,) * 2
    found = re.fullmatch(rf"({_NUMBER})(?:\s*\.\.\s*({_NUMBER}))?", text)
    if not found:
        raise ValueError(f'"{text}" is not a number or a range of numbers')
    low, high = found.groups()
    return float(low), float(high or low)


def expected(id: str) -> tuple[tuple[float, float], ...]:
    """Lowest and highest value of each slash-separated piece of the row's expectation.

    >>> expected("REF016")
    ((42.8523, 42.8523), (252.163, 252.163))
    """
    return tuple(span(piece) for piece in row(id).expected.split("/"))


def value(id: str) -> float:
    """The one expected value of a row.

    >>> value("REF058")
    11.6978
    """
    ((low, high),) = expected(id)
    if low != high:
        raise ValueError(f"{id} gives a range, {low} to {high}")
    return low


_MARGINS: dict[str, Callable[[float, tuple[float, float]], tuple[float, float]]] = {
    "abs": lambda size, ends: (ends[0] - size, ends[1] + size),
    "rel": lambda size, ends: (ends[0] - abs(ends[0]) * size / 100, ends[1] + abs(ends[1]) * size / 100),
    "factor": lambda size, ends: (ends[0] / size, ends[1] * size),
}


def widened(ends: tuple[float, float], tolerance: str) -> tuple[float, float]:
    """The allowed interval. The first rule of a tolerance counts: "rel 0.5 % same sky; rel 2 % otherwise" is 0.5 %.

    >>> widened((2.0, 2.0), "abs 0.1 (another table: 2.3)"), widened((200.0, 200.0), "rel 1 %")
    ((1.9, 2.1), (198.0, 202.0))
    """
    if found := re.match(rf"(abs|rel|factor)\s+({_NUMBER})", tolerance):
        return _MARGINS[found[1]](float(found[2]), ends)
    if re.match(r"exact|range", tolerance):
        return ends
    raise ValueError(f'tolerance "{tolerance}" cannot be checked by a number')


def check(id: str, got: float | Sequence[float], tolerance: str | None = None) -> None:
    """Fail unless ``got`` (one value for each slash-separated piece) agrees with the row.

    ``tolerance`` replaces the row's own, in the same words; say at the call why.
    """
    several = hasattr(got, "__len__") and getattr(got, "ndim", 1) > 0
    values = [float(number) for number in (got if several else [got])]
    pieces, entry = expected(id), row(id)
    assert len(values) == len(pieces), f"{id} expects {len(pieces)} values, not {len(values)}"
    for number, ends in zip(values, pieces, strict=True):
        low, high = widened(ends, tolerance or entry.tolerance)
        slack = _ROUNDING * max(abs(low), abs(high))
        assert low - slack <= number <= high + slack, (
            f"{id} {entry.quantity} ({entry.inputs}): {number} is not {entry.expected} {entry.unit} "
            f"within {tolerance or entry.tolerance}; source: {entry.source}"
        )
