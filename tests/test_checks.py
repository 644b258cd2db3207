"""Each design check on both sides of its limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim import checks
from sim.figures.causes import Unplanned
from sim.figures.measures import Measures
from sim.scenario import Scenario
from sim.studies.result import YearResult


@pytest.fixture(scope="module")
def calm(courtyard_year: YearResult) -> Measures:
    """Real measures with nothing left in them to complain about."""
    real = courtyard_year.measures
    return replace(
        real,
        starts=365,
        early_disconnects=0,
        fooled_restarts=0,
        quick_starts=0,
        unplanned=Unplanned(0.0, 1.0, 1.0),
        unreached_h=0.0,
        met_by_day=real.wanted_by_day.copy(),
        pump_hours_by_day=np.full_like(real.pump_hours_by_day, 24.0),
        bus_high_v_by_day=np.full_like(real.bus_high_v_by_day, 14.4),
        pump_high_v=14.4,
        soc_high_by_day=np.ones_like(real.soc_high_by_day),
        hot_vmp_v=16.0,
        battery=replace(real.battery, charge_refused_hours=0.0, cool_charge_hours=0.0),
        water=None,
    )


@pytest.fixture(scope="module")
def sound(design: Callable[..., Scenario]) -> Scenario:
    """A design with thresholds far apart and a limit of 14 h for a stop."""
    changes = {"controller.load_disconnect_v": 12.2, "controller.load_reconnect_v": 13.1, "need.longest_stop_h": 14.0}
    return design(changes | {"need.hours_per_day": 8})


def met_in_january(measures: Measures, share: float) -> np.ndarray:
    """Everything met but in January, where each day has this share of what it wants."""
    january = measures.months[::24] == 1
    return np.where(january, share * measures.wanted_by_day, measures.wanted_by_day)


def stood(hours: float, unplanned_h: float) -> dict[str, Any]:
    """The longest stop, of which timer and season planned some."""
    return {"unplanned": Unplanned(0.0, hours, unplanned_h)}


def deficit(measures: Measures, days: int, doubled: float) -> dict[str, Any]:
    """Some days running lack two minutes; twice the battery makes the hours so many times as many."""
    met = measures.met_by_day.copy()
    met[:days] -= 2.0 / 60.0
    return {"met_by_day": met, "double_battery_hours": doubled * measures.pump_hours}


def ids(scenario: Scenario, measures: Measures) -> list[str]:
    """What is found, by id."""
    return [finding.id for finding in checks.findings(scenario, measures)]


def test_a_sound_year_gives_no_findings(sound: Scenario, calm: Measures) -> None:
    """Nothing is said where nothing is wrong."""
    assert ids(sound, calm) == []


COUNTS: list[tuple[str, str, Callable[[Measures], dict[str, Any]], Callable[[Measures], dict[str, Any]]]] = [
    ("short-cycling", "warning", lambda m: {"starts": 6 * 365 + 1}, lambda m: {"starts": 6 * 365}),
    ("short-cycling", "caution", lambda m: {"quick_starts": 1}, lambda m: {"quick_starts": 0}),
    ("early-cut-off", "caution", lambda m: {"early_disconnects": 1}, lambda m: {"early_disconnects": 0}),
    ("lifted-restart", "caution", lambda m: {"fooled_restarts": 1}, lambda m: {"fooled_restarts": 0}),
    ("stop-too-long", "caution", lambda m: stood(20.0, 14.01), lambda m: stood(20.0, 14.0)),
    (
        "charging-frozen-lithium",
        "warning",
        lambda m: {"battery": replace(m.battery, charge_refused_hours=0.01)},
        lambda m: {"battery": replace(m.battery, charge_refused_hours=0.0)},
    ),
    (
        "charging-frozen-lithium",
        "caution",
        lambda m: {"battery": replace(m.battery, cool_charge_hours=1.0)},
        lambda m: {"battery": replace(m.battery, cool_charge_hours=0.0)},
    ),
    (
        "restart-unreachable",
        "caution",
        lambda m: {"unreached_h": 72.1},
        lambda m: {"unreached_h": 72.0},
    ),
    (
        "battery-does-not-fix-winter",
        "note",
        lambda m: deficit(m, 10, 1.049),
        lambda m: deficit(m, 10, 1.05),
    ),
    (
        "battery-does-not-fix-winter",
        "note",
        lambda m: deficit(m, 10, 1.0),
        lambda m: deficit(m, 9, 1.0),
    ),
    ("hot-panel", "note", lambda m: {"hot_vmp_v": 15.39}, lambda m: {"hot_vmp_v": 15.4}),
    (
        "pump-voltage-too-high",
        "warning",
        lambda m: {"bus_high_v_by_day": np.append(m.bus_high_v_by_day[1:], 15.01)},
        lambda m: {"bus_high_v_by_day": np.append(m.bus_high_v_by_day[1:], 15.0)},
    ),
    ("pump-over-voltage", "warning", lambda m: {"pump_high_v": 15.01}, lambda m: {"pump_high_v": 15.0}),
    (
        "pump-voltage-too-low",
        "warning",
        lambda m: {"stops_by_cause": m.stops_by_cause | {"voltage too low for the pump": 1.1}},
        lambda m: {"stops_by_cause": m.stops_by_cause | {"voltage too low for the pump": 1.0}},
    ),
    (
        "sized-on-the-annual-mean",
        "caution",
        lambda m: {"met_by_day": met_in_january(m, 0.49)},
        lambda m: {"met_by_day": met_in_january(m, 0.5)},
    ),
]


@pytest.mark.parametrize(("id", "level", "over", "under"), COUNTS, ids=[rule[0] for rule in COUNTS])
def test_a_rule_speaks_just_beyond_its_limit(id: str, level: str, over, under, sound, calm) -> None:  # type: ignore[no-untyped-def]
    """The measure just beyond the limit is found with its value, limit and source; at the limit nothing is said."""
    (finding,) = checks.findings(sound, replace(calm, **over(calm)))
    assert (finding.id, finding.level) == (id, level)
    assert finding.value != finding.limit and finding.message.endswith(".") and finding.source
    assert ids(sound, replace(calm, **under(calm))) == []


def test_thresholds_need_a_gap_beyond_the_sag(design: Callable[..., Scenario], calm: Measures) -> None:
    """A gap 1 mV under what the battery's sag under the pump needs is a warning, 1 mV over it is only close."""
    need_v = checks.energy.needed_gap_v(design({}), calm.battery.coldest_c)
    for beside_v, expected in ((-0.001, "warning"), (0.001, "caution")):
        changes = {"controller.load_disconnect_v": 12.5, "controller.load_reconnect_v": 12.5 + need_v + beside_v}
        (finding,) = checks.findings(design(changes), replace(calm, unplanned=Unplanned(0.0, 0.0, 0.0)))
        assert (finding.id, finding.level) == ("thresholds-too-close", expected)


