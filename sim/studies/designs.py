"""Several designs through the same year: where a comparison gets them from, and all of them in one pass of lanes."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, TypeVar

import numpy as np

from sim import hands
from sim.checks import Finding
from sim.errors import InputError
from sim.figures.measures import Measures, measure
from sim.light.sunlight import Sunlight, imp_per_ampere, sunlight_on
from sim.plant.log import Log
from sim.plant.records import SKY
from sim.plant.run import HOURLY, run
from sim.plant.sky import sky_row
from sim.scenario import Scenario, altered, parse, read_toml
from sim.scenario.choice import AS_IT_IS, twice
from sim.studies.result import figures
from sim.studies.twins import twins_of
from sim.studies.year import EVENTS_KEPT, checked
from sim.weather import Weather, weather_for

_OF_ANY_SIZE = {"capacity_ah": 0.0, "initial_soc": None, "resistance_mohm": None, "cable": None}
LANES_AT_ONCE = 8  # a hand's hourly log is then some 30 MB
Made = TypeVar("Made")
Told = Callable[[int], None]


@dataclass(frozen=True)
class Design:
    """A design to compare: its name, the plain data it was read from, and what it costs more than the first."""

    name: str
    data: Mapping[str, Any]
    scenario: Scenario
    cost: float | None = None

    def changed(self, name: str, changes: Mapping[str, Any], cost: float | None = None) -> Design:
        """The design with values set by their dotted keys; a message about them names the new design."""
        return Design(name, *altered(self.data, name, changes, self.scenario.path), cost)


@dataclass(frozen=True)
class Simulated:
    """A design through its year."""

    design: Design
    weather: Weather
    measures: Measures
    findings: tuple[Finding, ...]

    def as_json(self) -> dict[str, Any]:
        """The name, and the year's figures under the names that a single year has them."""
        return {"name": self.design.name} | figures(self.design.scenario, self.measures, self.findings)


@dataclass(frozen=True)
class Places:
    """What the designs' panel positions bring through a year: ``sky`` (places, hours) of SKY, and of each design its
    place there, its weather and its light, of which the current by voltage stands in ``sky`` alone.
    """

    sky: np.ndarray
    place: list[int]
    weather: list[Weather]
    sunlight: list[Sunlight]


def designs_in(path: Path) -> tuple[Design, ...]:
    """The scenario of a file, and its alternatives; InputError where one of them is wrong."""
    data = read_toml(path)
    scenario = parse(data, path)
    first = Design(AS_IT_IS, {key: value for key, value in data.items() if key != "alternative"}, scenario)
    others = (first.changed(it.name, it.changes, it.cost) for it in scenario.alternative)
    return (first, *others)


def designs_of(paths: Sequence[Path]) -> tuple[Design, ...]:
    """One file with its alternatives, or the designs of several files by the files' names, without alternatives."""
    if len(paths) == 1:
        return designs_in(paths[0])
    if name := twice(path.stem for path in paths):
        raise InputError(str(paths[-1]), "", None, f'files with different names; "{name}" stands twice')
    return tuple(Design(path.stem, data := read_toml(path), parse(data, path)) for path in paths)


def on_every_core(make: Callable[[Any], Made], items: Iterable[Any]) -> list[Made]:
    """What is made of each of the items, in their order."""
    return hands.in_order(hands.now().here, lambda item, _: make(item), items)


def weather_key(scenario: Scenario) -> Hashable:
    """What the weather of a scenario follows from."""
    return scenario.path.parent, scenario.weather, scenario.site


def sunlight_key(scenario: Scenario) -> Hashable:
    """What the sunlight on a scenario's panels follows from: where and what they are, trimming, not their cable."""
    panel = scenario.panel.model_copy(update={"cable": None})
    trimmed = scenario.care.trimming, scenario.care.trimmed_days
    return weather_key(scenario), panel, scenario.battery.nominal_v, trimmed


