"""The client's page: what to expect, what to do, what to leave alone, for a reader who knows nothing of electricity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.figures.causes import PLANNED, Stops, longest_unplanned, whole_stretches
from sim.figures.lanes import RUNS_AT_LEAST_H
from sim.language import ENGLISH, month_name, month_signs, say, spoken
from sim.report import charts
from sim.report.blocks import Fact, Figure, Key, tabled
from sim.report.client_rows import calendar, settings, upkeep
from sim.report.client_words import (
    ALIKE,
    ALL_IN,
    ASKED,
    ASKED_BY_MONTH,
    BEST_AND_WORST,
    BETWEEN,
    BEYOND,
    BREAK,
    COARSE_WEATHER,
    EVERY_NIGHT,
    FILTER,
    FILTER_BY_TIMER,
    FISH,
    FROM_WHEN,
    IDLE_DAYS,
    LOOKS,
    MAY_STAND,
    MOST_IN,
    NO_NIGHT,
    NOT_AT_ALL,
    POOR,
    POOR_AS_IT_WAS,
    PRACTICE,
    PURPOSE,
    QUIET,
    RECORDED_LINES,
    SOME_NIGHTS,
    START_FOLLOWS,
    START_SETTLED,
    START_WRITTEN,
    SUMMER_NIGHTS,
    THIN_LINES,
    TYPICAL_WEATHER,
    WARM_NIGHTS,
    WITHOUT_NIGHT,
)
from sim.report.seasons import (
    Season,
    in_break,
    months_in_service,
    months_of,
    season_of,
    seasons_of,
    still_nights,
)
from sim.report.standing import outside, poor_no_poorer, rank
from sim.words import about, at_most, date_of, figure, lasting, percent

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.many_years import ManyYears
    from sim.studies.result import YearResult

NOTHING_H = 0.05  # hours a day that round to nothing
ALWAYS_MET = 0.995  # of the wanted hours
LONGER_H = 1.0  # a day more than asked
WHOLE_DAY = ("00:00", "24:00")
NEAR_FROST_C = 4.0  # another year may well have frost; our own default
COUNTED_STOP_H = 1.0  # shorter ones nobody waits for
BACK_SHARE = 0.9  # of the stops after which the water is back


@dataclass(frozen=True)
class ClientPage:
    """The first page."""

    promise: str
    asked: str
    beyond: str
    seasons: tuple[Season, ...]
    months: Figure
    poor: str
    stop: str
    consequences: tuple[str, ...]
    wait: str
    timed: bool
    settings: tuple[Fact, ...]
    calendar: tuple[Fact, ...]
    upkeep: tuple[Fact, ...]
    rests_on: str
    practice: str
    source: str


def client_page(result: YearResult) -> ClientPage:
    """The client's page of a year."""
    stop, lasted_h, planned = _stop(result)
    return ClientPage(
        promise=promise(result),
        asked=_asked(result),
        beyond=_beyond(result),
        seasons=seasons_of(result),
        months=months_figure(result),
        poor=_poor(result),
        stop=stop,
        consequences=_consequences(result, lasted_h, planned),
        wait=_wait(result.measures.stops),
        timed=result.scenario.controller.load_mode != "always",
        settings=settings(result),
        calendar=calendar(result),
        upkeep=upkeep(result),
        rests_on=_rests_on(result),
        practice=say(PRACTICE) if spoken() != ENGLISH else "",
        source=result.weather.source,
    )


def _rests_on(result: YearResult) -> str:
    """What the promise takes for granted: dirt, snow and faults are simulated where the scenario names them."""
    scenario = result.scenario
    care = scenario.care
    panel = say("dirt and snow as expected") if care.soiling_per_month or care.snow else say("a clean panel")
    faults = say("and only the expected faults") if care.fault else say("and nothing broken")
    weather = say(COARSE_WEATHER if scenario.weather.coarse else TYPICAL_WEATHER)
    told = say("It rests on {weather}, {panel}, a new battery {faults}.", weather=weather, panel=panel, faults=faults)
    return f"{told} {_start(result)}"


def _start(result: YearResult) -> str:
    """With which charge the year begins, and why."""
    start, written = result.measures.start, result.scenario.battery.initial_soc is not None
    said = START_SETTLED if start.settled else START_WRITTEN if written else START_FOLLOWS
    return say(said, share=percent(start.soc))


