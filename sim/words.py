"""Numbers and moments as a reader meets them."""

from __future__ import annotations

from calendar import month_name
from datetime import date, timedelta
from math import ceil
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

IN_MONTHS_BELOW_YEARS = 2.0
LAST_IN_HOURS = 40.0  # of durations; longer ones are told in days
FORESEEABLE_YEARS = 50.0  # a longer life is only said to be longer


def figure(value: float, form: str) -> str:
    """A value in a format, with a true minus sign, and none before nothing.

    >>> figure(-2.26, ".1f"), figure(-0.04, ".1f")
    ('−2.3', '0.0')
    """
    said = f"{value:{form}}"
    return said.replace("-", "−" if said.strip("-0.,% ") else "")


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
    return figure(wh / 1000.0, ",.1f")


def moment(index: pd.DatetimeIndex, hour: float) -> str:
    """The day and the time some hours after a year began.

    >>> import pandas as pd
    >>> moment(pd.date_range("2001-01-01", periods=2, freq="h"), 24.5)
    '2 January, 00:30'
    """
    then = index[0].to_pydatetime() + timedelta(hours=hour)
    return f"{then.day} {month_name[then.month]}, {then:%H:%M}"


def day(index: pd.DatetimeIndex, number_of_day: int) -> str:
    """The date of a day counted from 0.

    >>> import pandas as pd
    >>> day(pd.date_range("2001-01-01", periods=2, freq="h"), 31)
    '1 February'
    """
    then = index[0] + timedelta(days=number_of_day)
    return f"{then.day} {then.month_name()}"


def years(life: tuple[float, float]) -> str:
    """A range of years of life in words.

    >>> years((7.6, 12.2)), years((60.0, 90.0)), years((0.3, 0.6)), years((0.8, 2.4))
    ('8–12 years', 'more than 50 years', '4–7 months', '0.8–2.4 years')
    """
    if life[0] > FORESEEABLE_YEARS:
        return f"more than {FORESEEABLE_YEARS:g} years"
    if life[1] < IN_MONTHS_BELOW_YEARS:
        return span(max(round(12.0 * life[0]), 1), max(round(12.0 * life[1]), 1), "months")
    low, high = (round(end, 1) if life[0] < 1.0 else round(end) for end in life)
    return span(low, high, "years")


def lasting(hours_long: float) -> str:
    """A duration as people say it.

    >>> lasting(0.3), lasting(1.2), lasting(15.5), lasting(92.6)
    ('20 minutes', '1 hour', '16 hours', '4 days')
    """
    if hours_long < 0.75:
        return f"{max(round(hours_long * 6.0), 1) * 10} minutes"
    count, unit = (round(hours_long), "hour") if hours_long <= LAST_IN_HOURS else (round(hours_long / 24.0), "day")
    return f"{count} {unit}{'s' if count > 1 else ''}"


def at_most(hours_long: float) -> str:
    """A duration as people say it, never shorter than it is.

    >>> at_most(1.2), at_most(15.0), at_most(40.5), at_most(97.0)
    ('2 hours', '15 hours', '2 days', '5 days')
    """
    return lasting(ceil(hours_long) if hours_long <= LAST_IN_HOURS else 24.0 * ceil(hours_long / 24.0))


def date_of(text: str) -> str:
    """A day of the year "MM-DD" as people say it.

    >>> date_of("03-15")
    '15 March'
    """
    day_of_year = date.fromisoformat(f"2004-{text}")
    return f"{day_of_year.day} {day_of_year:%B}"


def facing(azimuth_deg: float) -> str:
    """The point of the compass nearest to an azimuth.

    >>> facing(180.0), facing(170.0), facing(355.0)
    ('south', 'south', 'north')
    """
    points = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return points[round(azimuth_deg / 45.0) % 8]


def about(hours_a_day: float) -> str:
    """Hours a day as a promise gives them: whole ones, and a decimal only below three.

    >>> about(7.81), about(2.06), about(0.0)
    ('8', '2.1', '0')
    """
    return f"{hours_a_day:.0f}" if hours_a_day >= 2.95 else number(hours_a_day)
