"""Damage by chance: to a scenario's data and text, to weather files, to logs. The same seed does the same damage."""

from __future__ import annotations

import copy
import datetime
import math
from collections.abc import Callable, Iterator
from random import Random
from typing import Any

import numpy as np
from weather.whole_files import HEADS, PLACES, put

LIGHT = ("ghi", "dni", "dhi")
ODD: tuple[Any, ...] = (
    *(0, -1, 3, 1e308, -1e308, 5e-324, 1e-200, 10**400, 16**5000, math.nan, math.inf, True, False),
    *("", "x", "0", "\x1b[31m", "a\0b", "ä" * 400, "24:00", "02-30", "07:00", "=1+1", "../../x"),
    *([], [[]], [1], ["07:00"], [1, "x"], [[1], [2, 3]], [{}], {}, {"": 1}, {"a": {"b": {}}}),
    *(datetime.date(2001, 2, 3), datetime.time(7), datetime.datetime(2001, 2, 3, 4)),
)
HUGE = 1e300  # figures that cannot be multiplied any more
TOKENS = (
    "",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "9999",
    "-999",
    "x",
    "--",
    '"',
    "0x10",
    "1_0",
    "1,5",
    "٣",
    "\x1b[31m",
    "1" * 400,
)
SCRAPS = (
    "[",
    "]",
    "{",
    '"',
    "'",
    "=",
    "#",
    "\n",
    "\0",
    "\x1b",
    "\ufeff",
    "🌊",
    ",",
    ".",
    "-",
    "=inf\n",
    "[[a]]\n",
    "9" * 300,
)


# ------------------------------------------------------------------ scenarios


def places(data: Any) -> Iterator[tuple[Any, Any]]:
    """Every container in plain data with each of its keys."""
    keys = list(data) if isinstance(data, dict) else list(range(len(data))) if isinstance(data, list) else []
    for key in keys:
        yield data, key
        yield from places(data[key])


def _put_odd(rng: Random, data: dict[str, Any]) -> None:
    holder, key = rng.choice(list(places(data)))
    holder[key] = copy.deepcopy(rng.choice(ODD))


def _nudge(rng: Random, data: dict[str, Any]) -> None:
    found = ((holder, key) for holder, key in places(data) if type(holder[key]) in (int, float))
    figures = [(holder, key) for holder, key in found if abs(holder[key]) < HUGE]
    if figures:
        holder, key = rng.choice(figures)
        holder[key] *= rng.choice((-1, 0, 1e-12, 0.1, 0.5, 0.9, 1.1, 2, 10, 1e6))


def _drop(rng: Random, data: dict[str, Any]) -> None:
    holder, key = rng.choice(list(places(data)))
    del holder[key]


def _move(rng: Random, data: dict[str, Any]) -> None:
    (there, source), (here, key) = rng.choices(list(places(data)), k=2)
    here[key] = copy.deepcopy(there[source])


def _add(rng: Random, data: dict[str, Any]) -> None:
    tables = [data, *(holder[key] for holder, key in places(data) if isinstance(holder[key], dict))]
    key = rng.choice(
        ("", "x", "tilt", "a b", "\x1b", "extension", "branch", "monthly", "columns", "files", "alternative")
    )
    rng.choice(tables)[key] = copy.deepcopy(rng.choice(ODD))


def mangled_data(rng: Random, data: dict[str, Any]) -> dict[str, Any]:
    """Plain data of a scenario with one to three things wrong."""
    out = copy.deepcopy(data)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        if out:
            rng.choice((_put_odd, _put_odd, _nudge, _nudge, _nudge, _drop, _move, _add))(rng, out)
    return out


def mangled_text(rng: Random, text: str) -> bytes:
    """A text with one to three things wrong with its lines and signs."""
    for _ in range(rng.randint(1, 3)):
        lines = text.split("\n")
        at, other = rng.randrange(len(lines)), rng.randrange(len(lines))
        spot = rng.randrange(len(text) + 1)
        kind = rng.randrange(7)
        if kind == 0:
            del lines[at : at + rng.randint(1, 20)]
        elif kind == 1:
            lines.insert(other, lines[at])
        elif kind == 2:
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == 3:
            lines[at] = lines[at].replace(rng.choice('0123456789.,;:- =[]"'), rng.choice((*TOKENS, *SCRAPS)), 1)
        elif kind == 4:
            lines = [text[:spot]]
        else:
            lines = [text[:spot] + rng.choice((*SCRAPS, *TOKENS)) + text[spot + rng.randint(0, 2) :]]
        text = "\n".join(lines)
    content = text.encode("utf-8", errors="replace")
    if rng.random() < 0.1:
        content = content.replace(rng.choice((b"\n", b" ", b"0")), rng.choice((b"\xff", b"\r\n", b"\r", b"\x1e")))
    return content


# ------------------------------------------------------------------ weather


def column(form: str, lines: list[str], name: str) -> np.ndarray:
    """The figures of a quantity in a file, (hours,)."""
    found: list[float] = []
    for line in lines[HEADS[form] :]:
        put(form, line, name, lambda value: found.append(value) or value)
    return np.array(found)


