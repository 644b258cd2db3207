"""A log from site against the design: known faults are found again, and a log that cannot be read is told."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from conftest import COURTYARD
from kit.faulty import ran

from sim import cli
from sim.calendar import DAY_S, HOUR_S
from sim.errors import InputError
from sim.plant.engine import Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.people import processes
from sim.plant.run import How, run
from sim.scenario import Scenario
from sim.studies.diagnose_light import Light
from sim.studies.measured import against, compared
from sim.studies.measured_log import Readings, read_log
from sim.studies.measured_result import Measured
from sim.studies.measured_window import Window
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

NOISE_V, NOISE_A = 0.02, 0.05
FIRST_DAY, DAYS = 150, 14


def log_of(
    scenario: Scenario, sky: np.ndarray, times: float, panel: float, every_s: float, columns: str, seed: int = 1
) -> str:
    """Two weeks in June as a logger would write them: resistance ``times`` as large, a share ``panel`` of its current.

    Noise of 20 mV and 50 mA, a missing afternoon, and stamps that are not on the minute.
    """
    lanes = lanes_from([scenario], [0])
    for name in ("r0_ohm", "r1_ohm"):
        lanes["lane"][name] *= times
    lanes["inputs"]["clean"] = panel
    lanes["state"]["soc"] = lanes["totals"]["soc"] = 0.55
    plant = Plant(lanes, sky[np.newaxis, 24 * FIRST_DAY : 24 * (FIRST_DAY + DAYS)])
    log = simulate(plant, processes(plant, [scenario]), 20.0)
    rng = np.random.default_rng(seed)
    at_s = np.arange(0.0, DAYS * DAY_S - every_s, every_s) + rng.uniform(0.0, 0.2 * every_s)
    at_s = at_s[(at_s < 5.6 * DAY_S) | (at_s > 5.8 * DAY_S)]
    volts = np.interp(at_s, log.at_s[1:], log.totals["bus_v"][1:, 0]) + rng.normal(0.0, NOISE_V, len(at_s))
    amps = np.interp(at_s, log.at_s[1:], log.totals["battery_a"][1:, 0]) + rng.normal(0.0, NOISE_A, len(at_s))
    running = np.interp(at_s, log.at_s[1:], np.diff(log.totals["run_s"][:, 0]) / 20.0) > 0.5
    stamps = [datetime(2001, 1, 1) + timedelta(seconds=round(FIRST_DAY * DAY_S + s)) for s in at_s]
    rows = {
        "time": [f"{stamp}" for stamp in stamps],
        "voltage_v": [f"{v:.3f}" for v in volts],
        "current_a": [f"{a:.3f}" for a in amps],
        "pump": ["on" if on else "off" for on in running],
    }
    names = columns.split()
    return "\n".join([",".join(names), *(",".join(row) for row in zip(*(rows[name] for name in names), strict=True))])


@pytest.fixture(scope="module")
def thirsty(design: Callable[..., Scenario]) -> YearResult:
    """A courtyard whose pump empties a small battery every night, so that it switches each day."""
    changes = {"weather.sample": "subtropic", "battery.capacity_ah": 40, "pump.power_w": 30}
    return simulate_year(design(changes | {"controller.load_disconnect_v": 12.9, "controller.load_reconnect_v": 13.3}))


@pytest.mark.parametrize(
    ("times", "panel", "every_s", "columns"),
    [
        pytest.param(1.6, 0.8, 60.0, "time voltage_v pump", marks=pytest.mark.long),
        pytest.param(1.0, 1.0, 300.0, "time voltage_v pump", marks=pytest.mark.long),
        (2.5, 0.9, 900.0, "time voltage_v current_a pump"),
        (1.6, 0.8, 300.0, "time voltage_v"),
        pytest.param(1.6, 0.7, 300.0, "time voltage_v current_a", marks=pytest.mark.long),
    ],
)
def test_a_known_resistance_and_panel_factor_are_found(
    thirsty: YearResult, tmp_path: Path, times: float, panel: float, every_s: float, columns: str
) -> None:
    """Within 10 % and 3 %, from voltages with 20 mV of noise every 1 to 15 minutes, with or without more columns."""
    path = tmp_path / "readings.csv"
    path.write_text(log_of(thirsty.scenario, thirsty.sky, times, panel, every_s, columns))
    found = against(path, thirsty)
    assert found.resistance_mohm.value == pytest.approx(times * found.expected_mohm, rel=0.10)
    assert found.panel_factor.value == pytest.approx(panel, rel=0.03)
    assert found.rms_after_v < found.rms_before_v + 0.005 and found.rms_after_v < 2.0 * NOISE_V and not found.poor
    assert bool(found.notes) is ("pump" not in columns)


@pytest.mark.long  # the suite has that of a dirty year
def test_a_log_of_the_design_itself_differs_on_no_day(thirsty: YearResult, tmp_path: Path) -> None:
    """Neither resistance nor panel differs by more than three standard errors and 2 %; with half the panel days do."""
    path = tmp_path / "readings.csv"
    path.write_text(log_of(thirsty.scenario, thirsty.sky, 1.0, 1.0, 900.0, "time voltage_v pump"))
    found = against(path, thirsty)
    for estimate, expected in ((found.resistance_mohm, found.expected_mohm), (found.panel_factor, 1.0)):
        assert abs(estimate.value - expected) <= 3.0 * estimate.error + 0.02 * expected
    assert not found.differing_days
    path.write_text(log_of(thirsty.scenario, thirsty.sky, 1.0, 0.4, 900.0, "time voltage_v pump"))
    assert against(path, thirsty).differing_days


def test_a_log_of_a_dirty_year_differs_on_no_day(
    design: Callable[..., Scenario], thirsty: YearResult, tmp_path: Path
) -> None:
    """Dirt, equalising charges, chance faults and the season belong to the year that the log is held against."""
    care = {"soiling_per_month": 0.15, "shut_down": "01-20", "start_up": "04-01"}
    clog = {"kind": "pump-clog", "mean_days_between": 6, "repair_h": 30}
    changes = {f"care.{key}": value for key, value in care.items()} | {"care.fault": [clog]}
    dirty = simulate_year(
        design(changes, thirsty.scenario.path).model_copy(
            update={name: getattr(thirsty.scenario, name) for name in ("battery", "pump", "controller", "weather")}
        )
    )
    path, how = tmp_path / "readings.csv", How(every_s=300.0, between_s=(0.0, (FIRST_DAY + DAYS) * DAY_S))
    ((log, _),) = run([dirty.scenario], dirty.sky[np.newaxis], how=how)
    since = log.at_s > FIRST_DAY * DAY_S
    stamps = [datetime(2001, 1, 1) + timedelta(seconds=float(at_s)) for at_s in log.at_s[since]]
    running = np.diff(log.totals["run_s"][:, 0])[since[1:]] > 150.0
    rows = zip(stamps, log.totals["bus_v"][since, 0], running, strict=True)
    path.write_text("time,voltage_v,pump\n" + "".join(f"{at},{v:.3f},{int(on)}\n" for at, v, on in list(rows)[:-1]))
    found = against(path, dirty)
    print("days that differ", len(found.differing_days), "panel factor", found.panel_factor)
    assert not found.differing_days and found.rms_before_v < NOISE_V
    assert found.panel_factor.value == pytest.approx(1.0, abs=0.03)


def readings_of(year: YearResult) -> Readings:
    """Six days of a simulated system every 20 minutes, with 20 mV of noise, and the pump's share of the time."""
    did = ran(year.scenario, year.sky, FIRST_DAY)
    rows = np.arange(1, 6 * 144, 2)
    volts = did.volts[rows] + np.random.default_rng(5).normal(0.0, NOISE_V, len(rows))
    return Readings(did.at_s[rows], volts, pump=did.on[rows])


