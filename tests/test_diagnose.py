"""What is wrong: known faults are found from a log and from readings by hand, and what cannot be is told."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from browser import fit_phones
from conftest import COURTYARD, changed, sky_of
from kit.faulty import ran

from sim import cli
from sim.errors import InputError
from sim.report.diagnose import diagnosis_report
from sim.scenario import Scenario
from sim.studies import diagnose
from sim.studies.diagnose import DECIDED, log_case, moment_of, study_diagnose
from sim.studies.diagnose_causes import CAUSES, Shown, felt
from sim.studies.diagnose_causes import shown as causes_shown
from sim.studies.diagnose_hand import Hand
from sim.studies.diagnose_hints import switched_at
from sim.studies.diagnose_light import clock_error_s
from sim.studies.diagnose_log import thinned, weigh_log
from sim.studies.diagnose_seen import Seen
from sim.studies.diagnose_trials import plain
from sim.studies.diagnose_weighed import Weighed, probabilities
from sim.studies.measured_log import Readings

FIRST_DAY, DAYS = 120, 5
PLAIN = {"weather.sample": "subtropic", "battery.capacity_ah": 40, "pump.power_w": 30, "panel.shade": []}
PLAIN |= {"need.hours_per_day": 12.0, "need.between": ["00:00", "24:00"], "panel.power_w": 100}


@cache
def plain_sky() -> np.ndarray:
    """The sky of the plain system."""
    return sky_of(changed(PLAIN))


def log_of(scenario: Scenario, light: float = 1.0) -> Readings:
    """A log of five days every half an hour, with 20 mV of noise and a meter that reads 30 mV high."""
    did = ran(scenario, plain_sky(), FIRST_DAY, light)
    rows = np.arange(2, DAYS * 144, 3)
    volts = did.volts[rows] + np.random.default_rng(3).normal(0.0, 0.02, len(rows)) + 0.03
    return Readings(did.at_s[rows], volts, pump=(did.on[rows] > 0.5).astype(float))


@pytest.mark.parametrize(
    ("fault", "light", "cause"),
    [
        ({"battery.cable.extra_mohm": 250.0}, 1.0, "leads-or-terminals"),
        ({}, 0.45, "shade-or-dirt"),
    ],
)
def test_a_known_fault_is_found_from_a_short_log(fault: dict[str, object], light: float, cause: str) -> None:
    """A bad joint and a dirty panel, from five days, after two rounds of the search."""
    readings = log_of(changed(PLAIN | fault), light)
    days, seen, notes = log_case(changed(PLAIN), plain_sky(), readings, True)
    weighed = weigh_log(days, seen, rounds=2)
    found = probabilities(weighed)
    assert next(iter(found)) == cause and not notes
    assert sum(found.values()) == pytest.approx(1.0) and set(found) == set(CAUSES)
    assert weighed[0].offset_v == pytest.approx(0.03, abs=0.03)


@pytest.mark.parametrize(
    ("cause", "light", "sunny", "believed"),
    [
        ("nothing", None, True, True),
        ("nothing", 0.9, True, False),
        ("shade-or-dirt", 0.9, True, False),
        ("leads-or-terminals", 0.9, True, True),
        ("leads-or-terminals", None, False, False),
    ],
)
def test_what_an_own_current_cannot_tell_is_not_believed(
    cause: str, light: float | None, sunny: bool, believed: bool
) -> None:
    """A dull fortnight, a shade for some hours and a small panel are alike in a log's own current (derived)."""
    only = Weighed(None, np.zeros(1), 0.0, 0.0, cause, None)  # type: ignore[arg-type]
    seen = Seen(log_of(changed(PLAIN)), 1.0, light, sunny=sunny)
    assert (probabilities([only], seen)[cause] > DECIDED) is believed


def test_a_clock_that_is_wrong_is_found() -> None:
    """Two hours ahead are found within half an hour; a right clock is left alone (derived)."""
    readings = log_of(changed(PLAIN))
    days, _, _ = log_case(changed(PLAIN), plain_sky(), readings, True)
    assert clock_error_s(days, thinned(readings)) == 0.0
    assert clock_error_s(days, thinned(readings.later(7200.0))) == pytest.approx(7200.0, abs=1800.0)


def test_a_clock_is_put_right_only_where_that_explains_the_log(monkeypatch: pytest.MonkeyPatch) -> None:
    """A log two hours fast is put right; one by the right clock is left alone, though a shift is offered (derived).

    What a fault makes of a day can look like another clock: 140 and 170 minutes were "put right" in made-up logs.
    """
    monkeypatch.setattr(diagnose, "CLOCK_ROUNDS", 1)
    readings = log_of(changed(PLAIN))
    notes = log_case(changed(PLAIN), plain_sky(), readings.later(7200.0), True)[2]
    assert len(notes) == 1 and "minutes ahead" in notes[0]
    monkeypatch.setattr(diagnose, "clock_error_s", lambda *_: 8400.0)
    days, _, notes = log_case(changed(PLAIN), plain_sky(), readings, True)
    assert not notes and (days.at_s == readings.at_s).all()


def test_a_fault_that_mends_without_effect_explains_nothing() -> None:
    """Charge refused below 5 °C in a warm May is not felt, half the light is (derived)."""
    days, _, _ = log_case(changed(PLAIN), plain_sky(), log_of(changed(PLAIN)), True)
    trials = plain(2)
    trials["frost_c"][0], trials["light"][1] = 5.0, 0.5
    assert felt(days, ("charge-refused", "shade-or-dirt"), trials, causes_shown(days, trials)) == [False, True]


