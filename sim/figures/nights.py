"""Whether the pump runs through the nights, and how often it stands for long, by month."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.figures.causes import Stops, whole_stretches
from sim.figures.series import HOURS_A_DAY, by_day

NOON_H = 12
MINUTE_H = 1.0 / 60.0  # of standing in a night that is none
OVER_H = (2.0, 6.0, 24.0)  # advice on filters: note, warning, flush


@dataclass(frozen=True)
class Nights:
    """By month: ``full`` (12,) share of nights without a stop, nan where the sun never sets; ``over`` (3, 12) stops
    that are longer than OVER_H, of any cause, in the month in which they begin.
    """

    full: np.ndarray
    over: np.ndarray

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names; null for a month without nights."""
        full = [None if np.isnan(share) else share for share in self.full.tolist()]
        counts = {f"{most:g}": row.tolist() for most, row in zip(OVER_H, self.over, strict=True)}
        return {"full_by_month": full, "stops_over_h": counts}


def full_by_month(run_h: np.ndarray, dark: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(12,) share of the nights, dusk to dawn, in which the pump stands less than a minute; nan without nights.

    A night lies between two noons and belongs to the day of its dusk; the year is a ring. All are (hours,): hours run
    in each hour, whether it is dark, and its month 1…12.

    >>> dark = np.tile(np.arange(24) < 6, 2)
    >>> full_by_month(np.where(np.arange(48) == 3, 0.5, 1.0), dark, np.ones(48, int))[0]
    np.float64(0.5)
    """
    stood = by_day(np.roll(np.where(dark, 1.0 - run_h, 0.0), -NOON_H)).sum(axis=1)
    night = by_day(np.roll(dark, -NOON_H)).any(axis=1)
    of = months[::HOURS_A_DAY][night]
    every, full = (np.bincount(of[chosen], minlength=13)[1:] for chosen in (slice(None), stood[night] < MINUTE_H))
    return np.asarray(np.divide(full, every, out=np.full(12, np.nan), where=every > 0))


def over_by_month(stops: Stops, months: np.ndarray) -> np.ndarray:
    """(3, 12) stretches of standing longer than OVER_H, one across New Year once; ``months`` (hours,) 1…12."""
    begun, ended = whole_stretches(stops).T
    of = months[np.clip(begun.astype(int), 0, len(months) - 1)]
    return np.array([np.bincount(of[ended - begun > most], minlength=13)[1:] for most in OVER_H])


def nights_of(run_h: np.ndarray, ghi: np.ndarray, months: np.ndarray, stops: Stops) -> Nights:
    """The nights of a year, dark while no light falls on the level; all (hours,)."""
    return Nights(full_by_month(run_h, ghi <= 0.0, months), over_by_month(stops, months))


def share_by_month_hour(run_h: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(12, 24) mean share of each hour of the day in which the pump runs; 0 in months that are not there."""
    daily, of = by_day(run_h), months[::HOURS_A_DAY]
    return np.array(
        [daily[of == month].mean(axis=0) if (of == month).any() else np.zeros(24) for month in range(1, 13)]
    )
