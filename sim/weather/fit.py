"""Whether the recorded light fits the sun: gaps filled along the day's course, clock, limits, beam against global."""

import calendar
from collections.abc import Sequence

import numpy as np
import pandas as pd
from pvlib import irradiance

from sim.errors import InputError
from sim.weather.dates import DAY_H, hours_of, month_days
from sim.weather.order import (
    CLEAREST,
    LARGEST_FILLED_SHARE,
    LONGEST_GAP_H,
    at_hour,
    counted,
    refuse_gaps,
    refuse_rows,
    taken_as_missing,
)
from sim.weather.place import fitting_clock
from sim.weather.plausible import runs_of
from sim.weather.sun import Sun
from sim.weather.weather import COLUMNS, IRRADIANCES, Doubt, Site

MINUTES_A_DAY = 1440.0
CLOCK_NOTE_MIN, CLOCK_LIMIT_MIN = 20.0, 45.0  # choices: a whole hour must be refused, afternoon clouds must not
LOW_SUN = 0.15  # of the highest month's light above the atmosphere: below it a month tells no clock; a choice
SHINE_WM2 = 120.0  # of beam: sunshine by WMO-No. 8
CLEAR_SHARE = 0.25  # of the days, the clearest, tell the clock
ALLOWANCE_WM2 = 100.0  # above extraterrestrial, for low sun within an hour: the additive term of BSRN's tests, 2002
LARGEST_ODD_SHARE = 0.005  # of the hours may have more light than arrives, each alone or two or three; a choice
NIGHT_ZENITH_DEG, NIGHT_WM2 = 110.0, 10.0  # sun below the horizon for the whole hour, clock error included; choices
DAYLIGHT_WM2 = 400.0  # above the atmosphere, also by a clock 45 minutes off: some of it arrives always; a choice
SHARES = (0.22, 0.85)  # of the year's light above the atmosphere; choices outside what is found on Earth, 0.3 to 0.78
MISMATCH_WM2, MISMATCH_SHARE = 150.0, 0.25  # both, in an hour of daylight; choices
REPEATED_DAYS = 3  # alike to the watt; a choice
CLOSURE_NOTE, CLOSURE_LIMIT = 0.05, 0.15  # share of the year's global irradiation; choices


def filled(table: pd.DataFrame, sun: Sun) -> pd.DataFrame:
    """Gaps filled: air linearly in time; light by the clearness of the lit hours around, at most CLEAREST.

    Hours in which the sun is below the horizon get no light.
    """
    scales = {"ghi": sun.extra_horizontal_wm2, "dhi": sun.extra_horizontal_wm2, "dni": sun.extra_normal_wm2 * sun.up}
    out = {name: _filled(table[name].to_numpy(dtype=float), scales.get(name)) for name in COLUMNS}
    return table.assign(**out)


def _filled(values: np.ndarray, above: np.ndarray | None) -> np.ndarray:
    """Values between their neighbours; with the light ``above`` the atmosphere, by clearness.

    Clearness is light over light above, each taken linearly between the lit hours on both sides, so that a low sun,
    whose clearness in the middle of its hour may be anything, counts for as little as it gives.

    >>> _filled(np.array([1.0, np.nan, 3.0]), None)
    array([1., 2., 3.])
    >>> _filled(np.array([0.0, np.nan, 6.0, np.nan]), np.array([0.0, 4.0, 12.0, 0.0]))
    array([0., 2., 6., 0.])
    >>> _filled(np.array([9.0, np.nan, 60.0]), np.array([0.1, 50.0, 120.0])).round(1)
    array([ 9. , 28.7, 60. ])
    """
    missing = np.isnan(values)
    if not missing.any():
        return values
    out, lit = values.copy(), np.ones(len(values)) if above is None else above
    known, hours = ~missing & (lit > 0), np.arange(len(values))
    between = np.interp(hours[missing], hours[known], values[known])
    clearness = between / np.interp(hours[missing], hours[known], lit[known])
    out[missing] = between if above is None else np.minimum(clearness, CLEAREST) * above[missing]
    return out


