"""The stamps of a log: however they are written, seconds since the year began by the site's clock."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from sim.errors import InputError

if TYPE_CHECKING:
    from sim.studies.log_table import Grid

EPOCH_S, EPOCH_MS = 1e8, 1e11  # a number from here on counts seconds, and from there on thousandths, since 1970
ALIKE = 3.0  # of two ways to read the dates: one that makes the log so many times as long is not meant
MOST_STEP_S = 3900.0  # between readings, as a rule: an hour, and what a clock may be off
_OFFSET = r"(?:Z|[+-]\d\d:?\d\d)$"
_DAY_FIRST = ("%d/%m/%Y", "%d-%m-%Y", "%d/%m/%y", "%d-%m-%y")
_OTHERS = ("%d.%m.%Y", "%d.%m.%y", "%Y/%m/%d", "%Y.%m.%d", "%d %b %Y", "%d-%b-%Y")
_CLOCKS = (" %H:%M:%S", " %H:%M", " %H:%M:%S.%f", " %I:%M:%S %p", " %I:%M %p")
_DATES = (
    *_OTHERS,
    *_DAY_FIRST,
    *(date.replace("%d", "%_").replace("%m", "%d").replace("%_", "%m") for date in _DAY_FIRST),
)
ALLOWED = "a time such as 2026-06-01 12:30, in the site's standard time; [log.columns] time_format tells another"


def stamps_of(grid: Grid, time_format: str | None, own_h: float | None, utc_offset_h: float) -> pd.DatetimeIndex:
    """The stamps of the rows, naive, by the site's clock, ``utc_offset_h`` ahead of UTC.

    Stamps that tell their offset, or count seconds, are turned to it; others are the site's own, or those of a clock
    ``own_h`` ahead of UTC. InputError where a row has no stamp, where dates can be read in two ways, or where they are
    not in order.
    """
    texts = [" ".join(row[one.place] for one in grid.stamps).strip() for row in grid.rows]
    name = " ".join(one.heading for one in grid.stamps)
    read, in_utc = _read(grid, name, texts, time_format)
    turned_h = utc_offset_h if in_utc else 0.0 if own_h is None else utc_offset_h - own_h
    try:
        stamps = read + timedelta(hours=turned_h)
    except (OverflowError, pd.errors.OutOfBoundsDatetime):
        raise InputError(grid.file, f"row {grid.lines[0]}, {name}", texts[0], ALLOWED) from None
    _check_order(grid, name, texts, stamps)
    return stamps


def _read(grid: Grid, name: str, texts: Sequence[str], time_format: str | None) -> tuple[pd.DatetimeIndex, bool]:
    """The stamps as they are written, and whether they are universal time."""
    series = pd.Series(texts)
    counted = pd.to_numeric(series, errors="coerce")
    if time_format is None and counted.notna().all() and counted.between(EPOCH_S, 1e14).all():
        each_s = 1.0 if counted.iloc[0] < EPOCH_MS else 0.001
        return pd.DatetimeIndex(pd.to_datetime(counted * each_s, unit="s")), True
    offsets = series.str.contains(r":\d\d(?:\.\d+)?\s*" + _OFFSET, regex=True).to_numpy()
    if offsets.any() and not offsets.all():
        row = int(np.flatnonzero(offsets != offsets[0])[0])
        raise InputError(
            grid.file, f"row {grid.lines[row]}, {name}", texts[row], f"{ALLOWED}; the others tell it otherwise"
        )
    plain = series if time_format else series.str.replace(r"(?<=\d)T(?=\d)", " ", regex=True)
    plain = plain.str.replace(r"[,\s]+", " ", regex=True)
    return _in_one_way(grid, name, plain, time_format), bool(offsets.all())


def _in_one_way(grid: Grid, name: str, series: pd.Series, time_format: str | None) -> pd.DatetimeIndex:
    """The stamps by the one way of reading them that fits; InputError shows both where two do."""
    ways = [time_format] if time_format else ["ISO8601", *(date + clock for date in _DATES for clock in _CLOCKS)]
    fit = [way for way in ways if _parsed(series.iloc[:1], way).notna().all()]
    found = {way: read for way in fit if (read := _parsed(series, way)).notna().all()}
    if not found:
        _refuse(grid, name, series, fit or ways)
    readings = list(found.items())
    likely = _likely(readings)
    if len(likely) > 1:
        _refuse_both(grid, name, str(series.iloc[0]), [(way, read.iloc[0]) for way, read in likely[:2]])
    return pd.DatetimeIndex(likely[0][1])


def _parsed(series: Any, way: str) -> pd.Series:
    """The stamps read in a way, without their offset; NaT where that cannot be."""
    read = pd.to_datetime(series, format=way, errors="coerce", utc=True)
    return pd.Series(read).dt.tz_localize(None)


def _likely(readings: list[tuple[str, pd.Series]]) -> list[tuple[str, pd.Series]]:
    """The ways whose dates differ, without those that make the log far longer than another does."""
    distinct: list[tuple[str, pd.Series]] = []
    for way, read in readings:
        if not any(read.equals(other) for _, other in distinct):
            distinct.append((way, read))
    rising = [one for one in distinct if one[1].is_monotonic_increasing] or distinct
    spans = [(one[1].iloc[-1] - one[1].iloc[0]).total_seconds() for one in rising]
    shortest = max(min(spans), 1.0)
    return [one for one, span in zip(rising, spans, strict=True) if span <= ALIKE * shortest]


def _refuse(grid: Grid, name: str, series: pd.Series, ways: Sequence[str]) -> None:
    """Tell the first row that cannot be read in the way in which most can."""
    reads = [_parsed(series, way).isna().to_numpy() for way in ways]
    row = int(min(reads, key=np.sum).argmax())
    raise InputError(grid.file, f"row {grid.lines[row]}, {name}", series.iloc[row], ALLOWED)


def _refuse_both(grid: Grid, name: str, text: str, both: Sequence[tuple[str, pd.Timestamp]]) -> None:
    """Two ways to read the dates are as likely: show both."""
    shown = " or ".join(f"{at.day} {at:%B %Y}" for _, at in both)
    formats = " or ".join(f'"{way}"' for way, _ in both)
    allowed = f"a date that can be read in one way; it may be {shown}: [log.columns] time_format = {formats} says which"
    raise InputError(grid.file, f"row {grid.lines[0]}, {name}", text, allowed)


def _check_order(grid: Grid, name: str, texts: Sequence[str], stamps: pd.DatetimeIndex) -> None:
    """InputError where a reading comes before the one above it, or readings are too far apart as a rule."""
    steps = np.diff(stamps.to_numpy()) / np.timedelta64(1, "s")
    falling = np.flatnonzero(steps < 0.0)
    if len(falling):
        row = int(falling[0]) + 1
        allowed = "a time not before that of the row above; where a clock was put back, give the log in standard time"
        raise InputError(grid.file, f"row {grid.lines[row]}, {name}", texts[row], allowed)
    if len(steps) and np.median(steps) > MOST_STEP_S:
        allowed = "readings an hour apart at most, as a rule; these are further apart"
        raise InputError(grid.file, name, None, allowed)
