"""Plain tables of hourly weather: any delimiter, columns by name and unit; and tables as this program writes them."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NamedTuple

import pandas as pd

from sim.catalogue.zones import standard_offset_h
from sim.errors import InputError
from sim.files import cells_of
from sim.units import UNITS, Quantity, sentence
from sim.weather.readings import FOREIGN_LICENCE, Readings
from sim.weather.stamps import dated, on_full_hours, starts_of, wrapped
from sim.weather.weather import COLUMNS, Site, Weather

DELIMITERS = ",;\t|"
PREAMBLE = 200  # lines in which the headings must come
STILL_AIR_MS = 1.0  # where a table has no wind: what pvlib's cell temperature models take by default
NOTHING = frozenset(("", "nan", "na", "n/a", "null", "none", "-", "--"))
_NO_DATA = frozenset((-999.0, -9999.0, 9999.0, -99999.0, 99999.0))  # common marks, whatever the unit
_OWN_HEAD = "# hourly weather"
_OWN_COLUMNS: Any = SimpleNamespace(
    time=("time",),
    stamp="hour-start",
    time_format="%Y-%m-%d %H:%M",
    utc_offset_h=None,
    time_zone=None,
    **{
        name: SimpleNamespace(column=name, unit=unit)
        for name, unit in zip(COLUMNS, ("W/m2", "W/m2", "W/m2", "C", "m/s"), strict=True)
    },
)


class _Grid(NamedTuple):
    """The cells of a table by heading, and the line each row stands on."""

    cells: dict[str, list[str]]
    lines: list[int]
    delimiter: str


def read_table(path: Path, text: str, columns: Any, site: Any) -> Readings:
    """The readings of a table whose columns a scenario names; the place and its clock are the scenario's."""
    headings = [getattr(columns, name).column for name in COLUMNS if getattr(columns, name) is not None]
    grid = _grid(str(path), text.split("\n"), [*columns.time, *headings])
    stamps = [" ".join(parts) for parts in zip(*(grid.cells[name] for name in columns.time), strict=True)]
    offset_h = _offset_h(columns, site, stamps)
    figures, absent = _figures(str(path), grid, columns)
    starts = starts_of(str(path), stamps, grid.lines, columns, offset_h)
    figures, hours, shared = on_full_hours(figures, COLUMNS, starts)
    starts, order, notes = wrapped(hours)
    table = figures.assign(**dated(starts), line=grid.lines).iloc[order].reset_index(drop=True)
    notes += shared
    if "wind_speed" in absent:
        still = Quantity(STILL_AIR_MS, "m_s", "g")
        notes.append(sentence("The file has no wind: {wind} is taken throughout.", wind=still))
    lacking = tuple(name for name in absent if name != "wind_speed")
    elevation_m = 0.0 if site.elevation_m is None else site.elevation_m
    where = Site(site.latitude_deg, site.longitude_deg, elevation_m, offset_h)
    return Readings(str(path), table, where, f"Table {path.name}", FOREIGN_LICENCE, lacking, tuple(notes))


def _offset_h(columns: Any, site: Any, stamps: Sequence[str]) -> float:
    """The site's clock: its own, else the offset of the stamps, else their zone without daylight saving."""
    given = [offset for offset in (site.utc_offset_h, columns.utc_offset_h) if offset is not None]
    years = [int(stamp[:4]) for stamp in stamps[:1] if stamp[:4].isdecimal()]
    return given[0] if given else standard_offset_h(columns.time_zone, *years or [2001])


def _grid(file: str, lines: Sequence[str], names: Sequence[str]) -> _Grid:
    """The cells below the first line that holds all headings, with the delimiter that makes it do so."""
    at, delimiter, heads = _header(file, lines, names)
    below = ((number, line) for number, line in enumerate(lines[at + 1 :], at + 2) if line.strip(f"{delimiter} "))
    numbers, rows = [], []
    for number, line in below:
        row = cells_of(file, number, line, delimiter)
        if len(row) != len(heads):
            raise InputError(
                file, f"line {number}", None, f"{len(heads)} cells, as in line {at + 1}; it has {len(row)}"
            )
        numbers.append(number)
        rows.append(row)
    if not rows:
        raise InputError(file, f"line {at + 2}", None, "rows below the headings; there are none")
    places = {name: heads.index(name) for name in names}
    by_name = {name: [row[place].strip() for row in rows] for name, place in places.items()}
    return _Grid(by_name, numbers, delimiter)


