"""The year in figures."""

from sim.figures.causes import longest_stretch
from sim.report.blocks import Fact, Facts
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.words import hours, moment, percent, years


def section(result: YearResult) -> Section:
    """The year's main figures."""
    year, need = result.measures, result.scenario.need
    unserved = year.hours_wanted - float(year.met_by_day.sum())
    between = f"wanted between {need.between[0]} and {need.between[1]}"
    idle = f"of {len(year.pump_hours_by_day)}; less than a minute counts as none"
    of_wanted = f"{hours(unserved)} of {hours(year.hours_wanted)} not served; {between}"
    facts = (
        Fact("Share of wanted hours met", percent(year.hours_met_share), of_wanted),
        Fact("Longest expected stop", hours(year.longest_stop_h), _when(result)),
        Fact("Days without running", f"{year.days_without_running}", idle),
        Fact("Pump hours in the year", hours(year.pump_hours), f"{year.starts:,} starts"),
        Fact("Expected battery life", years(year.battery.stress.life_years), "cycles and calendar together"),
    )
    return Section("expect", "The year in figures", (Facts(facts),))


def _when(result: YearResult) -> str:
    stretch = longest_stretch(result.measures.stops)
    if stretch is None:
        return "the pump never stood"
    begun, ended = (moment(result.weather.index, hour) for hour in stretch)
    return f"from {begun} to {ended}; {result.scenario.need.longest_stop_h:g} h is the longest allowed"
