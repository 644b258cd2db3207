"""Numbers and moments as a reader meets them."""

from __future__ import annotations

import pandas as pd


def hours(value: float) -> str:
    """Hours, with a decimal below ten.

    >>> hours(8.44), hours(5261.9)
    ('8.4 h', '5,262 h')
    """
    return f"{number(value)} h"


def number(value: float) -> str:
    """A figure with a decimal below ten, and none from there on.

    >>> number(2.06), number(0.0), number(1234.5)
    ('2.1', '0', '1,234')
    """
    return "0" if value == 0.0 else f"{value:,.1f}" if abs(value) < 9.95 else f"{value:,.0f}"


def percent(share: float) -> str:
    """A share in per cent.

    >>> percent(0.726)
    '73 %'
    """
    return f"{share * 100.0:.0f} %"


def span(low: float, high: float, unit: str) -> str:
    """A range with its unit.

    >>> span(10.0, 15.0, "years"), span(12.2, 12.2, "V")
    ('10–15 years', '12.2 V')
    """
    first, last = f"{low:g}", f"{high:g}"
    return f"{first} {unit}" if first == last else f"{first}–{last} {unit}"


def kwh(wh: float) -> str:
    """Energy in kWh.

    >>> kwh(105235.6), kwh(-731.0)
    ('105.2', '−0.7')
    """
    return f"{wh / 1000.0:,.1f}".replace("-", "−")


def moment(index: pd.DatetimeIndex, hour: float) -> str:
    """The day and the time some hours after a year began.

    >>> moment(pd.date_range("2001-01-01", periods=2, freq="h"), 24.5)
    '2 January, 00:30'
    """
    then = index[0] + pd.Timedelta(hours=hour)
    return f"{then.day} {then.month_name()}, {then.hour:02d}:{then.minute:02d}"


def day(index: pd.DatetimeIndex, number_of_day: int) -> str:
    """The date of a day counted from 0.

    >>> day(pd.date_range("2001-01-01", periods=2, freq="h"), 31)
    '1 February'
    """
    then = index[0] + pd.Timedelta(days=number_of_day)
    return f"{then.day} {then.month_name()}"
