"""Whole weather files of every format, to be damaged, and one figure of a line changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from sim.weather.samples import read_sample

HEADS = {"EPW": 8, "TMY3": 2, "TMY2": 1, "CSV": 1}
PLACES: dict[str, dict[str, Any]] = {  # where a quantity stands: a cell between commas or semicolons, or a piece
    "TMY3": {"ghi": 4, "dni": 7, "dhi": 10, "temp_air": 31, "wind_speed": 46},
    "EPW": {"ghi": 13, "dni": 14, "dhi": 15, "temp_air": 6, "wind_speed": 21},
    "TMY2": {"ghi": (17, 21), "dni": (23, 27), "dhi": (29, 33), "temp_air": (67, 71), "wind_speed": (95, 98)},
    "CSV": {"ghi": 1, "dni": 2, "dhi": 3, "temp_air": 4, "wind_speed": 5},
}


def put(form: str, line: str, quantity: str, change: Callable[[float], object]) -> str:
    """A line with one figure changed."""
    place = PLACES[form][quantity]
    if form == "TMY2":
        first, last = place
        return f"{line[:first]}{change(float(line[first:last])):>{last - first}}{line[last:]}"
    mark = ";" if form == "CSV" else ","
    cells = line.split(mark)
    cells[place] = str(change(float(cells[place])))
    return mark.join(cells)


@cache
def whole(form: str) -> tuple[str, ...]:
    """The lines of a whole file of a format."""
    import pvlib

    data = Path(pvlib.__file__).parent / "data"
    made: dict[str, Callable[[], Sequence[str]]] = {
        "TMY3": lambda: (data / "723170TYA.CSV").read_text().splitlines(),
        "TMY2": lambda: (data / "12839.tm2").read_text().splitlines(),
        "EPW": _epw,
        "CSV": _csv,
    }
    return tuple(made[form]())


def _rows() -> Sequence[tuple[datetime, Sequence[float]]]:
    table = read_sample("piedmont")[0].to_numpy()
    return [(datetime(2001, 1, 1) + timedelta(hours=k), row) for k, row in enumerate(table)]


def _csv() -> Sequence[str]:
    return ["at;G;B;D;T;W", *(f"{at};{';'.join(f'{value:.1f}' for value in row)}" for at, row in _rows())]


def _epw() -> Sequence[str]:
    from weather.conftest import EPW_HEAD

    head = "\n".join(EPW_HEAD).format(latitude=36.1, longitude=-79.95, offset=-5.0, elevation=273.0)
    rows = (
        f"2001,{at.month},{at.day},{at.hour + 1},60,?9?9,{air:g},5.0,70,99000,0,0,300,"
        f"{ghi:g},{dni:g},{dhi:g},0,0,0,0,180,{wind:g},5,5,20,7777,9,999999999,10,0.1,0,88,0.2,0,0"
        for at, (ghi, dni, dhi, air, wind) in _rows()
    )
    return [*head.split("\n"), *rows]
