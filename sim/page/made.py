"""A scenario made from another: its text with other values, to be written into another folder."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.files import read_bytes
from sim.page.text import with_value
from sim.scenario import MOST_SCENARIO_BYTES

if TYPE_CHECKING:
    from sim.scenario import Scenario


def made_text(scenario: Scenario, changes: Mapping[str, Any], out: Path, by: str) -> str:
    """A scenario's text with values changed by their keys; comments stay, and files are named as seen from ``out``."""
    text = read_bytes(scenario.path, "a scenario file", MOST_SCENARIO_BYTES).decode("utf-8-sig")
    for key, value in {**changes, **files_from(scenario, out)}.items():
        text = with_value(text, key, value)
    return f"# Made by {by} from {scenario.path.name}.\n{text}"


def files_from(scenario: Scenario, out: Path) -> dict[str, Any]:
    """The weather files of a scenario by the way to them from a folder, under their keys."""

    def seen(name: object) -> str:
        return Path(os.path.relpath((scenario.path.parent / str(name)).resolve(), out.resolve())).as_posix()

    weather = scenario.weather
    one = {"weather.file": seen(weather.file)} if weather.file else {}
    return one | ({"weather.files": [seen(name) for name in weather.files]} if weather.files else {})
