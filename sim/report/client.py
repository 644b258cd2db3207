"""The client's page: what to expect, what to do, what to leave alone, for a reader who knows nothing of electricity."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.catalogue import chemistries
from sim.figures.causes import Stop, Stops, longest_of, whole_stretches
from sim.figures.lanes import RUNS_AT_LEAST_H
from sim.report import charts
from sim.report.blocks import Fact, Figure, Key, by_month
from sim.report.seasons import Season, months_of, season_of, seasons_of, still_nights
from sim.report.sheet import load_mode
from sim.report.standing import outside, poor_no_poorer, rank
from sim.studies.money import kept_up
from sim.units import Quantity, in_full
from sim.weather.sun import facing_deg
from sim.words import about, at_most, date_of, day, facing, lasting, percent, years

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.many_years import ManyYears
    from sim.studies.result import YearResult
    from sim.weather import Weather

NOTHING_H = 0.05  # hours a day that round to nothing
ALWAYS_MET = 0.995  # of the wanted hours
LONGER_H = 1.0  # a day more than asked
BEYOND = (
    "It runs on beyond the hours you asked for whenever the battery allows; sunny months cannot make up for dull ones."
)
WHOLE_DAY = ("00:00", "24:00")
PARTS_OF_DAY = ("night", "morning", "afternoon", "evening")  # six hours each
PLANNED = ("schedule", "seasonal")
NEAR_FROST_C = 4.0  # another year may well have frost; our own default
COUNTED_STOP_H = 1.0  # shorter ones nobody waits for
BACK_SHARE = 0.9  # of the stops after which the water is back
# What a stop does to a filter's bacteria; the hours differ between advisers, these are our own defaults
FILTER = (
    (24.0, "Rinse the filter before the pump feeds it again: after a day without flow what lived in it has died."),
    (6.0, "The filter suffers: expect cloudy water for some days afterwards."),
    (2.0, "The filter notices it, but recovers by itself."),
    (0.0, "Too short to harm a filter."),
)
TYPICAL_WEATHER = "one typical year of weather"
COARSE_WEATHER = "a coarse climate of the place (light ± 10 % a month, ± 20 % in dull ones)"
FILTER_BY_TIMER = "A filter that lives on flowing water does not thrive on such stops every day."


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
        settings=_settings(result),
        calendar=_calendar(result),
        upkeep=_upkeep(result),
        rests_on=_rests_on(result.scenario),
        source=result.weather.source,
    )


def _rests_on(scenario: Scenario) -> str:
    """What the promise takes for granted: dirt, snow and faults are simulated where the scenario names them."""
    care = scenario.care
    panel = "dirt and snow as expected" if care.soiling_per_month or care.snow else "a clean panel"
    faults = "and only the expected faults" if care.fault else "and nothing broken"
    weather = COARSE_WEATHER if scenario.weather.coarse else TYPICAL_WEATHER
    return f"It rests on {weather}, {panel}, a new battery {faults}."


def _upkeep(result: YearResult) -> tuple[Fact, ...]:
    """How long battery and pump last, and what a year costs where prices are known."""
    prices = result.scenario.cost
    cost = kept_up(prices, result.scenario, result.measures)
    paid = f"about {cost:.0f} {prices.currency}".strip() + " for battery and cleaning"
    return (
        Fact("Battery", f"expected to last {years(result.measures.battery.stress.life_years)}"),
        Fact("Pump", "small ones often last 1–3 years"),
        *((Fact("Cost a year", paid),) if cost > 0.0 else ()),
    )


def promise(result: YearResult) -> str:
    """Hours a day in the best and the worst month, in a sentence; of a coarse climate only a first estimate."""
    begun = "As a first estimate, expect" if result.scenario.weather.coarse else "Expect"
    run = result.measures.hours_a_day
    best, worst = (MONTH_NAMES[int(month)] for month in (run.argmax(), run.argmin()))
    if about(run.max()) == about(run.min()):
        return f"{begun} the water to run about {about(run.max())} hours a day in every month."
    least = f"about {about(run.min())} hours a day" if run.min() >= NOTHING_H else "not at all"
    return f"{begun} the water to run about {about(run.max())} hours a day in {best} and {least} in {worst}."


def _asked(result: YearResult) -> str:
    """What was asked for, and the days without any running."""
    need, year = result.scenario.need, result.measures
    low, high = min(need.hours_per_day), max(need.hours_per_day)
    asked = f"{high:g} hours a day" if low == high else f"{low:g} to {high:g} hours a day, month by month,"
    idle = np.flatnonzero(year.pump_hours_by_day < RUNS_AT_LEAST_H)
    window = "" if need.between == WHOLE_DAY else f" between {need.between[0]} and {need.between[1]}"
    said = f"You asked for {asked}{window}. "
    if not len(idle):
        return said + "In a typical year there is no day without running."
    days = "one day" if len(idle) == 1 else f"about {len(idle)} days"
    return f"{said}Expect no running at all on {days} a year{_mostly(result, idle)}."


def _beyond(result: YearResult) -> str:
    """Why it runs longer than asked in some months and shorter in others; nothing where it is never short."""
    year, wanted = result.measures, np.asarray(result.scenario.need.hours_per_day)
    longer = bool((year.hours_a_day > wanted + LONGER_H).any())
    return BEYOND if longer and year.hours_met_share < ALWAYS_MET else ""


def _mostly(result: YearResult, days: np.ndarray) -> str:
    """The season in which most of some days lie."""
    latitude = result.weather.latitude_deg
    names = [season_of(latitude, int(month)) for month in result.measures.months[::24][days]]
    most = max(names, key=names.count)
    return (
        f", {'all' if names.count(most) == len(names) else 'most'} of them in {most.lower()}" if len(days) > 1 else ""
    )


def months_figure(result: YearResult) -> Figure:
    """Twelve bars of the typical year, and over them what eight in ten of many years lie between."""
    typical, wanted = result.measures.hours_a_day, np.asarray(result.scenario.need.hours_per_day)
    span = result.many.hours_a_day if result.many else None
    said = "Hours a day in a typical year" + (_in_many(result.many) if result.many else ".")
    many = (("P10, h a day", span.p10, ".1f"), ("P90, h a day", span.p90, ".1f")) if span else ()
    columns = (("Typical year, h a day", typical, ".1f"), *many, ("Wanted, h a day", wanted, ".1f"))
    keys = (Key("ink", "eight years in ten"),) if span else ()
    low_high = np.array((span.p10, span.p90)) if span else None
    return Figure(
        charts.client_months(typical, wanted, ("Hours a day by month", said), low_high),
        said,
        (Key("water", "typical year"), *keys, Key("line", "asked for")),
        by_month(*columns),
    )


def _in_many(many: ManyYears[YearResult]) -> str:
    """What the thin lines are, and where the typical year stands."""
    lines = f"; a thin line is what eight in ten of {many.years} made-up years lie between in that month."
    return " ".join(filter(None, (lines, rank(many), outside(many))))


def _poor(result: YearResult) -> str:
    """The poor year in a sentence, and why where it is no poorer."""
    if result.many is None:
        return "A poor year was not worked out for this page. It brings less, above all in the dull months."
    poor, year = result.many.poor_year.measures, result.measures
    mean, less = (it.pump_hours / len(it.pump_hours_by_day) for it in (year, poor))
    said = (
        f"In a poor year, one in ten, it runs {less:.1f} hours a day on average and meets "
        f"{percent(poor.hours_met_share)} of the wanted hours; in a typical one {mean:.1f} and "
        f"{percent(year.hours_met_share)}."
    )
    return " ".join(filter(None, (said, poor_no_poorer(result.many))))


def longest_unplanned(stops: Iterable[Stop]) -> tuple[float, float] | None:
    """The longest time without running that neither timer nor season explains altogether.

    >>> off, low = Stop(0.0, 15.0, "schedule", 0.9, 13.2), Stop(20.0, 24.0, "night", 0.1, 12.2)
    >>> longest_unplanned((off, low, Stop(24.0, 39.0, "schedule", 0.1, 12.2))), longest_unplanned((off,))
    ((20.0, 39.0), None)
    """
    in_season = Stops.of(stops).but_causes("seasonal")
    surprising, found = in_season.but_causes(*PLANNED).table["from_h"], whole_stretches(in_season)
    if in_season.closes:
        surprising = np.concatenate((surprising, surprising + in_season.ring_h))
    inside = np.searchsorted(surprising, found[:, 1]) > np.searchsorted(surprising, found[:, 0])
    return longest_of(found[inside])


def _stop(result: YearResult) -> tuple[str, float, bool]:
    """The longest expected stop in words, how long it lasts, h, and whether the timer makes it."""
    found, stops = longest_unplanned(result.measures.stops), result.measures.stops
    if found is not None:
        begun, lasted_h = found[0], found[1] - found[0]
        season = season_of(result.weather.latitude_deg, int(result.measures.months[int(begun)]))
        said = f"In a typical {season.lower()} it may stand for up to {at_most(lasted_h)}{_from_when(result, season)}."
        return said, lasted_h, False
    planned = float(stops.of_causes("schedule").hours.max(initial=0.0))
    if planned:
        return f"Only the timer stops it in a typical year, for {lasting(planned)} at most.", planned, True
    return "In a typical year it never stops.", 0.0, False


def _from_when(result: YearResult, season: str) -> str:
    """From which part of the day it mostly stands in a season, where most of the stops begin in one."""
    begun, ended = whole_stretches(result.measures.stops.but_causes(*PLANNED)).T
    months = months_of(result.weather.latitude_deg)[season]
    counted = (ended - begun >= COUNTED_STOP_H) & np.isin(result.measures.months[begun.astype(int)], months)
    parts = np.bincount((begun[counted] % 24.0 // 6.0).astype(int), minlength=4)
    most = int(parts.argmax())
    return f", mostly from the {PARTS_OF_DAY[most]} on" if parts[most] > parts.sum() / 2 else ""


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
        return FILTER_BY_TIMER
    return next(words for least, words in FILTER if lasted_h >= least)


def _fish(result: YearResult) -> str:
    """What the pump's stops mean for fish: in warm water after midnight they have least to breathe."""
    water, need = result.measures.water, "Fish need a source of air that does not depend on this pump"
    if water is None:
        still, nights = still_nights(result)
        of = f"{still} of {nights} summer nights"
    else:
        still = water.temperature.warm_night_stops
        of = f"{still} of {water.temperature.warm_nights} nights with warm water"
    said = f"{need}: it stands in the small hours of {of}, when water holds least air." if still else f"{need}."
    return f"{said} {_all_night(result)}" if water is not None else said


