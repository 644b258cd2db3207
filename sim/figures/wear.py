"""What lead-acid suffers between full charges: sulphate that is not dissolved makes every ampere-hour wear more.

The weighted throughput of Schiffer et al., J. Power Sources 168 (2007) 66–78, whose formulas and parameters stand here
from memory of the paper. Left out of it: the count of poor full charges and the layering of the acid, which only add
wear, and the divisor of 1.6 on the sheet's cycles, which stands for both and would flatter without them.
"""

import numpy as np

FULL_SOC = 0.98  # counts as a full charge; our own default
SULPHATE_H = 6.614e-5  # per hour since the last full charge (Schiffer et al. 2007, from memory)
SULPHATE_EMPTY_H = 3.307e-3  # … and for as much as the lowest charge since then lacked to full (the same)
REFERENCE_RATE = 0.1  # capacities an hour: the 10 h current that the paper's current factor refers to


def since_full(soc: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Hours since the last full charge, and the lowest charge since then, for an hourly year (n,), taken as a ring.

    A year without a full charge counts as begun with one.

    >>> [found.tolist() for found in since_full(np.array([1.0, 0.5, 0.7, 1.0, 0.9]))]
    [[0, 1, 2, 0, 1], [1.0, 0.5, 0.5, 1.0, 0.9]]
    """
    full = np.flatnonzero(soc >= FULL_SOC)
    before = soc[full[-1] : -1] if len(full) else soc[:0]
    ring = np.concatenate((before, soc))
    number, begins = np.arange(len(ring)), ring >= FULL_SOC
    begins[0] = True
    stretch = 2.0 * np.cumsum(
        begins
    )  # each stretch lies below the one before it, so that a running minimum starts anew
    lowest = np.minimum.accumulate(ring - stretch) + stretch
    hours = number - np.maximum.accumulate(np.where(begins, number, 0))
    return hours[len(before) :], lowest[len(before) :]


def current_factor(discharged: np.ndarray) -> float:
    """√(I₁₀/I) of the charge-weighted mean current; ``discharged`` (n,) are capacities in each hour.

    Small currents grow coarse crystals, which dissolve badly.

    >>> current_factor(np.array([0.0, 0.025, 0.025]))
    2.0
    """
    moved = float(discharged.sum())
    return float(np.sqrt(REFERENCE_RATE * moved / np.square(discharged).sum())) if moved > 0.0 else 1.0


def sulphation(soc: np.ndarray) -> float:
    """How much more an ampere-hour of a year wears than one of a battery just charged full.

    The mean over the discharge of 1 + (c₀ + c·(1 − lowest))·√(I₁₀/I)·hours since full; ``soc`` (n,) hour by hour.

    >>> sulphation(np.ones(24))
    1.0
    """
    discharged = np.maximum(-np.diff(soc), 0.0)
    if not discharged.any():
        return 1.0
    hours, lowest = since_full(soc)
    per_hour = (SULPHATE_H + SULPHATE_EMPTY_H * (1.0 - lowest)) * current_factor(discharged)
    return float(np.average(1.0 + per_hour[1:] * hours[1:], weights=discharged))
