"""The scenario room: what a file may say, what holds when it leaves things out, what is told when it is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import published
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from kit.smallest import POND, SMALLEST, changed
from pydantic import BaseModel
from strategies import ponds, scenarios, windows

from sim.calendar import length_h, overlap, window_s
from sim.catalogue import chemistries, sample_names, template
from sim.errors import InputError
from sim.scenario import Scenario, load, overridden, parse, read_toml
from sim.scenario.fields import inner_model
from sim.weather.samples import SAMPLES

SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.toml"))


def test_defaults_are_the_ones_of_the_trade() -> None:
    """A lithium battery of 12 V gets the thresholds, delays and losses of common practice (no source)."""
    control = parse(SMALLEST, POND).controller
    assert (control.load_disconnect_v, control.load_reconnect_v) == (12.2, 13.1)
    assert (control.disconnect_delay_s, control.reconnect_delay_s) == (30.0, 120.0)
    assert (control.absorption_v, control.float_v, control.recharge_below_v) == (14.4, 13.6, 13.2)
    assert (control.own_current_a, control.series_drop_v, control.efficiency) == (0.010, 0.2, 0.95)


def test_voltages_double_for_a_battery_of_24_v() -> None:
    """Every voltage that follows from the chemistry doubles, and so does the pump's rated voltage."""
    twice = changed(battery__nominal_v=24, panel__series=2, panel__count=2)
    once = parse(SMALLEST, POND)
    for name in chemistries()["lfp"]["controller"]:
        assert getattr(twice.controller, name) == 2 * getattr(once.controller, name)
    assert (twice.pump.at_v, twice.pump.min_v, twice.pump.max_v) == (24.0, 18.0, 30.0)


def test_a_tracker_uses_more_current_itself() -> None:
    """The own consumption follows the kind of controller unless it is given (common practice, no source)."""
    assert changed(controller__kind="mppt").controller.own_current_a == 0.020
    assert changed(controller__kind="mppt", controller__own_current_a=0.005).controller.own_current_a == 0.005


@pytest.mark.parametrize(
    ("count", "power_w", "charge_a", "load_a"),
    [(1, 20, 10.0, 10.0), (2, 60, 15.0, 10.0), (3, 61, 30.0, 15.0), (12, 300, 100.0, 60.0), (20, 900, 150.0, 150.0)],
)
def test_ratings_are_the_next_usual_ones(count: int, power_w: float, charge_a: float, load_a: float) -> None:
    """1.25 x short-circuit current (5.9 A a panel) and 2 x pump current (at 12 V) rounded up to a usual rating."""
    control = changed(panel__count=count, pump__power_w=power_w).controller
    assert (control.max_charge_a, control.max_load_a) == (charge_a, load_a)


def test_a_tracker_is_rated_by_power_over_the_battery_s_voltage() -> None:
    """Two panels of 200 W in series give 400 W/12 V = 33 A, not the 10 A of their short-circuit current (derived)."""
    strong = {"panel__power_w": 200, "panel__vmp_v": 18.0, "panel__imp_a": 11.1, "panel__isc_a": 11.8}
    strung = strong | {"panel__count": 2, "panel__series": 2}
    assert changed(controller__kind="mppt", **strung).controller.max_charge_a == 40.0
    assert changed(controller__kind="pwm", **strung).controller.max_charge_a == 15.0


def test_parallel_strings_not_panels_add_current() -> None:
    """Four panels in strings of two have the current of two."""
    assert changed(panel__count=4, panel__series=2).controller.max_charge_a == 15.0


@pytest.mark.parametrize(("voc_v", "vmp_v", "imp_a", "cells"), [(22.0, 18.0, 5.56, 36), (36.9, 30.6, 3.27, 60)])
def test_cells_are_guessed_from_the_open_circuit_voltage(voc_v: float, vmp_v: float, imp_a: float, cells: int) -> None:
    """0.61 V a cell gives the usual 36 and 60 cells (derived)."""
    assert changed(panel__voc_v=voc_v, panel__vmp_v=vmp_v, panel__imp_a=imp_a).panel.cells == cells