def without_false_dark(
    file: str, table: pd.DataFrame, sun: Sun, absent: Sequence[str]
) -> tuple[pd.DataFrame, list[str]]:
    """Zeros in full daylight stand for "no data": they become gaps, and the notes say so."""
    table, notes = table.copy(), []
    for name in ("ghi", "dhi"):
        dark = (table[name].to_numpy() == 0.0) & (sun.extra_horizontal_wm2 > DAYLIGHT_WM2)
        if name not in absent:
            notes += taken_as_missing(table, [name], dark, "no light at all with the sun well up")
            refuse_gaps(file, table, name, dark)
    return filled(table, sun), notes


def without_mismatches(file: str, table: pd.DataFrame, sun: Sun) -> tuple[pd.DataFrame, list[str], list[Doubt]]:
    """Hours in which beam and diffuse do not make up global get the light of their neighbours; the notes say so.

    Where that goes on for longer than a gap may be, it is only doubted; in too many hours of daylight it is an error.
    """
    ghi, lit = table["ghi"].to_numpy(), sun.extra_horizontal_wm2 > DAYLIGHT_WM2
    off = np.abs(table["dni"].to_numpy() * sun.cos_zenith + table["dhi"].to_numpy() - ghi)
    wrong = (off > np.maximum(MISMATCH_WM2, MISMATCH_SHARE * ghi)) & lit
    share = wrong.sum() / lit.sum()
    if share > LARGEST_FILLED_SHARE:
        most = f"at most {100 * LARGEST_FILLED_SHARE:.0f} % of the bright hours away from dni*cos(zenith) + dhi"
        raise InputError(file, "ghi", None, f"{most}; {100 * share:.0f} % are")
    long = np.zeros(len(wrong), dtype=bool)
    for start, length in runs_of(wrong):
        long[start : start + length] = length > LONGEST_GAP_H
    table, why = table.copy(), "beam and diffuse do not make up global"
    notes = taken_as_missing(table, list(IRRADIANCES), wrong & ~long, why)
    return filled(table, sun), notes, _long_mismatch(table, long, why)


def _long_mismatch(table: pd.DataFrame, long: np.ndarray, why: str) -> list[Doubt]:
    """A doubt about hours that are left as they are."""
    if not long.any():
        return []
    return [
        Doubt("beam-sum", f"In {counted(int(long.sum()), 'hour')}, first {at_hour(table, int(long.argmax()))}, {why}.")
    ]


def with_split(table: pd.DataFrame, sun: Sun, absent: Sequence[str]) -> tuple[pd.DataFrame, list[str]]:
    """Beam or diffuse that the file lacks, worked out of global; both by Erbs, Klein & Duffie 1982.

    dhi = ghi − dni·cos(zenith), so that the three add up in every hour, with dni at most extraterrestrial.
    """
    if not absent:
        return table, []
    ghi, dni = table["ghi"].to_numpy(), table["dni"].to_numpy()
    if "dni" in absent:
        dni = np.minimum(_beam(table, sun, absent), sun.extra_normal_wm2 * sun.up)
    dhi = np.maximum(ghi - dni * sun.cos_zenith, 0.0) if "dhi" in absent or len(absent) > 1 else table["dhi"]
    how = "split by the correlation of Erbs, Klein and Duffie" if len(absent) > 1 else "worked out of the other two"
    return table.assign(dni=dni, dhi=dhi), [f"The file has no {' and no '.join(absent)}: {how}."]


def _beam(table: pd.DataFrame, sun: Sun, absent: Sequence[str]) -> np.ndarray:
    """(hours,) normal beam of global and diffuse, W/m²; without diffuse by the clearness of the hour."""
    ghi = table["ghi"].to_numpy()
    if "dhi" in absent:
        day = np.arange(len(table)) // DAY_H + 1
        return np.asarray(irradiance.erbs(ghi, sun.zenith_deg, day)["dni"])
    return np.asarray(np.nan_to_num(irradiance.dni(ghi, table["dhi"].to_numpy(), sun.apparent_zenith_deg)))


