"""What the report on sizes says in sentences: the answer, what one size less costs, why this way to run it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.catalogue.controllers import KINDS
from sim.words import number, percent

if TYPE_CHECKING:
    from sim.studies.size import Sized, SizeResult
    from sim.studies.size_shop import Offer, Setting, Way


def volts(value: float) -> str:
    """A voltage as a controller shows it.

    >>> volts(12.2), volts(13.45)
    ('12.2 V', '13.45 V')
    """
    return f"{value:.2f}".rstrip("0").rstrip(".") + " V"


def panels(offer: Offer) -> str:
    """The array in words."""
    each, count = f"{offer.array.panel_w:g} W", offer.array.panels
    return f"a panel of {each}" if count == 1 else f"{count} panels of {each}"


def load(setting: Setting) -> str:
    """How the load is let run, in words."""
    if setting.load_mode == "clock":
        spans = " and ".join(f"{start} to {end}" for start, end in setting.load_windows)
        return f"by the clock from {spans}"
    return {"always": "by voltage alone", "daylight": "by daylight"}.get(setting.load_mode, setting.load_mode)


def pair(setting: Setting) -> str:
    """Both load voltages in words."""
    return f"off at {volts(setting.load_disconnect_v)} and on at {volts(setting.load_reconnect_v)}"


def bought(result: SizeResult, offer: Offer) -> str:
    """What is bought, in words."""
    battery = f"a battery of {offer.battery_ah:g} Ah at {result.scenario.battery.nominal_v} V"
    return f"{panels(offer)} at {offer.way.tilt_deg:g}°, {battery} and a {KINDS[offer.way.controller].words}"


def asked(result: SizeResult) -> str:
    """The promise in words."""
    it = result.promise
    month = "" if it.worst_met is None else f" and {percent(it.worst_met)} of each month's"
    return f"{percent(it.met)} of the wanted hours{month} in {percent(it.of_years)} of the years"


def money(result: SizeResult, price: float) -> str:
    """A price in the user's money, or a weight."""
    if result.shop.by_weight:
        return f"{price:,.0f} points"
    return f"{price:,.0f} {result.scenario.cost.currency}".strip()


def answer(result: SizeResult) -> str:
    """The answer in a sentence."""
    if result.chosen is None:
        return impossible(result)
    offer = result.chosen.offer
    setting = offer.way.setting
    return (
        f"Buy {bought(result, offer)}, and run the pump {load(setting)}, {pair(setting)}: that is the cheapest of what "
        f"may be bought that meets {asked(result)}."
    )


def impossible(result: SizeResult) -> str:
    """That nothing keeps the promise, and what the best would give."""
    best = result.best
    usual = best.mean_met_h / float(result.promise.wanted_h.sum())
    return (
        f"Nothing that may be bought meets {asked(result)}. The best, {bought(result, best.offer)}, run "
        f"{load(best.offer.way.setting)}, would keep that in {percent(best.share_of_years)} of the years. It would "
        f"meet {percent(usual)} of the wanted hours in the usual year, {percent(best.hours_met_share_p10)} in a poor "
        f"one (one in ten) and {percent(best.worst_month_met_p10)} in the worst month of that."
    )


def fresh_sentence(result: SizeResult) -> str:
    """In how many years the answer was checked."""
    if result.fresh is None or result.chosen is None:
        return ""
    fresh, first = result.fresh, result.chosen
    return (
        f"It was found in {first.years} synthetic years and checked in {fresh.years - first.years} that the search did "
        f"not know: it keeps the promise in {percent(fresh.share_of_years)} of all {fresh.years}. One year in ten "
        f"meets less than {percent(fresh.hours_met_share_p10)} of the wanted hours, and "
        f"{percent(fresh.worst_month_met_p10)} in its worst month."
    )


def less_sentences(result: SizeResult) -> tuple[str, ...]:
    """What one size less would cost in hours."""
    if result.chosen is None:
        return ()
    return tuple(_less(result.chosen, one, result) for one in result.less)


def _less(chosen: Sized, one: Sized, result: SizeResult) -> str:
    smaller = (
        panels(one.offer) if one.offer.array != chosen.offer.array else f"a battery of {one.offer.battery_ah:g} Ah"
    )
    mean, poor = chosen.mean_met_h - one.mean_met_h, chosen.poor_met_h - one.poor_met_h
    return (
        f"With {smaller} instead, {hours_fewer(mean)} wanted hours are met in the usual year and {hours_fewer(poor)} "
        f"in a poor one; it keeps the promise in {percent(one.share_of_years)} of the years and costs "
        f"{money(result, chosen.price - one.price)} less."
    )


def hours_fewer(hours: float) -> str:
    """So many hours fewer, or more.

    >>> hours_fewer(12.0), hours_fewer(-3.0), hours_fewer(0.2)
    ('12 fewer', '3.0 more', 'as many')
    """
    if abs(hours) < 0.5:
        return "as many"
    return f"{number(abs(hours))} {'fewer' if hours > 0.0 else 'more'}"


def way_name(way: Way) -> str:
    """A way to run it as the first cell of a row."""
    return f"{load(way.setting)}, {pair(way.setting)}"


def clock_sentence(result: SizeResult) -> str:
    """What the clock does for the same purchase."""
    best = result.chosen or result.best
    others = [one for one in result.otherwise if one.offer.way.setting.load_mode == "always"]
    if not others or best.offer.way.setting.load_mode == "always":
        return ""
    other = max(others, key=lambda one: one.poor_met_h)
    more = best.poor_met_h - other.poor_met_h
    return (
        f"A timer costs nothing: the same purchase run {load(best.offer.way.setting)} meets {number(abs(more))} wanted "
        f"hours {'more' if more >= 0.0 else 'fewer'} in a poor year than by voltage alone, whose pump runs on into the "
        "night and empties the battery for the next day."
    )


def rests_on(result: SizeResult) -> tuple[str, ...]:
    """What the answer rests on, and whom it could flatter."""
    size = result.shop.size
    blocks = result.scenario.battery.nominal_v / 12.0
    weights = (
        f"No prices of panel and battery are given in [cost], so weights stand for them: {size.weight_per_w:g} for "
        f"each watt, {size.weight_per_ah * blocks:g} for each ampere-hour, {size.weight_tracker:g} for a tracking "
        "controller. Other prices may lead to another answer."
    )
    prices = "Prices are those of [cost]; what is the same for all designs, such as pump and leads, is left out."
    return (
        weights if result.shop.by_weight else prices,
        "Years are made up around the climate's monthly means and differ as recorded years do. They follow one "
        "another, so that a dull December leaves January an emptier battery. They are the same for all designs.",
        "The battery is new and the leads are as they are written. Batteries fade: after some years it holds less, and "
        "the promise is then kept in fewer years.",
        "Panels of another power than the scenario's are taken as its panel with more or less current at the same "
        "voltage. Only arrays are offered whose current at full sun the battery's makers allow.",
        "A larger array was taken never to be worse, for each battery and way by itself. A larger battery was not: "
        "where the voltage alone switches the pump it can even cost wanted hours.",
    )
