"""The kinds of charts, one function each: plain arrays in, an SVG out. No text of a user's is drawn.

``said`` is a chart's title and what it shows in a sentence, for those who do not see it.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path

from sim.calendar import MONTHS
from sim.language import month_letters, say
from sim.report.ink import ALARM, GRID, INK, MUTED, SUN, WATER, heading, inked, sheet, steps, svg

Said = tuple[str, str]

EDGE = 6.0  # room beside bars that need no scale
AXIS_WORDS = 68.0  # room below for the words along an axis
STEPS = [1, 2, 4, 6, 10]  # of an upright axis of months: hours fall on parts of a day
MAP_RGB = (0.16, 0.50, 0.64)  # seen on light and on dark paper; how long the pump ran is how opaque it is
DASHES = (0, (5, 3))
AGAINST = ("hours a day", "more or fewer than the first")
FILLS: dict[str, dict[str, Any]] = {
    "full": {},
    "outline": {"facecolor": "none", "linewidth": 1.4},
    "hatched": {"facecolor": "none", "linewidth": 1.0, "hatch": "////"},
}


@dataclass(frozen=True)
class Bars:
    """Twelve bars of (12,) heights above ``base``; ``shift`` and ``width`` are parts of a month's room."""

    heights: np.ndarray
    ink: str = WATER
    base: np.ndarray | float = 0.0
    shift: float = 0.0
    width: float = 0.66
    fill: str = "full"


@dataclass(frozen=True)
class Strokes:
    """A stroke across each month at (12,) heights."""

    heights: np.ndarray
    ink: str = ALARM
    width: float = 1.0


@dataclass(frozen=True)
class Bar:
    """A labelled bar from ``start`` to ``start + length``; ``ink`` says what kind of thing it is."""

    label: str
    start: float
    length: float
    ink: str = WATER


@dataclass(frozen=True)
class Line:
    """A line through points: (n,) along and up, its ink, and whether it is dashed."""

    along: np.ndarray
    up: np.ndarray
    ink: str
    dashed: bool = False


@dataclass(frozen=True)
class Panel:
    """One of the diagrams above each other: what is up, its lines, and the points that are marked."""

    up: str
    lines: tuple[Line, ...]
    marks: tuple[tuple[float, float], ...] = ()


def stacked(*layers: tuple[np.ndarray, str, str]) -> tuple[Bars, ...]:
    """Bars one on the other, from the ground up: (12,) heights, ink and fill of each."""
    bases = np.cumsum([np.zeros(12), *(heights for heights, *_ in layers)], axis=0)
    return tuple(Bars(heights, ink, base, fill=fill) for (heights, ink, fill), base in zip(layers, bases, strict=False))


def side_by_side(left: Bars, right: Bars) -> tuple[Bars, Bars]:
    """Two bars in each month's room."""
    return replace(left, shift=-0.21, width=0.4), replace(right, shift=0.21, width=0.4)


def months_on(axes: Axes, bars: Sequence[Bars], strokes: Sequence[Strokes] = (), names: Sequence[str] = ()) -> None:
    """The twelve months on some axes: bars, and strokes across them."""
    places = np.arange(12)
    for it in bars:
        inks = {"color": it.ink} if it.fill == "full" else {"edgecolor": it.ink} | FILLS[it.fill]
        axes.bar(places + it.shift, it.heights, it.width, it.base, **inks)
    for line in strokes:
        axes.hlines(line.heights, places - line.width / 2, places + line.width / 2, colors=line.ink, linewidth=2.4)
    axes.set_xticks(places, list(names) or [name[0] for name in MONTHS])
    axes.set_xlim(-0.6, 11.6)
    top = max(float(np.max(at)) for at in (*(it.heights + it.base for it in bars), *(it.heights for it in strokes)))
    axes.set_ylim(0, (top or 1.0) * 1.06)
    axes.locator_params(axis="y", steps=STEPS, nbins=5)


