"""What the study of pairs recommends is not what the year then warns of. Run with -m long: some minutes."""

from __future__ import annotations

import random
from typing import Any

import pytest
from conftest import SCENARIOS, changed

from sim.studies.pairs import study_pairs
from sim.studies.year import simulate_year

pytestmark = pytest.mark.long
OF_THE_PAIR = {"thresholds-too-close", "protection-trips-first", "restart-unreachable", "early-cut-off"}
STEP_V = 0.2


def variants(seed: int, count: int) -> list[tuple[str, dict[str, Any]]]:
    """Designs drawn at random from those of the scenarios."""
    draw = random.Random(seed)
    return [
        (
            draw.choice(("courtyard", "pergola", "school")),
            {
                "battery.chemistry": draw.choice(("lfp", "lfp", "agm", "gel", "flooded")),
                "battery.capacity_ah": draw.choice((15, 25, 40, 100, 200)),
                "pump.power_w": draw.choice((5, 12, 20, 45, 70)),
                "controller.kind": draw.choice(("pwm", "mppt")),
                "weather.sample": draw.choice(("aleutian", "piedmont", "subtropic")),
                "battery.cable.length_m": draw.choice((0.5, 1, 4)),
            },
        )
        for _ in range(count)
    ]


OWN = [(path.stem, {}) for path in SCENARIOS]


@pytest.mark.parametrize(("name", "changes"), [*OWN, *variants(5, 10)])
def test_a_recommended_pair_is_not_warned_of(name: str, changes: dict[str, Any]) -> None:
    """The year with the recommended pair finds nothing wrong with it, and one at the map's end says so.

    Where the map has no pair as wide as is needed, the recommendation says that it is less, and then the year may.
    """
    path = next(path for path in SCENARIOS if path.stem == name)
    scenario = changed(changes, path)
    study = study_pairs(scenario, STEP_V * scenario.battery.nominal_v / 12.0)
    pair, reasons = study.recommended, " ".join(study.reasons)
    volts = {
        "controller.load_disconnect_v": pair.load_disconnect_v,
        "controller.load_reconnect_v": pair.load_reconnect_v,
    }
    found = {one.id: one.level for one in simulate_year(changed(changes | volts, path)).findings}
    print(name, changes, pair.load_disconnect_v, pair.load_reconnect_v, f"needs {study.needed_gap_v:.2f}", found)
    ends = [
        end(getattr(one, key) for one in study.pairs) == getattr(pair, key)
        for key in ("load_disconnect_v", "load_reconnect_v")
        for end in (min, max)
    ]
    assert any(ends) == ("that was tried" in reasons)
    warned = {id for id, level in found.items() if level == "warning" or id == "thresholds-too-close"}
    assert not OF_THE_PAIR & warned - ({"thresholds-too-close"} if "V is less than the" in reasons else set())
