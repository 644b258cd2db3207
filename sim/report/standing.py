"""Where the typical year stands among many years, and why where a poor one is not poorer: in words."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.studies.many_years import LEVEL, POOR, ManyYears, Quantiles
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.figures.measures import Measures

NEAR_H_A_DAY = 0.05  # closer hours a day print alike
ALIKE = 0.005  # of the year's pump hours: years that hardly differ
COLDER_H = 24.0  # more hours of refused charge are a reason
LIGHT_LESS = 0.01  # of the year's light: a reason


def kind_of(result: ManyYears[Any]) -> str:
    """The years in a word or two."""
    return "made-up years" if result.synthetic else "recorded years"


def rank(result: ManyYears[Any]) -> str:
    """How many years are poorer than the typical one, and what to make of it."""
    poorer, of = result.poorer_than_typical, result.years
    said = f"Of {of} {kind_of(result)}, {poorer} are poorer than the typical year of this scenario"
    if poorer < POOR * of:
        return f"{said}: it is itself a poor year."
    if poorer > (1.0 - POOR) * of:
        return f"{said}: it is better than nearly all of them, so expect less than it says."
    return f"{said}: it is a usual year."


def poor_no_poorer(result: ManyYears[Any]) -> str:
    """Why the poor year is no poorer than the typical one, where it is not; else nothing."""
    poor, typical = result.poor_year.measures, result.typical.measures
    if (shorter := typical.hours_met_share - poor.hours_met_share) > LEVEL:
        return _in_other_ways(poor, typical)
    alike = abs(poor.pump_hours - typical.pump_hours) <= ALIKE * max(typical.pump_hours, 1.0)
    if shorter >= -LEVEL and alike:
        return "The poor year is as good as the typical one: this design hardly feels how years differ."
    if shorter >= -LEVEL and poor.pump_hours < typical.pump_hours:
        return ""
    return (
        f"The poor year is no poorer than the typical one ({percent(poor.hours_met_share)} of the wanted hours against "
        f"{percent(typical.hours_met_share)}): {_why(poor, typical)}."
    )


def _in_other_ways(poor: Measures, typical: Measures) -> str:
    """In what a year that meets fewer wanted hours is the better one all the same."""
    better = []
    if poor.pump_hours > typical.pump_hours * (1.0 + ALIKE):
        better.append(f"{number(poor.pump_hours)} pump hours against {number(typical.pump_hours)}")
    if poor.longest_stop_h < typical.longest_stop_h - 1.0:
        better.append(f"a longest stop of {hours(poor.longest_stop_h)} against {hours(typical.longest_stop_h)}")
    if not better:
        return ""
    return (
        f"The poor year has {' and '.join(better)} in the typical one: it is called poor by the wanted hours that it "
        "meets."
    )


def _why(poor: Measures, typical: Measures) -> str:
    """What made the typical year the poorer one."""
    if typical.ghi_kwh_m2 < poor.ghi_kwh_m2 * (1.0 - LIGHT_LESS):
        less = f"{number(typical.ghi_kwh_m2)} kWh/m² against {number(poor.ghi_kwh_m2)}"
        return f"the typical year had less light, {less}"
    cold, other = typical.battery.charge_refused_hours, poor.battery.charge_refused_hours
    if cold > other + COLDER_H:
        return f"in the typical year the battery refused charge for {number(cold)} h, here for {number(other)} h"
    return "the dull days of the typical year come in longer spells than most years of the same light have"


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
    which = "more than nine in ten" if own > high else "less than nine in ten"
    return (
        f"In {MONTH_NAMES[month]} the typical year runs {number(own)} hours a day, {which} of the {kind_of(result)} "
        f"({number(low)} to {number(high)}): {_why_in(result, month, own > high)}."
    )


def _why_in(result: ManyYears[Any], month: int, more: bool) -> str:
    light = result.typical_light[month]
    span = Quantiles.of(result.light[:, month])
    if light > span.p90 if more else light < span.p10:
        return f"so does its light, {number(light)} kWh/m²"
    return (
        "its light is that of other years, but bright and dull days, sun and cloud, follow one another otherwise in it"
    )
