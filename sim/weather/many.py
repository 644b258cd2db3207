"""Years of a place that differ as real ones do, one after the other: a chain in which any year can be had by itself.

A year of a seed and a number is the same whichever others are made. It follows the year before it and leads on to the
next without a seam, in days as in months, since it is worked out from the noise of all three.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.catalogue import world
from sim.errors import InputError
from sim.units import Quantity, sentence
from sim.weather.clearness import correlated
from sim.weather.dates import DAY_H
from sim.weather.monthly import MONTHS, MonthlyMeans, monthly_means
from sim.weather.synthesis import WIND_MS, Days, Maker, Seed, maker_of, normals
from sim.weather.varying import (
    LAG_1,
    MOST,
    USUAL_MOST,
    Mixture,
    Month,
    coefficient,
    disturbance,
    mixture,
    month_of,
    recorded_coefficients,
    usual_coefficients,
)
from sim.weather.warmth import Yearly, Years, free_c, monthly, yearly_of
from sim.weather.weather import Doubt, Site, Weather
from sim.weather.year import weathers_for

__all__ = ["FIRST", "Chain", "Climate", "climate_for", "many_years", "seed_of", "years_for"]

FIRST = -1  # the lowest number of a year, so that year 0 can have one before it to settle in
KEY = "weather.monthly.year_to_year"
_AWAY = 2 - FIRST  # from a number to what is added to the seed: its neighbours' must not be 0, which would add nothing
_WINDOW = 3  # the year before, the year, the year after
_MADE = (
    "This is no year that was: it was made around twelve monthly means, which its months hit only on average over many "
    "years. Daily clearness after Bendt, Collares-Pereira & Rabl, from day to day and month to month as recorded years "
    "vary; hours after Collares-Pereira & Rabl with the disturbances of Graham & Hollands; beam and diffuse by "
    "Maxwell's DISC.",
    sentence(
        "Days and nights of the air, and how far its months lie from their means, are our own defaults; the wind is "
        "{wind} always.",
        wind=Quantity(WIND_MS, "m_s", "g"),
    ),
)


class Climate(NamedTuple):
    """Twelve means, and twelve coefficients of variation of the months' light or None for the usual ones.

    ``asked`` says that a scenario states the coefficients, which are then met or refused, and not approached.
    """

    means: MonthlyMeans
    year_to_year: tuple[float, ...] | None = None
    asked: bool = False


def many_years(climate: Climate, site: Site, year: int = 2001, seed: Seed = 1, file: str = "monthly means") -> Chain:
    """Makes the years of a seed by their number, -1, 0, 1, 2 …, all dated in ``year``.

    Months of light vary about their means with ``climate.year_to_year``, or as they usually do at such a place; the air
    goes with them. Raises InputError, naming ``file``, the month and the limit, for a mean above what the sky can give
    and for a coefficient that is asked for and too large.

    >>> means = MonthlyMeans((2.0, 3.0, 4.0, 5.0, 6.0, 6.5, 6.0, 5.5, 4.5, 3.5, 2.5, 2.0), (10.0,) * 12)
    >>> chain = many_years(Climate(means), Site(40.0, 0.0, 100.0, 0.0), seed=7)
    >>> light = [float(chain(number).ghi[: 31 * 24].sum()) / 31000 for number in range(200)]
    >>> bool(abs(np.mean(light) - 2.0) < 0.05), bool(0.15 < np.std(light) < 0.30)
    (True, True)
    """
    maker = maker_of(climate.means, site, year, file, wide=True)
    days = maker.days
    months = _months(days)
    if climate.asked and climate.year_to_year is not None:
        _check_reachable(file, months, climate.year_to_year)
    usual = climate.year_to_year is None
    asked = usual_coefficients(site.latitude_deg, days.mean) if usual else np.array(climate.year_to_year)
    mixed = mixture(months, asked, USUAL_MOST if usual else MOST)
    yearly = yearly_of(maker.course, days.month, site.latitude_deg, mixed.mean_sd)
    return Chain(maker, mixed, yearly, (seed,) if isinstance(seed, int) else tuple(seed))


def seed_of(scenario: Any) -> int:
    """The seed that the scenario's monthly means name, or 1."""
    return scenario.weather.monthly.seed if scenario.weather.monthly else 1


def years_for(scenario: Any, weathers: Sequence[Weather] | None = None, seed: Seed | None = None) -> YearMaker:
    """Makes the years of a scenario by their number, from -1 on; ``weathers`` are its own, where they have been read.

    ``seed`` stands in place of that of its monthly means, or of 1. A year says whose means it has, and how coarse they
    are where they are the world climate's; what is doubtful about recorded years is so about those made from them.
    """
    own = scenario.weather
    years = weathers_for(scenario) if weathers is None else weathers
    first = years[0]
    seed = seed_of(scenario) if seed is None else seed
    make = many_years(climate_for(scenario, years), first.site, own.year, seed, str(scenario.path))
    coarse, doubts = (own.coarse,) if own.coarse else (), first.doubts
    around = first.source if own.monthly is None else world.SOURCE if coarse else ""
    return YearMaker(make, around, first.licence, coarse, doubts)


