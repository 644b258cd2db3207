"""Copper cables: resistance by conductor, length and temperature."""

from __future__ import annotations

COPPER_PER_K = 0.00393  # temperature coefficient of copper resistance at 20 °C, IEC 60028


def loop_ohm(length_m: float, ohm_per_km: float, extra_mohm: float = 0.0, conductor_c: float = 20.0) -> float:
    """Resistance in Ω of both conductors of a run of ``length_m`` one way, with contacts and fuse.

    R = 2·L·r·(1 + α(t − 20 °C)) + extra; ``ohm_per_km`` is one conductor's at 20 °C.

    >>> round(loop_ohm(10, 7.98) * 5.0, 3)  # the drop at 5 A in 2.5 mm², V
    0.798
    """
    at_20c = 2.0 * length_m / 1000.0 * ohm_per_km
    return at_20c * (1.0 + COPPER_PER_K * (conductor_c - 20.0)) + extra_mohm / 1000.0
