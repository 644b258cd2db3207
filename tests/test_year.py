"""The whole story of a year: the same bytes twice, and results that move the way physics says."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

ROOT = Path(__file__).parent.parent


def bytes_of_a_year(scenario: Path, out: Path) -> dict[str, str]:
    """Hashes of everything that the command writes, from a process of its own."""
    command = [sys.executable, "-m", "sim", "year", str(scenario), "--out", str(out), "--json", str(out / "year.json")]
    variables = os.environ | {"PYTHONPATH": str(ROOT), "PYTHONHASHSEED": out.name[-1]}
    subprocess.run(command, env=variables, cwd=out.parent, check=True, capture_output=True)
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(out.iterdir())}


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    """Report, hourly log and JSON of two processes are equal byte by byte."""
    scenario = ROOT / "scenarios" / "courtyard.toml"
    first, second = (bytes_of_a_year(scenario, tmp_path / name) for name in ("run1", "run2"))
    assert first == second
    assert set(first) == {"courtyard-year.html", "courtyard-year.csv", "courtyard-ledger.csv", "year.json"}


def test_a_year_as_json_is_plain_data(any_year: YearResult) -> None:
    """The published names are there and every number is finite."""
    data = json.loads(json.dumps(any_year.as_json(), allow_nan=False))
    assert {"pump_hours", "hours_met_share", "starts", "stops_by_cause", "battery", "energy_wh", "checks"} <= set(data)
    assert len(data["pump_hours_by_month"]) == 12
    assert data["pump_hours"] == pytest.approx(sum(data["pump_hours_by_month"]))


@pytest.fixture(scope="module")
def hours(design: Callable[..., Scenario]) -> Callable[..., float]:
    """Pump hours of the courtyard with values set; __ stands for a dot."""
    return lambda **changes: (
        simulate_year(design({key.replace("__", "."): value for key, value in changes.items()})).measures.pump_hours
    )


def test_more_panel_more_water(hours: Callable[..., float]) -> None:
    """A second panel never costs pump hours, and shade in front of half the sky costs some."""
    shade = {"from_azimuth_deg": 90, "to_azimuth_deg": 270, "below_elevation_deg": 60}
    assert hours(panel__count=2) > hours() > hours(panel__shade=[shade])


def test_a_bigger_pump_runs_shorter(hours: Callable[..., float]) -> None:
    """The sun's energy is shared by the watts."""
    assert hours(pump__power_w=10) > hours(pump__power_w=20) > hours(pump__power_w=40)


def test_dirt_and_thin_cables_cost_hours(hours: Callable[..., float]) -> None:
    """Soiling takes light, a tracker's panel cable takes power."""
    assert hours(pump__power_w=30) > hours(pump__power_w=30, panel__soiling=0.3)
    thin = {"panel__cable__length_m": 40, "panel__cable__area_mm2": 1.5}
    assert hours(pump__power_w=30, controller__kind="mppt") > hours(pump__power_w=30, controller__kind="mppt", **thin)


def test_a_tracker_gains_in_the_cold_part_of_the_year(hours: Callable[..., float]) -> None:
    """The maximum power point lies above the battery's voltage, so the tracker runs a hungry pump longer."""
    assert hours(pump__power_w=30, controller__kind="mppt") > 1.02 * hours(pump__power_w=30)


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
