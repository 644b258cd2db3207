"""Wind nearer the ground than where it is measured."""

import numpy as np


def wind_at_2m(wind_m_s: np.ndarray, height_m: float = 10.0) -> np.ndarray:
    """Wind at 2 m from that at ``height_m`` over short grass (Allen et al. 1998, equation 47).

    >>> round(float(wind_at_2m(np.array(2.778))), 2)
    2.08
    """
    lower: np.ndarray = wind_m_s * 4.87 / np.log(67.8 * height_m - 5.42)
    return lower
