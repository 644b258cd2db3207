"""A scenario text with one value more, less or other; its comments stay, and all other values."""

import copy
import re
import tomllib
from collections.abc import Callable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

from sim.errors import InputError
from sim.scenario import overridden
from sim.scenario.syntax import tables_of

LONGEST = 1_000_000  # signs of a scenario
TEXTS, KEYS = 16, 2000  # that are remembered
MOST_DIGITS = 15
GONE = object()  # the value of a key that is to go
_ITEM = r"[^\s,\[\]{}\"'#]+"


def data_of(text: str, file: str = "the scenario") -> dict[str, Any]:
    """The plain data of a text; InputError where it is no TOML."""
    if len(text) > LONGEST:
        raise InputError(file, "", None, f"a text of at most {LONGEST} signs")
    try:
        return copy.deepcopy(_parsed(text))
    except InputError as wrong:
        raise replace(wrong, file=str(Path(file))) from None


@lru_cache(maxsize=TEXTS)
def _parsed(text: str) -> dict[str, Any]:
    """The data of a text, whoever's, which nobody may change: a change of one field asks for the same few again."""
    return tables_of(Path("the scenario"), text)


def whole(typed: str) -> int | None:
    """A number of something, as a form or an address has it; None where it is none.

    >>> whole("12"), whole("-1"), whole("²"), whole("9" * 5000)
    (12, None, None, None)
    """
    return int(typed) if typed.isascii() and typed.isdecimal() and len(typed) <= MOST_DIGITS else None


@lru_cache(maxsize=KEYS)
def steps_of(key: str) -> tuple[str | int, ...]:
    """A dotted key as steps; the tables of a list by number.

    >>> steps_of("panel.shade.0.transmittance")
    ('panel', 'shade', 0, 'transmittance')
    """
    return tuple(step if (number := whole(step)) is None else number for step in key.split("."))


def at(data: Any, key: str) -> Any:
    """What stands at a dotted key of plain data; GONE where there is nothing."""
    for step in steps_of(key):
        try:
            data = data[step]
        except (LookupError, TypeError):
            return GONE
    return data


def literal(value: Any) -> str:
    r"""A plain value as TOML writes it, on one line.

    >>> literal("a\nb"), literal([[0, 1.9], [500, 1.7]]), literal(True)
    ('"a\\nb"', '[[0, 1.9], [500, 1.7]]', 'true')
    """
    if isinstance(value, list):
        return f"[{', '.join(map(literal, value))}]"
    if isinstance(value, Mapping):
        return tomlkit.inline_table().append("x", value).as_string()[5:-1]
    return str(tomlkit.item(value).as_string())


def shown(value: Any) -> str:
    """A plain value as a field of the form has it: text bare, lists of plain items without brackets, one line.

    >>> shown(12.2), shown("lfp"), shown(["07:00", "19:00"]), shown([[0, 1.9]]), shown(True), shown([])
    ('12.2', 'lfp', '07:00, 19:00', '[[0, 1.9]]', 'true', '[]')
    """
    if value is GONE:
        return ""
    if isinstance(value, str):
        return re.sub(r"[\r\n\x00]", "", value)
    bare = ", ".join(map(_bare, value)) if isinstance(value, list) else ""
    return bare if bare and listed(bare) == value else literal(value)


def _bare(item: Any) -> str:
    return item if isinstance(item, str) else literal(item)


def number(typed: str) -> int | float | None:
    """A number as people type it, with a point or a comma; None where it is none.

    >>> number("14,4"), number(" 100 "), number("1e3"), number("twelve"), number("1_000")
    (14.4, 100, 1000.0, None, None)
    """
    typed = typed.strip().replace(",", ".").replace("−", "-")
    if len(typed) > 40 or not re.fullmatch(r"[+-]?\d+(\.\d*)?([eE][+-]?\d{1,3})?|[+-]?\.\d+", typed, re.ASCII):
        return None
    return int(typed) if re.fullmatch(r"[+-]?\d+", typed) else float(typed)


def listed(typed: str) -> list[Any]:
    """Items between commas, or pairs with a dash between, as a list: numbers where they are numbers, else text.

    >>> listed("8, 8.5"), listed("07:00–19:00"), listed("03-15, 09-15")
    ([8, 8.5], ['07:00', '19:00'], ['03-15', '09-15'])
    """
    window = re.fullmatch(r"\s*(\d\d?:\d\d)\s*[–—-]\s*(\d\d?:\d\d)\s*", typed)
    items = list(window.groups()) if window else [item.strip() for item in typed.split(",")]
    return [item if (found := number(item)) is None else found for item in items]


