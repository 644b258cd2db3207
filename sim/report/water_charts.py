"""The charts of the water: the operating point, the branch's valve, and bars by month."""

from __future__ import annotations

from typing import Any

import numpy as np

from sim.calendar import MONTHS
from sim.figures.water.flows import Pipework
from sim.report.ink import ALARM, INK, SUN, WATER, heading, inked, sheet, svg


def _flow_axis(axes: Any, label: str, most: float) -> None:
    axes.set_xlim(0, most)
    axes.locator_params(axis="x", nbins=5)
    axes.locator_params(axis="y", nbins=5)
    axes.set_xlabel(label, labelpad=13.0)


def operating(found: Pipework, title: str, description: str) -> str:
    """Head of the pump and of the pipework over the flow, and where they meet."""
    with inked():
        figure, axes = sheet(320.0, bottom=68.0)
        axes.plot(found.drawn_lph, found.pump_m, color=WATER, linewidth=2.2)
        axes.plot(found.drawn_lph, found.system_m, color=SUN, linewidth=2.2, linestyle=(0, (6, 2)))
        axes.plot([found.point.flow_lph], [found.point.head_m], "o", color=INK, markersize=9, clip_on=False)
        axes.set_ylim(0, max(found.pump_m.max(), found.system_m[0] * 1.2) * 1.08)
        _flow_axis(axes, "flow, litres per hour", found.drawn_lph[-1])
        heading(axes, "head, m")
        return svg(figure, "operating", title, description)


def branch(found: Pipework, opening: float, title: str, description: str) -> str:
    """Flow of header and branch over the valve's opening; ``opening`` is the one that is set, per cent."""
    with inked():
        figure, axes = sheet(300.0, bottom=68.0)
        side, main = np.array([(point.branch_flow_lph, point.filter_flow_lph) for point in found.by_opening]).T
        axes.plot(found.openings, main, color=SUN, linewidth=2.2, linestyle=(0, (6, 2)))
        axes.plot(found.openings, side, color=WATER, linewidth=2.2)
        axes.axvline(opening, color=ALARM, linewidth=1.4, linestyle=(0, (2, 2)))
        axes.set_ylim(0, max(float(main.max()), float(side.max()), 1.0) * 1.08)
        _flow_axis(axes, "opening of the valve, %", 100.0)
        heading(axes, "flow, litres per hour")
        return svg(figure, "branch", title, description)


def by_month(key: str, values: np.ndarray, line: float | None, words: str, title: str, description: str) -> str:
    """Twelve bars, and the level that is wanted where there is one."""
    with inked():
        figure, axes = sheet(270.0)
        axes.bar(np.arange(12), values, 0.66, color=WATER)
        if line is not None:
            axes.axhline(line, color=ALARM, linewidth=1.6, linestyle=(0, (5, 3)))
        axes.set_xticks(np.arange(12), [name[0] for name in MONTHS])
        axes.set_xlim(-0.6, 11.6)
        axes.set_ylim(0, max(float(values.max()), line or 0.0, 1e-3) * 1.08)
        axes.locator_params(axis="y", nbins=5)
        heading(axes, words)
        return svg(figure, key, title, description)
