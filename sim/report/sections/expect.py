"""What to expect: the answer in a sentence, and the figures that belong to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report import figures
from sim.report.section import Section
from sim.report.words import hours, moment, number, percent, years

if TYPE_CHECKING:
    from sim.causes import Stop
    from sim.year import YearResult

SAME_MOMENT_H = 1e-9


@dataclass(frozen=True)
class Fact:
    """A figure with what it means, and a remark."""

    name: str
    value: str
    remark: str = ""


@dataclass(frozen=True)
class Headline:
    """The answer in a sentence, and the figures that belong to it."""

    promise: str
    facts: tuple[Fact, ...]


def section(result: YearResult) -> Section:
    """The answer in a sentence, and the figures that belong to it."""
    facts = (*_need_facts(result), *_battery_facts(result))
    return Section("expect", "What to expect", "expect", Headline(_promise(result), facts))


def longest_stretch(stops: tuple[Stop, ...]) -> tuple[float, float] | None:
    """The longest time without running, hours since the year began: stops that follow without a run are one stretch.

    >>> from sim.causes import Stop
    >>> night, frost = Stop(5.0, 9.0, "night", 0.1, 12.2), Stop(9.0, 20.0, "protection circuit", 0.1, 12.0)
    >>> longest_stretch((night, frost, Stop(30.0, 42.0, "night", 0.1, 12.2)))
    (5.0, 20.0)
    """
    stretches: list[tuple[float, float]] = []
    for stop in stops:
        follows = stretches and stop.from_h - stretches[-1][1] <= SAME_MOMENT_H
        begun = stretches.pop()[0] if follows else stop.from_h
        stretches.append((begun, stop.to_h))
    return max(stretches, key=lambda stretch: stretch[1] - stretch[0], default=None)


def _promise(result: YearResult) -> str:
    """Hours a day in the best and the worst month, in a sentence."""
    run = figures.hours_a_day(result.measures)
    best, worst = figures.best_and_worst(result)
    if number(run.max()) == number(run.min()):
        return f"Expect the pump to run about {number(run.max())} hours a day in every month."
    return (
        f"Expect the pump to run about {number(run.max())} hours a day in {best} and about {number(run.min())} hours a "
        f"day in {worst}."
    )


def _need_facts(result: YearResult) -> tuple[Fact, ...]:
    year, need = result.measures, result.scenario.need
    unserved = year.hours_wanted - float(year.met_by_day.sum())
    between = f"wanted between {need.between[0]} and {need.between[1]}"
    return (
        Fact(
            "Share of wanted hours met",
            percent(year.hours_met_share),
            f"{hours(unserved)} of {hours(year.hours_wanted)} not served; {between}",
        ),
        Fact("Longest expected stop", hours(year.longest_stop_h), _when(result)),
        Fact("Days without running", f"{year.days_without_running}", f"of {len(year.pump_hours_by_day)}; less than a minute counts as none"),
        Fact("Pump hours in the year", hours(year.pump_hours), f"{year.starts:,} starts"),
    )


def _battery_facts(result: YearResult) -> tuple[Fact, ...]:
    stress = result.measures.battery.stress
    return (Fact("Expected battery life", years(stress.life_years), "the sooner of cycles and calendar"),)


def _when(result: YearResult) -> str:
    stretch = longest_stretch(result.measures.stops)
    if stretch is None:
        return "the pump never stood"
    begun, ended = (moment(result.weather.index, hour) for hour in stretch)
    return f"from {begun} to {ended}; {result.scenario.need.longest_stop_h:g} h is the longest allowed"