def test_the_needed_gap_is_the_sag_and_a_margin(design: Callable[..., Scenario]) -> None:
    """24 W at 12 V through 40 mΩ of battery and the fuse's 3 mΩ needs 2 A·43 mΩ + 0.2 V (derived); more when cold.

    The resistance doubles within 25 °C: 2 A·83 mΩ + 0.2 V at 0 °C.
    """
    changes = {"pump.power_w": 24, "pump.at_v": 12, "battery.resistance_mohm": 40, "battery.cable.length_m": 0,
               "battery.cable.extra_mohm": 3}  # fmt: skip
    assert checks.energy.needed_gap_v(design(changes), 25.0) == pytest.approx(0.286)
    assert checks.energy.needed_gap_v(design(changes), 0.0) == pytest.approx(0.366)


def test_a_bad_year_is_not_called_a_hidden_bad_month(sound: Scenario, calm: Measures) -> None:
    """Below nine tenths over the year the mean hides nothing."""
    poor = replace(calm, met_by_day=0.4 * calm.wanted_by_day)
    assert "sized-on-the-annual-mean" not in ids(sound, poor)


def test_warnings_come_first(design: Callable[..., Scenario], calm: Measures) -> None:
    """Findings are in order of weight whatever the order of the rules."""
    bad = replace(calm, starts=99999, early_disconnects=3, fooled_restarts=2, unplanned=Unplanned(0.0, 99.0, 99.0))
    bad = replace(bad, battery=replace(bad.battery, charge_refused_hours=9.0))
    levels = [finding.level for finding in checks.findings(design({"need.longest_stop_h": 14.0}), bad)]
    assert levels == sorted(levels, key=("warning", "caution", "note").index)
    assert {"warning", "caution"} <= set(levels)
