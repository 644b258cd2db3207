"""What is wrong with a file that is no TOML, told as a wrong value is: line, key, what stands there, what may."""

import re
import tomllib
from pathlib import Path
from typing import Any

from sim.errors import InputError

CURLED = "“”„‟‘’‚‛«»"
MOST_DEEP = 20  # tables and lists within each other: a scenario has five
VALUES = 'a number, true or false, text in "straight quotes", or a list in [square brackets]'


def tables_of(path: Path, text: str) -> dict[str, Any]:
    """The tables of a TOML text as plain data; InputError where it is none, or its tables lie too deep."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as reason:
        raise syntax_error(path, text, reason) from None
    layer: list[Any] = [data]
    for _ in range(MOST_DEEP):
        layer = [inner for outer in layer for inner in _inside(outer)]
    if layer:
        raise InputError(str(path), "TOML", None, f"tables and lists at most {MOST_DEEP} deep within each other")
    return data


def _inside(outer: Any) -> list[Any]:
    if isinstance(outer, dict):
        return list(outer.values())
    return outer if isinstance(outer, list) else []


def syntax_error(path: Path, text: str, reason: Exception) -> InputError:
    """The message for a file that the parser broke off in.

    >>> print(syntax_error(Path("pond.toml"), "vmp_v = 18,2", ValueError("Expected newline (at line 1, column 11)")))
    pond.toml: vmp_v (line 1) = "18,2": allowed is a point in place of the comma: 18.2
    """
    found = re.search(r"at line (\d+)", str(reason))
    lines = text.splitlines()
    number = int(found[1]) if found else len(lines)
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    key, _, value = (part.strip() for part in line.partition("="))
    name = key if value else "TOML"
    return InputError(
        str(path), f"{name} (line {number})", value or line or None, _allowed(line, key, value, str(reason))
    )


def _allowed(line: str, key: str, value: str, reason: str) -> str:
    """What may stand in a line that cannot be read."""
    if any(sign in line for sign in CURLED):
        return 'straight quotes, "like these"; a word processor has bent them'
    if comma := re.fullmatch(r"(-?\d+),(\d+)\s*(#.*)?", value):
        return f"a point in place of the comma: {comma[1]}.{comma[2]}"
    if "twice" in reason or "overwrite" in reason or "mutate" in reason:
        return f"each table and each key once; {line.split('#')[0].strip() or key} stands a second time"
    if "nvalid value" in reason and value:
        return VALUES
    return f"TOML: key = value, [table], or a # before a comment; here the file breaks off ({reason})"