def clock_error_min(ghi: np.ndarray, extra_horizontal: np.ndarray) -> float:
    """Minutes by which the recorded light comes later than the sun, −720 … 720.

    Each day's light, hung on a 24 h dial, has a centre of mass; so has the extraterrestrial light. The angle between
    the two, weighted by their lengths over the clearest quarter of the days, is the error of the clock.

    >>> hours = np.arange(8760) % 24
    >>> sun = np.clip(np.sin((hours - 5.5) / 12 * np.pi), 0, None)
    >>> round(clock_error_min(np.roll(sun, 3), sun), 6)
    180.0
    """
    dial = np.exp(2j * np.pi * (np.arange(DAY_H) + 0.5) / DAY_H)
    light, above = ghi.reshape(-1, DAY_H), extra_horizontal.reshape(-1, DAY_H)
    clear = clear_days(light, above)
    turn = np.sum((light[clear] @ dial) * np.conj(above[clear] @ dial))
    return float(np.angle(turn)) / (2 * np.pi) * MINUTES_A_DAY


def clear_days(light: np.ndarray, above: np.ndarray) -> np.ndarray:
    """(days,) whether a day is one of the clearest, of light recorded and above the atmosphere, both (days, 24)."""
    sums = above.sum(axis=1)
    clearness = np.divide(light.sum(axis=1), sums, out=np.zeros(len(sums)), where=sums > 0.1 * sums.max())
    return np.asarray(clearness >= np.quantile(clearness, 1.0 - CLEAR_SHARE))


def check_clock(file: str, table: pd.DataFrame, sun: Sun, site: Site) -> list[Doubt]:
    """A clock CLOCK_LIMIT_MIN or more off the sun is an error naming the minutes; a smaller error is a doubt.

    So is one that is that far off in two months or more, as daylight saving in the stamps makes it.
    """
    ghi, above = table["ghi"].to_numpy(), sun.extra_horizontal_wm2
    if not ghi.any():
        raise InputError(file, "ghi", None, "some light; every hour has 0 W/m2")
    error = _refuse_clock(file, table, sun, site, CLOCK_LIMIT_MIN)
    where = _clock_of(site)
    months = _months_off(ghi, above)
    if len(months) > 1:
        named = ", ".join(f"{calendar.month_name[month]} {_off(off)}" for month, off in months.items())
        allowed = f"less than {CLOCK_LIMIT_MIN:.0f} minutes off the sun at {where}; daylight saving in the stamps?"
        raise InputError(file, "clock", None, f"{allowed} {named}")
    said = [f"In {calendar.month_name[month]} the light comes {_off(off)}." for month, off in months.items()]
    if abs(error) >= CLOCK_NOTE_MIN:
        turned = "panels that face east or west get the wrong light"
        said.append(f"The light comes {_off(error)} against the sun; {turned}; {fitting_clock(error, site)}.")
    return [Doubt("clock", words) for words in said]


def _refuse_clock(file: str, table: pd.DataFrame, sun: Sun, site: Site, limit_min: float) -> float:
    """Minutes by which the light comes late; an error that names what to write from ``limit_min`` on."""
    error = clock_error_min(table["ghi"].to_numpy(), sun.extra_horizontal_wm2)
    if abs(error) >= limit_min:
        allowed = f"less than {limit_min:.0f} minutes off the sun at {_clock_of(site)}; {fitting_clock(error, site)}"
        raise InputError(file, "clock", _off(error), allowed)
    return error


def _clock_of(site: Site) -> str:
    return f"longitude {site.longitude_deg:.2f} and {site.utc_offset_h:+g} h from UTC"


def _off(minutes: float) -> str:
    return f"{abs(minutes):.0f} minutes {'late' if minutes > 0 else 'early'}"


def _months_off(ghi: np.ndarray, above: np.ndarray) -> dict[int, float]:
    """Minutes off of the months in which the clock is CLOCK_LIMIT_MIN or more off; months of low sun tell nothing."""
    month = np.repeat(np.arange(1, 13), month_days(len(ghi) > hours_of(2001)) * DAY_H)
    highest = max(above[month == k].mean() for k in range(1, 13))
    bright = [k for k in range(1, 13) if above[month == k].mean() > LOW_SUN * highest and ghi[month == k].any()]
    errors = {k: clock_error_min(ghi[month == k], above[month == k]) for k in bright}
    return {k: error for k, error in errors.items() if abs(error) >= CLOCK_LIMIT_MIN}


