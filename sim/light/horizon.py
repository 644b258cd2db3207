"""What stands in front of the sky: trees and walls as patches from one azimuth to another, or shade by the clock."""

from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

HOUR_S, DAY_S = 3600.0, 86400.0
PATCH_DEG = 1.0  # the sky dome is summed in patches of this size


def is_behind(shade: Any, azimuth_deg: np.ndarray, elevation_deg: np.ndarray) -> np.ndarray:
    """Whether a direction lies behind a shade; a shade whose end comes before its start reaches through north.

    >>> from types import SimpleNamespace as Shade
    >>> north = Shade(from_azimuth_deg=330.0, to_azimuth_deg=20.0, below_elevation_deg=15.0)
    >>> is_behind(north, np.array([350.0, 10.0, 180.0, 350.0]), np.array([5.0, 5.0, 5.0, 40.0]))
    array([ True,  True, False, False])
    """
    start, end = shade.from_azimuth_deg, shade.to_azimuth_deg
    after, before = azimuth_deg >= start, azimuth_deg <= end
    inside = (after & before) if start < end else (after | before)
    return np.asarray(inside & (elevation_deg < shade.below_elevation_deg))


def monthly(shade: Any) -> np.ndarray:
    """(24,) transmittance of a shade by month: 1 … 12 as it grows, 13 … 24 for a time after it was trimmed."""
    grown = np.broadcast_to(np.asarray(shade.transmittance, dtype=float), (12,))
    trimmed = trimmed_of(shade)
    return np.concatenate((grown, grown if trimmed is None else trimmed))


def trimmed_of(shade: Any) -> Any:
    """(12,) transmittance of a shade after trimming, or None if nobody trims it."""
    return getattr(shade, "trimmed_transmittance", None)


def covered_share(window_s: tuple[float, float], hour: np.ndarray) -> np.ndarray:
    """(n,) share of each hour of the day 0…23 that lies in a window of the day, through midnight if it ends first.

    >>> covered_share((14.5 * 3600, 17.0 * 3600), np.array([13, 14, 16, 17])).tolist()
    [0.0, 0.5, 1.0, 0.0]
    """
    start, end = window_s
    pieces = [(start, end)] if start < end else [(start, DAY_S), (0.0, end)]
    first = np.asarray(hour) * HOUR_S
    inside = [np.clip(np.minimum(b, first + HOUR_S) - np.maximum(a, first), 0.0, None) for a, b in pieces]
    return np.asarray(sum(inside) / HOUR_S)


def beam_share(
    shades: Sequence[Any], azimuth_deg: np.ndarray, elevation_deg: np.ndarray, month: np.ndarray, hour: np.ndarray
) -> np.ndarray:
    """(n,) share of the beam that passes all shades in the direction of the sun, in months 1 … 24; shades multiply.

    A shade with a ``window_s`` stands before the sun in that time of the day, for the share of an ``hour`` 0 … 23 that
    lies in it; any other while the sun is behind it.
    """
    share = np.ones(len(azimuth_deg))
    for shade in shades:
        by_clock = shade.window_s is not None
        covered = covered_share(shade.window_s, hour) if by_clock else is_behind(shade, azimuth_deg, elevation_deg)
        share = share * (1.0 - covered * (1.0 - monthly(shade)[month - 1]))
    return share


class Patch(NamedTuple):
    """A shade as plain figures; ``transmittance`` is (12,) by month, or (24,) where a shade is trimmed."""

    from_azimuth_deg: float
    to_azimuth_deg: float
    below_elevation_deg: float
    transmittance: tuple[float, ...]


class Dome(NamedTuple):
    """The sky in n patches: elevation and azimuth of their middles, radians; what shades take by month, (months, n)."""

    elevation: np.ndarray
    azimuth: np.ndarray
    taken: np.ndarray


@lru_cache(maxsize=8)
def _dome(shades: tuple[Patch, ...], lowest_deg: float, highest_deg: float) -> Dome:
    """The sky behind shades, which is the same for every plane under it."""
    centres = PATCH_DEG / 2.0
    elevation, azimuth = (
        grid.ravel()
        for grid in np.meshgrid(
            np.arange(lowest_deg + centres, highest_deg, PATCH_DEG), np.arange(centres, 360.0, PATCH_DEG)
        )
    )
    share = np.ones((len(shades[0].transmittance) if shades else 24, len(elevation)))
    for shade in shades:
        share *= np.where(is_behind(shade, azimuth, elevation), np.array(shade.transmittance)[:, np.newaxis], 1.0)
    return Dome(np.radians(elevation), np.radians(azimuth), 1.0 - share)


def sky_share(
    shades: Sequence[Any], tilt_deg: float, azimuth_deg: float, lowest_deg: float = 0.0, highest_deg: float = 90.0
) -> np.ndarray:
    """(12,) share of an even sky's light that reaches the plane past the shades, by month; (24,) if one is trimmed.

    ∑ T·max(cos θ, 0)·cos e / ∑ max(cos θ, 0)·cos e over patches of sky from ``lowest_deg`` to ``highest_deg`` of
    elevation e, with cos θ = cos β·sin e + sin β·cos e·cos(a − γ) for a plane of tilt β towards azimuth γ. For a
    horizontal plane a shade from a1 to a2 below E takes (1 − T)·sin²E·(a2 − a1)/360°. A shade that is stated by the
    clock has no place in the sky and leaves its light.

    >>> from types import SimpleNamespace as Shade
    >>> wall = Shade(
    ...     from_azimuth_deg=0.0, to_azimuth_deg=180.0, below_elevation_deg=30.0, transmittance=0.0, window_s=None
    ... )
    >>> round(float(sky_share([wall], 0.0, 180.0)[0]), 3)  # 1 − sin²30°·180/360
    0.875
    """
    months = 24 if any(trimmed_of(it) for it in shades) else 12
    standing = tuple(
        Patch(it.from_azimuth_deg, it.to_azimuth_deg, it.below_elevation_deg, tuple(monthly(it)[:months]))
        for it in shades
        if it.window_s is None
    )
    dome, beta = _dome(standing, lowest_deg, highest_deg), np.radians(tilt_deg)
    up, out = np.sin(dome.elevation), np.cos(dome.elevation)
    towards = np.cos(dome.azimuth - np.radians(azimuth_deg))
    seen = np.maximum(np.cos(beta) * up + np.sin(beta) * out * towards, 0.0) * out
    return np.asarray(1.0 - dome.taken @ seen / np.sum(seen))
