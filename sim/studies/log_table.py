"""The table that a logger wrote: its cells, and which of its columns is what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sim.errors import InputError
from sim.files import cells_of, read_bytes
from sim.units import AMPS, LIGHT, SWITCHED, VOLTS
from sim.weather.tables import DELIMITERS, PREAMBLE

if TYPE_CHECKING:
    from sim.scenario.log import LogColumns

ROLES = {
    "voltage": VOLTS,
    "battery_current": AMPS,
    "charge_current": AMPS,
    "load_current": AMPS,
    "pump": SWITCHED,
    "light": LIGHT,
}
WAY_ON = "; [log.columns] of the scenario says which column is what"
STAMPS = frozenset("datetime timestamp stamp zeitstempel epoch unix unixtime".split())
DAYS = frozenset("date datum fecha day tag dia".split())
CLOCKS = frozenset("time zeit uhrzeit hora heure tijd clock".split())
OF_PANEL = ("panel", "pv", "solar", "array", "module", "charg", "lade")
OF_LOAD = ("load", "pump", "last", "verbrauch", "output", "discharg")
OF_VOLTS = ("volt", "spannung", "tension", "voltaje", "spanning")
OF_AMPS = ("current", "amp", "strom", "courant", "corriente", "stroom")
OF_LIGHT = ("irradiance", "ghi", "insolation", "einstrahlung")
OF_STATE = frozenset("on state status relay switch running run duty share ein an".split())
UNIT_OF = {
    "v": "V",
    "volt": "V",
    "volts": "V",
    "mv": "mV",
    "a": "A",
    "amps": "A",
    "ampere": "A",
    "amperes": "A",
    "ma": "mA",
    "%": "%",
    "wm2": "W/m2",
}
OTHERS = frozenset("w wh kwh ah mah c degc °c f k soc temp temperature ohm mohm h min s rpm l lph hz kw".split())
ASKED = "headings of the time and of the battery's voltage, with a unit or a word that tells them"


@dataclass(frozen=True)
class Found:
    """A column of the table: its place, its heading, and the unit of its figures."""

    place: int
    heading: str
    unit: str


@dataclass(frozen=True)
class Grid:
    """The rows of a table with the lines they stand on, the columns of its stamps, and the others by their role."""

    file: str
    rows: list[list[str]]
    lines: list[int]
    stamps: tuple[Found, ...]
    columns: dict[str, Found]


def grid_of(path: Path, columns: LogColumns | None) -> Grid:
    """The table in a file, its columns named by the scenario or told by their headings."""
    file, lines = str(path), _text(path).splitlines()
    at, delimiter, heads = _header(file, lines, columns)
    stamps, roles = _named(file, heads, columns) if columns else _told(file, at, heads)
    return Grid(file, *_rows(file, lines, at, delimiter, len(heads)), stamps, roles)


def _text(path: Path) -> str:
    """The text of a file in UTF-8, or in UTF-16 where it says so."""
    content = read_bytes(path, "a log")
    code = "utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return content.decode(code)
    except UnicodeDecodeError as reason:
        raise InputError(str(path), "", None, f"text in UTF-8; byte {reason.start + 1} is none") from None


def _header(file: str, lines: Sequence[str], columns: LogColumns | None) -> tuple[int, str, list[str]]:
    """Line, delimiter and cells of the headings: the first line that has all that are needed."""
    first: list[str] = []
    for at, line in enumerate(lines[:PREAMBLE]):
        for delimiter in sorted(DELIMITERS, key=line.count, reverse=True)[:2]:
            heads = [cell.strip() for cell in cells_of(file, at + 1, line, delimiter)]
            with_units = _with_units(file, heads, lines, at + 1, delimiter)
            for more, told in ((1, with_units), (0, heads)):
                if told and _suffice(told, columns):
                    return at + more, delimiter, told
            first = max(first, heads, key=len)
    there = ", ".join(first)[:120]
    asked = f"{ASKED}; it has: {there}{WAY_ON}"
    if columns:
        missing = next(name for name in _asked_names(columns) if name not in first)
        raise InputError(file, "log.columns", missing, f"the heading of a column of the file; it has: {there}")
    raise InputError(file, "row 1", there, asked)


def _asked_names(columns: LogColumns) -> list[str]:
    """All headings that the scenario names."""
    others = (getattr(columns, role) for role in ROLES)
    return [*columns.time, *(one.column for one in others if one is not None)]


def _suffice(heads: Sequence[str], columns: LogColumns | None) -> bool:
    """Whether a line has all headings that are named, or one of a stamp and one of a voltage."""
    if columns:
        return set(_asked_names(columns)) <= set(heads)
    return any(_is_stamp(head) for head in heads) and len(heads) > 1 and any(_role(head) for head in heads)


def _named(file: str, heads: Sequence[str], columns: LogColumns) -> tuple[tuple[Found, ...], dict[str, Found]]:
    """Stamps and roles by what the scenario says."""
    twice = [name for name in _asked_names(columns) if heads.count(name) > 1]
    if twice:
        raise InputError(file, "log.columns", twice[0], "a heading that stands over one column only")
    stamps = tuple(Found(heads.index(name), name, "") for name in columns.time)
    given = {role: one for role in ROLES if (one := getattr(columns, role)) is not None}
    return stamps, {role: Found(heads.index(one.column), one.column, one.unit) for role, one in given.items()}


def _told(file: str, at: int, heads: Sequence[str]) -> tuple[tuple[Found, ...], dict[str, Found]]:
    """Stamps and roles by the headings' own words and units."""
    found: dict[str, Found] = {}
    for place, head in enumerate(heads):
        role, unit = _role(head) or ("", "")
        if role in found:
            allowed = f'one column of its kind; "{found[role].heading}" may be meant too{WAY_ON}'
            raise InputError(file, f"row {at + 1}", head, allowed)
        if role:
            found[role] = Found(place, head, unit)
    if "voltage" not in found:
        raise InputError(file, f"row {at + 1}", ", ".join(heads)[:120], f"{ASKED}{WAY_ON}")
    return _stamps(heads), found


