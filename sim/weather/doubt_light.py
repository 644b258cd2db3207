"""Doubts about light, each judged by one figure; a finding is a sentence with the likely effect, or empty.

The limits are choices outside what some twenty open years of fifteen places and made-up years of deserts, high
mountains, cloud forest, monsoon and polar night have; beside each stands what these reach.
"""

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.weather.dates import DAY_H
from sim.weather.evidence import Evidence

CLOUDLESS_LEVEL, FEWEST_CLOUDLESS = (0.86, 1.17), 30  # median of cloudless hours, so many of them: 0.93 to 1.10
FINE_LEVEL = (0.70, 1.28)  # median of the months' fine days, where there are few cloudless hours: 0.81 to 1.19
CLOUDLESS_MONTH = (0.85, 1.17)  # a month's cloudless hours over the year's: 0.92 to 1.12
FINE_MONTH = (0.6, 1.35)  # a month's fine days over the year's: 0.65 to 1.22
BESIDE = (0.72, 1.4)  # a month's fine days over the mean of its neighbours': 0.80 to 1.19
CLOUDLESS_STEP, FINE_STEP = 0.12, 0.35  # logarithm, July to December over January to June: within 0.06, 0.18
CLOUDLESS_DRIFT, FINE_DRIFT = 0.18, 0.32  # logarithm, December over January along a line: within 0.14, 0.25
FEWEST_MONTHS = 8  # with cloudless hours, for a step or a drift
FLAT_HOURS, FLAT_WM2 = 10, 0.5  # hours so near the year's brightest: 4 at most
SHADED, SHADED_NEXT, STRONGEST = 0.65, 0.72, 1.25  # bright hours of an hour of the day over those of all; over the next
EVENING_DEG, BRIGHT, FEWEST_SHADED = 78.0, 0.95, 60
NIGHT_DEG, NIGHT_WM2 = 97.0, 0.5  # mean of the dark hours: 0
SMOOTH_SPREAD, DULL = 0.04, 0.75  # of the days of a dull month over their mean: 0.13 at least
LAG_1 = 0.6  # of days within months: 0.07 to 0.35
COPIED_DAYS, LIT_WH, MOVING_K = 5, 100.0, 1.0  # days that are there twice, of those with light or a course of air: none
NO_BEAM = 0.05  # of the year's light: 0.25 at least
MORE, LESS = "then the pump runs longer than is said here", "then the pump runs less than is said here"


def scaled(evidence: Evidence) -> str:
    """Light that is too dark or too bright in cloudless hours."""
    hours = evidence.ratio[evidence.cloudless]
    by_hours = len(hours) >= FEWEST_CLOUDLESS
    level = float(np.median(hours) if by_hours else np.nanmedian(evidence.fine_by_month))
    low, high = CLOUDLESS_LEVEL if by_hours else FINE_LEVEL
    if low <= level <= high:
        return ""
    what = "Cloudless hours have" if by_hours else "The finest days have"
    return (
        f"{what} {level:.0%} of the light of a clear sky there. If all of it is scaled, true light is "
        f"{1.0 / level - 1.0:+.0%}, {MORE if level < 1.0 else LESS}."
    )


def uneven(evidence: Evidence) -> str:
    """Single months whose fine weather is darker or brighter than that of the others."""
    odd = _odd(evidence.cloudless_by_month, CLOUDLESS_MONTH)
    level = evidence.fine_by_month
    fine = _odd(level, FINE_MONTH) | _odd(2.0 * level / (np.roll(level, 1) + np.roll(level, -1)), BESIDE, 1.0)
    odd |= {k: share for k, share in fine.items() if np.isnan(evidence.cloudless_by_month[k])}
    if not odd:
        return ""
    named = ", ".join(f"{MONTH_NAMES[k]} {share:.0%}" for k, share in sorted(odd.items()))
    worst = LESS if max(odd.values()) > 1.0 else MORE
    return f"Fine weather of some months has another light than that of the year ({named}). If it is scaled, {worst}."


def _odd(level: np.ndarray, limits: tuple[float, float], usual: float | None = None) -> dict[int, float]:
    """The months beyond the limits, and their level over what is usual, which is the year's if not given."""
    if np.isfinite(level).sum() < 2:
        return {}
    share = level / (np.nanmedian(level) if usual is None else usual)
    return {k: float(share[k]) for k in range(len(level)) if share[k] < limits[0] or share[k] > limits[1]}


def _whole(evidence: Evidence) -> tuple[np.ndarray, bool]:
    """(12,) logarithm of the months' level, and whether it is by cloudless hours."""
    by_hours = bool(np.isfinite(evidence.cloudless_by_month).sum() >= FEWEST_MONTHS)
    return np.log(evidence.cloudless_by_month if by_hours else evidence.fine_by_month), by_hours


def step(evidence: Evidence) -> str:
    """A second half of the year that is brighter or darker than the first."""
    level, by_hours = _whole(evidence)
    if not (np.isfinite(level[:6]).any() and np.isfinite(level[6:]).any()):
        return ""
    rise = float(np.nanmean(level[6:]) - np.nanmean(level[:6]))
    if abs(rise) <= (CLOUDLESS_STEP if by_hours else FINE_STEP):
        return ""
    change = f"{np.exp(rise):.0%} of the light of that of January to June"
    return f"Fine weather of July to December has {change}. If a sensor was changed, one half of the year is wrong."


