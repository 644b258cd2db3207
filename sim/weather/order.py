"""From rows in a file to the hours of a year: each once, in order, without a long gap, then dated in a year."""

from dataclasses import replace

import numpy as np
import pandas as pd

from sim.errors import InputError
from sim.weather.dates import DAY_H, LEAP_DAY_START, hour_number, hours_of, moment, month_days
from sim.weather.plausible import check_columns, runs_of, wrong_figures
from sim.weather.readings import Readings
from sim.weather.weather import COLUMNS, EXTRAS, IRRADIANCES

LONGEST_GAP_H = 3  # filled; a longer gap is refused
LARGEST_FILLED_SHARE = 0.05  # of a column's hours; a choice
_NO_DATA = (9999.0, 9900.0, 99999.0)  # and their negatives: "no data" in the three formats' manuals
_FILL = -999.0  # the fill value of many services
_SENTINELS = {  # those and what they become where tenths are stored; 99.9 and 999 mean "missing" for EPW
    "ghi": _NO_DATA,
    "dni": _NO_DATA,
    "dhi": _NO_DATA,
    "temp_air": (*_NO_DATA, 99.9, 999.0, 999.9, 990.0),
    "wind_speed": (*_NO_DATA, 99.0, 99.9, 999.0, 999.9, 990.0),
}
CLEAREST = 0.85  # of the light above the atmosphere in an hour that is filled; a choice, hardly any true hour has more
_BY_CLEARNESS = f"light as clear as the hours around, at most {100 * CLEAREST:.0f} % of that above the atmosphere"
_OFFSET_WM2 = 4.0  # zero offset a pyranometer may show: Long & Dutton, BSRN recommended tests V2.0, 2002
BOUNDS = {
    **dict.fromkeys(IRRADIANCES, (-_OFFSET_WM2, 1415.0, "W/m2, at most what arrives above the atmosphere")),
    "temp_air": (-90.0, 60.0, "C, within the extremes recorded on Earth"),
    "wind_speed": (0.0, 75.0, "m/s"),
}