def promise(result: YearResult) -> str:
    """Hours a day in the best and the worst month, in a sentence; of a coarse climate only a first estimate."""
    year, coarse = result.measures, bool(result.scenario.weather.coarse)
    run = np.where(months_in_service(year), year.hours_a_day, np.nan)
    said = {"most": about(np.nanmax(run)), "least": about(np.nanmin(run))}
    if said["most"] == said["least"]:
        return say(ALIKE[coarse], most=said["most"])
    best, worst = (month_name(int(month) + 1) for month in (np.nanargmax(run), np.nanargmin(run)))
    if np.nanmin(run) < NOTHING_H:
        return say(NOT_AT_ALL[coarse], most=said["most"], best=best, worst=worst)
    return say(BEST_AND_WORST[coarse], **said, best=best, worst=worst)


def _asked(result: YearResult) -> str:
    """What it is for, what was asked for, the break that is planned, and the other days without any running."""
    need, year = result.scenario.need, result.measures
    low, high = min(need.hours_per_day), max(need.hours_per_day)
    hours = {"low": figure(low, "g"), "high": figure(high, "g")}
    window = "" if need.between == WHOLE_DAY else say(BETWEEN, begin=need.between[0], end=need.between[1])
    asked = say(ASKED if low == high else ASKED_BY_MONTH, **hours, window=window)
    idle = np.flatnonzero((year.pump_hours_by_day < RUNS_AT_LEAST_H) & ~in_break(year))
    return " ".join(filter(None, (_purpose(result.scenario), asked, _break(result.scenario), _idle(result, idle))))


def _purpose(scenario: Scenario) -> str:
    """What the water is for, and when it should be quiet."""
    water, quiet = scenario.water, scenario.need.quiet
    living = (False, False) if water is None else (water.fish, water.filter is not None)
    said = say(PURPOSE.get(living, LOOKS))
    return said if quiet is None else f"{said} {say(QUIET, begin=quiet[0], end=quiet[1])}"


def _break(scenario: Scenario) -> str:
    """The season's break, as planned."""
    care = scenario.care
    if care.shut_down is None or care.start_up is None:
        return ""
    return say(BREAK, first=date_of(care.shut_down), last=date_of(care.start_up))


def _idle(result: YearResult, days: np.ndarray) -> str:
    """The days without any running."""
    if not len(days):
        return say("In a typical year there is no day without running.")
    if len(days) == 1:
        return say("Expect no running at all on one day a year.")
    return say(IDLE_DAYS, days=f"{len(days)}", mostly=_mostly(result, days))


def _beyond(result: YearResult) -> str:
    """Why it runs longer than asked in some months and shorter in others; nothing where it is never short."""
    year = result.measures
    longer = bool((year.hours_a_day > year.wanted_a_day + LONGER_H).any())
    return say(BEYOND) if longer and year.hours_met_share < ALWAYS_MET else ""


def _mostly(result: YearResult, days: np.ndarray) -> str:
    """The season in which most of some days lie."""
    latitude = result.weather.latitude_deg
    names = [season_of(latitude, int(month)) for month in result.measures.months[::24][days]]
    most = max(names, key=names.count)
    return say((ALL_IN if names.count(most) == len(names) else MOST_IN)[most])


def months_figure(result: YearResult) -> Figure:
    """Twelve bars of the typical year, and over them what eight in ten of many years lie between."""
    typical, wanted = result.measures.hours_a_day, result.measures.wanted_a_day
    span = result.many.hours_a_day if result.many else None
    said = _in_many(result.many) if result.many else say("Hours a day in a typical year.")
    many = ((say("P10, h a day"), span.p10, ".1f"), (say("P90, h a day"), span.p90, ".1f")) if span else ()
    columns = ((say("Typical year, h a day"), typical, ".1f"), *many, (say("Wanted, h a day"), wanted, ".1f"))
    keys = (Key("ink", say("eight years in ten")),) if span else ()
    low_high = np.array((span.p10, span.p90)) if span else None
    return Figure(
        charts.client_months(typical, wanted, (say("Hours a day by month"), said), low_high),
        said,
        (Key("water", say("typical year")), *keys, Key("line", say("asked for"))),
        tabled(say("Month"), month_signs(), *columns),
    )


def _in_many(many: ManyYears[YearResult]) -> str:
    """What the thin lines are, and where the typical year stands."""
    lines = say(THIN_LINES if many.synthetic else RECORDED_LINES, years=f"{many.years}")
    return " ".join(filter(None, (lines, rank(many), outside(many))))


