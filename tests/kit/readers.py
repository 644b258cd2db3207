"""Which units a reader meets in a page, and whether two pages in different units say the same."""

from __future__ import annotations

import re
from collections.abc import Iterator

from kit.pages import text_of
from sim.units import READ, Shown

_END = r"(?![\w/²³])"
# A figure with its unit, a heading that ends in a unit, and units in full.
SI = re.compile(
    rf"\d (?:mm²|mm|cm|m²|m³|m|l|l/h|m/s|°C|C|K|mg/L|%/°C){_END}|mm²|m³|°C|(?<!\w)l/h"
    r"|\b[Ll]it(?:re|er)s?\b|[Mm]etres?\b|\bkelvins?\b"
    r"|, (?:mm|cm|m|l|m/s|m²)(?= \||$)"
)
US = re.compile(
    r"\d (?:ft|ft/s|gal|gal/h|ppm)\b|°F|\bsq ft\b|\bgal\b|\b[Gg]allons?\b|\binch(?:es)?\b|\bfeet\b|\bppm\b"
    r"|, (?:ft|gal|ft/s)(?= \||$)"
)
OTHER = {"metric": US, "us": SI}
_CABLE = re.compile(r"(?:about )?AWG \S+?(?=[\s,.;:)]|$)|[\d.]+ mm²(?: or AWG \S+?(?=[\s,.;:)]|$))?")
_FIGURE = re.compile(r"(?<![\w.])([−-]?\d[\d,]*(?:\.\d+)?(?:e[-+]\d+)?)(?: ([^\W\d][\w/²³]*|[°%][\w/°]*))?")
_SIGNS: dict[str, list[Shown]] = {}
for _unit in READ.values():
    _SIGNS.setdefault(_unit["metric"].sign.split(" ")[0], []).append(_unit["us"])


def words_of(html: str) -> str:
    """What is read of a page: no style, no script, no keys of the scenario; a bar behind each cell of a heading."""
    without = re.sub(r"<(style|script|code)\b.*?</\1>", " ", html, flags=re.DOTALL)
    return text_of(without.replace("</th>", " |</th>").replace("</text>", " |</text>"))


def mixed(html: str, units: str) -> list[str]:
    """What stands in a page, with the words around it, in units that its readers did not ask for."""
    said = words_of(html)
    return [said[max(at.start() - 40, 0) : at.end() + 10] for at in OTHER[units].finditer(said)]


def _figures(html: str) -> list[tuple[str, str]]:
    """Every figure of a page in its order, with the word behind it; charts and sizes of cables left out."""
    said = words_of(re.sub(r"<svg.*?</svg>", " ", html, flags=re.DOTALL))
    return [
        (at[1].replace(",", "").replace("−", "-"), at[2] or "") for at in _FIGURE.finditer(_CABLE.sub("cable", said))
    ]


def half(figure: str) -> float:
    """Half of the last digit that is shown."""
    digits, _, power = figure.partition("e")
    places = len(digits.partition(".")[2])
    return 0.5 * 10.0 ** (int(power or 0) - places)


def agree(si: str, us: str, unit: Shown) -> bool:
    """Whether two figures are the same one within their shown digits."""
    there = float(si) * unit.factor + unit.shift
    rounded = 10.0 ** -min(unit.finer, 0) / 2.0 if unit.finer < 0 else 0.0
    return abs(there - float(us)) <= 1.0001 * (half(si) * unit.factor + max(half(us), rounded)) + 1e-12


def apart(metric: str, us: str) -> Iterator[str]:
    """Figures of two pages of the same result that are neither the same nor one in different units."""
    ours, theirs = _figures(metric), _figures(us)
    if len(ours) != len(theirs):
        first = next((k for k, (a, b) in enumerate(zip(ours, theirs, strict=False)) if a[1] != b[1]), 0)
        near = f"{ours[first : first + 4]} and {theirs[first : first + 4]}"
        yield f"{len(ours)} figures against {len(theirs)}, near {near}"
        return
    every = [unit["us"] for unit in READ.values()]
    for (si, word), (other, other_word) in zip(ours, theirs, strict=True):
        units = _SIGNS.get(word, []) if word else every
        same = si == other and word == other_word
        if not same and not any(agree(si, other, unit) for unit in units or every):
            yield f"{si} {word} against {other} {other_word}"