def held(year: YearResult, readings: Readings, light: Light | None = None) -> Measured:
    """Readings against a simulated year."""
    light = light or Light(year.sky, None, True)
    return compared(Window.of(year, readings, light.sky), light, 2001, ())


def test_a_meter_that_reads_high_is_not_taken_for_the_leads(thirsty: YearResult) -> None:
    """50 mV more on every reading are the meter's, within 20 mV, and leave the resistance as it is (derived)."""
    right, high = (held(thirsty, replace(log, voltage_v=log.voltage_v + more))
                   for log, more in ((readings_of(thirsty), 0.0), (readings_of(thirsty), 0.05)))  # fmt: skip
    assert high.offset_v.value - right.offset_v.value == pytest.approx(0.05, abs=0.02)
    assert high.resistance_mohm.value == pytest.approx(right.resistance_mohm.value, rel=0.1)
    assert "meter reads" in " ".join(high.in_words())


def test_a_fit_that_explains_little_is_called_poor(thirsty: YearResult) -> None:
    """A pump that draws twice its power is none of the unknowns: the fit is poor, and says so."""
    own = readings_of(thirsty)
    did = ran(thirsty.scenario.but(pump={"power_w": 60.0}), thirsty.sky, FIRST_DAY)
    found = held(thirsty, replace(own, voltage_v=np.interp(own.at_s, did.at_s, did.volts)))
    assert found.poor and any("The fit is poor" in note for note in found.notes)