def with_value(text: str, key: str, value: Any, optional: Callable[[str], bool] = lambda table: False) -> str:
    """The text with a value at a dotted key, or without the key where the value is GONE.

    A table that is left empty goes too if it is ``optional``. The first way that leaves all else as it was is taken:
    the line of the key with its comment, the document with its comments, the bare data.
    """
    wanted = data_of(text)
    _change(wanted, key, value, optional)
    for way in (_by_line, _by_document):
        made = way(text, key, value, optional)
        if made is not None and _reads(made, wanted):
            return made
    return tomlkit.dumps(wanted)


def _reads(text: str, wanted: dict[str, Any]) -> bool:
    try:
        return tomllib.loads(text) == wanted
    except (ValueError, RecursionError):
        return False


def _change(data: MutableMapping[str, Any], key: str, value: Any, optional: Callable[[str], bool]) -> None:
    """Set or take away a value in place; InputError where a key leads through something that is no table."""
    if value is not GONE:
        data.update(overridden(data, {key: value}))
        return
    table, _, name = key.rpartition(".")
    inside = at(data, table) if table else data
    if isinstance(inside, MutableMapping):
        inside.pop(name, None)
    elif isinstance(inside, list) and (place := whole(name)) is not None and place < len(inside):
        del inside[place]
    empty = inside is not GONE and not inside and bool(table)
    if empty and (isinstance(inside, list) or optional(table)):
        _change(data, table, GONE, optional)


def _by_document(text: str, key: str, value: Any, optional: Callable[[str], bool]) -> str | None:
    """The change made in the document, comments and all; None where it cannot be made there."""
    try:
        document = tomlkit.parse(text)
        if value is GONE:
            _change(document, key, GONE, optional)
        else:
            _put(document, steps_of(key), value)
        return tomlkit.dumps(document)
    except (TOMLKitError, LookupError, TypeError, ValueError, AttributeError):
        return None


def _put(table: Any, steps: Sequence[str | int], value: Any) -> None:
    """Set a value some steps below a table of a document, making the tables on the way."""
    first, *rest = steps
    if not rest:
        table[first] = copy.deepcopy(value)
        return
    if isinstance(first, str) and first not in table:
        table[first] = tomlkit.table()
    _put(table[first], rest, value)


def with_table(text: str, key: str) -> str:
    """The text with one more empty table in the list of tables at a key."""
    wanted = data_of(text)
    several = at(wanted, key)
    count = len(several) if isinstance(several, list) else 0
    _change(wanted, key, [*(several if count else []), {}], lambda table: False)
    made = f"{text.rstrip()}\n\n[[{key}]]\n"
    return made if _reads(made, wanted) else tomlkit.dumps(wanted)


def _lines_of(text: str, section: str) -> Iterator[tuple[int, str]]:
    """The lines of a section with their places, up to the next heading."""
    inside = not section
    for place, line in enumerate(text.split("\n")):
        if line.startswith("["):
            inside = bool(section) and re.match(rf"\[\s*{re.escape(section)}\s*\]", line) is not None
        elif inside:
            yield place, line


def _by_line(text: str, key: str, value: Any, optional: Callable[[str], bool]) -> str | None:
    """The change made in the one line that has the key, written or as a comment; None where there is none."""
    section, _, name = key.rpartition(".")
    form = re.compile(rf"(#?)({re.escape(name)}\s*=\s*)({_ITEM}|\"[^\"\\]*\"|\[[^#\[\]]*\])(\s*)(#.*|)$")
    found = [(place, hit) for place, line in _lines_of(text, section) if (hit := form.match(line.rstrip("\r")))]
    written = [one for one in found if not one[1][1]]
    if not found or (value is GONE and not written):
        return None
    place, hit = (written or found)[0]
    lines = text.split("\n")
    end = "\r" if lines[place].endswith("\r") else ""
    lines[place] = (f"#{hit[0]}" if value is GONE else _line(hit, literal(value))) + end
    return "\n".join(lines)


def _line(hit: re.Match[str], new: str) -> str:
    """A line with another value; what is said behind it stays in its column where it can."""
    said = hit[5]
    width = len(hit[0]) - len(said)
    return f"{hit[2]}{new} ".ljust(width) + said if said else f"{hit[2]}{new}"