def months(
    key: str, words: str, bars: Sequence[Bars], strokes: Sequence[Strokes], said: Said, height: float = 290.0
) -> str:
    """Twelve months by their bars and strokes, under the words for what they show."""
    with inked():
        figure, axes = sheet(height)
        months_on(axes, bars, strokes)
        heading(axes, words)
        return svg(figure, key, *said)


def client_months(typical: np.ndarray, wanted: np.ndarray, said: Said, low_high: np.ndarray | None = None) -> str:
    """The client's twelve months (12,): low, with their hours above them and their names below.

    ``low_high`` (2, 12) are the ends of thin lines over the bars.
    """
    high = typical if low_high is None else np.maximum(typical, low_high[1])
    with inked():
        figure, axes = sheet(176.0, top=38.0, bottom=28.0)
        months_on(axes, (Bars(typical, width=0.72),), (Strokes(wanted, width=0.92),), month_letters())
        if low_high is not None:
            axes.vlines(np.arange(12), *low_high, colors=INK, linewidth=1.6)
        for at, value in zip(enumerate(high), typical, strict=True):
            axes.annotate(f"{value:.0f}", at, (0, 4), textcoords="offset points", ha="center", color=INK)
        axes.set_ylim(0, max(axes.get_ylim()[1], float(high.max())) * 1.08)
        heading(axes, say("hours a day"))
        return svg(figure, "client", *said)


def against_first(
    key: str, own: np.ndarray, first: np.ndarray, wanted: np.ndarray, ends: tuple[float, float], said: Said
) -> str:
    """Hours a day by month, each (12,): a design as bars, the first as an outline, wanted; below, the difference.

    ``ends`` are the most of both scales, so that neighbours can be compared.
    """
    with inked():
        figure, (above, below) = sheet(560.0, (1.7, 1.0), top=44.0, bottom=48.0, left=80.0)
        more = own - first
        months_on(above, (Bars(own, width=0.7),), (Strokes(wanted),))
        months_on(below, (Bars(np.maximum(more, 0.0), width=0.7), Bars(np.minimum(more, 0.0), ALARM, width=0.7)))
        above.stairs(first, np.arange(13) - 0.5, color=INK, linewidth=2.4)
        below.axhline(0.0, color=MUTED, linewidth=1.2)
        scales = ((0, ends[0] * 1.05), (-ends[1] * 1.1, ends[1] * 1.1))
        for axes, limits, text in zip((above, below), scales, AGAINST, strict=True):
            axes.set_ylim(limits)
            axes.locator_params(axis="y", steps=[1, 2, 5, 10], nbins=4)
            heading(axes, text)
        return svg(figure, key, *said)


def month_starts(months: np.ndarray) -> np.ndarray:
    """(12,) the day, counted from 0, on which each month begins; ``months`` is the month 1…12 of every day.

    >>> month_starts(np.array([1, 1, 2]))[:2].tolist()
    [0, 2]
    """
    return np.searchsorted(months, np.arange(1, 13))


def months_along(axes: Axes, months: np.ndarray) -> None:
    """A tick at each month's beginning, its letter in its middle."""
    starts = np.append(month_starts(months), len(months))
    axes.set_xlim(0, len(months))
    axes.set_xticks((starts[:-1] + starts[1:]) / 2.0, [name[0] for name in MONTHS])
    for start in starts[1:-1]:
        axes.axvline(start, color=GRID, linewidth=0.8, zorder=0)


def daily_band(
    key: str, words: str, low_high: np.ndarray, months: np.ndarray, levels: tuple[float, ...], said: Said
) -> str:
    """Each day's lowest and highest, (2, days), as a band; ``months`` is each day's month.

    ``levels`` is where a dashed line stands, and, where they are fixed, the ends of the scale.
    """
    with inked():
        figure, axes = sheet(260.0)
        low, high = low_high
        steps(axes, high, low, color=WATER)
        line, *ends = levels
        axes.axhline(line, color=ALARM, linewidth=1.2, linestyle=DASHES)
        axes.set_ylim(*ends)
        axes.locator_params(axis="y", nbins=6)
        months_along(axes, months)
        heading(axes, words)
        return svg(figure, key, *said)


