"""The client's page's rows: settings as left, the calendar, how long things last and what a year costs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.catalogue import chemistries
from sim.language import mark, month_name, say
from sim.report.blocks import Fact
from sim.report.client_words import FROSTY, KEPT, TOP_UP
from sim.report.seasons import frost
from sim.report.sheet import load_mode
from sim.studies.cost import kept_up
from sim.units import Quantity, system
from sim.weather.sun import facing_deg
from sim.words import date_of, day, facing, figure, years

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.result import YearResult

NEAR_FROST_C = 4.0  # another year may well have frost; our own default


def upkeep(result: YearResult) -> tuple[Fact, ...]:
    """How long battery and pump last, and what a year costs where prices are known."""
    prices = result.scenario.cost
    kept = kept_up(prices, result.scenario, result.measures)
    parts = ", ".join(say(words) for words, paid in zip(KEPT, kept, strict=True) if paid)
    paid = say("about {cost}: {parts}", cost=f"{kept.total:.0f} {prices.currency}".strip(), parts=parts)
    life = years(result.measures.battery.stress.life_years)
    return (
        Fact(say("Battery"), say("expected to last {life}", life=life)),
        Fact(say("Pump"), say("small ones often last 1–3 years")),
        *((Fact(say("Cost a year"), paid),) if kept.total > 0.0 else ()),
    )


def settings(result: YearResult) -> tuple[Fact, ...]:
    """What was set, in the order in which a controller asks for it, and blanks for what nobody told."""
    scenario = result.scenario
    control, battery, panel = scenario.controller, scenario.battery, scenario.panel
    kind = say(chemistries()[battery.chemistry]["words"])
    towards = facing_deg(panel.azimuth_deg, result.weather.latitude_deg)
    stops, again, watts = (
        figure(value, "g") for value in (control.load_disconnect_v, control.load_reconnect_v, panel.power_w)
    )
    panels = f"{panel.count} × {watts} W" if panel.count > 1 else f"{watts} W"
    tilt = figure(panel.tilt_deg, "g")
    return (
        Fact(say("Battery type"), f"{kind}, {battery.nominal_v} V, {figure(battery.capacity_ah, 'g')} Ah"),
        Fact(say("Pump stops at"), say("{volts} V (load disconnect)", volts=stops)),
        Fact(say("… runs again at"), say("{volts} V (load reconnect)", volts=again)),
        Fact(say("Timer mode"), _timer(scenario)),
        Fact(
            say("Panel"),
            say("{panels}, tilt {tilt}°, facing {towards}", panels=panels, tilt=tilt, towards=facing(towards)),
        ),
        Fact(say("Fuses"), _fuses(result)),
        Fact(say("Valve"), _valve(result)),
    )


def _timer(scenario: Scenario) -> str:
    """How the load is switched, and when it must be off."""
    mode, quiet = load_mode(scenario.controller), scenario.need.quiet
    return mode if quiet is None else f"{mode}; {say('off from {begin} to {end}', begin=quiet[0], end=quiet[1])}"


def _fuses(result: YearResult) -> str:
    """The fuses that the scenario names; empty where it names none."""
    battery_a, pump_a = result.scenario.battery.cable.fuse_a, result.scenario.pump.cable.fuse_a
    fitted = ((battery_a, mark("{size} A at the battery")), (pump_a, mark("{size} A to the pump")))
    return ", ".join(say(words, size=figure(size_a, "g")) for size_a, words in fitted if size_a)


def _valve(result: YearResult) -> str:
    """How far the branch's valve is open; empty where there is none in the scenario."""
    pond = result.scenario.water
    if not (pond and pond.branch):
        return ""
    return say("of the branch, {share} open", share=say("{share} %", share=figure(pond.branch.opening_percent, "g")))


def calendar(result: YearResult) -> tuple[Fact, ...]:
    """What to do when."""
    care = result.scenario.care
    dated = (
        (say("Panel cleaning"), care.panel_cleaning),
        (say("Trimming"), care.trimming),
        (say("Filter rinse"), care.filter_rinse),
    )
    return (
        Fact(say("Every month"), say("Wipe the panel. Rinse intake and filter.")),
        Fact(say("Topping up"), _top_up(result)),
        *(Fact(title, ", ".join(map(date_of, days))) for title, days in dated if days),
        Fact(
            say("Spring, autumn"),
            say("Terminals tight? Cables and fuses sound and cool? Both voltages as here? Trim what shades the panel."),
        ),
        Fact(say("Autumn"), say("A net over the water before the leaves fall.")),
        *_winter(result),
    )


def _top_up(result: YearResult) -> str:
    """Litres a week in the months with most and least evaporation, and when a leak is likely."""
    if result.measures.pond is None:
        return say("Look at the water level; a level that keeps falling means a leak.")
    weekly = result.measures.pond.top_up_l_per_week
    most, least = (
        say(TOP_UP[system()], amount=Quantity(weekly[k], "l", ".0f").bare, month=month_name(k + 1))
        for k in (int(weekly.argmax()), int(weekly.argmin()))
    )
    rain = "" if result.measures.pond.rain_mm is None else say(", more without rain")
    return say("About {most}, {least}{rain}; twice as much means a leak.", most=most, least=least, rain=rain)


def _winter(result: YearResult) -> tuple[Fact, ...]:
    """The dates of the season where they are known, otherwise those of frost."""
    care, index = result.scenario.care, result.weather.index
    if care.shut_down is not None and care.start_up is not None:
        return (
            Fact(date_of(care.shut_down), say("Switch off for the season; keep the pump wet, free of frost.")),
            Fact(date_of(care.start_up), say("Clean everything and start again.")),
        )
    dates = frost(result.weather)
    if dates is None:
        near = float(result.weather.temp_air.min()) < NEAR_FROST_C
        rare = say("Hardly any frost here; after one, look for ice at pump and outlet.")
        return (Fact(say("Winter"), rare),) if near else ()
    first, last = (day(index, number_of_day) for number_of_day in dates)
    return (Fact(say("Frost"), say(FROSTY, first=first, last=last)),)