def test_only_marked_values_stay_open() -> None:
    """After reading, nothing is None but what may stay unknown: the site and with it the equator's side (from the
    weather), the other weather sources, resistance and first charge, the season, prices, the pump's curve; and the
    water as a whole.
    """
    dump = parse(SMALLEST, POND).model_dump()
    assert dump.pop("water") is None
    empty = {
        f"{section}.{key}"
        for section in dump
        if isinstance(dump[section], dict)
        for key, v in dump[section].items()
        if v is None
    }
    site = {f"site.{name}" for name in ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h", "record_low_c")}
    priced = {"cost.currency", "cost.mains_connection", "cost.years", "cost.pump_years"}
    prices = {f"cost.{name}" for name in dump["cost"]} - priced
    weather = {f"weather.{name}" for name in ("file", "files", "columns", "monthly")}
    others = {
        "panel.azimuth_deg",
        "battery.resistance_mohm",
        "battery.place_min_c",
        "battery.heater_w",
        "battery.initial_soc",
        "care.shut_down",
        "care.start_up",
        "controller.max_pv_v",
        "need.quiet",
    }
    pump = {"pump.curve", "pump.label_flow_lph", "pump.extension"}
    assert empty == site | weather | others | pump | prices


def test_a_cable_may_be_given_in_part() -> None:
    """What a cable table leaves out is the default of its own run, not of another one."""
    cable = changed(pump__cable={"length_m": 12}).pump.cable
    assert (cable.length_m, cable.area_mm2, cable.extra_mohm) == (12.0, 2.5, 0.0)


def test_a_gauge_stands_for_an_area() -> None:
    """12 AWG has the area of its standard (ASTM B258), also where the run's default is another one."""
    for run in ({"panel__cable": {"awg": 12}}, {"pump__cable": {"awg": 12}}, {"pump__extension": {"awg": 12}}):
        scenario = changed(**run)
        cable = scenario.pump.extension or next(c for c in (scenario.panel.cable, scenario.pump.cable) if c.awg)
        published.check("REF305", cable.area_mm2)


@pytest.mark.parametrize(
    ("cable", "key", "allowed"),
    [
        (
            {"awg": 12, "area_mm2": 2.5},
            "pump.cable.area_mm2",
            "nothing beside awg (12): the area or the gauge, not both",
        ),
        ({"awg": 13}, "pump.cable.awg", "an American wire gauge: 18 or 16 or 14"),
        ({"awg": "12"}, "pump.cable.awg", "an American wire gauge: 18 or 16 or 14"),
        ({"fuse_distance_cm": 5}, "pump.cable.fuse_distance_cm", "only length_m, awg, area_mm2, extra_mohm, fuse_a"),
    ],
)
def test_a_cable_is_refused_in_one_message(cable: dict[str, Any], key: str, allowed: str) -> None:
    """Area and gauge together, a gauge that the table lacks, text, and a key of another run."""
    with pytest.raises(InputError) as caught:
        changed(pump__cable=cable)
    assert caught.value.key == key and caught.value.allowed.startswith(allowed)


def test_a_pump_starts_below_its_highest_voltage() -> None:
    """The start voltage is 5 % above the lowest one, but where the highest is nearer it is that."""
    assert changed(pump__min_v=10.0).pump.start_v == pytest.approx(10.5)
    assert changed(pump__min_v=12.0, pump__max_v=12.1).pump.start_v == 12.1


def test_one_figure_stands_for_twelve_months() -> None:
    """Monthly values are always twelve after reading."""
    assert changed(need__hours_per_day=6).need.hours_per_day == (6.0,) * 12
    shade = {"from_azimuth_deg": 0, "to_azimuth_deg": 90, "below_elevation_deg": 20, "transmittance": 1}
    assert changed(panel__shade=[shade]).panel.shade[0].transmittance == (1.0,) * 12


def test_a_scenario_cannot_be_changed() -> None:
    """Setting a value of a scenario fails."""
    with pytest.raises(ValueError, match="frozen"):
        parse(SMALLEST, POND).pump.power_w = 5.0


def test_where_a_scenario_was_read_does_not_count() -> None:
    """Two files that say the same give equal scenarios with equal hashes, and names of their own."""
    here, there = parse(SMALLEST, POND), parse(SMALLEST, Path("elsewhere/lake.toml"))
    assert here == there and hash(here) == hash(there) and (here.name, there.name) == ("pond", "lake")
    assert here != changed(pump__power_w=21)


def _keys(model: type[BaseModel], path: str = "") -> Iterator[str]:
    """Every key that a scenario may have, dotted; those of several tables once."""
    for key, info in model.model_fields.items():
        inner = inner_model(info)
        yield from _keys(inner, f"{path}{key}.") if inner else (path + key,)


def _written(table: Mapping[str, Any], path: str = "") -> Iterator[str]:
    """The keys that a file has."""
    for key, value in table.items():
        for inner in value if isinstance(value, list) else [value]:
            yield from _written(inner, f"{path}{key}.") if isinstance(inner, dict) and key != "set" else (path + key,)


@pytest.mark.parametrize("examples", [250, pytest.param(600, marks=pytest.mark.long)])
def test_any_valid_scenario_is_read_and_round_trips(examples: int) -> None:
    """What was read, written out in full and read again, is the same; no given value was changed; no key is left out.

    A key that is never drawn is one whose defects are never found.
    """
    drawn: set[str] = set()

    @settings(max_examples=examples)
    @given(ponds())
    def trip(data: dict[str, Any]) -> None:
        drawn.update(_written(data))
        scenario = parse(data, POND)
        assert parse(scenario.model_dump(exclude_none=True), POND) == scenario
        plain = {key: value for key, value in data["pump"].items() if key not in ("cable", "extension")}
        assert plain == {key: getattr(scenario.pump, key) for key in plain}

    trip()
    assert set(_keys(Scenario)) - drawn == {"path"}  # which no file has


@settings(max_examples=50)
@given(scenarios(), st.data())
def test_an_unknown_key_anywhere_is_refused(data: dict[str, Any], draw: st.DataObject) -> None:
    """No section takes a key that it does not have, and the message says which ones it has."""
    section = draw.draw(st.sampled_from(["", "site.", "weather.", "panel.", "panel.cable.", "pump.", "need."]))
    with pytest.raises(InputError) as caught:
        parse(overridden(data, {f"{section}colour": "green"}), POND)
    assert caught.value.key == f"{section}colour" and caught.value.allowed.startswith("only ")


@pytest.mark.parametrize(
    ("key", "hint"),
    [
        ("panel.tilt", "did you mean tilt_deg?"),
        ("batery", "did you mean battery?"),
        ("panel.cable.azimuth_deg", "did you mean panel.azimuth_deg?"),
        ("capacity_ah", "did you mean battery.capacity_ah?"),
        ("pump.cable.lenght_m", "did you mean length_m?"),
    ],
)
def test_an_unknown_key_brings_a_suggestion(key: str, hint: str) -> None:
    """A slip of the pen, or a key under the wrong heading, is answered with the key that was meant."""
    with pytest.raises(InputError) as caught:
        parse(overridden(SMALLEST, {key: 1}), POND)
    assert caught.value.key == key and caught.value.allowed.endswith(hint)


def test_a_key_unlike_any_other_brings_no_suggestion() -> None:
    """Nothing is suggested where nothing is close."""
    with pytest.raises(InputError) as caught:
        changed(pump__zzz=1)
    assert "did you mean" not in caught.value.allowed


def test_the_path_is_no_key() -> None:
    """Where the file lies cannot be set from within it."""
    with pytest.raises(InputError, match="path = "):
        changed(path="elsewhere.toml")


def test_a_default_in_conflict_says_that_it_is_one() -> None:
    """A message about a value that the user never wrote says where it comes from."""
    with pytest.raises(InputError) as caught:
        changed(controller__float_v=13.0)
    assert str(caught.value) == (
        "pond.toml: controller.recharge_below_v = 13.2: allowed is less than float_v (13 V); the value is the default"
    )


@pytest.mark.parametrize(
    ("window", "hours"),
    [(("08:00", "18:30"), 10.5), (("22:00", "06:00"), 8.0), (("00:00", "24:00"), 24.0), (("20:00", "00:00"), 4.0)],
)
def test_windows_may_wrap_midnight(window: tuple[str, str], hours: float) -> None:
    """An end before the start lies on the next day."""
    assert length_h(window) == hours
    scenario = changed(need__between=list(window), need__hours_per_day=hours)
    assert scenario.need.between == window and scenario.need.between_s == window_s(window)
    with pytest.raises(InputError, match="hours_per_day"):
        changed(need__between=list(window), need__hours_per_day=hours + 0.1)


@given(windows())
def test_windows_overlap_when_one_is_there_twice(apart: list[list[str]]) -> None:
    """Windows between alternate edges of the day never overlap; one of them repeated does."""
    pairs = [(start, end) for start, end in apart]
    assert not overlap(pairs) and overlap([*pairs, pairs[0]])
    control = changed(controller__load_mode="clock", controller__load_windows=apart).controller
    assert control.load_windows == tuple(pairs) and control.load_windows_s == tuple(map(window_s, pairs))


def test_a_scenario_file_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    """Some editors put one there; it changes nothing."""
    path = tmp_path / "pond.toml"
    path.write_bytes(b"\xef\xbb\xbf" + template().encode())
    assert load(path) == parse(SMALLEST | {"title": "My pond"}, POND)


def documented() -> str:
    """The template with every default that it shows as a comment made a line of its own."""
    return re.sub(r"^#([a-z]\w* = )", r"\1", template(), flags=re.MULTILINE)


def test_the_template_documents_every_default_as_it_is(tmp_path: Path) -> None:
    """As written, and with all commented defaults turned on, the template is the smallest scenario."""
    smallest = parse(SMALLEST | {"title": "My pond"}, POND)
    for text in (template(), documented()):
        path = tmp_path / "pond.toml"
        path.write_text(text, encoding="utf-8")
        assert load(path) == smallest


def test_the_template_names_every_key() -> None:
    """A user finds each key of each section in the template."""
    dump = parse(SMALLEST, POND).model_dump()
    shown = {key: table for key, table in dump.items() if isinstance(table, dict)}
    for section, table in shown.items():
        part = re.search(rf"^\[{section}\].*?(?=^\[(?!{section}\.)|\Z)", template(), flags=re.MULTILINE | re.DOTALL)
        assert part is not None
        missing = [key for key in table if key not in part[0]]
        assert not missing, f"[{section}] lacks {missing}"


@pytest.mark.parametrize("caution", ["fuse", "0 C", "Local codes", "licensed"])
def test_the_template_begins_with_the_cautions(caution: str) -> None:
    """Fire current, fuse, frost and codes come before the first setting."""
    assert caution in template().partition("title =")[0]


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_the_demo_scenarios_are_valid(path: Path) -> None:
    """Each scenario that comes with the program can be read."""
    assert load(path).title != "Untitled pond"


def test_there_are_demo_scenarios() -> None:
    """The two gardens are found."""
    assert {"courtyard", "school"} <= {path.stem for path in SCENARIOS}


def test_the_samples_are_the_ones_that_can_be_read() -> None:
    """The names a scenario may ask for are those of the reader."""
    assert set(sample_names()) == set(SAMPLES)


def test_overriding_leaves_the_original_alone() -> None:
    """A changed copy shares nothing with the data it was made of."""
    data = {"panel": {"shade": [{"transmittance": [0.1, 0.2]}]}}
    copy = overridden(data, {"panel.shade[0].transmittance": 0.5, "panel.cable.length_m": 3})
    assert copy == {"panel": {"shade": [{"transmittance": 0.5}], "cable": {"length_m": 3}}}
    assert data == {"panel": {"shade": [{"transmittance": [0.1, 0.2]}]}}


@pytest.mark.parametrize("key", ["panel.power_w.x", "panel.shade.1.transmittance", "panel.shade.first.transmittance"])
def test_overriding_needs_a_way_to_the_key(key: str) -> None:
    """A key that leads through a number, or to a table that a list does not have, is told."""
    with pytest.raises(InputError) as caught:
        overridden({"panel": {"power_w": 100, "shade": [{}]}}, {key: 1}, POND)
    assert (caught.value.file, caught.value.key) == ("pond.toml", key)


def test_overriding_follows_through_to_the_defaults() -> None:
    """Defaults that depend on an overridden value are worked out anew."""
    assert changed(battery__capacity_ah=50).controller.charge_ends_a == 1.0


@pytest.mark.parametrize(
    ("content", "fragment"),
    [
        (b"title = 'p\xf6nd'", "UTF-8"),
        (b"[panel]\npower_w 100\n", "line 2"),
        (b"[panel]\n[panel]\n", "line 2"),
        (b"x = " + b"[" * 5000, "TOML"),
        (b"x = " + b"9" * 5000, "TOML"),
    ],
)
def test_a_file_that_is_no_toml_is_told(tmp_path: Path, content: bytes, fragment: str) -> None:
    """A wrong encoding or a slip of syntax is one message that helps to find the place."""
    path = tmp_path / "pond.toml"
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        read_toml(path)
    assert caught.value.file == str(path) and fragment in str(caught.value)


@pytest.mark.parametrize("name", ["missing.toml", "."])
def test_a_file_that_cannot_be_read_is_told(tmp_path: Path, name: str) -> None:
    """No file, and a folder in its place, are messages and not tracebacks."""
    with pytest.raises(InputError, match="a scenario file that can be read"):
        load(tmp_path / name)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("vmp_v = 18,2", 'vmp_v (line 2) = "18,2": allowed is a point in place of the comma: 18.2'),
        ("mounting = “open”", 'mounting (line 2) = "“open”": allowed is straight quotes'),
        (
            "mounting = open",
            'mounting (line 2) = "open": allowed is a number, true or false, text in "straight quotes"',
        ),
        ("[panel]", 'TOML (line 2) = "[panel]": allowed is each table and each key once; [panel] stands a second time'),
        ("count = 1\ncount = 2", 'count (line 3) = "2": allowed is each table and each key once'),
        ("power_w 100", 'TOML (line 2) = "power_w 100": allowed is TOML: key = value'),
    ],
    ids=["comma", "curly quotes", "bare word", "table twice", "key twice", "no equals sign"],
)
def test_slips_of_syntax_are_named_like_wrong_values(tmp_path: Path, line: str, said: str) -> None:
    """Line, key, what stands there, and what may: as good a message as that of a wrong value."""
    path = tmp_path / "pond.toml"
    path.write_text(f"[panel]\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError) as found:
        read_toml(path)
    assert str(found.value).startswith(f"{path}: {said}")


def test_the_commented_water_runs(tmp_path: Path) -> None:
    """The block on water of a new scenario, uncommented as a whole, with the pump's curve, is a scenario."""
    dry, wet = template().replace("#   curve =", "curve =").split("#   [water]")
    path = tmp_path / "pond.toml"
    path.write_text(dry + re.sub(r"(?m)^#(   |$)", "", f"#   [water]{wet}"), encoding="utf-8")
    water = load(path).water
    assert water is not None and water.branch is not None and len(water.pipe) == 2 and water.filter is not None