def _stamps(heads: Sequence[str]) -> tuple[Found, ...]:
    """The column of stamps: one that has all, else day and time of day beside each other."""
    for kinds in ((STAMPS,), (DAYS, CLOCKS), (CLOCKS,), (DAYS,)):
        places = [_first(heads, kind) for kind in kinds]
        if all(place is not None for place in places):
            return tuple(Found(place, heads[place], "") for place in dict.fromkeys(places) if place is not None)
    return ()


def _first(heads: Sequence[str], kind: frozenset[str]) -> int | None:
    return next((place for place, head in enumerate(heads) if kind & set(_words(head))), None)


def _is_stamp(head: str) -> bool:
    return bool((STAMPS | DAYS | CLOCKS) & set(_words(head)))


def _words(head: str) -> list[str]:
    """The words of a heading, and its unit as a word.

    >>> _words("Battery voltage [mV]"), _words("G (W/m²)"), _words("current_a")
    (['battery', 'voltage', 'mv'], ['g', 'wm2'], ['current', 'a'])
    """
    plain = re.sub(r"w\s*/\s*m(²|\^?2)", " wm2 ", head.lower())
    return re.findall(r"[^\W_]+|%", plain)


def _role(head: str) -> tuple[str, str] | None:
    """What a column is by its heading, and the unit of its figures; None where it is nothing that is needed.

    >>> _role("PV current (mA)"), _role("U_batt [V]"), _role("pump"), _role("T box [°C]"), _role("panel V")
    (('charge_current', 'mA'), ('voltage', 'V'), ('pump', 'share'), None, None)
    """
    words = _words(head)
    if _is_stamp(head):
        return None
    unit = next((UNIT_OF[word] for word in reversed(words) if word in UNIT_OF), "")
    if not unit and OTHERS & set(words):
        return None
    panel, load = (any(word.startswith(begun) for word in words for begun in of) for of in (OF_PANEL, OF_LOAD))
    return _by_unit(unit or _unit_by_word(words), panel, load, words)


def _unit_by_word(words: Sequence[str]) -> str:
    """The unit that the words of a heading without one imply."""
    for begun, unit in ((OF_VOLTS, "V"), (OF_AMPS, "A"), (OF_LIGHT, "W/m2")):
        if any(word.startswith(one) for word in words for one in begun):
            return unit
    return ""


def _by_unit(unit: str, panel: bool, load: bool, words: Sequence[str]) -> tuple[str, str] | None:
    """What a column of a unit is, of the panel, of the load or of neither."""
    if unit in VOLTS:
        return None if panel or load else ("voltage", unit)
    if unit in AMPS:
        return "load_current" if load else "charge_current" if panel else "battery_current", unit
    if unit in LIGHT:
        return "light", unit
    if load and (unit == "%" or not unit) and (unit or OF_STATE & set(words) or len(words) == 1):
        return "pump", unit or "share"
    return None


def _rows(file: str, lines: Sequence[str], at: int, delimiter: str, width: int) -> tuple[list[list[str]], list[int]]:
    """The rows below the headings with their lines; empty ones are left out."""
    rows, numbers = [], []
    for number, line in enumerate(lines[at + 1 :], at + 2):
        if not line.strip(f"{delimiter} "):
            continue
        row = [cell.strip() for cell in cells_of(file, number, line, delimiter)]
        if len(row) != width and not (len(row) == width + 1 and not row[-1]):
            raise InputError(file, f"row {number}", line, f"{width} values, as in the heading")
        rows.append(row[:width])
        numbers.append(number)
    return rows, numbers


def _with_units(file: str, heads: Sequence[str], lines: Sequence[str], at: int, delimiter: str) -> list[str]:
    """The headings with their units, where the next line is a row of these; else nothing."""
    row = cells_of(file, at + 1, lines[at], delimiter) if at < len(lines) and lines[at].strip() else []
    figures = any(sign.isdigit() for cell in row for sign in cell.replace("m2", "").replace("^2", ""))
    if len(row) != len(heads) or figures or not any(set(_words(cell)) & set(UNIT_OF) for cell in row):
        return []
    return [f"{head} {unit.strip()}" for head, unit in zip(heads, row, strict=True)]


def factor_of(role: str, unit: str) -> float:
    """What the figures of a column are multiplied by.

    >>> factor_of("voltage", "mV")
    0.001
    """
    return ROLES[role][unit].factor
