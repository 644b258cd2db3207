"""A little chance damage to everything that is read: no traceback, no hang, nothing that changes a year in silence.

``tests/long/test_mangled_long.py`` does the same by the thousand.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

import numpy as np
import pytest
from conftest import SCENARIOS
from hypothesis import given, settings
from hypothesis import strategies as st
from kit.mangle import mangled_data, mangled_text, mangled_weather, refusal
from strategies import ponds, scenarios
from weather.test_weather_damage import whole as lines_of

from sim.catalogue import template
from sim.scenario import load, parse, read_toml
from sim.scenario.models import Scenario
from sim.studies.measured_log import read_log
from sim.studies.year import simulate_year
from sim.weather import weather_for
from sim.weather.weather import Weather

TEXTS = [template(), *(path.read_text("utf-8") for path in SCENARIOS)]
SMALL = {
    "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}
LIGHT_SHARE, AIR_K = 0.005, 0.3  # moved by less, a year's hours do not change by 1 %
HOURS_SHARE = 0.01


class Outcome(NamedTuple):
    """What came of a damaged weather file: refused, said, same or silent; and what was refused or changed."""

    kind: str
    says: str


def scenario_at(path: Path) -> Scenario:
    """A small system with a file's weather."""
    return parse(SMALL | {"weather": {"file": path.name}}, path.parent / "pond.toml")


@cache
def sound(lines: tuple[str, ...], folder: Path) -> Weather:
    """A whole file as it is read."""
    (folder / "sound.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return weather_for(scenario_at(folder / "sound.txt"))


@cache
def pump_hours(path: Path, _: bytes) -> float:
    """The hours of a year with a file's weather, whose content tells files of one name apart."""
    return simulate_year(scenario_at(path)).measures.pump_hours


def moved(found: Weather, whole: Weather) -> bool:
    """Whether the light of the days or their air may have changed enough to change a year's hours by 1 %."""
    for name in ("ghi", "dni", "dhi"):
        days, before = (getattr(it, name).reshape(-1, 24).sum(axis=1) for it in (found, whole))
        if np.abs(days - before).sum() > LIGHT_SHARE * before.sum():
            return True
    return float(np.abs(found.temp_air - whole.temp_air).mean()) > AIR_K


def outcome(content: bytes, lines: tuple[str, ...], folder: Path) -> Outcome:
    """What comes of a damaged file that had these lines."""
    path = folder / "year.txt"
    path.write_bytes(content)
    found, said = refusal(lambda: weather_for(scenario_at(path)))
    if said:
        return Outcome("refused", said)
    whole = sound(lines, folder)
    news = [*found.doubts, *sorted(set(found.notes) - set(whole.notes))]
    if news:
        return Outcome("said", str(news[0]))
    if len(found.ghi) != len(whole.ghi) or not moved(found, whole):
        return Outcome("same", "")
    change = pump_hours(path, content) / pump_hours(folder / "sound.txt", b"") - 1.0
    return Outcome("silent" if abs(change) > HOURS_SHARE else "same", f"{change:+.1%}")


def log(count: int = 60) -> str:
    """A log of readings a quarter of an hour apart."""
    stamps = np.datetime64("2001-03-01T00:00") + 15 * np.arange(count).astype("timedelta64[m]")
    return "time,voltage_v,current_a,pump\n" + "".join(
        f"{at},13.{k % 10},{k % 3 - 1},on\n" for k, at in enumerate(stamps)
    )


@given(scenarios() | ponds(), st.integers(0, 2**32))
@settings(max_examples=25)
def test_damaged_scenarios_are_read_or_refused(data: dict[str, Any], seed: int) -> None:
    """Any valid scenario with odd values, missing and misplaced keys."""
    refusal(lambda: parse(mangled_data(Random(seed), data), Path("pond.toml")))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_damaged_demo_scenarios_are_read_or_refused(path: Path) -> None:
    """The same for those that come with the program, which use more of the keys."""
    data, rng = read_toml(path), Random(path.stem)
    kinds = Counter(bool(refusal(lambda: parse(mangled_data(rng, data), path))[1]) for _ in range(100))
    assert kinds[True] > 30 and kinds[False] > 3


def test_damaged_texts_are_read_or_refused(tmp_path: Path) -> None:
    """Lines lost, doubled and torn, signs that nobody expects."""
    rng, path = Random(1), tmp_path / "pond.toml"
    for _ in range(100):
        path.write_bytes(mangled_text(rng, rng.choice(TEXTS)))
        refusal(lambda: load(path))


def test_damaged_logs_are_read_or_refused(tmp_path: Path) -> None:
    """A log from site."""
    rng, path = Random(2), tmp_path / "log.csv"
    for _ in range(100):
        path.write_bytes(mangled_text(rng, log()))
        refusal(lambda: read_log(path, 2001, -5.0))


@pytest.mark.parametrize("form", ["EPW", "TMY3"])
def test_damaged_weather_changes_nothing_in_silence(form: str, tmp_path: Path) -> None:
    """A few files of each kind; most are refused or doubted."""
    rng, lines = Random(form), lines_of(form)
    found = [outcome(mangled_weather(rng, form, list(lines)), lines, tmp_path) for _ in range(3)]
    assert not [it for it in found if it.kind == "silent"]
