"""Months by name; times of day and days of the year as a scenario writes them: "HH:MM", windows of two, "MM-DD"."""

import re
from collections.abc import Iterable
from datetime import date
from itertools import pairwise

HOUR_S = 3600.0
DAY_S = 86400.0
WHOLE_DAY = ("00:00", "24:00")
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
MONTH_NAMES = tuple(f"{date(2001, month, 1):%B}" for month in range(1, 13))


def checked_clock(text: str) -> str:
    """The text itself if it is a time of day from "00:00" to "24:00"; ValueError says what is allowed."""
    if not re.fullmatch(r"([01][0-9]|2[0-3]):[0-5][0-9]|24:00", text):
        raise ValueError('a time of day as "HH:MM", from "00:00" to "24:00"')
    return text


def checked_window(window: tuple[str, str]) -> tuple[str, str]:
    """The window itself if it has a length; ValueError says what is allowed."""
    start, end = window
    if start in (end, "24:00"):
        raise ValueError('a start before "24:00" and an end other than the start; a whole day is ["00:00", "24:00"]')
    return window


def seconds(clock: str) -> float:
    """Seconds from midnight.

    >>> seconds("07:30")
    27000.0
    """
    return 3600.0 * int(clock[:2]) + 60.0 * int(clock[3:])


def window_s(window: tuple[str, str]) -> tuple[float, float]:
    """Start and end in seconds from midnight; an end before its start means the next day's.

    >>> window_s(("22:00", "06:00"))
    (79200.0, 21600.0)
    """
    return seconds(window[0]), seconds(window[1])


def length_h(window: tuple[str, str]) -> float:
    """Hours from start to end, through midnight if the end comes first.

    >>> length_h(("22:00", "06:00")), length_h(("00:00", "24:00"))
    (8.0, 24.0)
    """
    start_s, end_s = window_s(window)
    return ((end_s - start_s) % DAY_S or DAY_S) / HOUR_S


def within_a_day(windows: Iterable[tuple[str, str]]) -> list[tuple[float, float]]:
    """Starts and ends in seconds from midnight, in order, a window through midnight in two pieces."""
    pieces: list[tuple[float, float]] = []
    for start_s, end_s in map(window_s, windows):
        pieces += [(start_s, end_s)] if start_s < end_s else [(start_s, DAY_S), (0.0, end_s)]
    return sorted(piece for piece in pieces if piece[0] < piece[1])


def overlap(windows: Iterable[tuple[str, str]]) -> bool:
    """Whether two windows share a moment of the day.

    >>> overlap([("08:00", "12:00"), ("12:00", "16:00")]), overlap([("22:00", "06:00"), ("05:00", "07:00")])
    (False, True)
    """
    return any(earlier[1] > later[0] for earlier, later in pairwise(within_a_day(windows)))


def without(windows: Iterable[tuple[str, str]], quiet: tuple[str, str]) -> tuple[tuple[float, float], ...]:
    """What is left of windows outside another one, in seconds from midnight and in order.

    >>> [tuple(at / 3600.0 for at in piece) for piece in without([("20:00", "08:00")], ("22:00", "06:00"))]
    [(6.0, 8.0), (20.0, 22.0)]
    """
    left = within_a_day(windows)
    for start_s, end_s in within_a_day([quiet]):
        left = [part for a, b in left for part in ((a, min(b, start_s)), (max(a, end_s), b)) if part[0] < part[1]]
    return tuple(left)


def hours_left(window: tuple[str, str], quiet: tuple[str, str] | None) -> float:
    """Hours of a window outside another one, if there is another.

    >>> hours_left(("20:00", "08:00"), ("22:00", "06:00")), hours_left(("20:00", "08:00"), None)
    (4.0, 12.0)
    """
    return length_h(window) if quiet is None else sum(end - start for start, end in without([window], quiet)) / HOUR_S


def checked_day(text: str) -> str:
    """The text itself if it is a day of every year, "01-01" to "12-31"; ValueError says what is allowed."""
    try:
        if not re.fullmatch(r"[0-9]{2}-[0-9]{2}", text):
            raise ValueError
        date.fromisoformat(f"2001-{text}")
    except ValueError:
        raise ValueError('a day of the year as "MM-DD", and not 29 February') from None
    return text


def days_in(year: int) -> int:
    """Days of a calendar year.

    >>> days_in(2001), days_in(2004)
    (365, 366)
    """
    return (date(year + 1, 1, 1) - date(year, 1, 1)).days


def day_s(day: str, year: int) -> float:
    """Seconds from the start of a year to the start of a day in it.

    >>> day_s("03-01", 2001) / 86400.0, day_s("03-01", 2004) / 86400.0
    (59.0, 60.0)
    """
    return (date.fromisoformat(f"{year}-{day}") - date(year, 1, 1)).days * DAY_S