def image(opaque: np.ndarray) -> np.ndarray:
    """An image in the maps' colour from how opaque each point is, 0…1."""
    drawn = np.empty((*opaque.shape, 4))
    drawn[..., :3], drawn[..., 3] = MAP_RGB, opaque
    return np.asarray(np.rint(drawn * 255), np.uint8)


def boxes(axes: Axes, corners: np.ndarray, widths: np.ndarray, height: float, **style: Any) -> None:
    """Boxes by their corners (n, 2) and widths (n,), drawn as one path; the axes' limits are set."""
    unit = np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], dtype=float)
    paths = [Path(at + unit * (wide, height), closed=True) for at, wide in zip(corners, widths, strict=True)]
    if paths:
        axes.add_artist(PathPatch(Path.make_compound_path(*paths), **style))


def year_map(share: np.ndarray, zenith_deg: np.ndarray, months: np.ndarray, said: Said) -> str:
    """A share of each hour as one image, the sun's zenith angle as sunrise and sunset; both (days, 24)."""
    with inked():
        figure, axes = sheet(330.0)
        days = len(share)
        axes.imshow(
            image(share.T), extent=(0, days, 0, 24), origin="lower", aspect="auto", interpolation="none"
        )  # fmt: skip
        sunlines = axes.contour(np.arange(days) + 0.5, np.arange(24) + 0.5, zenith_deg.T, [90.0], colors=[SUN])
        sunlines.set_linewidth(1.8)
        axes.set_yticks([0, 6, 12, 18, 24], ["00", "06", "12", "18", "24"])
        axes.set_ylim(0, 24)
        months_along(axes, months)
        heading(axes, "hour of the day, local standard time")
        return svg(figure, "map", *said)


def bars(key: str, items: Sequence[Bar], said: Said) -> str:
    """Bars lying down, each under its own label; they may start anywhere, so that one begins where another ends."""
    with inked():
        figure, axes = sheet(44.0 * len(items) + 12.0, top=4.0, bottom=8.0, left=EDGE)
        for place, item in enumerate(items):
            axes.barh(place, item.length, 0.34, item.start, color=item.ink)
        ends = [0.0, 1e-9, *(item.start + item.length for item in items), *(item.start for item in items)]
        for place, item in enumerate(items):
            axes.annotate(item.label, (min(ends), place - 0.26), (0, 1), textcoords="offset points", color=INK)
        axes.axvline(0.0, color=MUTED, linewidth=0.8)
        limits = {"xlim": (min(ends), max(ends)), "ylim": (len(items) - 0.7, -0.75)}
        axes.set(**limits, xticks=[], yticks=[])  # no scale: the labels hold the numbers
        axes.spines["bottom"].set_visible(False)
        return svg(figure, key, *said)


def ranges(key: str, labels: Sequence[str], low: np.ndarray, high: np.ndarray, words: str, said: Said) -> str:
    """Ranges of 0…1 from ``low`` to ``high``, each (n,) under its label, on a scale of per cent, along it ``words``."""
    with inked():
        figure, axes = sheet(62.0 * len(labels) + 70.0, top=6.0, bottom=64.0, left=24.0)
        places = np.arange(len(labels))
        axes.barh(places, np.full(len(labels), 100.0), 0.26, color=WATER, alpha=0.14)
        axes.barh(places, np.maximum(high - low, 0.006) * 100.0, 0.26, low * 100.0, color=WATER)
        for place, label in zip(places, labels, strict=True):
            axes.annotate(label, (0.0, place - 0.22), (0, 2), textcoords="offset points", color=INK)
        axes.set(xlim=(0, 100), ylim=(len(labels) - 0.6, -0.75), yticks=[], xticks=[0, 25, 50, 75, 100])
        axes.grid(axis="x")
        axes.set_xlabel(words, labelpad=12.0)
        return svg(figure, key, *said)