def test_the_pump_s_state_tells_the_thresholds() -> None:
    """The last voltages before it stands and before it runs, against those that are written (derived)."""
    at_s, volts = np.arange(8.0) * 600.0, np.array([12.6, 12.3, 12.9, 13.2, 12.6, 12.3, 12.9, 13.2])
    readings = Readings(at_s, volts, pump=np.array([1, 1, 0, 0, 1, 1, 0, 0]))
    plant = changed({"controller.load_disconnect_v": 12.0, "controller.load_reconnect_v": 13.0})
    assert not len(switched_at(readings, plant))  # it began to run but once
    twice = readings.some(np.r_[0:8, 0:8])
    assert switched_at(twice, plant) == pytest.approx(np.tile([0.3, 0.2], (25, 1)))
    assert not len(switched_at(Readings(at_s, volts), plant))


def shown(**other: float) -> Shown:
    """A system that lacks hours which nothing brings back, but for what is other."""
    same = {"starts_a_day": 1.0, "wanted_h": 12.0, "met_h": 6.0, "early_share": 0.0, "refused_h": 0.0, "lower_h": 6.5}
    same |= {"left_h": 24.0, "warmer_h": 6.0, "timed_h": 6.0, "wider_starts": 1.0, "gap_v": 0.9, "least_gap_v": 0.5}
    return Shown(**(same | other))


@pytest.mark.parametrize(
    ("does", "cause"),
    [
        (shown(), "too-small"),
        (shown(met_h=11.9), "nothing"),
        (shown(lower_h=11.0), "cut-off-too-high"),
        (shown(warmer_h=11.0), "charge-refused"),
        (shown(timed_h=11.0, left_h=6.0), "timer-or-preset"),
        (shown(timed_h=11.0, left_h=12.0), "too-small"),  # a timer that leaves what is wanted is not to blame
        (shown(starts_a_day=20.0, gap_v=0.2, met_h=12.0), "thresholds-too-close"),
    ],
)
def test_what_a_system_as_written_shows_tells_its_cause(does: Shown, cause: str) -> None:
    """The change that brings back at least half of what is missing names the cause (derived)."""
    assert does.cause == cause


def test_two_readings_tell_a_bad_joint(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """0.9 V of sag at 0.95 A is the leads; terminal, JSON and page say it, with the cautions."""
    out = tmp_path / "reports"
    told = ["diagnose", str(COURTYARD), "--volts-on", "12.3", "--volts-off", "13.2", "--amps", "0.95"]
    assert cli.main([*told, "--out", str(out), "--json", str(out / "d.json")]) == 0
    found = json.loads((out / "d.json").read_text())
    assert found["verdict"] == "leads-or-terminals" == found["causes"][0]["id"]
    assert {one["id"] for one in found["causes"]} == set(CAUSES)
    assert (
        set(found["causes"][0]) == {"id", "probability", "evidence", "change"}
        and "mΩ" in found["causes"][0]["evidence"]
    )
    assert "caution: Electricity and water" in " ".join(capsys.readouterr().out.split())
    html = (out / "courtyard-diagnosis.html").read_text()
    assert "Never charge lithium" in html and "leads-or-terminals" in html


def test_the_page_is_sound(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a log there is a picture; axe-core finds nothing on a phone, and nothing is loaded."""
    path = tmp_path / "log.csv"
    readings = log_of(changed(PLAIN | {"battery.cable.extra_mohm": 250.0}))
    stamps = [datetime(2001, 1, 1) + timedelta(seconds=float(at_s)) for at_s in readings.at_s]
    rows = zip(stamps, readings.voltage_v, strict=True)
    path.write_text("time,voltage_v\n" + "".join(f"{at},{volts:.3f}\n" for at, volts in rows))
    monkeypatch.setattr(diagnose, "weigh_log", lambda days, seen, told: weigh_log(days, seen, rounds=1))
    result = study_diagnose(changed(PLAIN), Hand(), path)
    html = diagnosis_report(result)
    assert result.overlay is not None and 'id="seen"' in html
    assert "http" not in html.replace("http://www.w3.org", "")
    fit_phones(tmp_path, html)


@pytest.mark.parametrize(
    ("told", "allowed"),
    [
        ([], "something that was seen"),
        (["--volts-on", "30"], "a voltage from 8 to 16 V"),
        (["--volts-on", "13", "--volts-off", "12.5"], "more than --volts-on (13 V)"),
        (["--amps", "-1"], "a current from 0 to 1000 A"),
        (["--symptom", "clicks", "--at", "noon"], 'a moment such as "2026-06-03 14:00"'),
        (["--log", "nowhere.csv"], "a log that can be read"),
    ],
)
def test_what_cannot_be_is_told(told: list[str], allowed: str, capsys: pytest.CaptureFixture[str]) -> None:
    """One message, exit code 2."""
    assert cli.main(["diagnose", str(COURTYARD), *told]) == 2
    assert allowed in capsys.readouterr().err


def test_a_moment_is_by_the_site_s_clock() -> None:
    """Seconds since the year began; an offset is refused (derived)."""
    assert moment_of("2026-01-02 06:00") == 30 * 3600.0 and moment_of(None) is None
    with pytest.raises(InputError):
        moment_of("2026-01-02 06:00+01:00")
