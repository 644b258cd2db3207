"""The year's study: a simulated year with all that its report tells."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sim.scenario import Scenario
from sim.studies.commissioning import expected_readings
from sim.studies.dirt import dirt_costs
from sim.studies.result import YearResult
from sim.studies.sunless import bridged
from sim.studies.year import simulate_year
from sim.weather import Weather


def study_year(
    scenario: Scenario,
    years: int = 1,
    poor_of: int = 0,
    measured: Path | None = None,
    recorded: Sequence[Weather] | None = None,
    weathers: Sequence[Weather] | None = None,
) -> YearResult:
    """A year with all that its report tells; nothing is written.

    With several ``years`` the battery fades through them: the report has a table of that, and all else is the first.
    With ``poor_of`` synthetic years, or ``recorded`` ones, beside it, the client's page shows what lies between them,
    and the poor one; ``measured`` is a log from site that is held against the simulated year. ``weathers`` are the
    calendar years of the scenario's data, where they have been read already.
    """
    result = _with_extremes(_begun(scenario, weathers or ()))
    if years > 1:
        from sim.studies.fading import fading_years

        result = replace(result, aged=tuple(fading_years(result, years)))
    if measured:
        from sim.studies.measured import against

        result = replace(result, measured=against(measured, result))
    if poor_of or recorded:
        from sim.studies.spread import study_spread

        beside = study_spread(scenario, poor_of, weathers=recorded, typical=result, own=weathers)
        result = replace(result, many=beside)
    return result


def _begun(scenario: Scenario, weathers: Sequence[Weather]) -> YearResult:
    """A simulated year with what is to be read on site and, where things break, how far chance moves it."""
    weather = next((one for one in weathers if one.index[0].year == scenario.weather.year), None)
    result = replace(simulate_year(scenario, weather), readings=expected_readings(scenario))
    if scenario.care.fault:
        from sim.studies.fault_seeds import faults_over_seeds

        result = replace(result, over_seeds=faults_over_seeds(scenario, result.sky))
    return result


def _with_extremes(result: YearResult) -> YearResult:
    """With what more dirt costs, and with the days without sun that it bridges."""
    scenario, year, sky = result.scenario, result.measures, result.sky
    return replace(
        result,
        dirt=dirt_costs(scenario, sky, year.wanted_by_day),
        sunless=bridged(scenario, sky, year.months, year.worst_month),
    )
