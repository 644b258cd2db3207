"""What stands in front of the sky: trees and walls as patches from one azimuth to another, below an elevation."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

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
    trimmed = getattr(shade, "trimmed_transmittance", None)
    return np.concatenate((grown, grown if trimmed is None else trimmed))


def beam_share(
    shades: Sequence[Any], azimuth_deg: np.ndarray, elevation_deg: np.ndarray, month: np.ndarray | int
) -> np.ndarray:
    """(n,) share of the beam that passes all shades in the direction of the sun, in months 1 … 24; shades multiply."""
    share = np.ones(np.broadcast(azimuth_deg, month).shape)
    for shade in shades:
        behind = is_behind(shade, azimuth_deg, elevation_deg)
        share = np.where(behind, share * monthly(shade)[month - 1], share)
    return share


def sky_share(
    shades: Sequence[Any], tilt_deg: float, azimuth_deg: float, lowest_deg: float = 0.0, highest_deg: float = 90.0
) -> np.ndarray:
    """(24,) share of an even sky's light that still reaches the plane past the shades, by month as grown and trimmed.

    ∑ T·max(cos θ, 0)·cos e / ∑ max(cos θ, 0)·cos e over patches of sky from ``lowest_deg`` to ``highest_deg`` of
    elevation e, with cos θ = cos β·sin e + sin β·cos e·cos(a − γ) for a plane of tilt β towards azimuth γ. For a
    horizontal plane a shade from a1 to a2 below E takes (1 − T)·sin²E·(a2 − a1)/360°.

    >>> from types import SimpleNamespace as Shade
    >>> wall = Shade(from_azimuth_deg=0.0, to_azimuth_deg=180.0, below_elevation_deg=30.0, transmittance=0.0)
    >>> round(float(sky_share([wall], 0.0, 180.0)[0]), 3)  # 1 − sin²30°·180/360
    0.875
    """
    centres = PATCH_DEG / 2.0
    elevation, azimuth = np.meshgrid(
        np.arange(lowest_deg + centres, highest_deg, PATCH_DEG), np.arange(centres, 360.0, PATCH_DEG)
    )
    e, beta = np.radians(elevation), np.radians(tilt_deg)
    towards = np.cos(np.radians(azimuth - azimuth_deg))
    seen = np.maximum(np.cos(beta) * np.sin(e) + np.sin(beta) * np.cos(e) * towards, 0.0) * np.cos(e)
    several = any(getattr(shade, "trimmed_transmittance", None) for shade in shades)
    months = [beam_share(shades, azimuth, elevation, month) for month in range(1, 25 if several else 13)]
    shares = np.array([float(np.sum(share * seen) / np.sum(seen)) for share in months])
    return np.resize(shares, 24)
