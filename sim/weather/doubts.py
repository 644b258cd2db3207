"""What looks wrong about a checked year, in the order in which it matters, less what a scenario accepts."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from sim.weather.doubt_air import AIR, out_of_season
from sim.weather.doubt_climate import CLIMATE
from sim.weather.doubt_light import LIGHT
from sim.weather.evidence import Evidence
from sim.weather.weather import Doubt, Site, Weather


def doubts_of(weather: Weather, recorded: Site, found: Sequence[Doubt] = ()) -> tuple[Doubt, ...]:
    """What is doubtful about a year that was recorded at a place, after what its check ``found`` already.

    Light and air are judged by the sun and the clear sky of where they were recorded, the climate by the year's own
    place.
    """
    evidence = Evidence(weather, recorded)
    judged = [Doubt(name, judge(evidence)) for name, judge in (LIGHT | AIR).items()]
    judged += _misfits(weather)
    return (*found, *(doubt for doubt in judged if doubt.message))


def made_up(weather: Weather) -> Weather:
    """A year made from monthly means, with what is doubtful about these: its hours are our own."""
    judged = [Doubt("air-season", out_of_season(Evidence(weather, weather.site))), *_misfits(weather)]
    return replace(weather, doubts=tuple(doubt for doubt in judged if doubt.message))


def _misfits(weather: Weather) -> list[Doubt]:
    return [Doubt(name, judge(weather)) for name, judge in CLIMATE.items()]


def with_accepted(weather: Weather, scenario: Any) -> Weather:
    """The year with the doubts that a scenario accepts among its notes."""
    accepted = getattr(scenario.weather, "accept", ())
    notes = (
        f"Accepted by the scenario ({doubt.id}): {doubt.message}" for doubt in weather.doubts if doubt.id in accepted
    )
    left = (doubt for doubt in weather.doubts if doubt.id not in accepted)
    return replace(weather, notes=(*weather.notes, *notes), doubts=tuple(left))