def shape_key(scenario: Scenario) -> Hashable:
    """What the sunlight for each ampere follows from: panels of one shape of curve, whatever their size."""
    panel = scenario.panel.model_copy(update={"power_w": 1.0, "isc_a": 1.0, "imp_a": imp_per_ampere(scenario.panel)})
    return sunlight_key(scenario.model_copy(update={"panel": panel}))


def sky_key(scenario: Scenario) -> Hashable:
    """What a row of the sky table follows from: what the battery is and where it stands, not its size."""
    return sunlight_key(scenario), scenario.battery.model_copy(update=_OF_ANY_SIZE)


def firsts(scenarios: Sequence[Scenario], key: Callable[[Scenario], Hashable]) -> dict[Hashable, Scenario]:
    """One scenario for each distinct key, in the order in which they come."""
    found: dict[Hashable, Scenario] = {}
    for scenario in scenarios:
        found.setdefault(key(scenario), scenario)
    return found


def places_of(scenarios: Sequence[Scenario]) -> Places:
    """The places of scenarios; those that share weather, panel position or battery share the work."""
    weathers = {key: weather_for(it) for key, it in firsts(scenarios, weather_key).items()}
    same_length(scenarios, weathers)
    rows = {key: row for row, key in enumerate(firsts(scenarios, sky_key))}
    sky = np.empty((len(rows), len(weathers[weather_key(scenarios[0])].ghi)), SKY)

    under: dict[Hashable, list[Scenario]] = {}
    for scenario in firsts(scenarios, sky_key).values():
        under.setdefault(sunlight_key(scenario), []).append(scenario)

    def light(under_it: list[Scenario]) -> Sunlight:
        weather = weathers[weather_key(under_it[0])]
        sunlight = sunlight_on(under_it[0], weather)
        for scenario in under_it:
            sky[rows[sky_key(scenario)]] = sky_row(sunlight, weather, scenario.battery)
        return replace(sunlight, current_a=np.empty((0, 0)))

    lights = dict(zip(under, on_every_core(light, under.values()), strict=True))
    return Places(
        sky,
        [rows[sky_key(it)] for it in scenarios],
        [weathers[weather_key(it)] for it in scenarios],
        [lights[sunlight_key(it)] for it in scenarios],
    )


def same_length(scenarios: Sequence[Scenario], weathers: Mapping[Hashable, Weather]) -> None:
    """InputError unless all scenarios have years of as many days as the first."""
    days = [len(weathers[weather_key(it)].ghi) // 24 for it in scenarios]
    for scenario, found in zip(scenarios, days, strict=True):
        if found != days[0]:
            allowed = f"a year of {days[0]} days, as the first design has"
            raise InputError(str(scenario.path), "weather.year", scenario.weather.year, allowed)


def simulate_designs(
    designs: Sequence[Design], told: Told = lambda done: None, with_checks: bool = True
) -> list[Simulated]:
    """Every design through its year in one pass of lanes; ``told(more)`` hears of lanes that are done.

    A design alone gives exactly what a single year of it gives; the design checks can be left out.
    """
    scenarios = [design.scenario for design in designs]
    places = places_of(scenarios)
    at_once = min(LANES_AT_ONCE, -(-len(scenarios) // hands.cores()))

    def measured(log: Log, numbers: np.ndarray) -> list[Simulated]:
        return [_simulated(designs[k], places, int(k), log, lane, with_checks) for lane, k in enumerate(numbers)]

    how = replace(HOURLY, at_once=at_once, events=EVENTS_KEPT, places=places.place)
    return run(scenarios, places.sky, measured, how, told)


def _simulated(design: Design, places: Places, k: int, log: Log, lane: int, with_checks: bool) -> Simulated:
    """What one lane of a log says of the k-th design."""
    scenario, weather, sky = design.scenario, places.weather[k], places.sky[places.place[k]]
    twins = twins_of(scenario, weather, log, lane) if with_checks else None
    measures = measure(scenario, weather, places.sunlight[k], sky["cell_c"], log, lane, twins)
    return Simulated(design, weather, *(checked(scenario, measures, sky) if with_checks else (measures, ())))
