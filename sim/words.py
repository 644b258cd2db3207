"""Numbers and moments as a reader meets them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from math import ceil
from typing import TYPE_CHECKING

from sim.calendar import MONTH_NAMES
from sim.language import day_and_month, digits, mark, say, say_many

if TYPE_CHECKING:
    import pandas as pd

IN_MONTHS_BELOW_YEARS = 2.0
LAST_IN_HOURS = 40.0  # of durations; longer ones are told in days
CONTROLS = dict.fromkeys((*range(32), *range(127, 160), 0x2028, 0x2029, *range(0xD800, 0xE000)), " ")
FORESEEABLE_YEARS = 50.0  # a longer life is only said to be longer
POINTS = (
    mark("north"),
    mark("north-east"),
    mark("east"),
    mark("south-east"),
    mark("south"),
    mark("south-west"),
    mark("west"),
    mark("north-west"),
)


def printable(text: str) -> str:
    r"""A text from outside as one line that nothing obeys: a space for each control sign and each half of a sign.

    >>> printable("\x1b[31mred\n")
    ' [31mred '
    """
    return text.translate(CONTROLS)


def figure(value: float, form: str) -> str:
    """A value in a format, with a true minus sign, and none before nothing.

    >>> figure(-2.26, ".1f"), figure(-0.04, ".1f")
    ('−2.3', '0.0')
    """
    said = f"{value:{form}}"
    return digits(said.replace("-", "−" if said.strip("-0.,% ") else ""))


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
    return digits("0" if value == 0.0 else f"{value:,.1f}" if abs(value) < 9.95 else f"{value:,.0f}")


def percent(share: float) -> str:
    """A share in per cent.

    >>> percent(0.726)
    '73 %'
    """
    return say("{share} %", share=f"{share * 100.0:.0f}")


def span(low: float, high: float, unit: str) -> str:
    """A range with its unit.

    >>> span(10.0, 15.0, "years"), span(12.2, 12.2, "V")
    ('10–15 years', '12.2 V')
    """
    return f"{between(low, high)} {unit}"


def between(low: float, high: float) -> str:
    """A range of figures.

    >>> between(10.0, 15.0), between(12.2, 12.2)
    ('10–15', '12.2')
    """
    first, last = digits(f"{low:g}"), digits(f"{high:g}")
    return first if first == last else f"{first}–{last}"


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
    return moments(index, (hour,))[0]


def moments(index: pd.DatetimeIndex, hours: Iterable[float]) -> list[str]:
    """The same of many hours."""
    began = index[0].to_pydatetime()
    return [_moment(began + timedelta(hours=hour)) for hour in hours]


def _moment(then: datetime) -> str:
    return f"{then.day} {MONTH_NAMES[then.month - 1]}, {then.hour:02d}:{then.minute:02d}"


def day(index: pd.DatetimeIndex, number_of_day: int) -> str:
    """The date of a day counted from 0.

    >>> import pandas as pd
    >>> day(pd.date_range("2001-01-01", periods=2, freq="h"), 31)
    '1 February'
    """
    return day_and_month(index[0].date() + timedelta(days=number_of_day))


def years(life: tuple[float, float]) -> str:
    """A range of years of life in words.

    >>> years((7.6, 12.2)), years((60.0, 90.0)), years((0.3, 0.6)), years((0.8, 2.4))
    ('8–12 years', 'more than 50 years', '4–7 months', '0.8–2.4 years')
    """
    if life[0] > FORESEEABLE_YEARS:
        return say("more than {years} years", years=f"{FORESEEABLE_YEARS:g}")
    if life[1] < IN_MONTHS_BELOW_YEARS:
        low_high = (max(round(12.0 * end), 1) for end in life)
        return say("{span} months", span=between(*low_high))
    low, high = (round(end, 1) if life[0] < 1.0 else round(end) for end in life)
    return say("{span} years", span=between(low, high))


def lasting(hours_long: float) -> str:
    """A duration as people say it.

    >>> lasting(0.3), lasting(1.2), lasting(15.5), lasting(92.6)
    ('20 minutes', '1 hour', '16 hours', '4 days')
    """
    if hours_long < 0.75:
        return say("{count} minutes", count=f"{max(round(hours_long * 6.0), 1) * 10}")
    if hours_long <= LAST_IN_HOURS:
        return say_many("{count} hour", "{count} hours", round(hours_long))
    return say_many("{count} day", "{count} days", round(hours_long / 24.0))


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
    return day_and_month(date.fromisoformat(f"2004-{text}"))


def facing(azimuth_deg: float) -> str:
    """The point of the compass nearest to an azimuth.

    >>> facing(180.0), facing(170.0), facing(355.0)
    ('south', 'south', 'north')
    """
    return say(POINTS[round(azimuth_deg / 45.0) % 8])


def about(hours_a_day: float) -> str:
    """Hours a day as a promise gives them: whole ones, and a decimal only below three.

    >>> about(7.81), about(2.06), about(0.0)
    ('8', '2.1', '0')
    """
    return f"{hours_a_day:.0f}" if hours_a_day >= 2.95 else number(hours_a_day)
