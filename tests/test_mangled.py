"""A little chance damage to everything that is read: no traceback, no hang, nothing that changes a year in silence.

``tests/long/test_mangled_long.py`` does the same by the thousand.
"""

from __future__ import annotations

from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kit.mangle import mangled_data, mangled_text, mangled_weather
from kit.mangled import SCENARIOS, TEXTS, log, outcome, refusal
from strategies import ponds, scenarios
from weather.whole_files import whole as lines_of

from sim.scenario import load, parse, read_toml
from sim.studies.measured_log import read_log


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
    found = [outcome(mangled_weather(rng, form, list(lines))[0], lines, tmp_path) for _ in range(3)]
    assert not [it for it in found if it.kind == "silent"]
