"""The twelve bars of the client's page."""

from __future__ import annotations

import numpy as np

from sim.calendar import MONTHS
from sim.report.ink import ALARM, INK, MUTED, WATER, heading, inked, sheet, svg

HALF = 0.42  # width of one of two bars; a lone one is twice as wide


def twelve_bars(typical: np.ndarray, poor: np.ndarray | None, wanted: np.ndarray, title: str, description: str) -> str:
    """Hours a day by month, each (12,): of the typical year, of a poor one where it is known, and those wanted."""
    with inked():
        figure, axes = sheet(176.0, top=38.0, bottom=28.0)
        places, width, shift = np.arange(12), HALF * (1.0 if poor is not None else 1.7), 0.0
        if poor is not None:
            shift = HALF / 2.0
            axes.bar(places + shift, poor, HALF, facecolor="none", edgecolor=MUTED, linewidth=1.0, hatch="////")
        axes.bar(places - shift, typical, width, color=WATER)
        axes.hlines(wanted, places - 0.46, places + 0.46, colors=ALARM, linewidth=2.4)
        for place, value in zip(places, typical, strict=True):
            axes.annotate(
                f"{value:.0f}", (place - shift, value), (0, 4), textcoords="offset points", ha="center", color=INK
            )
        axes.set_xticks(places, MONTHS)
        axes.set_xlim(-0.6, 11.6)
        axes.set_ylim(0, max(float(typical.max()), float(wanted.max()), 1.0) * 1.14)
        axes.locator_params(axis="y", steps=[1, 2, 4, 6, 10], nbins=4)
        heading(axes, "hours a day")
        return svg(figure, "client", title, description)
