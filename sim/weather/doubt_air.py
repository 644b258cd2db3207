"""Doubts about air, each judged by one figure; a finding is a sentence with the likely effect, or empty.

Limits are choices, as in ``doubt_light``, and beside each stands what sound years reach.
"""

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.units import Quantity, sentence
from sim.weather.dates import DAY_H
from sim.weather.evidence import Evidence

LAG_H = 2  # by which the air follows the sun; a choice
TURNED, FOLLOWS = -0.5, 0.4  # correlation of air and sun within the days: 0.58 to 0.90; dew points: -0.46 to 0.21
FLAT_K = 1.8  # mean of the days' ranges: 3.1 at least
EDGE_C, EDGE_HOURS = 1.0, 24  # hours from 0 up to here in a month that has none below: 14 at most
SEASONS_DEG, SEASONS_K, AGAINST = 20.0, 6.0, -0.3  # latitude and range that make seasons; correlation with the sun: 0.7
BESIDE_K = 8.0  # of a month's mean off that of the months beside it: 5.7 at most
COLD = "frost, charging and the battery's life are wrong"


def follows(evidence: Evidence) -> float:
    """Correlation of the air with the sun some hours before, both about their days' means."""
    air = evidence.air_days - evidence.air_days.mean(axis=1, keepdims=True)
    above = evidence.sun.extra_horizontal_wm2.reshape(-1, DAY_H)
    sun = np.roll((above - above.mean(axis=1, keepdims=True)).ravel(), LAG_H)
    scale = float(np.sqrt((air**2).sum() * (sun**2).sum()))
    return float((air.ravel() * sun).sum()) / scale if scale > 0.0 else 0.0


def flat(evidence: Evidence) -> str:
    """Days without warmth and nights without cold."""
    reach = float(np.ptp(evidence.air_days, axis=1).mean())
    if reach >= FLAT_K:
        return ""
    return sentence(
        "The air changes by {reach} from day to night: means of days, or tenths of a degree? If so, {cold}.",
        reach=Quantity(reach, "k", ".1f"),
        cold=COLD,
    )


def turned(evidence: Evidence) -> str:
    """Nights that are warmer than days."""
    if flat(evidence) or follows(evidence) > TURNED:
        return ""
    return f"Nights are warmer than days: has the air the wrong sign, or another clock? If so, {COLD}."


def course(evidence: Evidence) -> str:
    """Air that does not follow the sun, as a dew point does not."""
    found = follows(evidence)
    if flat(evidence) or not TURNED < found < FOLLOWS:
        return ""
    return f"The air does not follow the sun through the day: is it the dew point, or another column? If so, {COLD}."


def cut(evidence: Evidence) -> str:
    """Months whose air ends at 0 °C, where signs or frosts got lost."""
    air, month = evidence.weather.temp_air, evidence.month
    frost, edge = (np.bincount(month[air < limit_c], minlength=12) for limit_c in (0.0, EDGE_C))
    odd = np.flatnonzero((frost == 0) & (edge >= EDGE_HOURS))
    if not len(odd):
        return ""
    hours, named = edge[odd].sum(), ", ".join(MONTH_NAMES[k] for k in odd)
    return f"There is no frost in {named}, yet {hours} hours lie just above: did minus signs get lost? If so, {COLD}."


def out_of_season(evidence: Evidence) -> str:
    """Warm months in the dark half of the year."""
    air, above = evidence.air_by_month, np.bincount(evidence.month, evidence.sun.extra_horizontal_wm2)
    if abs(evidence.site.latitude_deg) < SEASONS_DEG or np.ptp(air) < SEASONS_K:
        return ""
    if np.corrcoef(air, above + np.roll(above, 1))[0, 1] > AGAINST:
        return ""
    return f"The air is warmest in the dark half of the year: are its months turned, or its sign? If so, {COLD}."


def out_of_line(evidence: Evidence) -> str:
    """A month of its own among the others."""
    air = evidence.air_by_month
    off = air - 0.5 * (np.roll(air, 1) + np.roll(air, -1))
    k = int(np.abs(off).argmax())
    if abs(off[k]) <= BESIDE_K:
        return ""
    return f"{MONTH_NAMES[k]} is {off[k]:+.0f} K off the months beside it: another unit, or signs lost? If so, {COLD}."


AIR = {
    "air-flat": flat,
    "air-sign": turned,
    "air-course": course,
    "air-cut": cut,
    "air-season": lambda evidence: out_of_season(evidence) or out_of_line(evidence),
}
