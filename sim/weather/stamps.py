"""The stamps of a table: from what is written to the start of each hour on the site's own clock."""

import datetime
import re
from collections.abc import Sequence
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pandas as pd

from sim.catalogue.zones import standard_offset_h
from sim.errors import InputError

EARLIER_MIN = {"hour-start": 0, "hour-middle": 30, "hour-end": 60}
EDGE_H = 14  # the largest offset from UTC
_MIDNIGHT = re.compile(r"\b24:00")
_OFFSET = re.compile(r":\d\d(?:\.\d+)?\s*(?:Z|([+-]\d\d):?(\d\d))$")


def starts_of(file: str, texts: Sequence[str], lines: Sequence[int], columns: Any, offset_h: float) -> pd.DatetimeIndex:
    """The start of each hour, naive, on a clock ``offset_h`` ahead of UTC; InputError names what is no stamp.

    Where the table's clock and the site's are not whole hours apart, the hours begin at a quarter; see
    :func:`on_full_hours`.
    """
    written = _written(file, texts, lines, columns)
    utc = written if written.tz is not None else _to_utc(written, columns, offset_h)
    shift = pd.Timedelta(hours=offset_h) - pd.Timedelta(minutes=EARLIER_MIN[columns.stamp])
    starts = utc.tz_localize(None) + shift
    own_h = _own_offset_h(texts[0], columns, offset_h, int(written[0].year))
    odd = (starts.minute != round(60.0 * (offset_h - own_h)) % 60) | (starts.second != 0)
    if odd.any():
        row = int(odd.argmax())
        allowed = f"one row an hour, full hours on a clock {own_h:+g} h from UTC, stamped {columns.stamp}"
        raise InputError(file, f"line {lines[row]}", texts[row], allowed)
    return starts


def _own_offset_h(stamp: str, columns: Any, offset_h: float, year: int) -> float:
    """The clock by which the stamps are written: as they say themselves, as the table's columns do, or the site's.

    >>> _own_offset_h("2019-01-01T00:00+05:45", None, 0.0, 2019)
    5.75
    """
    if found := _OFFSET.search(stamp):
        hours, minutes = (found[1] or "+00"), (found[2] or "00")
        return int(hours) + int(f"{hours[0]}{minutes}") / 60.0
    if columns.time_zone is not None:
        return standard_offset_h(columns.time_zone, year)
    return offset_h if columns.utc_offset_h is None else float(columns.utc_offset_h)


def on_full_hours(
    rows: pd.DataFrame, names: Sequence[str], starts: pd.DatetimeIndex
) -> tuple[pd.DataFrame, pd.DatetimeIndex, list[str]]:
    """Rows of means over hours, ``starts`` on the local clock, as means over its full hours, the starts, and a note.

    Where clocks are a part f of an hour apart, an hour takes 1 − f of the row that begins in it and f of the one
    before; the first row, and one after a gap, stands for itself.
    """
    part = starts[0].minute / 60.0
    if part == 0.0:
        return rows, starts, []
    before = rows[list(names)].shift(1)
    follows = np.diff(starts.to_numpy(), prepend=np.datetime64("NaT")) == np.timedelta64(1, "h")
    shared = (rows[list(names)] * (1.0 - part) + before * part).where(pd.Series(follows, rows.index), rows[list(names)])
    note = f"The recorded hours begin {part * 60.0:.0f} minutes past those of the local clock: each is shared out."
    return rows.assign(**{name: shared[name] for name in names}), starts.floor("h"), [note]