def drift(evidence: Evidence) -> str:
    """Light that falls or rises through the year."""
    level, by_hours = _whole(evidence)
    known = np.isfinite(level)
    if known.sum() < FEWEST_MONTHS:
        return ""
    rise = float(np.polyfit(np.flatnonzero(known), level[known], 1)[0]) * (len(level) - 1)
    if abs(rise) <= (CLOUDLESS_DRIFT if by_hours else FINE_DRIFT):
        return ""
    return (
        f"Fine weather drifts by {np.expm1(rise):+.0%} from January to December, as a sensor that gets dirty or ages."
    )


def clipped(evidence: Evidence) -> str:
    """The brightest light again and again."""
    ghi = evidence.weather.ghi
    flat = int((ghi >= ghi.max() - FLAT_WM2).sum())
    if flat < FLAT_HOURS:
        return ""
    return f"The brightest light, {ghi.max():.0f} W/m2, is there {flat} times: what was above is cut off; {MORE}."


def shaded(evidence: Evidence) -> str:
    """Hours of the day that are dark all year while others are as they should be."""
    dark = shaded_hours(evidence)
    if not dark.any():
        return ""
    named = ", ".join(f"{hour:02d}:00" for hour in np.flatnonzero(dark))
    return (
        f"The hours from {named} are darker all year than the sky makes them: was the sensor in shade? If so, {MORE}."
    )


def shaded_hours(evidence: Evidence) -> np.ndarray:
    """(24,) whether bright weather is dark in an hour of the day; by a wrong clock others would be too bright."""
    at, high = evidence.weather.index.hour.to_numpy(), evidence.sun.apparent_zenith_deg < EVENING_DEG
    share = np.array([_best_of(evidence.ratio[(at == hour) & high]) for hour in range(DAY_H)])
    if not np.nan_to_num(share).any():
        return np.zeros(DAY_H, dtype=bool)
    share = share / np.nanmedian(share[share > 0.0])
    beside = np.fmax(np.roll(share, 1), np.roll(share, -1))
    dark = (share < SHADED) | (share < SHADED_NEXT * beside)
    return np.asarray(dark & (np.nanmax(share) <= STRONGEST))


def _best_of(ratio: np.ndarray) -> float:
    """The level of an hour of the day in bright weather, of (days,) with a high sun; NaN where there are few."""
    return float(np.quantile(ratio, BRIGHT)) if len(ratio) > FEWEST_SHADED else np.nan


def at_night(evidence: Evidence) -> str:
    """Light in the dark, in any column: one that has it alone has it by day too."""
    weather = evidence.weather
    brightest = np.maximum(weather.ghi, np.maximum(weather.dhi, weather.dni))
    dark = brightest[evidence.sun.zenith_deg > NIGHT_DEG]
    mean = float(dark.mean()) if len(dark) else 0.0
    if mean <= NIGHT_WM2:
        return ""
    return (
        f"The dark hours have {mean:.1f} W/m2 of light in the mean. If the sensor has that offset by day too, {LESS}."
    )


def smooth(evidence: Evidence) -> str:
    """Days that are alike, or follow one another as no weather does."""
    ratio, month = evidence.day_ratio, evidence.day_month
    level = np.array(
        [np.nanmean(ratio[month == k]) if np.isfinite(ratio[month == k]).any() else np.nan for k in range(12)]
    )
    off = np.nan_to_num(ratio - level[month])
    spread = np.array([off[month == k].std() for k in range(12)]) / level
    alike = (level < DULL) & (spread < SMOOTH_SPREAD) & np.isfinite(evidence.fine_by_month)
    pairs = (off[1:] * off[:-1])[month[1:] == month[:-1]]
    if not alike.any() and pairs.sum() <= LAG_1 * (off**2).sum():
        return ""
    return (
        "Days are more alike than weather makes them, as means of several days are: dull spells are missing, and "
        + LESS
        + "."
    )


def copied(evidence: Evidence) -> str:
    """Days that are there twice."""
    light = evidence.weather.ghi.reshape(-1, DAY_H)
    air = evidence.air_days
    twice = max(_twice(light[light.sum(axis=1) > LIT_WH]), _twice(air[np.ptp(air, axis=1) > MOVING_K]))
    if twice < COPIED_DAYS:
        return ""
    return f"{twice} days are those of other days to the last digit: their own weather, and its dull spells, are lost."


def _twice(days: np.ndarray) -> int:
    """How many rows are there already."""
    return len(days) - len(np.unique(days.round(3), axis=0))


def without_beam(evidence: Evidence) -> str:
    """Light without any beam."""
    beam = float((evidence.weather.dni * evidence.sun.cos_zenith).sum() / evidence.weather.ghi.sum())
    if beam >= NO_BEAM:
        return ""
    return (
        f"Only {beam:.0%} of the year's light is beam: diffuse holds it all. On a tilted panel {MORE}, in winter most."
    )


LIGHT = {
    "light-scaled": scaled,
    "light-uneven": uneven,
    "light-step": step,
    "light-drift": drift,
    "light-clipped": clipped,
    "light-shaded": shaded,
    "light-night": at_night,
    "light-smooth": smooth,
    "light-copied": copied,
    "beam-none": without_beam,
}