@dataclass(frozen=True, eq=False)
class YearMaker:
    """Makes a year of a chain from its number, and says whose means it has ``around`` it, and what is to be known."""

    make: Chain
    around: str
    licence: str
    coarse: tuple[str, ...]
    doubts: tuple[Doubt, ...]

    def __call__(self, number: int) -> Weather:
        """The year of this number, from -1 on."""
        made = self.make(number)
        source = f"{made.source} of: {self.around}" if self.around else made.source
        notes = (*self.coarse, *made.notes)
        return replace(made, source=source, licence=self.licence, notes=notes, doubts=self.doubts)


def climate_for(scenario: Any, weathers: Sequence[Weather] | None = None) -> Climate:
    """The means of a scenario and how they vary from year to year.

    With ``[weather.monthly]`` they are those that it states. Otherwise the months of its weather (``weathers``, where
    they have been read already), averaged over its years, are the means; five or more recorded years have coefficients
    of their own, and fewer, like a typical year, have the usual ones.
    """
    asked = scenario.weather.monthly
    if asked is not None:
        return Climate(MonthlyMeans(asked.daily_ghi_kwh_m2, asked.temp_air_c), asked.year_to_year, asked=True)
    years = weathers_for(scenario) if weathers is None else weathers
    columns = zip(*(monthly_means(weather) for weather in years), strict=True)
    means = MonthlyMeans(*(tuple(np.mean(column, axis=0).tolist()) for column in columns))
    return Climate(means, recorded_coefficients(years))


@dataclass(frozen=True, eq=False)
class Chain:
    """Makes a year of a chain from its number; everything here is shared.

    ``mixture`` has the coefficients of variation of the months as they come out.
    """

    maker: Maker
    mixture: Mixture
    yearly: Yearly
    seed: tuple[int, ...]

    def __call__(self, number: int) -> Weather:
        """The year of this number, from -1 on."""
        years, of_hours = self._years(number), self._hours(number)
        temp_air = free_c(years._replace(clear=self.maker.days.over_mean(years.clear)), self.maker.course, self.yearly)
        seed = self.seed[0] if len(self.seed) == 1 else self.seed
        source = f"synthetic year {number} of seed {seed} around twelve monthly means"
        return self.maker.weather(years.clear[1], of_hours, temp_air, source, _MADE)

    def clearness(self, number: int) -> np.ndarray:
        """(days,) daily clearness of a year, without its hours."""
        return np.asarray(self._years(number).clear[1])

    @property
    def _ends(self) -> np.ndarray:
        """Where the parts of a year's noise end: days of light and of air, months' light (2) and air, hours."""
        days = len(self.maker.days.month)
        return np.cumsum([days, days, MONTHS, MONTHS, MONTHS, days * DAY_H])

    def _normals(self, number: int, count: int) -> np.ndarray:
        """The first numbers of a year's noise."""
        return normals((*self.seed, number + _AWAY), count)

    def _hours(self, number: int) -> np.ndarray:
        *_, first, last = self._ends
        return self._normals(number, last)[first:]

    def _years(self, number: int) -> Years:
        """The year and its neighbours, with the clearness as it is."""
        *ends, last, _ = self._ends
        noise = [np.split(self._normals(near, last), ends) for near in range(number - 1, number + 2)]
        light, of_air, near, alone, own = (np.array(part) for part in zip(*noise, strict=True))
        scores = self._scores(light, disturbance(near.ravel()), alone.ravel())
        bright = monthly(scores, self.maker.days.month) / np.tile(self.mixture.mean_sd, _WINDOW)
        return Years(self.maker.days.at(scores), scores, of_air, bright, disturbance(own.ravel()))

    def _scores(self, noise: np.ndarray, near: np.ndarray, alone: np.ndarray) -> np.ndarray:
        """(3, days) scores of light of three years, from noise of days (3, days) and disturbances of months (36,)."""
        month = self.maker.days.month
        driver = correlated(noise.ravel(), LAG_1).reshape(noise.shape)
        kept, of_near, of_alone = (np.tile(part, _WINDOW) for part in self.mixture[:3])
        added = of_near * near + of_alone * alone - (1.0 - kept) * monthly(driver, month)
        return np.asarray(self.mixture.scale * (driver + added.reshape(_WINDOW, MONTHS)[:, month]))


def _months(days: Days) -> list[Month]:
    """Each month as the distribution of its middle day."""
    middle = [int(np.median(np.flatnonzero(days.month == month))) for month in range(MONTHS)]
    count = np.bincount(days.month, minlength=MONTHS)
    return [
        month_of(float(days.low[day]), float(days.high[day]), float(days.steepness[day]), int(size))
        for day, size in zip(middle, count, strict=True)
    ]


def _check_reachable(file: str, months: Sequence[Month], asked: Sequence[float]) -> None:
    """A coefficient with which the days of a month would hardly differ from each other is an error."""
    for number, (month, one) in enumerate(zip(months, asked, strict=True)):
        most = coefficient(month, MOST)
        if month.mean > 0.0 and one > most:
            allowed = f"0 to {most:.3f} in {MONTH_NAMES[number]}, with which half of what days differ by is the month's"
            raise InputError(file, f"{KEY}[{number}]", one, allowed)