def _all_night(result: YearResult) -> str:
    """Whether the water runs all night in the warmest month of the calendar's summer."""
    month = months_of(result.weather.latitude_deg)["Summer"][1]
    share = result.measures.nights.full[month - 1]
    if not np.isfinite(share):
        return f"In {MONTH_NAMES[month - 1]} there is no night."
    nights = "every night" if share == 1.0 else "no night" if share == 0.0 else f"{percent(share)} of the nights"
    return f"In {MONTH_NAMES[month - 1]} it runs from dusk to dawn without a stop in {nights}."


def _wait(stops: Stops) -> str:
    """How soon the water is back by itself after the battery ran low."""
    begun, ended = whole_stretches(stops.but_causes(*PLANNED)).T
    lasted = (ended - begun)[ended - begun >= COUNTED_STOP_H]
    if not len(lasted):
        return "It comes back by itself."
    return f"Nine times in ten it is back by itself within {lasting(float(np.quantile(lasted, BACK_SHARE)))}."


def _settings(result: YearResult) -> tuple[Fact, ...]:
    """What was set, in the order in which a controller asks for it, and blanks for what nobody told."""
    scenario = result.scenario
    control, battery, panel = scenario.controller, scenario.battery, scenario.panel
    kind = chemistries()[battery.chemistry]["words"]
    towards = facing_deg(panel.azimuth_deg, result.weather.latitude_deg)
    panels = f"{panel.count} × {panel.power_w:g} W" if panel.count > 1 else f"{panel.power_w:g} W"
    return (
        Fact("Battery type", f"{kind}, {battery.nominal_v} V, {battery.capacity_ah:g} Ah"),
        Fact("Pump stops at", f"{control.load_disconnect_v:g} V (load disconnect)"),
        Fact("… runs again at", f"{control.load_reconnect_v:g} V (load reconnect)"),
        Fact("Timer mode", load_mode(control)),
        Fact("Panel", f"{panels}, tilt {panel.tilt_deg:g}°, facing {facing(towards)}"),
        Fact("Fuses", _fuses(result)),
        Fact("Valve", _valve(result)),
    )


