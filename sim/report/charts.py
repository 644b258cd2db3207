"""The charts, one function each: plain arrays in, an SVG out. No text of a user's is drawn."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from sim.calendar import MONTHS
from sim.report.ink import ALARM, GRID, INK, MUTED, SUN, WATER, heading, inked, sheet, svg

LOWEST_DRAWN = 0.85  # of the disconnect voltage: where a protection circuit is open there is none to draw
EDGE = 6.0  # room beside bars that need no scale
MAP_RGB = (0.16, 0.50, 0.64)  # seen on light and on dark paper; how long the pump ran is how opaque it is


@dataclass(frozen=True)
class Bar:
    """A labelled bar from ``start`` to ``start + length``; ``ink`` says what kind of thing it is."""

    label: str
    start: float
    length: float
    ink: str = WATER


@dataclass(frozen=True)
class Fortnight:
    """Hour by hour, each (hours,): voltages at the controller's terminals, charge 0…1, panel W, pump 0…1."""

    from_day: int
    labels: tuple[str, ...]
    low_v: np.ndarray
    high_v: np.ndarray
    end_v: np.ndarray
    off_v: float
    on_v: float
    soc_low: np.ndarray
    soc_high: np.ndarray
    panel_w: np.ndarray
    run_h: np.ndarray


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


def months(met: np.ndarray, run: np.ndarray, wanted: np.ndarray, title: str, description: str) -> str:
    """Hours a day by month, each (12,): met of those wanted, all that the pump ran, and wanted."""
    with inked():
        figure, axes = sheet(290.0)
        places = np.arange(12)
        axes.bar(places, run, 0.66, facecolor="none", edgecolor=WATER, linewidth=1.4)
        axes.bar(places, met, 0.66, color=WATER)
        axes.hlines(wanted, places - 0.5, places + 0.5, colors=ALARM, linewidth=2.4)
        axes.set_xticks(places, [name[0] for name in MONTHS])
        axes.set_xlim(-0.6, 11.6)
        axes.set_ylim(0, max(float(run.max()), float(wanted.max()), 1.0) * 1.05)
        axes.locator_params(axis="y", steps=[1, 2, 4, 6, 10], nbins=5)
        heading(axes, "hours a day")
        return svg(figure, "months", title, description)


def year_map(run_h: np.ndarray, zenith_deg: np.ndarray, months: np.ndarray, title: str, description: str) -> str:
    """The pump's share of each hour as one image, the sun's zenith angle as sunrise and sunset; both (days, 24)."""
    with inked():
        figure, axes = sheet(330.0)
        days = len(run_h)
        image = np.empty((24, days, 4))
        image[..., :3], image[..., 3] = MAP_RGB, run_h.T
        axes.imshow(
            np.rint(image * 255).astype(np.uint8),
            extent=(0, days, 0, 24),
            origin="lower",
            aspect="auto",
            interpolation="none",
        )
        sunlines = axes.contour(np.arange(days) + 0.5, np.arange(24) + 0.5, zenith_deg.T, [90.0], colors=[SUN])
        sunlines.set_linewidth(1.8)
        axes.set_yticks([0, 6, 12, 18, 24], ["00", "06", "12", "18", "24"])
        axes.set_ylim(0, 24)
        months_along(axes, months)
        heading(axes, "hour of the day, local standard time")
        return svg(figure, "map", title, description)


def charge(low: np.ndarray, high: np.ndarray, months: np.ndarray, title: str, description: str) -> str:
    """Each day's lowest and highest charge 0…1, both (days,), as a band."""
    with inked():
        figure, axes = sheet(250.0)
        edges = np.arange(len(low) + 1)
        axes.stairs(high * 100.0, edges, baseline=low * 100.0, fill=True, color=WATER)
        axes.axhline(20.0, color=ALARM, linewidth=1.2, linestyle=(0, (5, 3)))
        axes.set_ylim(0, 102)
        axes.set_yticks([0, 20, 40, 60, 80, 100])
        months_along(axes, months)
        heading(axes, "simulated charge, %")
        return svg(figure, "charge", title, description)


