"""Where things lie in the page's own drawings: numbers in, places in SVG units out."""

from collections.abc import Sequence
from dataclasses import dataclass

from sim.calendar import MONTHS

WIDTH, HEIGHT, TOP, FOOT = 640.0, 210.0, 14.0, 24.0
COLUMN = WIDTH / 12.0
ACROSS, HOUR = 1000.0, 2.0  # the band's picture: volts across, two units an hour down


@dataclass(frozen=True)
class Column:
    """A month's bar, its ghost from before the change, and the mark of what is wanted; y grows downward."""

    month: str
    key: str
    hours: float
    x: float
    y: float
    height: float
    ghost_y: float | None
    wanted_y: float


def columns(
    run_h: Sequence[float], wanted_h: Sequence[float], before_h: Sequence[float] | None
) -> tuple[tuple[Column, ...], tuple[tuple[float, int], ...]]:
    """(12,) bars of hours a day, and the rungs of the scale: y and hours.

    >>> bars, rungs = columns((12.0,) * 12, (6.0,) * 12, None)
    >>> round(bars[0].height), [hours for _, hours in rungs]
    (156, [0, 4, 8, 12])
    """
    most = max(*run_h, *wanted_h, *(before_h or (0.0,)), 1.0) * 1.1
    foot = HEIGHT - FOOT

    def y(hours: float) -> float:
        return round(foot - (foot - TOP) * hours / most, 2)

    bars = tuple(
        Column(
            MONTHS[k],
            f"pump_hours_by_month.{k}",
            run_h[k],
            round(COLUMN * (k + 0.17), 2),
            y(run_h[k]),
            round(foot - y(run_h[k]), 2),
            y(before_h[k]) if before_h else None,
            y(wanted_h[k]),
        )
        for k in range(12)
    )
    step = next(step for step in (1, 2, 4, 6, 12, 24) if most / step <= 5.0)
    return bars, tuple((y(hours), hours) for hours in range(0, int(most) + 1, step))


@dataclass(frozen=True)
class Strip:
    """The worst fortnight with volts across and hours down: the outline of the band, both thresholds, days."""

    outline: str
    off_x: float
    on_x: float
    height: float
    days: tuple[float, ...]
    volts: tuple[tuple[float, str], ...]


def across(volts: float, least: float, most: float) -> float:
    """Where a voltage lies, cut off at both ends.

    >>> across(12.5, 12.0, 13.0), across(14.0, 12.0, 13.0)
    (500.0, 1000.0)
    """
    return round(ACROSS * min(max((volts - least) / (most - least), 0.0), 1.0), 1)


def strip(low_v: Sequence[float], high_v: Sequence[float], at: tuple[float, float], ends: tuple[float, float]) -> Strip:
    """The picture of a band of hourly voltages with both thresholds ``at``, between the ``ends`` of the scale."""
    down = [f"{across(volts, *ends)},{k * HOUR:g} {across(volts, *ends)},{(k + 1) * HOUR:g}" for k, volts in
            enumerate(low_v)]  # fmt: skip
    up = [f"{across(volts, *ends)},{(k + 1) * HOUR:g} {across(volts, *ends)},{k * HOUR:g}" for k, volts in
          reversed(list(enumerate(high_v)))]  # fmt: skip
    height = len(low_v) * HOUR
    quarters = [ends[0] + (ends[1] - ends[0]) * share / 4 for share in range(5)]
    return Strip(
        " ".join((*down, *up)),
        across(at[0], *ends),
        across(at[1], *ends),
        height,
        tuple(k * 24 * HOUR for k in range(1, len(low_v) // 24)),
        tuple((across(volts, *ends) / 10.0, f"{volts:.2f}") for volts in quarters),
    )