def without_impossible(file: str, table: pd.DataFrame, sun: Sun, site: Site) -> tuple[pd.DataFrame, list[str]]:
    """Single hours with more light than arrives above the atmosphere get that of their neighbours; the notes say so.

    More than LARGEST_ODD_SHARE of the year's hours, or a gap too long, is an error: of the clock, if that is off.
    """
    over = impossible(table, sun)
    wrong = np.logical_or.reduce(list(over.values()))
    if wrong.mean() > LARGEST_ODD_SHARE or max((length for _, length in runs_of(wrong)), default=0) > LONGEST_GAP_H:
        _refuse_clock(file, table, sun, site, CLOCK_NOTE_MIN)
        check_limits(file, table, sun)
    table = table.copy()
    why = "more light than arrives above the atmosphere in that hour"
    notes = taken_as_missing(table, list(IRRADIANCES), wrong, why)
    return filled(table, sun), notes


def impossible(table: pd.DataFrame, sun: Sun) -> dict[str, np.ndarray]:
    """By quantity, (hours,) whether there is more of it than arrives above the atmosphere."""
    return {name: table[name].to_numpy() > limit for name, limit in _limits(sun).items()}


def _limits(sun: Sun) -> dict[str, np.ndarray]:
    """The most light of an hour, by quantity.

    Means of an hour are held against the sun in its middle, so global and diffuse are given ALLOWANCE_WM2 on top, and
    NIGHT_WM2 when the sun is far below the horizon.
    """
    allowance = np.where(sun.zenith_deg < NIGHT_ZENITH_DEG, ALLOWANCE_WM2, NIGHT_WM2)
    highest = sun.extra_horizontal_wm2 + allowance
    beam = np.where(sun.zenith_deg < NIGHT_ZENITH_DEG, sun.extra_normal_wm2, NIGHT_WM2)
    return {"ghi": highest, "dhi": highest, "dni": beam}


def check_limits(file: str, table: pd.DataFrame, sun: Sun) -> None:
    """More light than arrives above the atmosphere is an error."""
    limits = _limits(sun)
    for name, over in impossible(table, sun).items():
        limit = limits[name][over.argmax()]
        refuse_rows(file, table, name, over, f"0 to {limit:.0f} W/m2, what arrives above the atmosphere in that hour")


def check_share(file: str, table: pd.DataFrame, sun: Sun) -> None:
    """The year's light as a share of that above the atmosphere, and days that are all alike, tell a wrong column."""
    ghi = table["ghi"].to_numpy()
    share = float(ghi.sum() / sun.extra_horizontal_wm2.sum())
    if not SHARES[0] <= share <= SHARES[1]:
        allowed = " to ".join(f"{100 * limit:.0f}" for limit in SHARES)
        words = f"{allowed} % of what arrives above the atmosphere; another unit or column reads so"
        raise InputError(file, "ghi of the year", f"{100 * share:.2g} %", words)
    days = ghi.reshape(-1, DAY_H)
    alike = runs_of((days[1:] == days[:-1]).all(axis=1) & days[1:].any(axis=1))
    start, length = max(alike, key=lambda run: run[1], default=(0, 0))
    if length + 1 >= REPEATED_DAYS:
        allowed = f"days of their own; {length + 1} in a row from here are alike to the watt"
        raise InputError(file, f"ghi, {at_hour(table, start * DAY_H)}", None, allowed)


def closure(table: pd.DataFrame, sun: Sun) -> float:
    """Year's sum of dni·cos(zenith) + dhi over that of ghi."""
    beam = table["dni"].to_numpy() * sun.cos_zenith
    return float((beam + table["dhi"].to_numpy()).sum() / table["ghi"].to_numpy().sum())


def check_closure(file: str, table: pd.DataFrame, sun: Sun) -> list[Doubt]:
    """Beam and diffuse must make up global: CLOSURE_LIMIT off is an error, CLOSURE_NOTE off is a doubt."""
    share = closure(table, sun)
    if abs(share - 1.0) > CLOSURE_LIMIT:
        allowed = f"{100 - 100 * CLOSURE_LIMIT:.0f} to {100 + 100 * CLOSURE_LIMIT:.0f} % of ghi over the year"
        raise InputError(file, "dni*cos(zenith) + dhi", f"{100 * share:.0f} %", allowed)
    if abs(share - 1.0) > CLOSURE_NOTE:
        words = f"Over the year, beam and diffuse make {100 * share:.0f} % of the recorded global irradiation"
        return [Doubt("beam-sum", f"{words}; a tilted panel's light is off by as much.")]
    return []
