"""The drawings of the report on many years: months, longest stops, and how the estimate settles."""

from __future__ import annotations

import numpy as np

from sim.calendar import MONTHS
from sim.report.ink import ALARM, GRID, INK, WATER, heading, inked, sheet, svg

BOTTOM = 68.0  # room for the words along the axis


def months(low: np.ndarray, middle: np.ndarray, high: np.ndarray, wanted: np.ndarray, *said: str) -> str:
    """Hours a day by month, each (12,): bars from low to high, a stroke at the middle, a line at what is wanted."""
    with inked():
        figure, axes = sheet(300.0)
        places = np.arange(12)
        top = max(float(high.max()), float(wanted.max()), 1.0)
        axes.bar(places, np.maximum(high - low, 0.006 * top), 0.56, low, color=WATER)
        axes.hlines(middle, places - 0.28, places + 0.28, colors=INK, linewidth=2.4)
        axes.hlines(wanted, places - 0.5, places + 0.5, colors=ALARM, linewidth=2.4)
        axes.set_xticks(places, [name[0] for name in MONTHS])
        axes.set_xlim(-0.6, 11.6)
        axes.set_ylim(0, top * 1.05)
        axes.locator_params(axis="y", steps=[1, 2, 4, 6, 10], nbins=5)
        heading(axes, "hours a day")
        return svg(figure, "spread-months", *said)


def stops(counts: np.ndarray, edges: np.ndarray, allowed_h: float, *said: str) -> str:
    """How many years (n,) have their longest stop between edges (n+1,), h, and the longest that is allowed."""
    with inked():
        figure, axes = sheet(280.0, bottom=BOTTOM)
        axes.bar(edges[:-1], counts, np.diff(edges), align="edge", color=WATER, edgecolor=GRID)
        if allowed_h <= edges[-1]:
            axes.axvline(allowed_h, color=ALARM, linewidth=2.4)
        axes.set_xlim(0.0, edges[-1])
        axes.set_ylim(0, max(float(counts.max()) * 1.1, 1.0))
        axes.locator_params(axis="y", nbins=4, integer=True)
        axes.set_xlabel("longest stop of the year, h", labelpad=13.0)
        heading(axes, "years")
        return svg(figure, "spread-stops", *said)


def settling(what: str, years: np.ndarray, estimate: np.ndarray, error: np.ndarray, *said: str) -> str:
    """An estimate (n,) after so many years (n,), in a band of one standard error (n,) to either side."""
    with inked():
        figure, axes = sheet(280.0, bottom=BOTTOM)
        axes.fill_between(years, estimate - error, estimate + error, color=WATER, alpha=0.35, linewidth=0.0)
        axes.plot(years, estimate, color=INK, linewidth=1.6)
        axes.set_xlim(0.0, float(years[-1]))
        axes.locator_params(axis="y", nbins=5)
        axes.set_xlabel("years", labelpad=13.0)
        heading(axes, f"P10 of the {what} in a year")
        return svg(figure, "spread-settling", *said)