def fortnight(spell: Fortnight, title: str, description: str) -> str:
    """Voltage with both thresholds, charge, panel power and pump of a stretch of hours, one above the other."""
    with inked():
        figure, rows = sheet(700.0, (1.9, 1.0, 1.0, 1.0))
        edges = np.arange(len(spell.low_v) + 1)
        _voltage(rows[0], spell, edges)
        rows[1].stairs(spell.soc_high * 100.0, edges, baseline=spell.soc_low * 100.0, fill=True, color=WATER)
        rows[1].plot(edges[1:], spell.soc_high * 100.0, color=WATER, linewidth=1.4)
        rows[2].stairs(spell.panel_w, edges, fill=True, color=SUN)
        rows[3].stairs(spell.run_h * 60.0, edges, fill=True, color=WATER)
        rows[1].set_ylim(0, max(10.0, float(spell.soc_high.max()) * 115.0))
        rows[2].set_ylim(0, max(1.0, float(spell.panel_w.max()) * 1.1))
        for axes in rows[1:3]:
            axes.locator_params(axis="y", nbins=4)
        rows[3].set_ylim(0, 62)
        rows[3].set_yticks([0, 30, 60])
        for axes, text in zip(
            rows,
            ("voltage at the controller, V", "simulated charge, %", "panel power, W", "pump, minutes in the hour"),
            strict=True,
        ):
            heading(axes, text)
            axes.set_xlim(0, edges[-1])
            for midnight in range(24, int(edges[-1]), 24):
                axes.axvline(midnight, color=GRID, linewidth=0.8, zorder=0)
        rows[-1].set_xticks(np.arange(12, edges[-1], 48), spell.labels[::2])
        return svg(figure, "fortnight", title, description)


def _voltage(axes: Axes, spell: Fortnight, edges: np.ndarray) -> None:
    """The band within each hour, the line at its end, and the two thresholds by name."""
    axes.stairs(spell.high_v, edges, baseline=spell.low_v, fill=True, color=WATER, alpha=0.35)
    axes.plot(edges[1:], spell.end_v, color=INK, linewidth=1.2)
    low = max(min(float(spell.low_v.min()), spell.off_v), LOWEST_DRAWN * spell.off_v)
    high = max(float(spell.high_v.max()), spell.on_v)
    axes.set_ylim(low - 0.2 * (high - low), high + 0.12 * (high - low))
    axes.locator_params(axis="y", nbins=5)
    for volts, name, dashes, above in ((spell.on_v, "reconnect", (6, 3), 4), (spell.off_v, "disconnect", (2, 2), -14)):
        axes.axhline(volts, color=ALARM, linewidth=1.4, linestyle=(0, dashes))
        axes.annotate(
            f"{name} {volts:.4g} V", (1.0, volts), (-2, above), ("axes fraction", "data"),
            textcoords="offset points", ha="right", color=ALARM,
        )  # fmt: skip


def bars(key: str, items: Sequence[Bar], title: str, description: str) -> str:
    """Bars lying down, each under its own label; they may start anywhere, so that one begins where another ends."""
    with inked():
        figure, axes = sheet(44.0 * len(items) + 12.0, top=4.0, bottom=8.0, left=EDGE)
        places = np.arange(len(items))
        axes.barh(
            places, [item.length for item in items], 0.34, [item.start for item in items],
            color=[item.ink for item in items],
        )  # fmt: skip
        ends = [0.0, 1e-9, *(item.start + item.length for item in items), *(item.start for item in items)]
        for place, item in zip(places, items, strict=True):
            axes.annotate(item.label, (min(ends), place - 0.26), (0, 1), textcoords="offset points", color=INK)
        axes.axvline(0.0, color=MUTED, linewidth=0.8)
        axes.set_xlim(min(ends), max(ends))
        axes.set_ylim(len(items) - 0.7, -0.75)
        _bare(axes)
        return svg(figure, key, title, description)


def _bare(axes: Any) -> None:
    """No scale: the labels hold the numbers."""
    axes.set_xticks([])
    axes.set_yticks([])
    axes.spines["bottom"].set_visible(False)


def cycles(counts: np.ndarray, edges: np.ndarray, title: str, description: str) -> str:
    """How many cycles (n,) were as deep as from one edge to the next (n+1,), edges 0…1."""
    with inked():
        figure, axes = sheet(270.0, bottom=68.0)
        axes.bar(edges[:-1] * 100.0, counts, np.diff(edges) * 100.0, align="edge", color=WATER, edgecolor=GRID)
        axes.set_xlim(0, 100)
        axes.set_ylim(0, max(float(counts.max()) * 1.1, 1.0))
        axes.set_xticks(np.arange(0, 101, 20))
        axes.locator_params(axis="y", nbins=4)
        axes.set_xlabel("depth of the cycle, % of capacity", labelpad=13.0)
        heading(axes, "cycles in the year")
        return svg(figure, "cycles", title, description)