def test_a_fit_that_is_worse_than_the_scenario_is_none(thirsty: YearResult) -> None:
    """A log whose pump is told the wrong way round: the scenario by itself explains it better."""
    own = readings_of(thirsty)
    found = held(thirsty, replace(own, pump=1.0 - own.pump))
    assert found.resistance_mohm is None and found.rms_after_v == found.rms_before_v
    assert found.as_json()["resistance_mohm"] is None and "nothing was fitted" in " ".join(found.in_words())


def test_a_log_across_new_year_has_the_sun_of_its_own_current(thirsty: YearResult, tmp_path: Path) -> None:
    """Christmas to Epiphany, half of it of another year: panel and battery are found by what the log tells itself."""
    did = ran(thirsty.scenario, np.concatenate([thirsty.sky, thirsty.sky]), 358)
    path, rows = tmp_path / "readings.csv", range(1, len(did.at_s), 2)
    stamps = [datetime(2001, 1, 1) + timedelta(seconds=float(did.at_s[k])) for k in rows]
    told = ["time,voltage_v,current_a,pump"]
    told += [f"{at},{did.volts[k]:.3f},{did.amps[k]:.3f},{did.on[k]:.2f}" for at, k in zip(stamps, rows, strict=True)]
    path.write_text("\n".join(told))
    found = against(path, thirsty)
    assert found.notes[0].startswith("The log is of 2001 and 2002") and "own charging current" in found.notes[1]
    assert (stamps[0].year, stamps[-1].year) == (2001, 2002) and len(found.readings.at_s) == len(stamps)
    assert found.panel_factor.value == pytest.approx(1.0, abs=0.15) and not found.poor
    resistance = found.resistance_mohm
    assert abs(resistance.value - found.expected_mohm) < 2.0 * resistance.error < 0.3 * found.expected_mohm


def lines(count: int = 60, zone: str = "", first: datetime = datetime(2001, 3, 1), **change: str) -> str:
    """A log of ``count`` readings an hour apart, with a value of row 10 changed."""
    rows = [{"time": f"{first + timedelta(hours=k)}{zone}", "voltage_v": "13.1", "pump": "on"} for k in range(count)]
    rows[8] |= change
    return "\n".join(["time,voltage_v,pump", *(",".join(row.values()) for row in rows)])


