"""The live answer: the figures of a scenario's year by the short way, fast enough to follow a hand."""

from __future__ import annotations

import itertools
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

from sim.page.folder import Folder
from sim.page.text import whole
from sim.units import in_units, told

if TYPE_CHECKING:
    from sim.checks import Finding
    from sim.scenario import Scenario
    from sim.studies.result import YearResult

ANSWERS, WEATHERS, LIGHTS = 120, 4, 12  # of each so many are remembered
FIGURES = ("pump_hours", "hours_wanted", "hours_met_share", "starts", "longest_stop_h")
Made = TypeVar("Made")


class SupersededError(Exception):
    """A newer change of the same scenario came while this one was worked out."""


@dataclass(frozen=True)
class Band:
    """The worst fortnight at the controller's terminals, hour by hour, V, and the range in which thresholds may lie."""

    days: str
    low_v: tuple[float, ...]
    high_v: tuple[float, ...]
    off_v: float
    on_v: float
    least_v: float
    most_v: float


@dataclass(frozen=True)
class Answer:
    """A year in figures under the names of the results; ``run_h`` and ``wanted_h`` (12,) are hours a day by month."""

    promise: str
    place: str
    figures: dict[str, float]
    run_h: tuple[float, ...]
    wanted_h: tuple[float, ...]
    findings: tuple[Finding, ...]
    doubts: tuple[str, ...]
    band: Band


class Remembered:
    """The last few things that were made, by what they follow from."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, Any] = OrderedDict()
        self._lock = threading.Lock()

    def known(self, key: Hashable) -> Any:
        """What was made of a key, or None."""
        with self._lock:
            return self._made.get(key)

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """What is made of a key, made now if it is not known."""
        if (found := self.known(key)) is None:
            found = make()
        with self._lock:
            self._made[key] = found
            self._made.move_to_end(key)
            while len(self._made) > self._most:
                self._made.popitem(last=False)
        return found  # type: ignore[no-any-return]


class Turns:
    """Whose turn it is: the newest change of a scenario, and no older one of it."""

    def __init__(self) -> None:
        self._count = itertools.count()
        self._newest: dict[str, int] = {}
        self._heard: dict[str, tuple[str, int]] = {}
        self._lock = threading.Lock()

    def hear(self, name: str, tab: str, number: str) -> None:
        """A tab numbers what it sends; SupersededError for what comes after something newer of the same tab."""
        if (sent := whole(number)) is None:
            return
        with self._lock:
            last_tab, last = self._heard.get(name, ("", -1))
            if tab == last_tab and sent < last:
                raise SupersededError(name)
            self._heard[name] = tab, sent

    def take(self, name: str) -> Callable[[], None]:
        """A turn for a scenario; what comes back raises SupersededError once a newer one was taken."""
        mine = self._newest[name] = next(self._count)

        def check() -> None:
            if self._newest[name] != mine:
                raise SupersededError(name)

        return check


class Answers:
    """Answers to scenarios of a folder; weather and light are worked out once for all that share them."""

    def __init__(self, folder: Folder) -> None:
        self._folder = folder
        self._weathers, self._lights, self._answers = map(Remembered, (WEATHERS, LIGHTS, ANSWERS))

    def known(self, scenario: Scenario) -> Answer | None:
        """The answer if it was given before."""
        return self._answers.known(self._key(scenario))  # type: ignore[no-any-return]

    def of(self, scenario: Scenario, check: Callable[[], None] = lambda: None) -> Answer:
        """The answer to a scenario; ``check`` is called between the steps and may raise to end the work."""
        self._folder.check(scenario)
        check()
        return self._answers.get(self._key(scenario), lambda: self._made(scenario, check))

    def _key(self, scenario: Scenario) -> Hashable:
        return scenario.model_dump_json(), self._stamps(scenario)

    def _stamps(self, scenario: Scenario) -> tuple[int, ...]:
        """When the weather files were written, so that another file of the same name is noticed."""
        paths = [scenario.path.parent / name for name in scenario.weather.named_files.values()]
        return tuple(path.stat().st_mtime_ns if path.is_file() else 0 for path in paths)

    def _made(self, scenario: Scenario, check: Callable[[], None]) -> Answer:
        from sim.light.sunlight import sunlight_on
        from sim.studies.designs import sunlight_key, weather_key
        from sim.studies.year import simulate_year
        from sim.weather import weather_for

        stamps = self._stamps(scenario)
        weather = self._weathers.get((weather_key(scenario), stamps), lambda: weather_for(scenario))
        check()
        light_key = sunlight_key(scenario), stamps
        sunlight = self._lights.get(light_key, lambda: sunlight_on(scenario, weather))
        check()
        result = simulate_year(scenario, weather, sunlight, with_twins=False)
        check()
        return answer_of(result)


def answer_of(result: YearResult) -> Answer:
    """What the page shows of a year, in the units that the scenario asks for."""
    with in_units(result.scenario.report.units):
        return _answer(result)


def _answer(result: YearResult) -> Answer:
    from sim.report.client import promise
    from sim.weather.weather import place_of

    year = result.measures
    figures = {name: getattr(year, name) for name in FIGURES}
    low, high = year.battery.stress.life_years
    figures |= {"battery.min_soc": year.battery.min_soc}
    figures |= {"battery.life_years_low": low, "battery.life_years_high": high}
    figures |= {f"pump_hours_by_month.{k}": float(hours) for k, hours in enumerate(year.pump_hours_by_month)}
    return Answer(
        promise=promise(result),
        place=place_of(result.weather),
        figures=figures,
        run_h=tuple(year.hours_a_day.tolist()),
        wanted_h=tuple(year.wanted_a_day.tolist()),
        findings=tuple(replace(one, message=told(one.message)) for one in result.findings),
        doubts=tuple(told(doubt.message) for doubt in result.weather.doubts),
        band=_band(result),
    )


def _band(result: YearResult) -> Band:
    """The fortnight with most wanted hours missed."""
    from sim.catalogue import chemistries
    from sim.report.sections.fortnight import DAYS, worst_spell
    from sim.words import day

    scenario, index = result.scenario, result.weather.index
    first = worst_spell(result.measures)
    part = slice(first * 24, (first + DAYS) * 24)
    low_v, high_v = (result.log.per_interval(name)[part] for name in ("bus_low_v", "bus_high_v"))
    blocks = scenario.battery.nominal_v / 12.0
    limits = chemistries()[scenario.battery.chemistry]["limits"]
    return Band(
        f"{day(index, first)} to {day(index, first + DAYS - 1)}",
        tuple(low_v.round(3).tolist()),
        tuple(high_v.round(3).tolist()),
        scenario.controller.load_disconnect_v,
        scenario.controller.load_reconnect_v,
        limits["threshold_min_v"] * blocks,
        limits["threshold_max_v"] * blocks,
    )
