"""Hourly weather files as they come, told apart by their content: TMY3, EPW, TMY2, and tables of any other kind.

The three label an hour by its end (TMY3: NREL/TP-581-43156, section 2; TMY2: NREL's 1995 manual, section 3; EPW: hour 1
is 00:01 to 01:00). The stamps are taken from the files' own month, day and hour columns.
"""

import codecs
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd

from sim.errors import InputError
from sim.files import cells_of, read_bytes
from sim.units import Quantity, sentence
from sim.weather import tables
from sim.weather.readings import FOREIGN_LICENCE, Readings
from sim.weather.weather import COLUMNS, EXTRAS, Site
from sim.words import printable

STAMP = ("year", "month", "day", "hour_end")
EPW_HEAD_CELLS = 10
EPW_FIELDS = (32, 35)  # older files lack the last three
_TMY3_NAMES = {
    "GHI (W/m^2)": "ghi",
    "DNI (W/m^2)": "dni",
    "DHI (W/m^2)": "dhi",
    "Dry-bulb (C)": "temp_air",
    "Wspd (m/s)": "wind_speed",
}
_TMY3_EXTRAS = {"Dew-point (C)": "dew_point", "Pressure (mbar)": "pressure", "Lprecip depth (mm)": "rain"}
_EPW_EXTRAS = {"dew_point": 7, "pressure": 9, "rain": 33}  # older files end before the rain
_KPA_MBAR, _KPA_PA = 0.1, 0.001
_TMY3_STAMP = ("Date (MM/DD/YYYY)", "Time (HH:MM)")
_DATE, _TIME = r"(\d{1,2})/(\d{1,2})/(\d{4})", r"(\d{1,2}):00(?::00)?"
_NUMBER = re.compile(r"[+-]?\d+(?:\.\d*)?")
_EPW_PLACES = dict(zip((*STAMP, "temp_air", *COLUMNS[:3], "wind_speed"), (0, 1, 2, 3, 6, 13, 14, 15, 21), strict=True))
_TMY2_PLACES = {
    "year": (1, 3),
    "month": (3, 5),
    "day": (5, 7),
    "hour_end": (7, 9),
    "ghi": (17, 21),
    "dni": (23, 27),
    "dhi": (29, 33),
    "temp_air": (67, 71),
    "wind_speed": (95, 98),
    "dew_point": (73, 77),
    "pressure": (84, 88),
}
_TENTHS = ("temp_air", "wind_speed", "dew_point")
TMY2_WIDTH = 98  # up to the wind
MOST_HEAD = 300  # signs
TMY3_HEAD_CELLS = 7
_TMY2_HEAD = re.compile(r"\s*(\d{5})\s+(.+?)\s+([A-Z]{2})\s+(-?\d+(?:\s+[NSEW]\s+\d+\s+\d+){2}\s+-?\d+)\s*$")
_LIMITS = {
    "latitude_deg": (-90, 90),
    "longitude_deg": (-180, 180),
    "elevation_m": (-430, 9000),
    "utc_offset_h": (-12, 14),
}


class _Parsed(NamedTuple):
    """What a file says: ``rows`` of text, with their ``line``; ``tenths`` are columns that count in tenths."""

    rows: pd.DataFrame
    site: Site
    station: str
    notes: tuple[str, ...] = ()
    tenths: tuple[str, ...] = ()


def read_file(path: Path, columns: Any = None, site: Any = None) -> Readings:
    """Read a weather file, told apart by its content; InputError if it cannot be read or is damaged.

    A table of any other kind is read by the ``columns`` and at the ``site`` of a scenario.
    """
    text = text_of(path)
    name = next((name for name, form in FORMATS.items() if form.recognises(text)), None)
    if name is None and tables.is_own(text):
        return _placed(path, tables.read_own(path, text))
    if name is None and columns is not None:
        return _placed(path, tables.read_table(path, text, columns, site))
    if name is None:
        known = f"{' or '.join(FORMATS)} weather data, or a table with weather.columns in the scenario"
        raise InputError(str(path), "", None, f'{known}; the file begins with "{text[:40]}"')
    if columns is not None:
        raise InputError(str(path), "weather.columns", None, f"nothing for a file of {name} weather data")
    parsed = FORMATS[name].parse(path, text)
    rows = _numbers(path, parsed.rows)
    rows[list(parsed.tenths)] /= 10.0
    source = f"{name} file {path.name}, {parsed.station}"
    found = Readings(str(path), rows, parsed.site, source, FOREIGN_LICENCE, notes=parsed.notes)
    return _placed(path, found)


