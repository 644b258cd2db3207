"""The maps of the pairs' report, over the two voltages."""

from dataclasses import dataclass
from typing import Any

import numpy as np
from matplotlib import rc_context
from matplotlib.axes import Axes

from sim.report.charts import Said, boxes, image
from sim.report.ink import ALARM, INK, PAPER, RIGHT, WIDTH, heading, inked, sheet, svg

FAINTEST = 0.08  # how opaque the least is: still seen on paper
ROWS_OF_A_NAME = 2  # of a map, about
USUAL_STEP_V = 0.1  # of a grid of one pair
RARELY = 1.0 / 365.0  # once a year: the least that a scale of rates a day can show


@dataclass(frozen=True)
class Ground:
    """What every map stands on: (n,) pairs of voltages, whether each is steady, and the two that are marked."""

    off_v: np.ndarray
    on_v: np.ndarray
    steady: np.ndarray
    present: tuple[float, float]
    recommended: tuple[float, float]

    @property
    def step_v(self) -> float:
        """The distance of neighbours on the grid."""
        steps = [gap for volts in (self.off_v, self.on_v) for gap in np.diff(np.unique(volts.round(4))) if gap > 1e-3]
        return float(min(steps, default=USUAL_STEP_V))

    @property
    def columns_v(self) -> np.ndarray:
        """The load disconnect voltages of the grid, on to the present pair's where that lies outside."""
        return _axis(self.off_v, self.present[0], self.step_v)

    @property
    def rows_v(self) -> np.ndarray:
        """The load reconnect voltages of the grid, on to the present pair's where that lies outside."""
        return _axis(self.on_v, self.present[1], self.step_v)

    def place(self, off_v: float, on_v: float) -> tuple[float, float]:
        """Column and row of a pair; between two of them where it is off the grid."""
        column, row = (off_v - self.columns_v[0]) / self.step_v, (on_v - self.rows_v[0]) / self.step_v
        return round(float(column), 3), round(float(row), 3)

    @property
    def named_above(self) -> tuple[bool, bool]:
        """Whether the names of the present and the recommended pair stand above their marks.

        They do, but for the lower one of two that are close, if there is room below it.
        """
        present, recommended = (self.place(*pair)[1] for pair in (self.present, self.recommended))
        roomy = min(present, recommended) >= ROWS_OF_A_NAME and abs(present - recommended) < 2 * ROWS_OF_A_NAME
        return not (roomy and present < recommended), not (roomy and recommended <= present)


def _axis(volts: np.ndarray, also: float, step: float) -> np.ndarray:
    """Evenly spaced voltages from the lowest to the highest, far enough to have one more among them.

    >>> _axis(np.array([12.0, 12.1]), 12.28, 0.1).tolist()
    [12.0, 12.1, 12.2, 12.3]
    """
    low, high = float(volts.min()), float(volts.max())
    before = max(0, int(np.ceil((low - also) / step - 1e-6)))
    after = max(0, int(np.ceil((also - high) / step - 1e-6)))
    return np.asarray(low + step * np.arange(-before, round((high - low) / step) + after + 1)).round(4)


def opacity(values: np.ndarray, log: bool = False) -> np.ndarray:
    """How opaque each value is drawn, from the least to the most of them, evenly or by its logarithm.

    >>> opacity(np.array([0.0, 5.0, 10.0])).round(2).tolist()
    [0.08, 0.54, 1.0]
    >>> opacity(np.array([0.01, 0.1, 1.0]), log=True).round(2).tolist()
    [0.08, 0.54, 1.0]
    >>> opacity(np.array([3.0, 3.0])).round(2).tolist()
    [0.54, 0.54]
    """
    scaled = np.log10(np.maximum(values, RARELY)) if log else np.asarray(values, dtype=float)
    width = float(np.ptp(scaled))
    share = (scaled - scaled.min()) / width if width else np.full_like(scaled, 0.5)
    return np.asarray(FAINTEST + (1.0 - FAINTEST) * share)


def pair_map(key: str, ground: Ground, opaque: np.ndarray, ends: tuple[str, str], said: Said) -> str:
    """One measure over disconnect (along) and reconnect (up): (n,) opacities, and the words at its scale's ends."""
    with inked(), rc_context({"hatch.color": INK, "hatch.linewidth": 2.4}):
        figure, axes = sheet(600.0, top=92.0, bottom=96.0)
        _cells(axes, ground, opaque)
        _unsteady(axes, ground)
        _marks(axes, ground)
        axes.grid(False)
        axes.spines["left"].set_visible(True)
        axes.locator_params(nbins=5, steps=[1, 2, 5, 10])
        axes.tick_params(axis="x", pad=16.0)
        axes.set_xlabel("load disconnect, V", labelpad=16.0, color=INK)
        heading(axes, "load reconnect, V")
        scale(figure, ends)
        return svg(figure, key, *said)


def _cells(axes: Axes, ground: Ground, opaque: np.ndarray) -> None:
    """Every pair as a cell of one image; where there is no pair, nothing."""
    columns, rows, half = ground.columns_v, ground.rows_v, ground.step_v / 2.0
    drawn = np.zeros((len(rows), len(columns)))
    for off_v, on_v, alpha in zip(ground.off_v, ground.on_v, opaque, strict=True):
        column, row = ground.place(float(off_v), float(on_v))
        drawn[round(row), round(column)] = alpha
    extent = (columns[0] - half, columns[-1] + half, rows[0] - half, rows[-1] + half)
    axes.imshow(image(drawn), extent=extent, origin="lower", aspect="auto", interpolation="none")


def _unsteady(axes: Axes, ground: Ground) -> None:
    """Hatching over the pairs that are not steady."""
    step = ground.step_v
    corners = np.column_stack((ground.off_v, ground.on_v))[~ground.steady] - step / 2.0
    boxes(axes, corners, np.full(len(corners), step), step, facecolor="none", linewidth=0.0, hatch="//")


def _marks(axes: Axes, ground: Ground) -> None:
    """A square on the present pair, a diamond on the recommended one, each with its name."""
    apart = not np.allclose(ground.present, ground.recommended, atol=1e-6)
    names = ("present", "recommended") if apart else ("", "present and recommended")
    for at, shape, name, up in zip((ground.present, ground.recommended), "sD", names, ground.named_above, strict=True):
        size = 15.0 if shape == "s" else 10.0
        axes.plot(*at, shape, markersize=size + 5.0, markeredgecolor=PAPER, markerfacecolor="none", markeredgewidth=5.0)
        axes.plot(*at, shape, markersize=size, markeredgecolor=ALARM, markerfacecolor=PAPER, markeredgewidth=2.6)
        left = at[0] < ground.columns_v.mean()
        axes.annotate(
            name, at, (-9 if left else 9, 15 if up else -33), textcoords="offset points",
            ha="left" if left else "right", color=INK,
        )  # fmt: skip


def scale(figure: Any, ends: tuple[str, str]) -> None:
    """The colours from the least to the most, with both in words, above the right half of the map."""
    height = figure.get_figheight() * 72.0
    bar = figure.add_axes((0.52, 1.0 - 82.0 / height, 0.48 - RIGHT / WIDTH, 18.0 / height))
    bar.imshow(image(np.linspace(FAINTEST, 1.0, 64)[np.newaxis]), aspect="auto", interpolation="none")
    bar.set_axis_off()
    for place, words, side in ((0.0, ends[0], "left"), (1.0, ends[1], "right")):
        bar.annotate(words, (place, 1.0), (0, 9), "axes fraction", textcoords="offset points", ha=side, color=INK)
