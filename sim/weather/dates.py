"""Hours of a year by their number: which hour a date is, how one year's hours are dated in another."""

import calendar
import datetime

import numpy as np
import pandas as pd

from sim.calendar import MONTH_NAMES, days_in

DAY_H = 24
LEAP_DAY_START = 59 * DAY_H  # hours of January and February before the 29th
_DAYS = np.array([calendar.monthrange(2001, month)[1] for month in range(1, 13)])


def hours_of(year: int) -> int:
    """Hours of a calendar year.

    >>> hours_of(2001), hours_of(2004)
    (8760, 8784)
    """
    return days_in(year) * DAY_H


def month_days(leap: bool) -> np.ndarray:
    """(12,) days of each month."""
    days = _DAYS.copy()
    days[1] += leap
    return days


def hour_number(month: np.ndarray, day: np.ndarray, hour_end: np.ndarray, leap: bool) -> np.ndarray:
    """Number, from 0, of the hour that ends at ``hour_end`` (0 … 24) of a date; midnight is either end of the year.

    Midnight may be written as 24 of the day it ends or as 0 of the day it begins.

    >>> hour_number(np.array([1, 3, 12, 1]), np.array([1, 1, 31, 1]), np.array([1, 0, 24, 0]), leap=False).tolist()
    [0, 1415, 8759, 8759]
    """
    before = np.concatenate(([0], np.cumsum(month_days(leap))))
    days = before[month - 1] + day - 1
    return np.asarray((days * DAY_H + hour_end - 1) % (before[-1] * DAY_H))


def moment(number: int, leap: bool) -> str:
    """The start of an hour in words.

    >>> moment(1416, leap=False), moment(1416, leap=True)
    ('1 March 00:00', '29 February 00:00')
    """
    at = datetime.datetime(2004 if leap else 2001, 1, 1) + datetime.timedelta(hours=int(number))
    return f"{at.day} {MONTH_NAMES[at.month - 1]} {at.hour:02d}:00"


def year_index(year: int, utc_offset_h: float) -> pd.DatetimeIndex:
    """The starts of a year's hours at a fixed offset from UTC.

    >>> str(year_index(2001, -5.0)[0])
    '2001-01-01 00:00:00-05:00'
    """
    zone = datetime.timezone(datetime.timedelta(hours=utc_offset_h))
    return pd.date_range(f"{year}-01-01", periods=hours_of(year), freq="h", tz=zone)