def text_of(path: Path) -> str:
    """The content of a text file in UTF-8, UTF-16 with its mark or, failing these, Latin-1."""
    content = read_bytes(path, "a file")
    if not content.strip():
        raise InputError(str(path), "", None, "a weather file; this one is empty")
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        content = content.decode("utf-16", errors="replace").encode("utf-8")
    if b"\0" in content:
        raise InputError(str(path), "", None, "a text file of hourly weather; this one is binary")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("latin-1")
    return "\n".join(text.splitlines()) + "\n"


def _numbers(path: Path, rows: pd.DataFrame) -> pd.DataFrame:
    """The rows with everything a number; a cell that is none, or a stamp that is not whole, is an error naming it."""
    extras = [name for name in EXTRAS if name in rows]
    written = rows[[*STAMP, *COLUMNS]]
    out: pd.DataFrame = written.apply(pd.to_numeric, errors="coerce").replace(
        [float("inf"), -float("inf")], float("nan")
    )
    odd = out.isna()
    if odd.to_numpy().any():
        odd &= ~written.apply(lambda cells: cells.str.strip().str.lower().isin(tables.NOTHING))
    odd[list(STAMP)] |= out[list(STAMP)].isna() | (out[list(STAMP)] % 1 != 0)
    if odd.to_numpy().any():
        row = int(odd.any(axis=1).to_numpy().argmax())
        column = str(odd.columns[int(odd.loc[row].to_numpy().argmax())])
        allowed = "a whole number" if column in STAMP else "a number"
        raise InputError(str(path), f"line {rows['line'].iloc[row]}, {column}", rows.loc[row, column], allowed)
    out[list(STAMP)] = out[list(STAMP)].astype(int)
    more = {name: pd.to_numeric(rows[name], errors="coerce") for name in extras}
    return out.assign(line=rows["line"], **more)


def _placed(path: Path, found: Readings) -> Readings:
    """The readings, with plain words of where they are from, unless their place is nowhere on Earth."""
    for name, (low, high) in _LIMITS.items():
        if not low <= getattr(found.site, name) <= high:
            raise InputError(str(path), f"header, {name}", getattr(found.site, name), f"a number from {low} to {high}")
    return replace(found, source=printable(found.source), licence=printable(found.licence))


def _header_site(path: Path, cells: Sequence[str]) -> Site:
    """Site of the header, from its latitude, longitude, height and clock."""
    written = dict(zip(Site._fields, cells, strict=True))
    try:
        return Site(*(float(cell) for cell in written.values()))
    except ValueError:
        odd = next((name, cell) for name, cell in written.items() if not _NUMBER.fullmatch(cell.strip()))
        raise InputError(str(path), f"line 1, {odd[0]}", odd[1], "a number") from None


def _rows(path: Path, lines: Sequence[str], first: int, places: dict[str, int]) -> pd.DataFrame:
    """The cells that are wanted of comma-separated lines, by name, and the line each row stands on.

    All rows have as many cells as the line before ``first``, the number of the first one, or as the first.
    """
    numbered = [(number, line) for number, line in enumerate(lines[first - 1 :], first) if line.strip()]
    if not numbered:
        raise InputError(str(path), f"line {first}", None, "rows of hours; there are none")
    count = len(cells_of(str(path), *numbered[0]))
    rows = []
    for number, line in numbered:
        cells = cells_of(str(path), number, line)
        if len(cells) != count:
            raise InputError(
                str(path), f"line {number}", None, f"{count} cells, as in line {first}; it has {len(cells)}"
            )
        rows.append([cells[place] for place in places.values()])
    return pd.DataFrame(rows, columns=list(places)).assign(line=[number for number, _ in numbered])


def _is_tmy3(text: str) -> bool:
    return text.split("\n", 2)[1].startswith(_TMY3_STAMP[0])


def _parse_tmy3(path: Path, text: str) -> _Parsed:
    lines = text.rstrip("\n").split("\n")
    head, heads = cells_of(str(path), 1, lines[0]), cells_of(str(path), 2, lines[1])
    for name in (*_TMY3_STAMP, *_TMY3_NAMES):
        if name not in heads:
            raise InputError(str(path), "line 2", None, f'a column "{name}"; it is missing')
    if len(head) != TMY3_HEAD_CELLS:
        raise InputError(str(path), "line 1", None, f"{TMY3_HEAD_CELLS} cells: station, name, state, clock and place")
    wanted = (*_TMY3_STAMP, *_TMY3_NAMES, *(name for name in _TMY3_EXTRAS if name in heads))
    rows = _rows(path, lines, 3, {name: heads.index(name) for name in wanted})
    for column, shape, words in zip(
        _TMY3_STAMP, (_DATE, _TIME), ("a date as 03/31/1990", "full hours, one row an hour"), strict=True
    ):
        odd = ~rows[column].str.strip().str.fullmatch(shape)
        if odd.any():
            row = rows[odd].iloc[0]
            raise InputError(str(path), f"line {row['line']}, {column}", row[column], words)
    dates, times = (rows[name].str.extract(shape) for name, shape in zip(_TMY3_STAMP, (_DATE, _TIME), strict=True))
    rows = _with_pressure(rows.rename(columns=_TMY3_NAMES | _TMY3_EXTRAS), _KPA_MBAR)
    rows = rows.assign(month=dates[0], day=dates[1], year=dates[2], hour_end=times[0])
    station, name, _, offset, *place = head
    return _Parsed(rows, _header_site(path, [*place, offset]), f"station {station} {name.strip()}")