def _written(file: str, texts: Sequence[str], lines: Sequence[int], columns: Any) -> pd.DatetimeIndex:
    """The stamps as they are written: the first way to read them by which all are stamps, an hour apart as a rule.

    Midnight may be written as 24:00 of the day it ends.
    """
    ends_day = ["24:00" in text and bool(_MIDNIGHT.search(text)) for text in texts]
    series = pd.Series(
        [_MIDNIGHT.sub("00:00", text) if ends else text for text, ends in zip(texts, ends_day, strict=True)]
    )
    next_day = pd.to_timedelta([int(ends) for ends in ends_day], unit="D")
    in_utc = _OFFSET.search(texts[0]) is not None
    for way in _ways(columns.time_format):
        read = pd.to_datetime(series, errors="coerce", utc=in_utc, **way)
        if read.notna().all() and read.diff().median() == pd.Timedelta(hours=1):
            return pd.DatetimeIndex(read) + next_day
    row = _first_odd(series, _ways(columns.time_format))
    allowed = "a date and a time like those of the other rows, one row an hour; weather.columns.time_format tells how"
    raise InputError(file, f"line {lines[row]}, {' '.join(columns.time)}", texts[row], allowed)


def _ways(time_format: str | None) -> list[dict[str, Any]]:
    """How stamps may be read, as arguments: as told, or standard, month first, day first."""
    if time_format is not None:
        return [{"format": time_format}]
    parts = ("%m/%d/%Y", "%d/%m/%Y", "%d.%m.%Y", "%d-%m-%Y", "%Y/%m/%d")
    clocks = (" %H:%M", " %H:%M:%S")
    return [{"format": "ISO8601"}, *({"format": date + clock} for date in parts for clock in clocks)]


def _first_odd(series: pd.Series, ways: Sequence[dict[str, Any]]) -> int:
    """The first row that cannot be read in the way in which most can."""
    reads = [pd.to_datetime(series, errors="coerce", utc=True, **way).isna().to_numpy() for way in ways]
    return int(min(reads, key=np.sum).argmax())


def _to_utc(written: pd.DatetimeIndex, columns: Any, offset_h: float) -> pd.DatetimeIndex:
    """Stamps without an offset of their own, by the table's zone or offset, else by the site's."""
    if columns.time_zone is not None:
        return _from_zone(written, ZoneInfo(columns.time_zone))
    own = offset_h if columns.utc_offset_h is None else columns.utc_offset_h
    return (written - pd.Timedelta(hours=own)).tz_localize("UTC")


def _from_zone(written: pd.DatetimeIndex, zone: ZoneInfo) -> pd.DatetimeIndex:
    """Wall-clock stamps of a time zone: of two that are alike, the second is the one after the clock was put back."""
    again = written.duplicated()
    moments = [
        moment.replace(tzinfo=zone, fold=int(second)).astimezone(datetime.UTC)
        for moment, second in zip(written.to_pydatetime(), again, strict=True)
    ]
    return pd.DatetimeIndex(moments).as_unit(written.unit)


def dated(starts: pd.DatetimeIndex) -> dict[str, Any]:
    """Starts of hours as the columns that all readers make: year, month, day, and the hour at whose end it lies."""
    return {"year": starts.year, "month": starts.month, "day": starts.day, "hour_end": starts.hour + 1}


def wrapped(starts: pd.DatetimeIndex) -> tuple[pd.DatetimeIndex, np.ndarray, list[str]]:
    """Stamps whose few hours beyond one end of the calendar years stand at the other end, their order, and a note.

    A year recorded by another clock than the site's reaches a few hours over its own end; these stand in for those
    that are missing at the other one.
    """
    years, kept = starts.year.to_numpy(), np.arange(len(starts))
    edges = years[0], years[-1]
    strays = next((years == edge for edge in edges if 0 < (years == edge).sum() <= EDGE_H), None)
    if strays is None or strays.all():
        return starts, kept, []
    early = bool(strays[0])
    to = int(years[~strays].max() if early else years[~strays].min())
    order = np.concatenate((kept[~strays], kept[strays]) if early else (kept[strays], kept[~strays]))
    where = "end" if early else "start"
    note = f"{int(strays.sum())} h of {edges[0 if early else 1]} stand at the {where} of {to}, where the file has none."
    return _in_year(starts, strays, to), order, [note]


def _in_year(starts: pd.DatetimeIndex, chosen: np.ndarray, year: int) -> pd.DatetimeIndex:
    """The stamps, with those that are chosen, none of them of 29 February, in another year."""
    return pd.DatetimeIndex([at.replace(year=year) if yes else at for at, yes in zip(starts, chosen, strict=True)])
