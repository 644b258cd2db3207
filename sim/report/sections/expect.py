"""The year in figures."""

from sim.figures.causes import longest_unplanned
from sim.report.blocks import Fact, Facts
from sim.report.seasons import in_break
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.words import hours, moment, percent, years


def section(result: YearResult) -> Section:
    """The year's main figures."""
    year, need = result.measures, result.scenario.need
    unserved = year.hours_wanted - float(year.met_by_day.sum())
    planned = int(in_break(year).sum())
    between = f"wanted between {need.between[0]} and {need.between[1]}{', none in the break' if planned else ''}"
    breaks = f"; {planned} of them are the season's break, as planned" if planned else ""
    idle = f"of {len(year.pump_hours_by_day)}; less than a minute counts as none{breaks}"
    of_wanted = f"{hours(unserved)} of {hours(year.hours_wanted)} not served; {between}"
    facts = (
        Fact("Share of wanted hours met", percent(year.hours_met_share), of_wanted),
        Fact("Longest expected stop", *_longest(result)),
        Fact("Days without running", f"{year.days_without_running}", idle),
        Fact("Pump hours in the year", hours(year.pump_hours), f"{year.starts:,} starts"),
        Fact("Expected battery life", years(year.battery.stress.life_years), "cycles and calendar together"),
    )
    return Section("expect", "The year in figures", (Facts(facts),))


def _longest(result: YearResult) -> tuple[str, str]:
    """The longest stop that timer and season do not explain, and when; else what they plan."""
    year = result.measures
    stretch = longest_unplanned(year.stops)
    if stretch is not None:
        return hours(stretch[1] - stretch[0]), _when(result, stretch)
    if not len(year.stops):
        return hours(0.0), "the pump never stood"
    return "none but planned ones", f"timer and season plan up to {hours(year.longest_stop_h)}"


def _when(result: YearResult, stretch: tuple[float, float]) -> str:
    begun, ended = (moment(result.weather.index, hour) for hour in stretch)
    return f"from {begun} to {ended}; {result.scenario.need.longest_stop_h:g} h is the longest allowed"
