"""Designs through a year, each simulated once for all tests that look at it.

What is dear to load is loaded where it is used: who only hands out the tests to others waits for none of it.
"""

from __future__ import annotations

import gc
import os
import threading
from collections.abc import Callable, Generator, Iterator, Mapping
from contextlib import ExitStack
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import published
import pytest
from _pytest.doctest import DoctestModule
from hypothesis import Phase, settings
from kit.ahead import first_those_without, making, wait_at_first_use
from kit.service import Service
from kit.tally import complaint

from sim.cli import OBJECTS_BETWEEN_COLLECTIONS

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.studies.result import YearResult

# Compiling takes its time at the first example, and a red build should be red again: no deadline, no dice.
# A failure is told as it was drawn: shrinking it may take longer than the whole suite.
DRAWN = (Phase.explicit, Phase.generate)
settings.register_profile("steady", deadline=None, derandomize=True, phases=DRAWN)
settings.load_profile("steady")
gc.set_threshold(OBJECTS_BETWEEN_COLLECTIONS)  # as the commands do
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # or each program that a test starts reads all sources anew

ROOT = Path(__file__).parent.parent
LONG = ROOT / "tests" / "long"
SCENARIOS = tuple(sorted((ROOT / "scenarios").glob("*.toml")))
COURTYARD = ROOT / "scenarios" / "courtyard.toml"
RAN: set[str] = set()  # files whose tests have run
WHILE_TESTS_RUN = ExitStack()


def changed(changes: Mapping[str, Any], path: Path = COURTYARD) -> Scenario:
    """A scenario of the project with values set by their dotted keys."""
    from sim.scenario import overridden, parse, read_toml

    return parse(overridden(read_toml(path), changes), path)


def sky_of(scenario: Scenario) -> np.ndarray:
    """(hours,) of SKY for a scenario."""
    from sim.light.sunlight import sunlight_on
    from sim.plant.sky import sky_row
    from sim.weather import weather_for

    weather = weather_for(scenario)
    return sky_row(sunlight_on(scenario, weather), weather, scenario.battery)


@cache
def year_in(path: Path) -> YearResult:
    """The simulated year of a scenario's file."""
    from sim.studies.year import simulate_year

    return simulate_year(changed({}, path))


@cache
def told_in(path: Path) -> YearResult:
    """The same with the readings to expect."""
    from sim.studies.commissioning import expected_readings

    year = year_in(path)
    return replace(year, readings=expected_readings(year.scenario))


@cache
def report_in(path: Path) -> str:
    """Its report."""
    from sim.report.render import year_report

    return year_report(told_in(path))


@pytest.fixture(scope="session", params=SCENARIOS, ids=lambda path: path.stem)
def any_year(request: pytest.FixtureRequest) -> YearResult:
    """A simulated year of each scenario of the project."""
    return year_in(request.param)


@pytest.fixture(scope="session")
def courtyard_year() -> YearResult:
    """A simulated year of the courtyard."""
    return year_in(COURTYARD)


@pytest.fixture(scope="session")
def design() -> Callable[..., Scenario]:
    """Makes the courtyard's scenario with values set by their dotted keys."""
    return lambda changes, path=COURTYARD: changed(changes, path)


@pytest.fixture(scope="session")
def sky_for() -> Callable[[Scenario], np.ndarray]:
    """Makes the sky table of a scenario."""
    return sky_of


def pytest_sessionstart(session: pytest.Session) -> None:
    """Who hands out the tests has the code compiled meanwhile."""
    if session.config.getoption("numprocesses", None) and not hasattr(session.config, "workerinput"):
        WHILE_TESTS_RUN.enter_context(making())


@pytest.hookimpl(trylast=True)  # the long ones are left out by then
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """In an order in which few wait for compiled code."""
    first_those_without(items)
    wait_at_first_use()
    gc.freeze()  # what was loaded stays: nobody needs to look through it again for cycles


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Without the long tests nobody waits until their files are read."""
    return True if collection_path == LONG and config.option.markexpr == "not long" else None


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(file_path: Path) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """A file without examples in its docstrings is not searched for them function by function."""
    found = yield
    return [one for one in found if not isinstance(one, DoctestModule) or ">>>" in file_path.read_text("utf-8")]


def pytest_runtest_logreport(report: pytest.TestReport) -> None:
    """Keep which files had tests."""
    RAN.add(report.nodeid.split("::")[0].rsplit("/", 1)[-1])


@pytest.hookimpl(optionalhook=True)
def pytest_testnodedown(node: Any) -> None:
    """A worker is done: the rows of the reference table that its tests asked for."""
    published.ASKED.update(getattr(node, "workeroutput", {}).get("asked", ()))


def pytest_sessionfinish(session: pytest.Session) -> None:
    """A worker hands over its rows; at the end of the whole suite the tally must come out."""
    WHILE_TESTS_RUN.close()
    handed = getattr(session.config, "workeroutput", None)
    if handed is not None:
        handed["asked"] = sorted(published.ASKED)
    elif words := complaint(RAN, published.ASKED):
        print(f"\nFAILED {words}")
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


@pytest.fixture
def service(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Service]:
    """A server that the program asks, and a place of its own for what is kept."""
    with Service() as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
        thread.start()
        monkeypatch.setenv("SUNRILL_WEATHER_SERVICE", server.url)
        monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
        monkeypatch.setenv("NO_PROXY", "127.0.0.1")
        yield server
        server.over.set()
        server.shutdown()
        thread.join()
