"""From a matplotlib figure to an SVG that lives in a page: it scales, takes the page's colours, and says what it shows.

Figures are drawn in a few colours that stand for the page's; on the way out each becomes a CSS variable, so that one
drawing serves light, dark and print.
"""

import io
import re
from html import escape
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

WIDTH = 640.0  # of every chart, in its own units
LEFT, RIGHT = 62.0, 22.0  # room for the numbers of the upright axis, also when they are set larger on a small screen
INK, MUTED, GRID, WATER, SUN, ALARM, PAPER = (f"#0{k}0{k}0{k}" for k in range(1, 8))
_VARIABLES = {INK: "ink", MUTED: "muted", GRID: "grid", WATER: "water", SUN: "sun", ALARM: "alarm", PAPER: "paper"}
_CLASSES = {  # what most marks of a drawing are drawn in, by its name in the style sheet
    "fill:none;stroke:var(--grid);stroke-width:0.8;stroke-linecap:square": "rule",
    "font-size:13px;text-anchor:middle;fill:var(--muted)": "tick",
    "font-size:13px;text-anchor:end;fill:var(--muted)": "scale",
    "font-size:13px;text-anchor:middle;fill:var(--ink)": "value",
}
_METADATA = dict.fromkeys(("Date", "Creator", "Format", "Type"))
_RC: Any = {
    "svg.fonttype": "none",
    "svg.image_inline": True,
    "font.family": "DejaVu Sans",
    "font.size": 13.0,
    "axes.edgecolor": MUTED,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.spines.left": False,
    "axes.grid": True,
    "axes.grid.axis": "y",
    "axes.axisbelow": True,
    "axes.facecolor": "none",
    "grid.color": GRID,
    "grid.linewidth": 0.8,
    "text.color": INK,
    "text.parse_math": False,
    "axes.labelcolor": MUTED,
    "xtick.color": MUTED,
    "ytick.color": MUTED,
    "xtick.major.size": 0.0,
    "ytick.major.size": 0.0,
    "xtick.bottom": False,
    "ytick.left": False,
    "xtick.major.pad": 9.0,
    "hatch.color": MUTED,
    "path.simplify": True,
}


def inked() -> Any:
    """A context in which matplotlib draws in this page's manner."""
    return matplotlib.rc_context(_RC)


def sheet(
    height: float, shares: tuple[float, ...] = (1.0,), top: float = 36.0, bottom: float = 34.0, left: float = LEFT
) -> tuple[Figure, Any]:
    """A figure of axes one above the other, as high as their ``shares``, and the axes: (shares,) or a single one."""
    figure = Figure(figsize=(WIDTH / 72.0, height / 72.0), dpi=72, facecolor="none")
    figure.subplots_adjust(
        left=left / WIDTH, right=1.0 - RIGHT / WIDTH, top=1.0 - top / height, bottom=bottom / height, hspace=0.5
    )
    return figure, figure.subplots(len(shares), 1, sharex=len(shares) > 1, height_ratios=shares)


def steps(axes: Axes, top: np.ndarray, bottom: np.ndarray | float = 0.0, **style: Any) -> None:
    """The room between two steady lines, (n,) each, with a step at every whole number."""
    above, below = (np.append(line, line[-1]) for line in np.broadcast_arrays(top, bottom))
    axes.fill_between(np.arange(len(top) + 1), above, below, step="post", **style)


def heading(axes: Axes, text: str) -> None:
    """What an axes shows and its unit, above its left end."""
    axes.annotate(text, (0.0, 1.0), (-LEFT + 6.0, 16.0), "axes fraction", textcoords="offset points", color=INK)


def svg(figure: Figure, key: str, title: str, description: str) -> str:
    """The figure as an inline SVG of role img; ``key`` is unique in a page and makes its ids so."""
    written = io.StringIO()
    with matplotlib.rc_context({"svg.hashsalt": key}):
        FigureCanvasSVG(figure).print_figure(written, format="svg", metadata=_METADATA)
    inside = re.sub(r"^.*?<svg[^>]*>|</svg>\s*$|<metadata>.*?</metadata>", "", written.getvalue(), flags=re.DOTALL)
    inside = re.sub(r"font(-family)?: [^;\"]*DejaVu[^;\"]*(; |(?=\"))", _size_only, inside)
    for colour, name in _VARIABLES.items():
        inside = inside.replace(colour, f"var(--{name})")
    inside = _short(inside.replace("xlink:href", "href"))
    height = figure.get_figheight() * 72.0
    return (
        f'<svg class="plot" role="img" aria-labelledby="{key}-title {key}-desc" viewBox="0 0 {WIDTH:g} {height:g}">'
        f'<title id="{key}-title">{escape(title)}</title><desc id="{key}-desc">{escape(description)}</desc>'
        f"{inside.strip()}</svg>"
    )


def _short(inside: str) -> str:
    """The same drawing in half as many signs: no groups or turns that do nothing, hundredths of a unit, short paths."""
    idle = r'<!--.*?-->|<defs>\s*<style.*?</style>\s*</defs>|(?<=<g) id="[^"]*"| transform="rotate\(-0[^"]*"'
    inside = re.sub(idle, "", inside, flags=re.DOTALL)
    inside = re.sub(r"<[^>]*>", _hundredths, inside)
    inside = re.sub(r' d="([^"]*)"', lambda path: f' d="{_path(path[1])}"', inside)
    inside = re.sub(r' style="([^"]*)"', _style, inside)
    return _without_bare_groups(re.sub(r">\s+<", "><", inside))


def _style(written: re.Match[str]) -> str:
    """A style attribute, or the class that says the same."""
    style = re.sub(r"([:;]) ", r"\1", written[1])
    return f' class="{_CLASSES[style]}"' if style in _CLASSES else f' style="{style}"'


def _hundredths(tag: re.Match[str]) -> str:
    """A tag whose figures have two decimals at most; what is written stays as it is."""
    return re.sub(r"\.00?(?!\d)|(?<=\.\d)0(?!\d)", "", re.sub(r"(\.\d\d)\d+", r"\1", tag[0]))


def _without_bare_groups(inside: str) -> str:
    """What is drawn, without groups that say nothing.

    >>> _without_bare_groups('<g><g/><g style="x"><path/></g></g>')
    '<g style="x"><path/></g>'
    """
    ends: list[str] = []

    def kept(tag: re.Match[str]) -> str:
        if tag[0] == "</g>":
            return ends.pop()
        if tag[0].endswith("/>"):
            return ""
        ends.append("" if tag[0] == "<g>" else "</g>")
        return ends[-1] and tag[0]

    return re.sub(r"</?g\b[^>]*>", kept, inside)


def _path(drawn: str) -> str:
    """A path whose level and upright lines have one figure each.

    >>> _path("M 1 2 L 3 2 L 3 4.5 L 5 6 z")
    'M1 2H3V4.5L5 6z'
    """
    short, at = [], ["", ""]
    for part in re.findall(r"[A-Za-z][^A-Za-z]*", drawn):
        letter, *to = part.split()
        level, upright = to[1:] == at[1:], to[:1] == at[:1]
        if letter == "L" and (level or upright):
            short.append(f"H{to[0]}" if level else f"V{to[1]}")
        else:
            short.append(letter + " ".join(to))
        at = to[-2:] or at
    return "".join(short)


def _size_only(font: re.Match[str]) -> str:
    """A font declaration without the family, which is the page's."""
    size = re.search(r"[\d.]+px", font[0])
    return f"font-size: {size[0]}; " if size else ""
