"""Hourly weather files as they come, told apart by their content: TMY3, EPW, TMY2, and tables of any other kind.

The three label an hour by its end (TMY3: NREL/TP-581-43156, section 2; TMY2: NREL's 1995 manual, section 3; EPW: hour 1
is 00:01 to 01:00). The stamps are taken from the files' own month, day and hour columns.
"""

from __future__ import annotations

import codecs
import io
import re
import tempfile
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from sim.errors import InputError
from sim.weather import tables
from sim.weather.readings import FOREIGN_LICENCE, Readings
from sim.weather.weather import COLUMNS, EXTRAS, Site

if TYPE_CHECKING:
    import pandas as pd

STAMP = ("year", "month", "day", "hour_end")
EPW_FIELDS = (32, 35)  # older files lack the last three
_TMY3_NAMES = {
    "GHI (W/m^2)": "ghi",
    "DNI (W/m^2)": "dni",
    "DHI (W/m^2)": "dhi",
    "Dry-bulb (C)": "temp_air",
    "Wspd (m/s)": "wind_speed",
}
_TMY3_EXTRAS = {"Dew-point (C)": "dew_point", "Pressure (mbar)": "pressure", "Lprecip depth (mm)": "rain"}
_EPW_EXTRAS = {"temp_dew": "dew_point", "atmospheric_pressure": "pressure", "liquid_precipitation_depth": "rain"}
_TMY2_EXTRAS = {"DewPoint": "dew_point", "Pressure": "pressure"}
_KPA_MBAR, _KPA_PA = 0.1, 0.001
_TMY3_STAMP = ("Date (MM/DD/YYYY)", "Time (HH:MM)")
_TMY2_NAMES = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
_TMY2_HEAD = re.compile(r"\s*(\d{5})\s+(.+?)\s+([A-Z]{2})\s+(-?\d+(?:\s+[NSEW]\s+\d+\s+\d+){2}\s+-?\d+)\s*$")
_LIMITS = {
    "latitude_deg": (-90, 90),
    "longitude_deg": (-180, 180),
    "elevation_m": (-430, 9000),
    "utc_offset_h": (-12, 14),
}


class _Parsed(NamedTuple):
    rows: pd.DataFrame
    site: Site
    station: str
    first_line: int


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
        start = "".join(c if c.isprintable() else "?" for c in text[:40])
        known = f"{' or '.join(FORMATS)} weather data, or a table with weather.columns in the scenario"
        raise InputError(str(path), "", None, f'{known}; the file begins with "{start}"')
    if columns is not None:
        raise InputError(str(path), "weather.columns", None, f"nothing for a file of {name} weather data")
    parsed = _parsed(path, name, text)
    rows = _numbers(path, parsed)
    source = f"{name} file {path.name}, {parsed.station}"
    return _placed(path, Readings(str(path), rows, parsed.site, source, FOREIGN_LICENCE))


def text_of(path: Path) -> str:
    """The content of a text file in UTF-8, UTF-16 with its mark or, failing these, Latin-1."""
    try:
        content = path.read_bytes()
    except OSError as problem:
        raise InputError(str(path), "", None, f"a file that can be read ({problem.strerror})") from None
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


def _parsed(path: Path, name: str, text: str) -> _Parsed:
    """Let the format's reader at the text and turn its complaints into one message."""
    try:
        with warnings.catch_warnings(action="ignore"):  # of mixed columns: the cell is found and named below
            return FORMATS[name].parse(path, text)
    except (ValueError, KeyError, IndexError, AttributeError, TypeError) as problem:
        reason = " ".join(str(problem).split())[:120]
        raise InputError(str(path), "", None, f"whole {name} data; reading stopped at: {reason}") from None


def _numbers(path: Path, parsed: _Parsed) -> pd.DataFrame:
    """The rows with their lines, everything a number; a cell that is no number is an error naming its line."""
    import pandas as pd

    extras = [name for name in EXTRAS if name in parsed.rows]
    rows = parsed.rows.reset_index(drop=True)[[*STAMP, *COLUMNS, *extras]]
    out: pd.DataFrame = rows.apply(pd.to_numeric, errors="coerce")
    odd = (out.isna() & rows.notna()).drop(columns=extras)
    odd[list(STAMP)] |= out[list(STAMP)].isna()
    if odd.to_numpy().any():
        row = int(odd.any(axis=1).to_numpy().argmax())
        column = str(odd.columns[int(odd.loc[row].to_numpy().argmax())])
        raise InputError(str(path), f"line {row + parsed.first_line}, {column}", rows.loc[row, column], "a number")
    out[list(STAMP)] = out[list(STAMP)].astype(int)
    out["line"] = out.index + parsed.first_line
    return out