def _parse_epw(path: Path, text: str) -> _Parsed:
    lines = text.rstrip("\n").split("\n")
    fields = lines[8].count(",") + 1 if len(lines) > 8 else 0
    if fields not in EPW_FIELDS:
        raise InputError(str(path), "line 9", None, f"{EPW_FIELDS[1]} columns; there are {fields}")
    line, notes = _epw_head(lines[0])
    head = cells_of(str(path), 1, line)
    if len(head) != EPW_HEAD_CELLS:
        raise InputError(str(path), "line 1", None, f"{EPW_HEAD_CELLS} cells; there are {len(head)}")
    site = _header_site(path, [*head[6:8], head[9], head[8]])
    places = _EPW_PLACES | {name: at for name, at in _EPW_EXTRAS.items() if at < fields}
    rows = _with_pressure(_rows(path, lines, 9, places), _KPA_PA)
    return _Parsed(rows, site, f"{head[1]}, {head[4]}".rstrip(", "), notes)


def _epw_head(line: str) -> tuple[str, tuple[str, ...]]:
    """The first line of an EPW file, in which a clock of half an hour may be written with a comma, and a note then.

    >>> _epw_head("LOCATION,Hill,-,-,TMY,999,31.1,77.2,5,5,2122")[0]
    'LOCATION,Hill,-,-,TMY,999,31.1,77.2,5.5,2122'
    """
    cells = line.split(",")
    if len(cells) != EPW_HEAD_CELLS + 1 or cells[9].strip() not in ("5", "25", "75"):
        return line, ()
    clock = f"{cells[8].strip()}.{cells[9].strip()}"
    said = sentence(
        'The clock "{written}" in the header is read as {clock} h from UTC, the height as {height}.',
        written=f"{cells[8]},{cells[9]}",
        clock=clock,
        height=Quantity(float(cells[10]), "m", "g") if _NUMBER.fullmatch(cells[10].strip()) else cells[10],
    )
    return ",".join([*cells[:8], clock, cells[10]]), (said,)


def _parse_tmy2(path: Path, text: str) -> _Parsed:
    head, *lines = text.rstrip("\n").split("\n")
    number, place, _, where = _TMY2_HEAD.match(_first(head)).groups()  # type: ignore[union-attr]
    numbered = [(number, line) for number, line in enumerate(lines, 2) if line.strip()]
    short = next((at for at, line in numbered if len(line) < TMY2_WIDTH), None)
    if short is not None or not numbered:
        raise InputError(str(path), f"line {short or 2}", None, f"a row of {TMY2_WIDTH} characters or more")
    cells = [[line[slice(*place)] for place in _TMY2_PLACES.values()] for _, line in numbered]
    rows = pd.DataFrame(cells, columns=list(_TMY2_PLACES)).assign(line=[at for at, _ in numbered])
    rows = _with_pressure(rows.assign(year="19" + rows["year"]), _KPA_MBAR)
    offset, north, *latitude, east, longitude, minutes, elevation = where.split()
    degrees = (int(latitude[0]) + int(latitude[1]) / 60.0, int(longitude) + int(minutes) / 60.0)
    signed = (f"{'-' * (sign in 'SW')}{angle}" for sign, angle in zip((north, east), degrees, strict=True))
    return _Parsed(rows, _header_site(path, [*signed, elevation, offset]), f"station {number} {place}", tenths=_TENTHS)


def _with_pressure(rows: pd.DataFrame, kpa: float) -> pd.DataFrame:
    """The rows with their pressure, where they have it, in kPa instead of units of so many."""
    if "pressure" not in rows:
        return rows
    return rows.assign(pressure=pd.to_numeric(rows["pressure"], errors="coerce") * kpa)


def _first(text: str) -> str:
    """The first line, as much of it as a head has."""
    return text[:MOST_HEAD].split("\n", 1)[0]


class _Format(NamedTuple):
    recognises: Callable[[str], bool]
    parse: Callable[[Path, str], _Parsed]


FORMATS = {
    "TMY3": _Format(_is_tmy3, _parse_tmy3),
    "EPW": _Format(lambda text: text.startswith("LOCATION,"), _parse_epw),
    "TMY2": _Format(lambda text: _TMY2_HEAD.match(_first(text)) is not None, _parse_tmy2),
}
