"""Copper cables: resistance by conductor, length and temperature, and how warm a current makes them."""

from __future__ import annotations

import math

COPPER_PER_K = 0.00393  # temperature coefficient of copper resistance at 20 °C, IEC 60028


def loop_ohm(length_m: float, ohm_per_km: float, extra_mohm: float = 0.0, conductor_c: float = 20.0) -> float:
    """Resistance in Ω of both conductors of a run of ``length_m`` one way, with contacts and fuse.

    R = 2·L·r·(1 + α(t − 20 °C)) + extra; ``ohm_per_km`` is one conductor's at 20 °C.

    >>> round(loop_ohm(10, 7.98) * 5.0, 3)  # the drop at 5 A in 2.5 mm², V
    0.798
    """
    at_20c = 2.0 * length_m / 1000.0 * ohm_per_km
    return at_20c * (1.0 + COPPER_PER_K * (conductor_c - 20.0)) + extra_mohm / 1000.0


def conductor_c(current_a: float, air_c: float, ampacity_a: float, bears_c: float, table_air_c: float) -> float:
    """Temperature of a conductor that carries a current for long, °C: t_air + (t_bears − t_table)·(I/I_ampacity)².

    The ampacity is the current that warms it to ``bears_c`` in air of ``table_air_c``; its heat goes with I², the
    change of its resistance on the way is left out, as in the correction factors of IEC 60364-5-52 and NEC 310.15.

    >>> conductor_c(27.0, 30.0, 27.0, 70.0, 30.0), conductor_c(13.5, 20.0, 27.0, 70.0, 30.0)
    (70.0, 30.0)
    """
    return air_c + (bears_c - table_air_c) * (current_a / ampacity_a) ** 2


def air_factor(air_c: float, bears_c: float, table_air_c: float) -> float:
    """What ampacity is multiplied by in other air than the table's: √((t_bears − t_air)/(t_bears − t_table)).

    Source: NEC 310.15(B), equation; 0 where the air itself is too hot.

    >>> round(air_factor(40.0, 75.0, 30.0), 2)
    0.88
    """
    return math.sqrt(max(bears_c - air_c, 0.0) / (bears_c - table_air_c))