@pytest.mark.parametrize(
    ("text", "key", "allowed"),
    [
        (lines(voltage_v="131"), "row 10, voltage_v", "a number from 5 to 80"),
        (lines(time="noon"), "row 10, time", "a time such as"),
        (lines(time="2001-03-01 06:00"), "row 10, time", "a time not before that of the row above"),
        (lines(time="2002-03-01 07:00"), "row 11, time", "a time not before that of the row above"),
        (lines(pump="maybe"), "row 10, pump", "on or off"),
        (lines(pump='"on'), "line 10", "quotes that are closed"),
        (lines(pump="1" * 200_000), "line 10", "cells of at most"),
        (lines(time="0001-01-01 00:00+14:00"), "row 10, time", "a time such as"),
        (lines(pump="on,1"), "row 10", "3 values, as in the heading"),
        (lines(49), "", "at least 50 readings"),
        (lines(first=datetime(2001, 1, 3)) + "\n2002-01-05,13.0,on", "time", "a year at most"),
        ("when,voltage_v\n", "row 1", "headings of the time"),
        ("", "row 1", "headings of the time"),
    ],
)
def test_a_log_that_cannot_be_read_is_told(tmp_path: Path, text: str, key: str, allowed: str) -> None:
    """One message with file, row, column, value and what is allowed."""
    path = tmp_path / "readings.csv"
    path.write_text(text)
    with pytest.raises(InputError) as told:
        read_log(path, 2001, -5.0)
    assert (told.value.file, told.value.key) == (str(path), key) and told.value.allowed.startswith(allowed)


@pytest.mark.parametrize(("zone", "turned_h"), [("", 0.0), ("Z", -5.0), ("+05:30", -10.5), ("-05:00", 0.0)])
def test_stamps_with_an_offset_are_turned_to_the_site_s_clock(tmp_path: Path, zone: str, turned_h: float) -> None:
    """Universal time is read five hours west of it; a stamp without an offset is the site's own (derived)."""
    path = tmp_path / "readings.csv"
    path.write_text(lines(zone=zone))
    assert read_log(path, 2001, -5.0)[0].at_s[0] == pytest.approx((59 * 24.0 + turned_h) * HOUR_S)
    path.write_text(lines(zone="Z", first=datetime(2001, 1, 1, 3)))
    readings, notes = read_log(path, 2001, -5.0)  # they begin in the year before, there, and go on behind its end
    assert readings.at_s[0] == pytest.approx((365 * 24.0 - 2.0) * HOUR_S) and np.all(np.diff(readings.at_s) == HOUR_S)
    assert not notes
    path.write_text(lines(zone="Z", first=datetime(2000, 12, 30)))
    assert read_log(path, 2001, -5.0)[1] == ("The log is of 2000 and 2001; the weather beside it is dated 2001.",)


def test_stamps_of_another_year_are_noticed(tmp_path: Path) -> None:
    """The weather beside the log is then not that of its days, which is said."""
    path = tmp_path / "readings.csv"
    path.write_text(lines())
    readings, notes = read_log(path, 2005, -5.0)
    assert "The log is of 2001; the weather beside it is dated 2005." in notes
    assert readings.at_s[0] == 59 * DAY_S and readings.at_s[1] - readings.at_s[0] == HOUR_S
    assert readings.current_a is None and readings.pump is not None and readings.pump.all()


def test_the_command_shows_the_log(thirsty: YearResult, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Terminal, JSON and report say resistance and panel factor; a missing log is told before the simulation."""
    path, out = tmp_path / "readings.csv", tmp_path / "reports"
    path.write_text(log_of(thirsty.scenario, thirsty.sky, 1.0, 1.0, 900.0, "time voltage_v pump"))
    told = ["year", str(COURTYARD), "--no-log", "--out", str(out), "--json", str(out / "y.json"), "--measured"]
    assert cli.main([*told, str(path)]) == 0
    found = json.loads((out / "y.json").read_text())["measured"]
    assert found["readings"] >= 1000 and 0.2 <= found["panel_factor"]["value"] <= 1.5
    assert "Against the log" in capsys.readouterr().out
    assert 'id="measured"' in (out / "courtyard-year.html").read_text()
    assert cli.main([*told, str(tmp_path / "none.csv")]) == 2
    assert "a log that can be read" in capsys.readouterr().err
