"""Whether the pump runs through the nights, and how often it stands for long, by month."""

from __future__ import annotations

from collections.abc import Iterable
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
    nights: np.ndarray  # (12,) how many there are

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names; null for a month without nights."""
        full = [None if np.isnan(share) else share for share in self.full.tolist()]
        year = full_share(self, range(1, 13))
        counts = {f"{most:g}": row.tolist() for most, row in zip(OVER_H, self.over, strict=True)}
        return {"full_by_month": full, "full_in_year": year, "stops_over_h": counts}


def counted_nights(run_h: np.ndarray, dark: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(2, 12) all nights, dusk to dawn, and those in which the pump stands less than a minute.

    A night lies between two noons and belongs to the day of its dusk; the year is a ring. All are (hours,): hours run
    in each hour, whether it is dark, and its month 1…12.

    >>> dark = np.tile(np.arange(24) < 6, 2)
    >>> counted_nights(np.where(np.arange(48) == 3, 0.5, 1.0), dark, np.ones(48, int))[:, 0].tolist()
    [2, 1]
    """
    stood = by_day(np.roll(np.where(dark, 1.0 - run_h, 0.0), -NOON_H)).sum(axis=1)
    night = by_day(np.roll(dark, -NOON_H)).any(axis=1)
    of = months[::HOURS_A_DAY][night]
    return np.array([np.bincount(of[chosen], minlength=13)[1:] for chosen in (slice(None), stood[night] < MINUTE_H)])


def full_by_month(run_h: np.ndarray, dark: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(12,) share of the nights without a stop; nan without nights."""
    every, full = counted_nights(run_h, dark, months)
    return np.asarray(np.divide(full, every, out=np.full(12, np.nan), where=every > 0))


def full_share(nights: Nights, months: Iterable[int]) -> float | None:
    """The share of the nights of some months 1…12 without a stop; None where there are no nights."""
    chosen = np.array(list(months)) - 1
    count = nights.nights[chosen]
    return float(np.nansum(nights.full[chosen] * count) / count.sum()) if count.any() else None


def over_by_month(stops: Stops, months: np.ndarray) -> np.ndarray:
    """(3, 12) stretches of standing longer than OVER_H, one across New Year once; ``months`` (hours,) 1…12."""
    begun, ended = whole_stretches(stops).T
    of = months[np.clip(begun.astype(int), 0, len(months) - 1)]
    return np.array([np.bincount(of[ended - begun > most], minlength=13)[1:] for most in OVER_H])


def nights_of(run_h: np.ndarray, ghi: np.ndarray, months: np.ndarray, stops: Stops) -> Nights:
    """The nights of a year, dark while no light falls on the level; all (hours,)."""
    dark = ghi <= 0.0
    count = counted_nights(run_h, dark, months)[0]
    return Nights(full_by_month(run_h, dark, months), over_by_month(stops, months), count)


def share_by_month_hour(run_h: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(12, 24) mean share of each hour of the day in which the pump runs; 0 in months that are not there."""
    daily, of = by_day(run_h), months[::HOURS_A_DAY]
    return np.array(
        [daily[of == month].mean(axis=0) if (of == month).any() else np.zeros(24) for month in range(1, 13)]
    )
