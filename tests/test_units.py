"""Units in which reports are read: one system in a page, the same figures in both, and nothing left set."""

from __future__ import annotations

import copy
import json
import pickle
import threading
from dataclasses import replace
from pathlib import Path
from typing import Any, get_args

import pytest
from conftest import COURTYARD, changed, report_in, told_in
from hypothesis import given
from hypothesis import strategies as st
from kit.readers import agree, apart, half, mixed

from sim import cli
from sim.catalogue import template
from sim.catalogue.cables import Area, gauge_area_mm2
from sim.checks import findings
from sim.page.live import answer_of
from sim.report.render import year_report
from sim.report.weather import weather_report
from sim.scenario import load
from sim.studies.result import YearResult
from sim.studies.weather import look_at
from sim.studies.year import simulate_year
from sim.units import READ, Quantity, System, converted, in_units, sentence, sign, system, told

SYSTEMS = get_args(System)
FORMS = ("", "g", ".4g", ".0f", ".1f", ".2f", ",.0f")
# A pond with nearly everything to find fault with, so that the sentences of many rules are read.
TROUBLED = {
    "pump.cable.length_m": 30.0,
    "battery.cable.fuse_a": 10.0,
    "battery.cable.fuse_distance_cm": 40.0,
    "pump.label_flow_lph": 4000.0,
    "water.filter.max_flow_lph": 300.0,
    "water.observed_loss_mm_per_day": 22.0,
    "water.fish": True,
    "water.branch.target_lph": 900.0,
    "water.basin.freeboard_m": 0.002,
    "water.basin.depth_m": 0.02,
    "water.stream.spillway_width_m": 0.9,
    "controller.load_disconnect_v": 12.9,
    "controller.load_reconnect_v": 13.0,
    "controller.max_pv_v": 20.0,
}


def read_in(result: YearResult, units: System) -> str:
    """The year's report in a system of units."""
    return year_report(replace(result, scenario=result.scenario.but(report={"units": units})))


@pytest.fixture(scope="module")
def courtyard() -> YearResult:
    """The courtyard's year with the readings to expect."""
    return told_in(COURTYARD)


@pytest.fixture(scope="module")
def reports(courtyard: YearResult) -> dict[System, str]:
    """Its report in each system."""
    return {"metric": report_in(COURTYARD), "us": read_in(courtyard, "us")}


@pytest.mark.parametrize("units", SYSTEMS)
def test_a_year_mixes_no_units(reports: dict[System, str], units: System) -> None:
    """No length, volume, flow, area or temperature of the other system, in words, tables or charts."""
    assert mixed(reports[units], units) == []
    assert mixed(reports[units], "us" if units == "metric" else "metric") != []  # the scan finds what is there


def test_both_reports_say_the_same(reports: dict[System, str]) -> None:
    """Every figure of one is the other's, to the digits that both show."""
    assert list(apart(reports["metric"], reports["us"])) == []


