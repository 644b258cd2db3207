"""The drawings of the comparison's report: months of a design against the first, and hours against tilt and power."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from sim.calendar import MONTHS
from sim.report.ink import ALARM, INK, MUTED, SUN, WATER, heading, inked, sheet, svg


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


def against_first(
    key: str, own: np.ndarray, first: np.ndarray, wanted: np.ndarray, ends: tuple[float, float], words: tuple[str, str]
) -> str:
    """Hours a day by month, each (12,): a design as bars, the first as an outline, wanted; below, the difference.

    ``ends`` are the most of both scales, so that neighbours can be compared; ``words`` title and description.
    """
    with inked():
        figure, (above, below) = sheet(560.0, (1.7, 1.0), top=44.0, bottom=48.0, left=80.0)
        places = np.arange(12)
        above.bar(places, own, 0.7, color=WATER)
        above.stairs(first, np.arange(13) - 0.5, color=INK, linewidth=2.4)
        above.hlines(wanted, places - 0.5, places + 0.5, colors=ALARM, linewidth=2.4)
        more = own - first
        below.bar(places, more, 0.7, color=[WATER if value >= 0.0 else ALARM for value in more])
        below.axhline(0.0, color=MUTED, linewidth=1.2)
        above.set_ylim(0, ends[0] * 1.05)
        below.set_ylim(-ends[1] * 1.1, ends[1] * 1.1)
        below.set_xticks(places, [name[0] for name in MONTHS])
        below.set_xlim(-0.7, 11.7)
        for axes, text in ((above, "hours a day"), (below, "more or fewer than the first")):
            axes.locator_params(axis="y", steps=[1, 2, 5, 10], nbins=4)
            heading(axes, text)
        return svg(figure, key, *words)


def curves(key: str, panels: Sequence[Panel], now: float, along: str, title: str, description: str) -> str:
    """Diagrams above each other over one scale, with a dashed upright line where the present design stands."""
    with inked():
        figure, found = sheet(70.0 + 210.0 * len(panels), (1.0,) * len(panels), bottom=62.0)
        rows = np.atleast_1d(found)
        for axes, panel in zip(rows, panels, strict=True):
            _draw(axes, panel)
            axes.axvline(now, color=ALARM, linewidth=1.4, linestyle=(0, (5, 3)))
            heading(axes, panel.up)
        rows[-1].set_xlabel(along, labelpad=12.0)
        return svg(figure, key, title, description)


def _draw(axes: Axes, panel: Panel) -> None:
    """The lines of a diagram from zero up, and its marked points."""
    for line in panel.lines:
        style = (0, (2, 2)) if line.dashed else "solid"
        axes.plot(line.along, line.up, color=line.ink, linewidth=2.2, linestyle=style)
    for at in panel.marks:
        axes.plot(*at, "o", markersize=8.0, color=INK)
    most = max(float(line.up.max()) for line in panel.lines)
    axes.set_ylim(0, max(most, 1e-9) * 1.1)
    axes.margins(x=0.02)
    axes.locator_params(axis="y", nbins=5, steps=[1, 2, 5, 10])


def shade_months(lost: np.ndarray, title: str, description: str) -> str:
    """(12,) share of the light in the plane that the shades take, month by month."""
    with inked():
        figure, axes = sheet(250.0)
        axes.bar(np.arange(12), lost * 100.0, 0.66, color=SUN)
        axes.set_xticks(np.arange(12), [name[0] for name in MONTHS])
        axes.set_xlim(-0.6, 11.6)
        axes.set_ylim(0, max(float(lost.max()) * 110.0, 1.0))
        axes.locator_params(axis="y", nbins=4)
        heading(axes, "light lost to shade, %")
        return svg(figure, "shade", title, description)
