"""Where the typical year stands among many years, and why where a poor one is not poorer: in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.language import mark, month_name, say
from sim.studies.many_years import LEVEL, POOR, ManyYears, Quantiles
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.figures.measures import Measures

ITSELF_POOR = mark(
    "Of {of} {kind}, {poorer} are poorer than the typical year of this scenario: it is itself a poor year."
)
BETTER_THAN_NEARLY_ALL = mark(
    "Of {of} {kind}, {poorer} are poorer than the typical year of this scenario: it is better than nearly all of them, "
    "so expect less than it says."
)
USUAL = mark("Of {of} {kind}, {poorer} are poorer than the typical year of this scenario: it is a usual year.")
MORE_THAN_NINE = mark(
    "In {month} the typical year runs {own} hours a day, more than nine in ten of the {kind} ({low} to {high}): {why}."
)
LESS_THAN_NINE = mark(
    "In {month} the typical year runs {own} hours a day, less than nine in ten of the {kind} ({low} to {high}): {why}."
)
NEAR_H_A_DAY = 0.05  # closer hours a day print alike
ALIKE = 0.005  # of the year's pump hours: years that hardly differ
COLDER_H = 24.0  # more hours of refused charge are a reason
LIGHT_LESS = 0.01  # of the year's light: a reason


def kind_of(result: ManyYears[Any]) -> str:
    """The years in a word or two."""
    return say("made-up years") if result.synthetic else say("recorded years")


def rank(result: ManyYears[Any]) -> str:
    """How many years are poorer than the typical one, and what to make of it."""
    poorer, of = result.poorer_than_typical, result.years
    better = BETTER_THAN_NEARLY_ALL if poorer > (1.0 - POOR) * of else USUAL
    said = ITSELF_POOR if poorer < POOR * of else better
    return say(said, of=f"{of}", kind=kind_of(result), poorer=f"{poorer}")


def poor_no_poorer(result: ManyYears[Any]) -> str:
    """Why the poor year is no poorer than the typical one, where it is not; else nothing."""
    poor, typical = result.poor_year.measures, result.typical.measures
    if (shorter := typical.hours_met_share - poor.hours_met_share) > LEVEL:
        return _in_other_ways(poor, typical)
    alike = abs(poor.pump_hours - typical.pump_hours) <= ALIKE * max(typical.pump_hours, 1.0)
    if shorter >= -LEVEL and alike:
        return say("The poor year is as good as the typical one: this design hardly feels how years differ.")
    if shorter >= -LEVEL and poor.pump_hours < typical.pump_hours:
        return ""
    return say(
        "The poor year is no poorer than the typical one ({poor} of the wanted hours against {usual}): {why}.",
        poor=percent(poor.hours_met_share),
        usual=percent(typical.hours_met_share),
        why=_why(poor, typical),
    )


def _in_other_ways(poor: Measures, typical: Measures) -> str:
    """In what a year that meets fewer wanted hours is the better one all the same."""
    better = []
    if poor.pump_hours > typical.pump_hours * (1.0 + ALIKE):
        hours_run = {"poor": number(poor.pump_hours), "usual": number(typical.pump_hours)}
        better.append(say("{poor} pump hours against {usual}", **hours_run))
    if poor.longest_stop_h < typical.longest_stop_h - 1.0:
        stops = {"poor": hours(poor.longest_stop_h), "usual": hours(typical.longest_stop_h)}
        better.append(say("a longest stop of {poor} against {usual}", **stops))
    if not better:
        return ""
    return say(
        "The poor year has {better} in the typical one: it is called poor by the wanted hours that it meets.",
        better=say(" and ").join(better),
    )


def _why(poor: Measures, typical: Measures) -> str:
    """What made the typical year the poorer one."""
    if typical.ghi_kwh_m2 < poor.ghi_kwh_m2 * (1.0 - LIGHT_LESS):
        light = {"usual": number(typical.ghi_kwh_m2), "poor": number(poor.ghi_kwh_m2)}
        return say("the typical year had less light, {usual} kWh/m² against {poor}", **light)
    cold, other = typical.battery.charge_refused_hours, poor.battery.charge_refused_hours
    if cold > other + COLDER_H:
        refused = {"cold": number(cold), "other": number(other)}
        return say("in the typical year the battery refused charge for {cold} h, here for {other} h", **refused)
    return say("the dull days of the typical year come in longer spells than most years of the same light have")


def outside(result: ManyYears[Any]) -> str:
    """The months in which the typical year lies outside P10 to P90 of the years, and why; nothing where there are none.

    Its light is looked at first, then cold; what is left is the order of its days.
    """
    typical, span = result.typical.measures.hours_a_day, result.hours_a_day
    low, high = typical < span.p10 - NEAR_H_A_DAY, typical > span.p90 + NEAR_H_A_DAY
    return " ".join(_outside(result, int(month), span) for month in np.flatnonzero(low | high))


def _outside(result: ManyYears[Any], month: int, span: Quantiles) -> str:
    typical = result.typical.measures
    own, low, high = typical.hours_a_day[month], span.p10[month], span.p90[month]
    return say(
        MORE_THAN_NINE if own > high else LESS_THAN_NINE,
        month=month_name(month + 1),
        own=number(own),
        kind=kind_of(result),
        low=number(low),
        high=number(high),
        why=_why_in(result, month, own > high),
    )


def _why_in(result: ManyYears[Any], month: int, more: bool) -> str:
    light = result.typical_light[month]
    span = Quantiles.of(result.light[:, month])
    if light > span.p90 if more else light < span.p10:
        return say("so does its light, {light} kWh/m²", light=number(light))
    return say(
        "its light is that of other years, but bright and dull days, sun and cloud, follow one another otherwise in it"
    )