def _poor(result: YearResult) -> str:
    """The poor year in a sentence, and why where it is no poorer."""
    many = result.many
    if many is None:
        return say("A poor year was not worked out for this page. It brings less, above all in the dull months.")
    poor, year = many.poor_year.measures, result.measures
    mean, less = (it.pump_hours / len(it.pump_hours_by_day) for it in (year, poor))
    named = {} if many.synthetic else {"year": f"{many.names[many.poor]}", "years": f"{many.years}"}
    said = say(
        POOR_AS_IT_WAS if named else POOR,
        **named,
        less=figure(less, ".1f"),
        poor=percent(poor.hours_met_share),
        mean=figure(mean, ".1f"),
        usual=percent(year.hours_met_share),
    )
    return " ".join(filter(None, (said, poor_no_poorer(many))))


def _stop(result: YearResult) -> tuple[str, float, bool]:
    """The longest expected stop in words, how long it lasts, h, and whether the timer makes it."""
    stops = result.measures.stops
    found = longest_unplanned(stops)
    if found is not None:
        begun, lasted_h = found[0], found[1] - found[0]
        season = season_of(result.weather.latitude_deg, int(result.measures.months[int(begun)]))
        return say(MAY_STAND[season], long=at_most(lasted_h), from_when=_from_when(result, season)), lasted_h, False
    planned = float(stops.of_causes("schedule").hours.max(initial=0.0))
    if planned:
        return (
            say("Only the timer stops it in a typical year, for {long} at most.", long=lasting(planned)),
            planned,
            True,
        )
    return say("In a typical year it never stops."), 0.0, False


def _from_when(result: YearResult, season: str) -> str:
    """From which part of the day it mostly stands in a season, where most of the stops begin in one."""
    begun, ended = whole_stretches(result.measures.stops.but_causes(*PLANNED)).T
    months = months_of(result.weather.latitude_deg)[season]
    counted = (ended - begun >= COUNTED_STOP_H) & np.isin(result.measures.months[begun.astype(int)], months)
    parts = np.bincount((begun[counted] % 24.0 // 6.0).astype(int), minlength=4)
    most = int(parts.argmax())
    return say(FROM_WHEN[most]) if parts[most] > parts.sum() / 2 else ""


def _consequences(result: YearResult, lasted_h: float, planned: bool) -> tuple[str, ...]:
    """What the longest stop means for a filter and for fish, unless the scenario's water has none."""
    water = result.scenario.water
    return (
        *((_filter(lasted_h, planned),) if water is None or water.filter else ()),
        *((_fish(result),) if water is None or water.fish else ()),
    )


def _filter(lasted_h: float, planned: bool) -> str:
    """What a stop does to a filter; one that comes every day does something else than one that comes once."""
    if planned and lasted_h >= FILTER[1][0]:
        return say(FILTER_BY_TIMER)
    return next(say(words) for least, words in FILTER if lasted_h >= least)


def _fish(result: YearResult) -> str:
    """What the pump's stops mean for fish: in warm water after midnight they have least to breathe."""
    water = result.measures.pond
    if water is None:
        said, (still, nights) = SUMMER_NIGHTS, still_nights(result)
    else:
        still, nights = water.temperature.warm_night_stops, water.temperature.warm_nights
        said = WARM_NIGHTS
    fish = say(said, still=f"{still}", nights=f"{nights}") if still else say(FISH)
    return f"{fish} {_all_night(result)}" if water is not None else fish


def _all_night(result: YearResult) -> str:
    """Whether the water runs all night in the warmest month of the calendar's summer."""
    month = months_of(result.weather.latitude_deg)["Summer"][1]
    share = result.measures.nights.full[month - 1]
    said = {0.0: NO_NIGHT, 1.0: EVERY_NIGHT}.get(share, SOME_NIGHTS) if np.isfinite(share) else WITHOUT_NIGHT
    return say(said, month=month_name(month), share=percent(share))


def _wait(stops: Stops) -> str:
    """How soon the water is back by itself after the battery ran low."""
    begun, ended = whole_stretches(stops.but_causes(*PLANNED)).T
    lasted = (ended - begun)[ended - begun >= COUNTED_STOP_H]
    if not len(lasted):
        return say("It comes back by itself.")
    within = lasting(float(np.quantile(lasted, BACK_SHARE)))
    return say("Nine times in ten it is back by itself within {long}.", long=within)