def test_a_false_factor_is_seen(
    courtyard: YearResult, reports: dict[System, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The comparison above can fail: feet for litres per hour, or a gallon that is not the US one."""
    ours = READ["lph"]["us"]
    monkeypatch.setitem(READ["lph"], "us", ours._replace(factor=1.0 / 4.54609))
    imperial = read_in(courtyard, "us")
    monkeypatch.setitem(READ["lph"], "us", ours)
    assert len(list(apart(reports["metric"], imperial))) > 10


@pytest.fixture(scope="module")
def troubled() -> YearResult:
    """The year of a pond of which many rules have something to say."""
    return simulate_year(changed(TROUBLED), with_twins=False)


@pytest.mark.parametrize("units", SYSTEMS)
def test_findings_mix_no_units(troubled: YearResult, units: System) -> None:
    """What the rules say of a troubled pond is read in one system, and as data it is SI in any case."""
    result = troubled
    with in_units(units):
        found = findings(result.scenario, result.measures)
        said = " ".join(f"{told(one.message)} {told(one.source)} {one.read(one.limit)}" for one in found)
        plain = [one.as_json() for one in found]
    ids = {one.id for one in found}
    assert {"battery-fuse", "box-label-flow", "filter-over-driven", "leak-or-evaporation", "thin-cable"} <= ids
    assert {"basin-overflow", "start-up-drawdown", "thin-sheet", "lazy-tee", "thresholds-too-close"} <= ids
    assert mixed(said, units) == []
    assert json.dumps(plain) == json.dumps([one.as_json() for one in result.findings])


@pytest.mark.parametrize("units", SYSTEMS)
def test_weather_mixes_no_units(units: System) -> None:
    """The report on a year of weather, with the remarks on it."""
    result = look_at(COURTYARD, load(COURTYARD))
    html = weather_report(result, units)
    assert mixed(html, units) == [] and sign("c") == "°C"


def test_the_live_answer_is_read_in_the_scenarios_units(courtyard: YearResult) -> None:
    """The local page says height and findings as the reports do."""
    us = replace(courtyard, scenario=courtyard.scenario.but(report={"units": "us"}))
    assert answer_of(courtyard).place.endswith("273 m") and answer_of(us).place.endswith("896 ft")
    assert mixed(" ".join(one.message for one in answer_of(us).findings), "us") == []


UNIT = st.sampled_from(sorted(READ))


@given(st.floats(-1e6, 1e6), UNIT, st.sampled_from(FORMS))
def test_any_figure_is_the_same_in_both(value: float, unit: str, form: str) -> None:
    """Whatever the figure, its unit and its format, what is shown in both systems agrees to the shown digits."""
    shown = {}
    for units in SYSTEMS:
        with in_units(units):
            shown[units] = Quantity(value, unit, form).bare.replace(",", "").replace("−", "-")
            meant = converted(value, unit)
        hundreds = 50.0 if unit == "m3" and units == "us" else 0.0
        assert abs(float(shown[units]) - meant) <= max(half(shown[units]), hundreds, 0.005 * abs(meant)) * 1.0001
    if form in (".0f", ".1f", ".2f", ",.0f"):
        assert agree(shown["metric"], shown["us"], READ[unit]["us"])


@given(UNIT, st.floats(0.001, 9e4))
def test_there_and_back(unit: str, value: float) -> None:
    """Three digits at least are kept, so that a figure comes back to within half a per cent."""
    shown = READ[unit]["us"]
    with in_units("us"):
        back = (float(Quantity(value, unit, "g").bare.replace("−", "-")) - shown.shift) / shown.factor
    assert back == pytest.approx(value, rel=0.005, abs=0.5 if shown.shift else 0.0)


@pytest.mark.parametrize(
    ("value", "unit", "form", "metric", "us"),
    [
        # NIST SP 811, appendix B.8: 1 ft = 0.3048 m, 1 in = 25.4 mm, 1 gal = 3.785412 L, t/°F = 1.8·t/°C + 32
        (0.3048, "m", "g", "0.3048 m", "1 ft"),
        (25.4, "mm", ".1f", "25.4 mm", "1.000 inches"),
        (18.0, "cm", "g", "18 cm", "7.09 inches"),
        (3785.411784, "lph", "", "3,785 l/h", "1,000 gal/h"),
        (-40.0, "c", ".0f", "−40 °C", "−40 °F"),
        (100.0, "c", "g", "100 °C", "212 °F"),
        (10.0, "gain_c", "g", "10 °C", "18 °F"),
        (0.0, "mm", "", "0 mm", "0 inches"),
        (1.0, "m3", ",.0f", "1 m³", "300 gal"),
    ],
)
def test_published_factors(value: float, unit: str, form: str, metric: str, us: str) -> None:
    """A few figures by hand, from the published definitions."""
    assert str(Quantity(value, unit, form)) == metric
    with in_units("us"):
        assert str(Quantity(value, unit, form)) == us


@pytest.mark.parametrize("awg", range(-3, 21))
def test_an_area_is_told_by_its_gauge(awg: int) -> None:
    """The area of each gauge by ASTM B258, in whole circular hundredths, is told as that gauge, and never in mm²."""
    with in_units("us"):
        assert str(Area(round(gauge_area_mm2(awg), 2))) == f"about AWG {awg if awg > 0 else f'{1 - awg}/0'}"


def test_nothing_stays_set() -> None:
    """After an error, or while another thread reads otherwise, each has its own units."""
    with pytest.raises(ZeroDivisionError), in_units("us"):
        _ = 1 / 0
    assert system() == "metric"
    met, said = threading.Barrier(2), {}

    def read(units: System) -> None:
        with in_units(units):
            met.wait(timeout=10)
            said[units] = str(Quantity(1.0, "m", "g"))
            met.wait(timeout=10)

    threads = [threading.Thread(target=read, args=(units,)) for units in SYSTEMS]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert said == {"metric": "1 m", "us": "3.28 ft"}


def test_a_sentence_survives_copies() -> None:
    """A copy, a pickle and a sentence within another can be told again; braces in its words are only words."""
    inner = sentence("{flow} {title}", flow=Quantity(100.0, "lph", ".0f"), title="{not a place}")
    outer = sentence("It moves {inner}.", inner=inner)
    for one in (outer, copy.deepcopy(outer), pickle.loads(pickle.dumps(outer))):
        assert one == "It moves 100 l/h {not a place}." and json.dumps(one) == json.dumps(str(outer))
        with in_units("us"):
            assert told(one) == f"{one}" == "It moves 26 gal/h {not a place}."


def test_new_writes_both_in_its_comments(tmp_path: Path) -> None:
    """The values are the same SI ones; the comments have both, and the reports will be in US units."""
    path = tmp_path / "pond.toml"
    assert cli.main(["new", str(path), "--units", "us"]) == 0
    text = path.read_text("utf-8")
    plain = tmp_path / "plain.toml"
    plain.write_text(template(), "utf-8")
    assert load(path) == load(plain).but(report={"units": "us"})
    assert "length_m = 5                      # 16.4 ft; one way" in text and "0 C (32 F)" in text
    assert "#   target_lph = 300               # 79.3 gal/h; what it should get" in text


def test_the_command_overrules_the_scenario(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """On the terminal a reading is in the units asked for, and as data it is the same."""
    said: dict[str, Any] = {}
    for units in SYSTEMS:
        arguments = ["reading", str(COURTYARD), "--volts", "12.8", "--units", units]
        assert cli.main(arguments) == 0
        said[units] = capsys.readouterr().out
        assert cli.main([*arguments, "--json", str(tmp_path / units)]) == 0
        capsys.readouterr()
    assert "25 °C" in said["metric"] and "77 °F" in said["us"] and mixed(said["us"], "us") == []
    assert (tmp_path / "us").read_bytes() == (tmp_path / "metric").read_bytes()
