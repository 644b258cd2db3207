"""Each design check on what a scenario says, on both sides of its limit: wiring, panel, controller and battery."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import published
import pytest

from sim import checks
from sim.checks import Finding
from sim.figures import wiring
from sim.figures.measures import Measures
from sim.plant.lanes import lanes_from
from sim.plant.records import TOTALS
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.studies.winter import hours_with_battery, with_battery

Design = Callable[..., Scenario]
HOTTEST_C, COLDEST_C = 30.0, -15.0


@pytest.fixture(scope="module")
def found(courtyard_year: YearResult, design: Design) -> Callable[..., list[Finding]]:
    """Makes the findings on a design in a year between −15 and 30 °C, with some of the measures replaced."""

    def findings(changes: dict[str, Any], **measured: Any) -> list[Finding]:
        scenario = design(changes)
        ohm = float(lanes_from([scenario], places=[0])["lane"]["r0_ohm"][0])
        wires = wiring.wiring_of(scenario, (COLDEST_C, HOTTEST_C), np.zeros(1, TOTALS)[0], ohm)
        return list(checks.findings(scenario, replace(courtyard_year.measures, wiring=wires, **measured)))

    return findings


def pick(findings: list[Finding], id: str) -> Finding | None:
    """The finding of an id, if it is there."""
    (*one,) = (finding for finding in findings if finding.id == id)
    assert len(one) <= 1
    return one[0] if one else None


UNFUSED = {"pump.cable": {"area_mm2": 1.5, "length_m": 2}}
STRONG = {"panel.power_w": 400, "panel.vmp_v": 18.0, "panel.imp_a": 22.2, "panel.isc_a": 23.5}
SLOW = {"pump.start_current_factor": 1.0, "pump.cable.length_m": 0}
# id, level, limit (None: as it comes), beyond the limit, at it
SCENARIOS: list[tuple[str, str, float | None, dict[str, Any], dict[str, Any]]] = [
    # the gap below which thresholds are close whatever the sag: 0.5 V lithium, 0.8 V lead-acid, twice that at 24 V
    (
        "thresholds-too-close",
        "caution",
        0.5,
        {"controller.load_reconnect_v": 12.69},
        {"controller.load_reconnect_v": 12.7},
    ),
    (
        "thresholds-too-close",
        "caution",
        0.8,
        {"battery.chemistry": "agm", "controller.load_disconnect_v": 11.81},
        {"battery.chemistry": "agm", "controller.load_disconnect_v": 11.8},
    ),
    # 10.0 V of the protection circuit and 0.2 V
    (
        "protection-trips-first",
        "warning",
        10.2,
        {"controller.load_disconnect_v": 10.19},
        {"controller.load_disconnect_v": 10.2},
    ),
    # 14.8 V of the protection circuit less 0.2 V
    ("wrong-battery-preset", "warning", 14.6, {"controller.absorption_v": 14.61}, {"controller.absorption_v": 14.6}),
    # best voltage over 14.4 V of absorption
    (
        "panel-voltage-on-pwm",
        "note",
        1.3,
        {"panel.vmp_v": 18.73, "panel.imp_a": 5.34},
        {"panel.vmp_v": 18.71, "panel.imp_a": 5.34},
    ),
    (
        "panel-voltage-on-pwm",
        "caution",
        1.5,
        {"panel.vmp_v": 21.7, "panel.voc_v": 26.0, "panel.imp_a": 4.6},
        {"panel.vmp_v": 21.7, "panel.voc_v": 26.0, "panel.imp_a": 4.6, "controller.kind": "mppt"},
    ),
    # 22.0 V · 1.16 = 25.52 V at −15 °C (NEC table 690.7(A)), more than 22.0 V · (1 + 0.003 · 40) = 24.64 V
    ("cold-voltage-over-limit", "warning", 25.51, {"controller.max_pv_v": 25.51}, {"controller.max_pv_v": 25.53}),
    # 22.0 V · (1 + 0.005 · 40) = 26.4 V
    (
        "cold-voltage-over-limit",
        "warning",
        26.39,
        {"controller.max_pv_v": 26.39, "panel.voc_temperature_pct_c": -0.5},
        {"controller.max_pv_v": 26.41, "panel.voc_temperature_pct_c": -0.5},
    ),
    # 1.25 · 5.9 A = 7.375 A
    ("controller-current", "warning", 7.3, {"controller.max_charge_a": 7.3}, {"controller.max_charge_a": 7.375}),
    # 0.95 · 100 W / 14.4 V = 6.597 A
    (
        "controller-current",
        "note",
        6.59,
        {"controller.kind": "mppt", "controller.max_charge_a": 6.59},
        {"controller.kind": "mppt", "controller.max_charge_a": 6.6},
    ),
    (
        "shade-judged-by-area",
        "caution",
        0.8,
        {"panel.shade.0.transmittance": 0.81},
        {"panel.shade.0.transmittance": 0.8},
    ),
    (
        "shade-judged-by-area",
        "caution",
        0.8,
        {"panel.shade.0.transmittance": 0.97},
        {"panel.shade.0.transmittance": 0.97, "panel.shade.0.cell_strings": 1},
    ),
    ("panel-laid-flat", "note", 10.0, {"panel.tilt_deg": 9.9}, {"panel.tilt_deg": 10}),
    ("panel-laid-flat", "note", 5.0, {"panel.tilt_deg": 5}, {"panel.tilt_deg": 10}),
    # 9.76 W at the disconnect voltage of 12.2 V are 0.8 A; 3 times 1 A are 150 % of 2 A
    (
        "load-terminal-overloaded",
        "caution",
        0.8,
        SLOW | {"controller.max_load_a": 1.0, "pump.power_w": 9.77},
        SLOW | {"controller.max_load_a": 1.0, "pump.power_w": 9.75},
    ),
    (
        "load-terminal-overloaded",
        "caution",
        1.5,
        {"controller.max_load_a": 2.0, "pump.start_current_factor": 3.01},
        {"controller.max_load_a": 2.0, "pump.start_current_factor": 3.0},
    ),
    # battery circuit: 1.25 · 1.25 · 5.56 A = 8.69 A, 1.5 mm² carries 19.5 A
    (
        "battery-fuse",
        "warning",
        19.5,
        {"battery.cable": {"area_mm2": 1.5, "fuse_a": 20}},
        {"battery.cable": {"area_mm2": 1.5, "fuse_a": 19.5}},
    ),
    ("battery-fuse", "caution", 8.6875, {"battery.cable.fuse_a": 8.6}, {"battery.cable.fuse_a": 8.7}),
    ("battery-fuse", "warning", 18.0, {"battery.cable.fuse_distance_cm": 18.1}, {"battery.cable.fuse_distance_cm": 18}),
    ("battery-fuse", "warning", 10.0, {"battery.cable.fuse_a": 0}, {"battery.cable.fuse_a": 10}),
    (
        "battery-fuse",
        "note",
        10.0,
        {"battery.cable": {"length_m": 1}},
        {"battery.cable": {"length_m": 1, "fuse_a": 10}},
    ),
    # pump circuit: its own fuse, which stands the start's 2.5 · 1 A, or one upstream that the cable bears
    ("pump-fuse", "warning", 27.0, {"pump.cable.fuse_a": 27.5}, {"pump.cable.fuse_a": 27}),
    ("pump-fuse", "caution", None, {"pump.cable.fuse_a": 1}, {"pump.cable.fuse_a": 2.6}),
    ("pump-fuse", "note", 2.5, {"pump.cable.fuse_a": 2.4}, {"pump.cable.fuse_a": 2.5}),
    (
        "pump-fuse",
        "warning",
        19.5,
        UNFUSED | {"battery.cable.fuse_a": 40},
        UNFUSED | {"battery.cable.fuse_a": 19.5},
    ),
    ("pump-fuse", "note", 19.5, UNFUSED | {"battery.cable": {"area_mm2": 4}}, UNFUSED | {"pump.cable.fuse_a": 10}),
    (
        "pump-fuse",
        "warning",
        10.0,
        {"pump.extension": {"area_mm2": 1, "length_m": 1}, "battery.cable.fuse_a": 10.1},
        {"pump.extension": {"area_mm2": 1, "length_m": 1}, "battery.cable.fuse_a": 10},
    ),
    # what a battery bears: 0.2 · 20 Ah gel, 0.5 · 10 Ah LFP; the charge of 400 W at 18 V is 22.2 A
    (
        "charge-current-too-high",
        "warning",
        4.0,
        STRONG | {"battery.chemistry": "gel", "battery.capacity_ah": 20},
        STRONG | {"battery.chemistry": "gel", "battery.capacity_ah": 112},
    ),
    ("charge-current-too-high", "caution", 5.0, {"battery.capacity_ah": 10}, {"battery.capacity_ah": 11.2}),
    # 0.5 mm² carries 3 A; 2.4 A and a quarter more
    (
        "cable-overloaded",
        "warning",
        3.0,
        {"pump.cable": {"length_m": 0, "area_mm2": 0.5}, "pump.power_w": 29.3},
        {"pump.cable": {"length_m": 0, "area_mm2": 0.5}, "pump.power_w": 29.2},
    ),
    # the panel's run: 1.5625 · 5.9 A = 9.22 A; 1 mm² carries 10 A, 0.75 mm² 6 A
    ("cable-overloaded", "warning", 6.0, {"panel.cable.area_mm2": 0.75}, {"panel.cable.area_mm2": 1}),
    (
        "dusk-timer-left-on",
        "warning",
        0.1,
        {"controller.load_mode": "after-dusk"},
        {"controller.load_mode": "after-dusk", "need.between": ["20:00", "06:00"]},
    ),
]
NIGHT = {"daylight_share": 0.05}


@pytest.mark.parametrize(("id", "level", "limit", "beyond", "within"), SCENARIOS)
def test_a_rule_speaks_just_beyond_its_limit(id: str, level: str, limit, beyond, within, found) -> None:  # type: ignore[no-untyped-def]
    """Beyond the limit the finding has its level, limit and source; within it, it is not there or weaker."""
    said = pick(found(beyond, **NIGHT), id)
    assert said is not None and said.level == level and said.message.endswith(".") and said.source
    assert limit is None or said.limit == pytest.approx(limit)
    assert pick(found(within, **NIGHT), id) is None


def drop_at(length_m: float, design: Design) -> float:
    """The share of 12 V that a pump of 36 W loses in so much 2.5 mm²."""
    scenario = design({"pump.power_w": 36, "pump.cable.length_m": length_m})
    return wiring.wiring_of(scenario, (COLDEST_C, HOTTEST_C), np.zeros(1, TOTALS)[0], 0.0).pump_drop_share


@pytest.mark.parametrize(("limit", "level", "below"), [(0.03, "note", None), (0.10, "warning", "note")])
def test_a_thin_cable_is_found_by_its_drop(limit, level, below, found, design) -> None:  # type: ignore[no-untyped-def]
    """From 3 % on a note, from 10 % on a warning; the length at the limit is found by halving."""
    low, high = 0.0, 60.0
    for _ in range(30):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if drop_at(middle, design) <= limit else (low, middle)
    said = {
        length: pick(found({"pump.power_w": 36, "pump.cable.length_m": length}), "thin-cable") for length in (low, high)
    }
    at, beyond = said[low], said[high]
    assert beyond is not None and (beyond.level, beyond.limit) == (level, limit)
    assert (at.level if at else None) == below


def test_an_extension_counts_with_the_cable(found: Callable[..., list[Finding]]) -> None:
    """A lead of 1.7 % and one of 2.9 % lose 4.6 % together, and the size that helps is for the whole way."""
    half = {"pump.power_w": 36, "pump.cable.length_m": 4}
    assert pick(found(half), "thin-cable") is None
    said = pick(found(half | {"pump.extension": {"length_m": 4, "area_mm2": 1.5}}), "thin-cable")
    assert said is not None and wiring.EXTENSION in said.message and "4 mm² or AWG 12 all the way" in said.message


def test_a_pump_that_starts_below_its_lowest_voltage_is_found(found, design) -> None:  # type: ignore[no-untyped-def]
    """The lowest voltage is set a little above and below what is left for the start."""
    changes = {"pump.power_w": 36, "pump.cable.length_m": 20, "pump.start_v": 12.0}
    scenario = design(changes)
    ohm = float(lanes_from([scenario], places=[0])["lane"]["r0_ohm"][0])
    left_v = wiring.wiring_of(scenario, (COLDEST_C, HOTTEST_C), np.zeros(1, TOTALS)[0], ohm).pump_start_v
    said = pick(found(changes | {"pump.min_v": left_v + 0.01}), "pump-voltage-too-low")
    assert said is not None and (said.level, said.value) == ("warning", pytest.approx(left_v, abs=0.01))
    assert pick(found(changes | {"pump.min_v": left_v - 0.01}), "pump-voltage-too-low") is None


def test_a_fuse_is_offered_that_stands_the_start(design: Design) -> None:
    """Starts of 30 A through 4 mm²: 30 A and 35 A, not 7.5 A; through 1.5 mm², which bears 19.5 A, slow ones only."""
    thick, thin = (
        wiring.wiring_of(
            design(
                {
                    "pump.power_w": 60,
                    "pump.start_current_factor": 6.0,
                    "pump.cable": {"area_mm2": area, "length_m": 1},
                    "battery.cable": {"area_mm2": area},
                }
            ),
            (COLDEST_C, HOTTEST_C),
            np.zeros(1, TOTALS)[0],
            0.0,
        )
        for area in (4.0, 1.5)
    )
    for name in (wiring.PUMP, wiring.BATTERY):
        wide, narrow = thick.run(name), thin.run(name)
        assert wide is not None and narrow is not None
        assert wide.fuses_a == (30.0, 35.0) and not wide.fuses_slow
        assert narrow.fuses_slow and max(narrow.fuses_a) < 19.5


def test_lithium_wants_a_fuse_that_breaks_its_short(found: Callable[..., list[Finding]]) -> None:
    """13.8 V through half of 12 mΩ are 2.3 kA (derived), more than a blade fuse breaks, less than a fuse for 3 kA.

    A pack of 15 Ah stays below 1 kA; lead-acid is not asked.
    """
    unsaid, weak = found({"battery.cable": {"fuse_a": 10}}), found({"battery.cable.fuse_breaks_a": 2000})
    for said, level, limit in ((unsaid, "note", 1000.0), (weak, "warning", 2000.0)):
        one = pick(said, "fuse-breaking-capacity")
        assert one is not None and (one.level, one.limit) == (level, limit)
        assert one.value == pytest.approx(2300.0) and "2,300 A" in one.message and "DC rating" in one.message
    for changes in ({"battery.cable.fuse_breaks_a": 3000}, {"battery.capacity_ah": 15}, {"battery.chemistry": "agm"}):
        assert pick(found({"battery.cable": {"fuse_a": 10}} | changes), "fuse-breaking-capacity") is None


@pytest.mark.parametrize(
    ("days", "level", "limit"), [(7, None, None), (8, "caution", 7.0), (14, "caution", 7.0), (15, "warning", 14.0)]
)
def test_lead_acid_wants_a_full_charge(days, level, limit, found, courtyard_year) -> None:  # type: ignore[no-untyped-def]
    """After more than 7 days without one it is a caution, after more than 14 a warning; lithium is silent."""
    battery = replace(courtyard_year.measures.battery, days_between_full=days)
    said = pick(found({"battery.chemistry": "agm"}, battery=battery), "lead-acid-never-full")
    assert (said and said.level, said and said.limit) == (level, limit)
    assert pick(found({}, battery=battery), "lead-acid-never-full") is None


@pytest.mark.parametrize(("days", "level"), [(3, None), (4, "caution"), (14, "caution"), (15, "warning")])
@pytest.mark.parametrize("chemistry", ["lfp", "agm"])
def test_days_nearly_empty_are_found(days, level, chemistry, found, courtyard_year) -> None:  # type: ignore[no-untyped-def]
    """More than 3 days running below a fifth are a caution, more than 14 a warning, for lithium and for lead-acid."""
    highest = np.full(365, 0.5)
    highest[100 : 100 + days] = 0.19
    said = pick(found({"battery.chemistry": chemistry}, soc_high_by_day=highest), "long-nearly-empty")
    assert (said and said.level) == level


def test_ice_in_lead_acid_is_found(found, courtyard_year) -> None:  # type: ignore[no-untyped-def]
    """One hour below the freezing curve is a warning, none is silent."""
    for hours, level in ((1.0, "warning"), (0.0, None)):
        battery = replace(courtyard_year.measures.battery, freezing_hours=hours)
        said = pick(found({"battery.chemistry": "flooded"}, battery=battery), "lead-acid-freezing")
        assert (said and said.level) == level


def test_a_dusk_timer_that_runs_by_day_is_no_mistake(found: Callable[..., list[Finding]]) -> None:
    """At a tenth of the hours in daylight nothing is said; below it, the timer is."""
    changes = {"controller.load_mode": "after-dusk"}
    assert pick(found(changes, daylight_share=0.1), "dusk-timer-left-on") is None
    assert pick(found(changes, daylight_share=0.099), "dusk-timer-left-on") is not None
    assert pick(found({}, daylight_share=0.0), "dusk-timer-left-on") is None


def test_a_hot_panel_below_what_absorption_takes_is_a_caution(found, design) -> None:  # type: ignore[no-untyped-def]
    """Absorption, the controller's 0.2 V and the drop of the panel's cable; a tracker does not mind."""
    scenario = design({})
    wires = wiring.wiring_of(scenario, (COLDEST_C, HOTTEST_C), np.zeros(1, TOTALS)[0], 0.0)
    least_v = 14.4 + 0.2 + wires.runs[0].drop_v
    for beside_v, level in ((-0.01, "caution"), (0.01, "note")):
        said = pick(found({}, hot_vmp_v=least_v + beside_v), "hot-panel")
        assert said is not None and said.level == level
    assert pick(found({"controller.kind": "mppt"}, hot_vmp_v=12.0), "hot-panel") is None


def test_a_battery_of_the_same_size_gives_the_same_year(courtyard_year: YearResult, design: Design) -> None:
    """Once the capacity changes nothing; twice takes twice the tail current and half a measured resistance along."""
    hours = hours_with_battery(courtyard_year.scenario, courtyard_year.sky, 1.0)
    assert hours == pytest.approx(courtyard_year.measures.pump_hours, rel=1e-9)
    scenario = design({"battery.resistance_mohm": 20})
    twice = with_battery(scenario, 2.0)
    assert (twice.battery.capacity_ah, twice.battery.resistance_mohm) == (200.0, 10.0)
    assert twice.controller.charge_ends_a == 2.0 * scenario.controller.charge_ends_a


def test_a_bigger_battery_is_tried_only_where_days_are_missing(courtyard_year: YearResult) -> None:
    """The courtyard lacks at most nine days running, so its year is simulated once."""
    year: Measures = courtyard_year.measures
    assert year.longest_deficit_days < checks.battery.DEFICIT_DAYS and year.double_battery_hours is None


def test_no_published_tree_is_called_a_shadow_on_cells() -> None:
    """The thinnest crown of the table, a leafless honey locust (Gardner & Sydnor), lets less through than the limit."""
    leafless = published.expected("REF422")[1][1]
    assert leafless < checks.panel.THIN_SHADE < leafless + 0.05
