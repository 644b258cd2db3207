"""One site among many: what a list shows of its typical and its poor year, and how worrying they are."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sim.calendar import MONTH_NAMES
from sim.figures.measures import Measures
from sim.studies.result import YearResult
from sim.units import told
from sim.words import hours, percent

POOR_OF = 100  # synthetic years, of which a tenth are poorer than the poor year
A_WARNING, TOO_LONG = 0.1, 0.25  # worry for each warning, and for a stop longer than allowed; our own defaults
LITTLE = 0.005  # of the wanted hours; less is not worth a word


@dataclass(frozen=True)
class Judged:
    """How worrying a site is, 0 not at all, and why, the worst first."""

    worry: float
    why: tuple[str, ...]


def row_of(result: YearResult) -> dict[str, Any]:
    """What a list of sites shows of one, as plain data."""
    year, poor = result.measures, poor_of(result)
    judged = judge(result)
    return {
        "title": result.scenario.title,
        "pump_hours": year.pump_hours,
        "hours_met_share": year.hours_met_share,
        "worst_month": year.worst_month,
        "longest_stop_h": year.longest_stop_h,
        "min_soc": year.battery.min_soc,
        "warnings": len(warnings_of(result)),
        "worry": judged.worry,
        "why": list(judged.why),
        "met_share_by_month": year.met_share_by_month.tolist(),
        "poor_year": {
            "pump_hours": poor.pump_hours,
            "hours_met_share": poor.hours_met_share,
            "worst_month": poor.worst_month,
            "longest_stop_h": poor.longest_stop_h,
            "min_soc": poor.battery.min_soc,
            "met_share_by_month": poor.met_share_by_month.tolist(),
        },
    }


def poor_of(result: YearResult) -> Measures:
    """The figures of the poor year of a site."""
    assert result.many is not None
    return result.many.poor_year.measures


def warnings_of(result: YearResult) -> list[str]:
    """What the checks warn of, and what is doubtful about the weather."""
    found = [str(told(one.message)) for one in result.findings if one.level == "warning"]
    return found + [f"Doubtful weather: {told(one.message)}" for one in result.weather.doubts]


def judge(result: YearResult) -> Judged:
    """The worry about a site.

    It is the share of wanted hours that is missing in the typical year, plus the share missing in the worst month of
    the poor year, plus :data:`A_WARNING` for each warning and :data:`TOO_LONG` if a stop is longer than is allowed.
    """
    year, poor, limit_h = result.measures, poor_of(result), result.scenario.need.longest_stop_h
    worst = float(poor.met_share_by_month.min())
    warned, longest_h = warnings_of(result), max(year.longest_stop_h, poor.longest_stop_h)
    too_long = longest_h > limit_h
    worry = (1.0 - year.hours_met_share) + (1.0 - worst) + A_WARNING * len(warned) + TOO_LONG * too_long
    why = (
        *_lack(poor, worst),
        f"A typical year misses {percent(1.0 - year.hours_met_share)} of the wanted hours."
        if 1.0 - year.hours_met_share > LITTLE
        else "",
        f"It may stand for {hours(longest_h)}; {hours(limit_h)} are allowed." if too_long else "",
        *warned,
    )
    return Judged(max(worry, 0.0), tuple(one for one in why if one))


def _lack(poor: Measures, worst: float) -> tuple[str, ...]:
    """What the poor year lacks in its worst month."""
    if 1.0 - worst <= LITTLE:
        return ()
    return (
        f"In {MONTH_NAMES[poor.worst_month - 1]} of a poor year only {percent(worst)} of the wanted hours are met.",
    )