def histogram(
    key: str, counts: np.ndarray, edges: np.ndarray, words: tuple[str, str], said: Said, limit: float | None = None
) -> str:
    """How many (n,) lie between edges (n+1,), and a limit where it is within them; ``words`` up and along."""
    with inked():
        figure, axes = sheet(275.0, bottom=AXIS_WORDS)
        axes.bar(edges[:-1], counts, np.diff(edges), align="edge", color=WATER, edgecolor=GRID)
        if limit is not None and limit <= edges[-1]:
            axes.axvline(limit, color=ALARM, linewidth=2.4)
        axes.set(xlim=(0, edges[-1]), ylim=(0, max(float(counts.max()) * 1.1, 1.0)))
        axes.locator_params(axis="y", nbins=4, integer=True)
        axes.set_xlabel(words[1], labelpad=13.0)
        heading(axes, words[0])
        return svg(figure, key, *said)


def curves(key: str, panels: Sequence[Panel], along: str, said: Said, now: float | None = None) -> str:
    """Diagrams above each other over one scale, with a dashed upright line where the present design stands."""
    with inked():
        figure, found = sheet(80.0 + 220.0 * len(panels), (1.0,) * len(panels), bottom=AXIS_WORDS)
        rows = np.atleast_1d(found)
        for axes, panel in zip(rows, panels, strict=True):
            _draw(axes, panel)
            if now is not None:
                axes.axvline(now, color=ALARM, linewidth=1.4, linestyle=DASHES)
            heading(axes, panel.up)
        rows[-1].locator_params(axis="x", nbins=6)
        rows[-1].set_xlabel(along, labelpad=13.0)
        return svg(figure, key, *said)


def _draw(axes: Axes, panel: Panel) -> None:
    """The lines of a diagram from zero up, and its marked points."""
    for line in panel.lines:
        style = (0, (6, 2)) if line.dashed else "solid"
        axes.plot(line.along, line.up, color=line.ink, linewidth=2.2, linestyle=style)
    for at in panel.marks:
        axes.plot(*at, "o", markersize=8.0, color=INK, clip_on=False)
    most = max(float(line.up.max()) for line in panel.lines)
    axes.set_ylim(0, max(most, 1e-9) * 1.1)
    axes.margins(x=0.02)
    axes.locator_params(axis="y", nbins=5, steps=[1, 2, 5, 10])


def settling(words: str, years: np.ndarray, estimate: np.ndarray, error: np.ndarray, said: Said) -> str:
    """An estimate (n,) after so many years (n,), in a band of one standard error (n,) to either side."""
    with inked():
        figure, axes = sheet(280.0, bottom=AXIS_WORDS)
        axes.fill_between(years, estimate - error, estimate + error, color=WATER, alpha=0.35, linewidth=0.0)
        axes.plot(years, estimate, color=INK, linewidth=1.6)
        axes.set_xlim(0.0, float(years[-1]))
        axes.locator_params(axis="y", nbins=5)
        axes.set_xlabel("years", labelpad=13.0)
        heading(axes, words)
        return svg(figure, "spread-settling", *said)


def clear_day(recorded: np.ndarray, above: np.ndarray, said: Said) -> str:
    """The mean clear day, recorded and above the atmosphere, both (24,) in W/m², with the middle of each."""
    with inked():
        figure, axes = sheet(270.0)
        hours = np.arange(24) + 0.5
        steps(axes, recorded, color=SUN)
        axes.plot(hours, above * recorded.sum() / max(above.sum(), 1.0), color=INK, linewidth=1.6)
        for series, ink, dashes in ((above, INK, "solid"), (recorded, ALARM, DASHES)):
            axes.axvline(float(hours @ series / max(series.sum(), 1.0)), color=ink, linewidth=1.4, linestyle=dashes)
        axes.set_xlim(0, 24)
        axes.set_xticks([0, 6, 12, 18, 24], ["00", "06", "12", "18", "24"])
        axes.locator_params(axis="y", nbins=4)
        heading(axes, "W/m², by hour of local standard time")
        return svg(figure, "clock", *said)