def _damaged(rng: Random, values: np.ndarray, other: np.ndarray) -> tuple[np.ndarray, str]:
    """A column with something wrong, in a stretch of it or in all, and a word for it."""
    out = values.copy()
    first = rng.choice((0, rng.randrange(len(out))))
    part = slice(first, first + rng.choice((1, 3, 30, 720, len(out))))
    factor, more = rng.choice((0.001, 0.1, 0.3, 0.5, 0.7, 0.85, 1.2, 1.5, 2, 10)), rng.choice((-300, -50, -10, 10, 50))
    by, at, top = rng.choice((-12, -3, -1, 1, 2, 6, 24, 720)), rng.choice((0.0, 9999.0, 500.0)), rng.choice((200, 700))
    kinds: dict[str, Callable[[np.ndarray], np.ndarray]] = {
        f"x {factor:g}": lambda x: x * factor,
        f"+ {more}": lambda x: x + more,
        "sign": lambda x: -x,
        f"all {at:g}": lambda x: np.full(len(x), at),
        f"by {by} h": lambda x: np.roll(x, by),
        "reversed": lambda x: x[::-1],
        "another column": lambda x: other[part],
        f"cut at {top}": lambda x: np.minimum(x, top),
        "no sign": np.abs,
        "Fahrenheit": lambda x: x * 1.8 + 32,
        "noise": lambda x: x * np.array([rng.choice((0.5, 1.5)) for _ in range(len(x))]),
    }
    kind = rng.choice(list(kinds))
    out[part] = kinds[kind](out[part])
    return out, kind


def _figures(rng: Random, form: str, lines: list[str]) -> tuple[list[str], str]:
    """One quantity, or all light, damaged."""
    names = rng.choice((("ghi",), ("dni",), ("dhi",), ("temp_air",), ("wind_speed",), LIGHT))
    seed, other = rng.random(), column(form, lines, rng.choice(("ghi", "dni", "dhi", "temp_air")))
    kind = ""
    for name in names:
        made, kind = _damaged(Random(seed), column(form, lines, name), other)
        figures = iter(made.round(1).tolist())
        head = lines[: HEADS[form]]
        lines = head + [put(form, row, name, lambda _, f=figures: f"{next(f):g}") for row in lines[HEADS[form] :]]
    return lines, f"{'light' if names == LIGHT else names[0]} {kind}"


def _rows(rng: Random, form: str, lines: list[str]) -> tuple[list[str], str]:
    """Rows lost, doubled, turned or moved."""
    head, rows = lines[: HEADS[form]], lines[HEADS[form] :]
    at, count = rng.randrange(len(rows)), rng.choice((1, 2, 3, 24, 24 * 31))
    piece = rows[at : at + count]
    to = rng.randrange(len(rows))
    changed: tuple[Callable[[], list[str]], ...] = (
        lambda: rows[:at] + rows[at + count :],
        lambda: rows[:at] + piece + rows[at:],
        lambda: rows[:at] + piece[::-1] + rows[at + count :],
        lambda: (rest := rows[:at] + rows[at + count :])[:to] + piece + rest[to:],
        lambda: rows[at:] + rows[:at],
        lambda: rows[::-1],
        lambda: rows[: at + 1],
    )
    return head + rng.choice(changed)(), "rows"


def _cells(rng: Random, form: str, lines: list[str]) -> tuple[list[str], str]:
    """Some cells of one quantity hold what is no figure."""
    name, out = rng.choice(tuple(PLACES[form])), list(lines)
    for at in rng.sample(range(HEADS[form], len(out)), rng.choice((1, 2, 40, 400))):
        out[at] = put(form, out[at], name, lambda _: rng.choice(TOKENS))
    return out, "cells"


def _head(rng: Random, form: str, lines: list[str]) -> tuple[list[str], str]:
    """A cell of the head changed: a sign, a place, a clock."""
    at = rng.randrange(HEADS[form])
    cells = lines[at].split(",")
    chosen = rng.randrange(len(cells))
    try:
        cells[chosen] = str(float(cells[chosen]) * rng.choice((-1, 0.5, 2)) + rng.choice((0, 0.5, 1, 10)))
    except ValueError:
        cells[chosen] = rng.choice(TOKENS)
    return [*lines[:at], ",".join(cells), *lines[at + 1 :]], "head"


def mangled_weather(rng: Random, form: str, lines: list[str]) -> tuple[bytes, tuple[str, ...]]:
    """A weather file with one or two things wrong, and a word for each."""
    kinds, done = (_figures, _figures, _figures, _rows, _cells, _head), ()
    for _ in range(rng.choice((1, 1, 2))):
        if rng.random() < 0.1:
            return mangled_text(rng, "\n".join(lines) + "\n"), (*done, "text")
        try:
            lines, kind = rng.choice(kinds)(rng, form, lines)
        except ValueError:  # what was damaged before cannot be damaged as figures any more
            break
        done = (*done, kind)
    return ("\n".join(lines) + "\n").encode("utf-8", errors="replace"), done
