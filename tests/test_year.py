"""The whole story of a year: the same bytes twice, and results that move the way physics says."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from conftest import changed

from sim.cli import main
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

ROOT = Path(__file__).parent.parent


def asked(out: Path) -> list[str]:
    """The arguments of a year that is written to a folder."""
    return ["year", str(ROOT / "scenarios" / "courtyard.toml"), "--out", str(out), "--json", str(out / "year.json")]


def hashes(out: Path) -> dict[str, str]:
    """Hashes of all that lies in a folder."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(out.iterdir())}


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    """Report, hourly log and JSON of this process and another with other dice for its hashes are equal byte by byte."""
    dice = {"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "1"}
    command = [sys.executable, "-m", "sim", *asked(tmp_path / "run2")]
    subprocess.run(command, env=os.environ | dice, cwd=tmp_path, check=True, capture_output=True)
    assert main(asked(tmp_path / "run1")) == 0
    first, second = hashes(tmp_path / "run1"), hashes(tmp_path / "run2")
    assert first == second
    assert set(first) == {"courtyard-year.html", "courtyard-year.csv", "courtyard-ledger.csv", "year.json"}


def test_a_year_as_json_is_plain_data(any_year: YearResult) -> None:
    """The published names are there and every number is finite."""
    data = json.loads(json.dumps(any_year.as_json(), allow_nan=False))
    assert {"pump_hours", "hours_met_share", "starts", "stops_by_cause", "battery", "energy_wh", "checks"} <= set(data)
    assert len(data["pump_hours_by_month"]) == 12
    assert data["pump_hours"] == pytest.approx(sum(data["pump_hours_by_month"]))


@cache
def hours(power_w: float = 12.0, **changes: float | str) -> float:
    """Pump hours of the courtyard with a pump of some power and other values set; __ stands for a dot."""
    dotted = {key.replace("__", "."): value for key, value in changes.items()}
    return simulate_year(changed({"pump.power_w": power_w} | dotted)).measures.pump_hours


def test_more_panel_more_water() -> None:
    """A second panel never costs pump hours, and shade in front of half the sky costs some."""
    shade = {"from_azimuth_deg": 90, "to_azimuth_deg": 270, "below_elevation_deg": 60}
    walled = simulate_year(changed({"panel.shade": [shade]})).measures.pump_hours
    assert hours(panel__count=2) > hours() > walled


def test_a_bigger_pump_runs_shorter() -> None:
    """The sun's energy is shared by the watts."""
    assert hours(10.0) > hours() > hours(30.0)


def test_dirt_and_thin_cables_cost_hours() -> None:
    """Soiling takes light, a tracker's panel cable takes power."""
    assert hours(30.0) > hours(30.0, panel__soiling=0.3)
    thin = {"panel__cable__length_m": 40, "panel__cable__area_mm2": 1.5}
    assert hours(30.0, controller__kind="mppt") > hours(30.0, controller__kind="mppt", **thin)


def test_a_tracker_gains_in_the_cold_part_of_the_year() -> None:
    """The maximum power point lies above the battery's voltage, so the tracker runs a hungry pump longer."""
    assert hours(30.0, controller__kind="mppt") > 1.02 * hours(30.0)


@pytest.mark.parametrize("path", sorted((ROOT / "scenarios").glob("*.toml")), ids=lambda path: path.stem)
def test_24_v_does_what_12_v_does(path: Path, design: Callable[..., Scenario]) -> None:
    """Everything in pairs in series - panels, blocks, thresholds, pump - gives the pump hours of one, within 2 %, for
    only fuses and cables differ.
    """
    once = design({"controller.own_current_a": 0.01, "panel.cable.extra_mohm": 0}, path)
    twice = design(
        {
            "battery.nominal_v": 24,
            "panel.count": 2,
            "panel.series": 2,
            "pump.power_w": 2 * once.pump.power_w,
            "pump.at_v": 2 * once.pump.at_v,
            "controller.own_current_a": 0.01,
            "panel.cable.extra_mohm": 0,
        },
        path,
    )
    expected = simulate_year(once).measures.pump_hours
    assert simulate_year(twice).measures.pump_hours == pytest.approx(expected, rel=0.02)