def _header(file: str, lines: Sequence[str], names: Sequence[str]) -> tuple[int, str, list[str]]:
    """Place, delimiter and cells of the headings."""
    best: tuple[int, list[str]] = (-1, [])
    for at, line in enumerate(lines[:PREAMBLE]):
        for delimiter in DELIMITERS:
            heads = [cell.strip() for cell in cells_of(file, at + 1, line, delimiter)]
            found = sum(name in heads for name in names)
            if found == len(names):
                _refuse_twice(file, at, heads, names)
                return at, delimiter, heads
            best = max(best, (found, heads), key=lambda pair: (pair[0], len(pair[1])))
    missing = next(name for name in names if name not in best[1])
    there = ", ".join(best[1])[:120]
    raise InputError(file, "weather.columns", missing, f"the heading of a column of the file; it has: {there}")


def _refuse_twice(file: str, at: int, heads: Sequence[str], names: Sequence[str]) -> None:
    """A heading that stands over two columns names neither."""
    twice = [name for name in names if heads.count(name) > 1]
    if twice:
        raise InputError(file, f"line {at + 1}", twice[0], "a heading that stands over one column only")


def _figures(file: str, grid: _Grid, columns: Any) -> tuple[pd.DataFrame, list[str]]:
    """The figures of the rows by our names, and the names of the columns that there are none of."""
    absent = [name for name in COLUMNS if getattr(columns, name) is None]
    mark = _decimal_mark(file, grid, [getattr(columns, name).column for name in COLUMNS if name not in absent])
    read = {name: _numbers(file, grid, getattr(columns, name), name, mark) for name in COLUMNS if name not in absent}
    made = dict.fromkeys(absent, 0.0) | ({"wind_speed": STILL_AIR_MS} if "wind_speed" in absent else {})
    return pd.DataFrame({**read, **made}, index=range(len(grid.lines))), absent


def _decimal_mark(file: str, grid: _Grid, names: Sequence[str]) -> str:
    """Point or comma; a table with both leaves open which one parts the thousands."""
    if grid.delimiter == ",":
        return "."
    marks = {mark for name in names for cell in grid.cells[name] for mark in ",." if mark in cell}
    if len(marks) > 1:
        raise InputError(file, "decimals", None, "point or comma before the decimals and no other sign; it has both")
    return marks.pop() if marks else "."


def _numbers(file: str, grid: _Grid, column: Any, name: str, mark: str) -> pd.Series:
    """A column in W/m², °C or m/s; NaN where there is none."""
    cells = pd.Series(grid.cells[column.column])
    cells = cells if mark == "." else cells.str.replace(mark, ".", regex=False)
    figures = pd.to_numeric(cells, errors="coerce").replace([float("inf"), -float("inf")], float("nan"))
    odd = figures.isna()
    if odd.any() and (odd := odd & ~cells.str.lower().isin(NOTHING)).any():
        row = int(odd.to_numpy().argmax())
        raise InputError(file, f"line {grid.lines[row]}, {column.column}", cells.iloc[row], "a number")
    unit = UNITS[name][column.unit]
    return (figures.mask(figures.isin(_NO_DATA)) + unit.shift) * unit.factor


def is_own(text: str) -> bool:
    """Whether a table says itself what it holds, as those that this program writes do."""
    return text.startswith(_OWN_HEAD)


def read_own(path: Path, text: str) -> Readings:
    """The readings of a table that says itself where it was recorded and by which clock."""
    lines = [line[1:].split("=", 1) for line in text.split("\n") if line.startswith("#") and "=" in line]
    head = {key.strip(): value.strip() for key, value in lines}
    try:
        site = SimpleNamespace(**{name: float(head[name]) for name in Site._fields})
    except (KeyError, ValueError) as problem:
        allowed = f'lines such as "# latitude_deg = 50.1" for {", ".join(Site._fields)}; stopped at {problem}'
        raise InputError(str(path), "header", None, allowed) from None
    found = read_table(path, text, _OWN_COLUMNS, site)
    return replace(found, source=head.get("source", found.source), licence=head.get("licence", found.licence))


def own_text(weather: Weather) -> str:
    """A year as a table that says itself what it holds; ``read_file`` reads it again.

    Figures are rounded to 0.1 W/m², 0.01 °C and 0.01 m/s.
    """
    about = {**weather.site._asdict(), "source": weather.source, "licence": weather.licence}
    head = [_OWN_HEAD, *(f"# {key} = {value}" for key, value in about.items())]
    head.append("# stamps are the starts of hours of local standard time; W/m2, C, m/s")
    stamps = weather.index.strftime(_OWN_COLUMNS.time_format)
    columns = (getattr(weather, name).round(1 if name in COLUMNS[:3] else 2) for name in COLUMNS)
    rows = (",".join([stamp, *(f"{value:g}" for value in row)]) for stamp, *row in zip(stamps, *columns, strict=True))
    return "\n".join([*head, ",".join(["time", *COLUMNS]), *rows]) + "\n"