def _placed(path: Path, found: Readings) -> Readings:
    """The readings, unless their place is nowhere on Earth."""
    for name, (low, high) in _LIMITS.items():
        if not low <= getattr(found.site, name) <= high:
            raise InputError(str(path), f"header, {name}", getattr(found.site, name), f"a number from {low} to {high}")
    return found


def _header_site(meta: dict[str, Any]) -> Site:
    """Site of the header; all three readers use the same words."""
    return Site(*(float(meta[name]) for name in ("latitude", "longitude", "altitude", "TZ")))


def _is_tmy3(text: str) -> bool:
    return text.split("\n", 2)[1].startswith(_TMY3_STAMP[0])


def _parse_tmy3(path: Path, text: str) -> _Parsed:
    from pvlib import iotools

    heads = text.split("\n", 2)[1].split(",")
    for name in (*_TMY3_STAMP, *_TMY3_NAMES):
        if name not in heads:
            raise InputError(str(path), "line 2", None, f'a column "{name}"; it is missing')
    rows, meta = iotools.read_tmy3(io.StringIO(text), map_variables=False)
    dates, times = (rows[name].str.extract(r"(\d+)\D(\d+)(?:\D(\d+))?") for name in _TMY3_STAMP)
    if (times[1].astype(int) != 0).any():
        raise InputError(str(path), _TMY3_STAMP[1], rows[_TMY3_STAMP[1]].iloc[0], "full hours, one row an hour")
    rows = _with_pressure(rows.rename(columns=_TMY3_NAMES | _TMY3_EXTRAS), _KPA_MBAR)
    rows = rows.assign(month=dates[0], day=dates[1], year=dates[2], hour_end=times[0])
    return _Parsed(rows, _header_site(meta), f"station {meta['USAF']} {meta['Name'].strip(chr(34))}", 3)


def _parse_epw(path: Path, text: str) -> _Parsed:
    from pvlib import iotools

    lines = text.rstrip("\n").split("\n")
    fields = lines[8].count(",") + 1 if len(lines) > 8 else 0
    if fields not in EPW_FIELDS:
        raise InputError(str(path), "line 9", None, f"{EPW_FIELDS[1]} columns; there are {fields}")
    rows, meta = iotools.read_epw(io.StringIO(text))
    rows = _with_pressure(rows.rename(columns={"hour": "hour_end"} | _EPW_EXTRAS), _KPA_PA)
    return _Parsed(rows, _header_site(meta), f"{meta['city']}, {meta['data_type']}".rstrip(", "), 9)


def _parse_tmy2(path: Path, text: str) -> _Parsed:
    from pvlib import iotools

    head, body = text.split("\n", 1)
    number, place, state, where = _TMY2_HEAD.match(head).groups()  # type: ignore[union-attr]
    with tempfile.TemporaryDirectory() as folder:  # the reader takes a path only, and a place of one word only
        copy = Path(folder) / "year.tm2"
        copy.write_text(f" {number} {place.replace(' ', '-')} {state} {where}\n{body}", encoding="utf-8")
        rows, meta = iotools.read_tmy2(str(copy))
    rows = _with_pressure(rows.rename(columns={**_TMY2_NAMES, **_TMY2_EXTRAS, "hour": "hour_end"}), _KPA_MBAR)
    rows["year"] += 1900
    rows[["temp_air", "wind_speed", "dew_point"]] /= 10.0
    return _Parsed(rows, _header_site(meta), f"station {number} {place}", 2)


def _with_pressure(rows: pd.DataFrame, kpa: float) -> pd.DataFrame:
    """The rows with their pressure, where they have it, in kPa instead of units of so many."""
    import pandas as pd

    if "pressure" not in rows:
        return rows
    return rows.assign(pressure=pd.to_numeric(rows["pressure"], errors="coerce") * kpa)


class _Format(NamedTuple):
    recognises: Callable[[str], bool]
    parse: Callable[[Path, str], _Parsed]


FORMATS = {
    "TMY3": _Format(_is_tmy3, _parse_tmy3),
    "EPW": _Format(lambda text: text.startswith("LOCATION,"), _parse_epw),
    "TMY2": _Format(lambda text: _TMY2_HEAD.match(text.split("\n", 1)[0]) is not None, _parse_tmy2),
}