def _fuses(result: YearResult) -> str:
    """The fuses that the scenario names; empty where it names none."""
    battery_a, pump_a = result.scenario.battery.cable.fuse_a, result.scenario.pump.cable.fuse_a
    fitted = ((battery_a, "at the battery"), (pump_a, "to the pump"))
    return ", ".join(f"{size_a:g} A {place}" for size_a, place in fitted if size_a)


def _valve(result: YearResult) -> str:
    """How far the branch's valve is open; empty where there is none in the scenario."""
    pond = result.scenario.water
    return f"of the branch, {pond.branch.opening_percent:g} % open" if pond and pond.branch else ""


def frost(weather: Weather) -> tuple[int, int] | None:
    """The first frosty day after the summer and the last before the next one, counted from 0 in the calendar year."""
    cold = weather.temp_air.reshape(-1, 24).min(axis=1) < 0.0
    summer = len(cold) // 2 if weather.latitude_deg >= 0.0 else 0
    found = np.flatnonzero(np.roll(cold, -summer))
    if not len(found):
        return None
    return int(found[0] + summer) % len(cold), int(found[-1] + summer) % len(cold)


def _calendar(result: YearResult) -> tuple[Fact, ...]:
    """What to do when."""
    care = result.scenario.care
    dated = (
        ("Panel cleaning", care.panel_cleaning),
        ("Trimming", care.trimming),
        ("Filter rinse", care.filter_rinse),
    )
    return (
        Fact("Every month", "Wipe the panel. Rinse intake and filter."),
        Fact("Topping up", _top_up(result)),
        *(Fact(title, ", ".join(map(date_of, days))) for title, days in dated if days),
        Fact(
            "Spring, autumn",
            "Terminals tight? Cables and fuses sound and cool? Both voltages as here? Trim what shades the panel.",
        ),
        Fact("Autumn", "A net over the water before the leaves fall."),
        *_winter(result),
    )


