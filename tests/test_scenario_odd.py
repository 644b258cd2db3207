"""Scenarios that once ended in a traceback or were taken as they are: each is one message that names the key."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from kit.smallest import POND, SMALLEST, changed

from sim.errors import InputError
from sim.figures.water.pipes import valve_k
from sim.page.text import data_of
from sim.scenario import load, overridden, parse
from sim.scenario.messages import dotted

TEXT = """
weather.sample = "piedmont"
panel = { power_w = 100, vmp_v = 18.0, imp_a = 5.56, voc_v = 22.0, isc_a = 5.9 }
battery.capacity_ah = 100
pump.power_w = 20
"""
WALL = {"from_azimuth_deg": 90, "to_azimuth_deg": 270, "below_elevation_deg": 30}
CLOCK = {"controller.load_mode": "clock"}


@pytest.mark.parametrize(
    ("changes", "key", "allowed"),
    [
        ({"need.between": ["07:00"]}, "need.between", "a pair of times"),
        (CLOCK | {"controller.load_windows": [["08:00"]]}, "controller.load_windows[0]", "pairs of times"),
        ({"care.snow": [["01-10"]]}, "care.snow[0]", "pairs of days"),
        ({"pump.curve": [[0, 2], [1000]]}, "pump.curve[1]", "two or more points"),
        ({"pump.curve": [[0, 2], {}]}, "pump.curve[1]", "two or more points"),
        ({"panel.shade": [WALL | {"cell_strings": [1]}]}, "panel.shade[0].cell_strings", "a whole number from 0 to 3"),
        ({"panel.shade": [WALL | {"cell_strings": {"a": 1}}]}, "panel.shade[0].cell_strings", "a whole number"),
        ({"panel.shade": [[]]}, "panel.shade[0]", "a table of months"),
        ({"battery.capacity_ah": 16**5000}, "battery.capacity_ah", "a number above 0, up to 5000"),
        ({"site": {"": 1}}, 'site.""', "only latitude_deg"),
        ({"site": {"a b\x1b": 1}}, 'site."a b\\u001b"', "only latitude_deg"),
        ({"": 1}, '""', "only title"),
        ({"title": 5}, "title", "text of 1 to 300"),
        ({"alternative": [{"name": "tilted", "set": {"panel.tilt": 55}}]}, "panel.tilt", "only power_w"),
    ],
)
def test_one_message_names_the_key(changes: dict[str, Any], key: str, allowed: str) -> None:
    """Lists that are too short, tables for numbers, numbers without end, odd keys, slips in an alternative."""
    with pytest.raises(InputError) as told:
        parse(overridden(SMALLEST, changes), POND)
    assert told.value.key == key and told.value.allowed.startswith(allowed)
    assert str(told.value).isprintable() and len(str(told.value)) < 2000


@pytest.mark.parametrize(
    "line",
    [
        f"[{'.'.join('a' * 2000)}]",
        f"x = {'[' * 200}{']' * 200}",
        f'[[alternative]]\nname = "deep"\nset.{".".join("a" * 1500)} = 1',
        f'[[alternative]]\nname = "deep"\nset = {{ "panel.{".".join("a" * 3000)}" = 1 }}',
    ],
    ids=["tables", "lists", "alternative", "dotted text"],
)
def test_what_lies_too_deep_is_refused(tmp_path: Path, line: str) -> None:
    """In a file, and in the text of the local page."""
    path = tmp_path / "pond.toml"
    path.write_text(TEXT + line, encoding="utf-8")
    with pytest.raises(InputError) as told:
        load(path)
    assert len(str(told.value)) < 2000
    with pytest.raises(InputError):
        parse(data_of(TEXT + line), POND)


def test_a_deep_value_is_shown_as_dots() -> None:
    """A message about something that cannot be written out is made all the same."""
    deep: Any = 1
    for _ in range(100_000):
        deep = [deep]
    assert str(InputError("pond.toml", "a", deep, "less")) == "pond.toml: a = …: allowed is less"


@given(st.lists(st.text() | st.integers(0, 9), min_size=1))
def test_any_key_can_be_named(place: list[str | int]) -> None:
    """Whatever stands for a key is one printable line."""
    assert "\n" not in dotted(place) and "\x1b" not in dotted(place)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"battery__nominal_v": 24}, "12, which suits panel.voc_v (22 V); or more panel.series for a 24 V battery"),
        ({"controller__absorption_v": 28.8}, "24, which suits controller.absorption_v (28.8 V); or another"),
        (
            {
                "battery__nominal_v": 24,
                "panel__voc_v": 44.0,
                "panel__vmp_v": 36.0,
                "panel__imp_a": 2.78,
                "controller__float_v": 13.6,
            },
            "12, which suits controller.float_v (13.6 V); or another controller.float_v for a 24 V",
        ),
    ],
)
def test_a_voltage_of_another_battery_leads_to_its_nominal_voltage(changes: dict[str, Any], said: str) -> None:
    """The key that is likely wrong is named, not one that depends on it."""
    with pytest.raises(InputError) as told:
        changed(**changes)
    assert told.value.key == "battery.nominal_v" and told.value.allowed.startswith(said)


def test_control_signs_become_spaces(tmp_path: Path) -> None:
    """Titles, names and currencies hold nothing that a terminal or a page would obey."""
    path = tmp_path / "pond.toml"
    title = 'title = "\\u001b[31mred\\u001b]0;x\\u0007\\u0000"\ncost.currency = "\\u001bX"\n'
    fault = '[[care.fault]]\nkind = "blown-fuse"\nname = "a\\u009bb"\nmean_days_between = 9\nrepair_h = 1\n'
    path.write_text(title + TEXT + fault, encoding="utf-8")
    scenario = load(path)
    assert (scenario.title, scenario.care.fault[0].name, scenario.cost.currency) == (" [31mred ]0;x  ", "a b", " X")


def test_a_valve_that_is_nearly_closed_is_closed() -> None:
    """Where the law of its loss leaves all numbers behind, nothing flows."""
    points = [(10.0, 200.0), (50.0, 5.0), (100.0, 0.1)]
    assert valve_k(points, 1e-200) == valve_k(points, 0.0) == float("inf") > valve_k(points, 1.0) > 200.0
