"""The four seasons of a simulated year, as somebody without a meter meets them."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from sim.figures.causes import Stop, hours_by_day, whole_stretches
from sim.figures.lanes import RUNS_AT_LEAST_H
from sim.figures.measures import Measures
from sim.figures.series import HOURS_A_DAY, by_day, by_month
from sim.language import mark, say
from sim.studies.result import YearResult
from sim.weather import Weather
from sim.words import about, lasting

NORTHERN = {
    mark("Spring"): (3, 4, 5),
    mark("Summer"): (6, 7, 8),
    mark("Autumn"): (9, 10, 11),
    mark("Winter"): (12, 1, 2),
}
REACHED = 0.95  # a day with this share of the wanted hours counts as a day on which they were reached; our own default
OFTEN = (
    (0.995, mark("every day")),
    (0.90, mark("nearly every day")),
    (0.65, mark("most days")),
    (0.35, mark("about half the days")),
    (0.10, mark("some days")),
    (0.0, mark("hardly any day")),
)
NIGHT_HOURS = slice(0, 6)  # after midnight, when the water holds least oxygen
NIGHT_STOP_H = 1.0  # a longer stop in those hours counts; our own default


@dataclass(frozen=True)
class Season:
    """A season's row: hours a day, how often the wanted hours are reached, and its longest stop, in words."""

    name: str
    hours_a_day: str
    reached: str
    longest_stop: str


def months_of(latitude_deg: float) -> dict[str, tuple[int, ...]]:
    """The months of each season, from spring on; south of the equator half a year later.

    >>> months_of(36.0)["Summer"], months_of(-36.0)["Summer"]
    ((6, 7, 8), (12, 1, 2))
    """
    later = 0 if latitude_deg >= 0.0 else 6
    return {name: tuple((month - 1 + later) % 12 + 1 for month in months) for name, months in NORTHERN.items()}


def season_of(latitude_deg: float, month: int) -> str:
    """The name of a month's season.

    >>> season_of(50.0, 1), season_of(-50.0, 1)
    ('Winter', 'Summer')
    """
    return next(name for name, months in months_of(latitude_deg).items() if month in months)


def how_often(share: float) -> str:
    """A share of days in words.

    >>> how_often(1.0), how_often(0.5), how_often(0.02)
    ('every day', 'about half the days', 'hardly any day')
    """
    return next(say(words) for least, words in OFTEN if share >= least)


def longest_by_season(stops: Iterable[Stop], months: np.ndarray, latitude_deg: float) -> dict[str, float]:
    """The longest time without running that began in each season, h; ``months`` is the month of every hour."""
    begun, ended = whole_stretches(stops).T
    month = months[np.minimum(begun.astype(int), len(months) - 1)]
    lasted, seasons = ended - begun, months_of(latitude_deg).items()
    return {name: float(lasted[np.isin(month, inside)].max(initial=0.0)) for name, inside in seasons}


def seasons_of(result: YearResult) -> tuple[Season, ...]:
    """The year's seasons."""
    year, latitude = result.measures, result.weather.latitude_deg
    days = year.months[::24]
    longest = longest_by_season(year.stops.but_causes("seasonal"), year.months, latitude)
    stops = {name: lasting(hours) if hours else say("none") for name, hours in longest.items()}
    seasons = months_of(latitude).items()
    return tuple(Season(say(name), *_row(result, np.isin(days, months)), stops[name]) for name, months in seasons)


def _row(result: YearResult, chosen: np.ndarray) -> tuple[str, str]:
    """Mean hours a day, and how often the wanted hours are reached, on the chosen days."""
    year = result.measures
    wanted = year.wanted_by_day[chosen]
    serving = ~in_break(year)[chosen]
    if not serving.any():
        return say("about {hours}", hours=about(0.0)), say("planned break")
    asked = (wanted > 0.0) & serving
    met = year.met_by_day[chosen][asked] >= REACHED * wanted[asked]
    run = float(year.pump_hours_by_day[chosen].mean())
    often = how_often(float(met.mean())) if asked.any() else say("none wanted")
    return say("about {hours}", hours=about(run)), often


def in_break(year: Measures) -> np.ndarray:
    """(days,) whether the season's break takes the whole day."""
    off_h = hours_by_day(year.stops.of_causes("seasonal"), len(year.pump_hours_by_day)).sum(axis=1)
    return np.asarray(off_h > HOURS_A_DAY - RUNS_AT_LEAST_H)


def months_in_service(year: Measures) -> np.ndarray:
    """(12,) whether the season's break leaves half of a month; all where it leaves half of none."""
    serving = by_month(~in_break(year), year.months[::HOURS_A_DAY]) >= 0.5 * year.days_by_month
    return serving if serving.any() else np.ones(12, bool)


def still_nights(result: YearResult) -> tuple[int, int]:
    """Nights of the summer in which the pump stands more than an hour between midnight and six, and all of them."""
    year = result.measures
    summer = np.isin(year.months[::24], months_of(result.weather.latitude_deg)["Summer"])
    ran = by_day(year.run_h)[summer][:, NIGHT_HOURS].sum(axis=1)
    return int((6.0 - ran > NIGHT_STOP_H).sum()), int(summer.sum())


def frost(weather: Weather) -> tuple[int, int] | None:
    """The first frosty day after the summer and the last before the next one, counted from 0 in the calendar year."""
    cold = weather.temp_air.reshape(-1, 24).min(axis=1) < 0.0
    summer = len(cold) // 2 if weather.latitude_deg >= 0.0 else 0
    found = np.flatnonzero(np.roll(cold, -summer))
    if not len(found):
        return None
    return int(found[0] + summer) % len(cold), int(found[-1] + summer) % len(cold)