def _top_up(result: YearResult) -> str:
    """Litres a week in the months with most and least evaporation, and when a leak is likely."""
    if result.measures.water is None:
        return "Look at the water level; a level that keeps falling means a leak."
    weekly = result.measures.water.top_up_l_per_week
    most, least = (
        f"{Quantity(weekly[k], 'l', '.0f').bare} {in_full('l')} a week in {MONTH_NAMES[k]}"
        for k in (weekly.argmax(), weekly.argmin())
    )
    rain = "" if result.measures.water.rain_mm is None else ", more without rain"
    return f"About {most}, {least}{rain}; twice as much means a leak."


def _winter(result: YearResult) -> tuple[Fact, ...]:
    """The dates of the season where they are known, otherwise those of frost."""
    care, index = result.scenario.care, result.weather.index
    if care.shut_down is not None and care.start_up is not None:
        return (
            Fact(date_of(care.shut_down), "Switch off for the season; keep the pump wet, free of frost."),
            Fact(date_of(care.start_up), "Clean everything and start again."),
        )
    dates = frost(result.weather)
    if dates is None:
        near = float(result.weather.temp_air.min()) < NEAR_FROST_C
        return (Fact("Winter", "Hardly any frost here; after one, look for ice at pump and outlet."),) if near else ()
    first, last = (day(index, number_of_day) for number_of_day in dates)
    return (Fact("Frost", f"here from about {first} to {last}: keep pump and pipe free of ice, or take them out."),)