def counted(number: int, noun: str) -> str:
    """A number of things.

    >>> counted(1, "hour"), counted(3, "missing row")
    ('1 hour', '3 missing rows')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def by_year(readings: Readings) -> dict[int, Readings]:
    """The readings of each calendar year of a file that holds several, by year; of any other file as they are, by 0.

    A typical year mixes years too, but has each month once: a file holds several where a month comes with more than
    one year, each for more than a day.
    """
    rows = readings.table
    runs = rows.groupby(["month", "year"]).size()
    several = bool((runs[runs > DAY_H].groupby(level="month").size() > 1).any())
    if not several:
        return {0: readings}
    ends_before = (rows["month"] == 1) & (rows["day"] == 1) & (rows["hour_end"] == 0)
    start_year = rows["year"] - ends_before
    return {int(year): replace(readings, table=rows[start_year == year]) for year in sorted(start_year.unique())}


def without_ragged_ends(years: dict[int, Readings]) -> tuple[dict[int, Readings], list[str]]:
    """Of several years those at either end only if they are whole, and a note on those that are left out."""
    ragged = [
        year
        for year in (min(years), max(years))
        if len(years) > 1 and len(years[year].table) < (1.0 - LARGEST_FILLED_SHARE) * hours_of(year)
    ]
    kept = {year: found for year, found in years.items() if year not in ragged}
    if not kept:
        return years, []
    said = [f"{year} was left out: the file has {len(years[year].table)} of its {hours_of(year)} h." for year in ragged]
    return kept, said


def whole_year(readings: Readings) -> tuple[pd.DataFrame, list[str]]:
    """(hours of the file's own year) × columns with "line", missing values NaN, and notes on what is missing."""
    dates = readings.table
    leap = bool(((dates["month"] == 2) & (dates["day"] == 29) & (dates["hour_end"] > 0)).any())
    table = _numbered(readings, leap)
    _refuse_disorder(readings.file, table)
    kept = [*COLUMNS, *(name for name in EXTRAS if name in table), "line"]
    table = table.set_index("hour")[kept].reindex(range(hours_of(2004 if leap else 2001)))
    for name in COLUMNS:
        table[name] = table[name].mask(table[name].abs().isin(_SENTINELS[name]) | (table[name] == _FILL))
    for name, (low, high, words) in BOUNDS.items():
        outside = (table[name] < low) | (table[name] > high)
        refuse_rows(readings.file, table, name, outside, f"{max(low, -90):g} to {high:g} {words}")
    spikes = wrong_figures(table["temp_air"].to_numpy(dtype=float))
    notes = taken_as_missing(table, ["temp_air"], spikes, "a spike, or a zero far from its neighbours")
    notes += _missing(readings.file, table)
    check_columns(readings.file, table)
    notes += _cut_offsets(table)
    return table, notes


def taken_as_missing(table: pd.DataFrame, names: list[str], wrong: np.ndarray, why: str) -> list[str]:
    """Make figures gaps, and say why."""
    if not wrong.any():
        return []
    first = at_hour(table, int(wrong.argmax()))
    table.loc[wrong, names] = np.nan
    return [
        f"Taken as missing: {', '.join(names)} in {counted(int(wrong.sum()), 'hour')}, the first at {first}: {why}."
    ]


def _numbered(readings: Readings, leap: bool) -> pd.DataFrame:
    """The rows with the number of their hour; a date that no calendar has is an error."""
    rows = readings.table
    month, day, end = (rows[name].to_numpy() for name in ("month", "day", "hour_end"))
    longest = month_days(leap=True)[np.clip(month, 1, 12) - 1]
    wrong = (month < 1) | (month > 12) | (day < 1) | (day > longest) | (end < 0) | (end > DAY_H)
    if wrong.any():
        row = rows.iloc[int(wrong.argmax())]
        value = f"month {row.month:.0f}, day {row.day:.0f}, hour {row.hour_end:.0f}"
        raise InputError(
            readings.file, f"line {row.line:.0f}", value, "a date of the calendar and an hour from 0 to 24"
        )
    return rows.assign(hour=hour_number(month, day, end, leap))


def _refuse_disorder(file: str, rows: pd.DataFrame) -> None:
    """Duplicate hours and hours out of order are errors."""
    hour, line = rows["hour"].to_numpy(), rows["line"].to_numpy()
    twice = rows["hour"].duplicated().to_numpy()
    if twice.any():
        second = int(twice.argmax())
        first = int((hour == hour[second]).argmax())
        repeats = counted(int(twice.sum()), "repeated hour")
        allowed = f"one row an hour; of {repeats} this is the first, the hour of line {line[first]}"
        raise InputError(file, f"line {line[second]}", None, allowed)
    back = np.flatnonzero(np.diff(hour) < 0)
    if back.size:
        allowed = "rows in order from 1 January to 31 December; this one is earlier than the one before"
        raise InputError(file, f"line {line[back[0] + 1]}", None, allowed)


def _missing(file: str, table: pd.DataFrame) -> list[str]:
    """Notes on the gaps that will be filled; InputError on a gap that is too long or a column with too many."""
    notes, absent = [], table["line"].isna().to_numpy()
    refuse_gaps(file, table, "rows", absent)
    if absent.any():
        first = at_hour(table, int(absent.argmax()))
        notes.append(f"Filled: {counted(int(absent.sum()), 'missing row')}, the first at {first}; {_BY_CLEARNESS}.")
    for name in COLUMNS:
        missing = table[name].isna().to_numpy()
        refuse_gaps(file, table, name, missing)
        marked = missing & ~absent
        if marked.any():
            first = at_hour(table, int(marked.argmax()))
            how = f"; {_BY_CLEARNESS}" if name in IRRADIANCES else ""
            notes.append(f"Filled: {counted(int(marked.sum()), 'hour')} without {name}, the first at {first}{how}.")
    return notes


def refuse_gaps(file: str, table: pd.DataFrame, name: str, missing: np.ndarray) -> None:
    """A gap longer than LONGEST_GAP_H, or gaps in more than LARGEST_FILLED_SHARE of the hours, cannot be filled."""
    runs = runs_of(missing)
    long = [run for run in runs if run[1] > LONGEST_GAP_H]
    if long:
        start, length = long[0]
        where = f"{at_hour(table, start)} to {at_hour(table, start + length - 1)}"
        more = f" and {len(long) - 1} more such gaps" if len(long) > 1 else ""
        allowed = f"gaps of at most {LONGEST_GAP_H} h; {name} missing for {length} h, {where}{more}"
        raise InputError(file, name, None, allowed)
    most = int(LARGEST_FILLED_SHARE * len(missing))
    if missing.sum() > most:
        raise InputError(file, name, None, f"at most {most} h missing in all; {int(missing.sum())} h are")


def at_hour(table: pd.DataFrame, hour: int) -> str:
    """An hour as the line it stands on, where it stands on one, and its date."""
    line, date = table["line"].iloc[hour], moment(hour, leap=len(table) > hours_of(2001))
    return date if np.isnan(line) else f"line {line:.0f} ({date})"


def refuse_rows(file: str, table: pd.DataFrame, name: str, wrong: pd.Series | np.ndarray, allowed: str) -> None:
    """InputError naming the first wrong row of a column and how many there are."""
    wrong = np.asarray(wrong)
    if wrong.any():
        first = int(wrong.argmax())
        rest = f"; {counted(int(wrong.sum()) - 1, 'more row')} like it" if wrong.sum() > 1 else ""
        raise InputError(file, f"{at_hour(table, first)}, {name}", float(table[name].iloc[first]), allowed + rest)


def _cut_offsets(table: pd.DataFrame) -> list[str]:
    """Set the slightly negative readings of a dark sensor to 0 and say so."""
    below = table[list(IRRADIANCES)] < 0
    if not below.to_numpy().any():
        return []
    table[list(IRRADIANCES)] = table[list(IRRADIANCES)].mask(below, 0.0)
    hours = counted(int(below.any(axis=1).sum()), "hour")
    return [f"Set to 0: {hours} with an irradiance from -{_OFFSET_WM2:g} to 0 W/m2."]


def redated(table: pd.DataFrame, year: int) -> tuple[pd.DataFrame, list[str]]:
    """The hours of ``year``: as it needs, 29 February is left out or 28 February is repeated."""
    if len(table) == hours_of(year):
        return table, []
    if len(table) > hours_of(year):
        kept = table.drop(index=range(LEAP_DAY_START, LEAP_DAY_START + DAY_H))
        return kept.reset_index(drop=True), [f"29 February was left out: {year} has none."]
    parts = table[:LEAP_DAY_START], table[LEAP_DAY_START - DAY_H : LEAP_DAY_START], table[LEAP_DAY_START:]
    return pd.concat(parts, ignore_index=True), [f"29 February {year} repeats the 28th: the file has none."]
