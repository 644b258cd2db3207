"""Each design check on both sides of its limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from sim import checks
from sim.measures import Measures
from sim.scenario import Scenario
from sim.year import YearResult


@pytest.fixture(scope="module")
def calm(courtyard_year: YearResult) -> Measures:
    """Real measures with nothing left in them to complain about."""
    real = courtyard_year.measures
    return replace(
        real,
        starts=365,
        early_disconnects=0,
        lifted_reconnects=0,
        longest_stop_h=1.0,
        met_by_day=real.wanted_by_day.copy(),
        battery=replace(real.battery, charge_refused_hours=0.0),
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


def ids(scenario: Scenario, measures: Measures) -> list[str]:
    """What is found, by id."""
    return [finding.id for finding in checks.findings(scenario, measures)]


def test_a_sound_year_gives_no_findings(sound: Scenario, calm: Measures) -> None:
    """Nothing is said where nothing is wrong."""
    assert ids(sound, calm) == []


COUNTS: list[tuple[str, str, Callable[[Measures], dict[str, Any]], Callable[[Measures], dict[str, Any]]]] = [
    ("short-cycling", "warning", lambda m: {"starts": 6 * 365 + 1}, lambda m: {"starts": 6 * 365}),
    ("early-cut-off", "caution", lambda m: {"early_disconnects": 1}, lambda m: {"early_disconnects": 0}),
    ("lifted-restart", "caution", lambda m: {"lifted_reconnects": 1}, lambda m: {"lifted_reconnects": 0}),
    ("stop-too-long", "caution", lambda m: {"longest_stop_h": 14.01}, lambda m: {"longest_stop_h": 14.0}),
    (
        "charging-frozen-lithium",
        "warning",
        lambda m: {"battery": replace(m.battery, charge_refused_hours=0.01)},
        lambda m: {"battery": replace(m.battery, charge_refused_hours=0.0)},
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
    """A gap 1 mV under what the battery's sag under the pump needs is a warning, 1 mV over it is none."""
    need_v = checks.energy.needed_gap_v(design({}))
    for beside_v, expected in ((-0.001, ["thresholds-too-close"]), (0.001, [])):
        changes = {"controller.load_disconnect_v": 12.5, "controller.load_reconnect_v": 12.5 + need_v + beside_v}
        assert ids(design(changes), replace(calm, longest_stop_h=0.0)) == expected


def test_the_needed_gap_is_the_sag_and_a_margin(design: Callable[..., Scenario]) -> None:
    """24 W at 12 V through 40 mΩ of battery and the fuse's 3 mΩ needs 2 A·43 mΩ + 0.2 V (derived)."""
    changes = {"pump.power_w": 24, "pump.at_v": 12, "battery.resistance_mohm": 40, "battery.cable.length_m": 0,
               "battery.cable.extra_mohm": 3}  # fmt: skip
    assert checks.energy.needed_gap_v(design(changes)) == pytest.approx(0.286)


def test_a_bad_year_is_not_called_a_hidden_bad_month(sound: Scenario, calm: Measures) -> None:
    """Below nine tenths over the year the mean hides nothing."""
    poor = replace(calm, met_by_day=0.4 * calm.wanted_by_day)
    assert "sized-on-the-annual-mean" not in ids(sound, poor)


def test_warnings_come_first(design: Callable[..., Scenario], calm: Measures) -> None:
    """Findings are in order of weight whatever the order of the rules."""
    bad = replace(calm, starts=99999, early_disconnects=3, lifted_reconnects=2, longest_stop_h=99.0)
    bad = replace(bad, battery=replace(bad.battery, charge_refused_hours=9.0))
    levels = [finding.level for finding in checks.findings(design({"need.longest_stop_h": 14.0}), bad)]
    assert levels == sorted(levels, key=("warning", "caution", "note").index)
    assert {"warning", "caution"} <= set(levels)
