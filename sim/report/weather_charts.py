"""The charts of a weather year: plain arrays in, an SVG out."""

from __future__ import annotations

import numpy as np

from sim.calendar import MONTHS
from sim.report.charts import months_along
from sim.report.ink import ALARM, INK, SUN, WATER, heading, inked, sheet, svg


def light(beam: np.ndarray, diffuse: np.ndarray, title: str, description: str) -> str:
    """Mean daily light of each month, kWh/m²: beam on the horizontal and diffuse, each (12,), one on the other."""
    with inked():
        figure, axes = sheet(290.0)
        places = np.arange(12)
        axes.bar(places, diffuse, 0.66, color=WATER)
        axes.bar(places, beam, 0.66, bottom=diffuse, color=SUN)
        axes.set_xticks(places, [name[0] for name in MONTHS])
        axes.set_xlim(-0.6, 11.6)
        axes.locator_params(axis="y", nbins=5)
        heading(axes, "light on the level, kWh/m² a day")
        return svg(figure, "light", title, description)


def air(low: np.ndarray, high: np.ndarray, months: np.ndarray, title: str, description: str) -> str:
    """Each day's lowest and highest temperature, both (days,), °C, as a band."""
    with inked():
        figure, axes = sheet(270.0)
        axes.stairs(high, np.arange(len(low) + 1), baseline=low, fill=True, color=WATER)
        axes.axhline(0.0, color=ALARM, linewidth=1.2, linestyle=(0, (5, 3)))
        axes.locator_params(axis="y", nbins=6)
        months_along(axes, months)
        heading(axes, "air, °C")
        return svg(figure, "air", title, description)


def clock(recorded: np.ndarray, above: np.ndarray, title: str, description: str) -> str:
    """The mean clear day, recorded and above the atmosphere, both (24,) in W/m², with the middle of each."""
    with inked():
        figure, axes = sheet(270.0)
        hours = np.arange(24) + 0.5
        axes.stairs(recorded, np.arange(25), fill=True, color=SUN)
        axes.plot(hours, above * recorded.sum() / max(above.sum(), 1.0), color=INK, linewidth=1.6)
        for series, ink, dashes in ((above, INK, (1, 0)), (recorded, ALARM, (5, 3))):
            axes.axvline(
                float(hours @ series / max(series.sum(), 1.0)), color=ink, linewidth=1.4, linestyle=(0, dashes)
            )
        axes.set_xlim(0, 24)
        axes.set_xticks([0, 6, 12, 18, 24], ["00", "06", "12", "18", "24"])
        axes.locator_params(axis="y", nbins=4)
        heading(axes, "W/m², by hour of local standard time")
        return svg(figure, "clock", title, description)
