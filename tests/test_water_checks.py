"""Each rule on water on both sides of its limit."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest

from sim import checks
from sim.checks import water as rules
from sim.checks.finding import Finding
from sim.figures.water.year import Water
from sim.scenario import Scenario
from sim.studies.result import YearResult

FILTERED = {"water.filter.max_flow_lph": 1500.0}


@pytest.fixture(scope="module")
def calm(courtyard_year: YearResult) -> Water:
    """Real water with nothing left in it to complain about."""
    real = courtyard_year.measures.water
    assert real is not None
    return replace(real, filter_longest_gap_h=1.0)


@dataclass(frozen=True)
class Case:
    """A rule just beyond its limit and just at it: changes of the scenario, and of the water that was simulated."""

    id: str
    level: str
    over: tuple[dict[str, Any], Callable[[Water], Water]]
    under: tuple[dict[str, Any], Callable[[Water], Water]]


def same(water: Water) -> Water:
    return water


def stopping(**changes: float) -> Callable[[Water], Water]:
    return lambda water: replace(water, stopping=replace(water.stopping, **changes))


def point(**changes: float) -> Callable[[Water], Water]:
    return lambda water: replace(
        water, pipework=replace(water.pipework, point=replace(water.pipework.point, **changes))
    )


def nights(count: int) -> Callable[[Water], Water]:
    return lambda water: replace(water, temperature=replace(water.temperature, warm_night_stops=count))


def warmest(water_c: float) -> Callable[[Water], Water]:
    return lambda water: replace(water, temperature=replace(water.temperature, highest_c=water_c))


def gap(hours: float) -> Callable[[Water], Water]:
    return lambda water: replace(water, filter_longest_gap_h=hours)


def most(lph: float) -> Callable[[Water], Water]:
    return lambda water: replace(water, filter_most_lph=lph)


LIP = {"water.stream.spillway_width_m": 0.2}  # 75 l/h a centimetre are 1500 l/h
VENTED = {"water.outlet.kind": "submerged", "water.outlet.vent_depth_m": 0.01}
CASES = [
    Case("pump-cannot-lift", "warning", ({}, point(flow_lph=0.0)), ({}, point(flow_lph=0.1, branch_flow_lph=400.0))),
    Case("box-label-flow", "caution", ({"pump.label_flow_lph": 1501.0}, point(flow_lph=1000.0)),
         ({"pump.label_flow_lph": 1500.0}, point(flow_lph=1000.0))),
    Case("filter-over-driven", "caution", (FILTERED, most(1500.1)), (FILTERED, most(1500.0))),
    Case("lazy-tee", "caution", ({}, point(branch_flow_lph=319.0)), ({}, point(branch_flow_lph=321.0))),
    Case("lazy-tee", "caution", ({}, point(branch_flow_lph=481.0)), ({}, point(branch_flow_lph=479.0))),
    Case("basin-overflow", "warning", ({}, stopping(freeboard=100.0, drain_back=60.0, siphon=30.1)),
         ({}, stopping(freeboard=100.0, drain_back=60.0, siphon=30.0))),
    Case("start-up-drawdown", "warning", ({}, stopping(basin=300.0, transit=100.1)),
         ({}, stopping(basin=300.0, transit=100.0))),
    Case("siphon", "caution", ({"water.outlet.kind": "submerged"}, same), (VENTED, same)),
    Case("siphon", "caution", ({"water.outlet.kind": "submerged"}, same), ({}, same)),
    Case("siphon", "caution", ({"water.outlet.kind": "submerged"}, same),
         ({"water.outlet.kind": "submerged", "water.fittings": [{"kind": "check-valve"}]}, same)),
    Case("leak-or-evaporation", "caution", ({"water.observed_loss_mm_per_day": 13.1}, same),
         ({"water.observed_loss_mm_per_day": 13.0}, same)),
    Case("leak-or-evaporation", "caution", ({"water.observed_loss_mm_per_day": 19.0}, same),
         ({"water.observed_loss_mm_per_day": 12.0}, same)),
    Case("leak-or-evaporation", "warning", ({"water.observed_loss_mm_per_day": 19.1}, same), ({}, same)),
    Case("filter-gap", "note", ({}, gap(2.1)), ({}, gap(2.0))),
    Case("filter-gap", "note", ({}, gap(6.0)), ({}, gap(1.9))),
    Case("filter-gap", "warning", ({}, gap(6.1)), ({"water.filter.note_after_h": 7.0}, gap(6.1))),
    Case("night-oxygen-gap", "warning", ({"water.fish": True}, nights(1)), ({"water.fish": True}, nights(0))),
    Case("night-oxygen-gap", "warning", ({"water.fish": True}, nights(1)), ({}, nights(1))),
    Case("thin-sheet", "note", (LIP, point(filter_flow_lph=1499.0)), (LIP, point(filter_flow_lph=1500.0))),
    Case("thin-sheet", "note", (LIP, point(filter_flow_lph=1499.0)), ({}, point(filter_flow_lph=1499.0))),
    Case("hot-water", "caution", ({"water.fish": True}, warmest(28.1)), ({"water.fish": True}, warmest(28.0))),
    Case("hot-water", "warning", ({"water.fish": True}, warmest(32.1)), ({}, warmest(32.1))),
]  # fmt: skip


def found(scenario: Scenario, water: Water, year: YearResult) -> list[Finding]:
    """What the rules on water find."""
    measures = replace(year.measures, water=water)
    return [said for rule in rules.RULES if isinstance(said := rule(scenario, measures), Finding)]


@pytest.mark.parametrize("case", CASES, ids=[case.id for case in CASES])
def test_a_rule_speaks_just_beyond_its_limit(
    case: Case, design: Callable[..., Scenario], calm: Water, courtyard_year: YearResult
) -> None:
    """Just beyond its limit a rule is found with level, value, limit and source; at the limit nothing is said."""
    changes, change = case.over
    (finding,) = [one for one in found(design(changes), change(calm), courtyard_year) if one.id == case.id]
    assert finding.level == case.level and finding.source
    assert finding.message[0].isupper() and finding.message.endswith(".")
    assert finding.value != finding.limit
    changes, change = case.under
    assert case.id not in [one.id for one in found(design(changes), change(calm), courtyard_year)]


def test_a_sound_pond_gives_no_findings(
    design: Callable[..., Scenario], calm: Water, courtyard_year: YearResult
) -> None:
    """Nothing is said where nothing is wrong."""
    assert found(design({}), calm, courtyard_year) == []


def test_a_filter_that_stood_for_more_than_a_day_is_flushed(
    design: Callable[..., Scenario], calm: Water, courtyard_year: YearResult
) -> None:
    """Beyond 24 h the finding says to flush, at 24 h it does not yet."""
    (over,) = found(design({}), gap(24.1)(calm), courtyard_year)
    (under,) = found(design({}), gap(24.0)(calm), courtyard_year)
    assert "flush" in over.message and over.limit == 24.0
    assert "flush" not in under.message and under.limit == 6.0


def test_what_is_not_described_is_not_judged(
    design: Callable[..., Scenario], calm: Water, courtyard_year: YearResult
) -> None:
    """Without basin, filter, target and observed loss their rules are silent, whatever the water does."""
    scenario = design({})
    assert scenario.water and scenario.water.branch
    branch = scenario.water.branch.model_copy(update={"target_lph": None})
    plain = scenario.water.model_copy(update={"filter": None, "basin": None, "branch": branch})
    bad = replace(calm, filter_longest_gap_h=99.0, filter_most_lph=1e5)
    bad = replace(bad, stopping=replace(bad.stopping, freeboard=None, basin=None, transit=1e6, drain_back=1e6))
    assert found(scenario.model_copy(update={"water": plain}), bad, courtyard_year) == []


def test_rules_on_water_are_silent_without_water(design: Callable[..., Scenario], courtyard_year: YearResult) -> None:
    """A year without water has none of these findings."""
    dry = replace(courtyard_year.measures, water=None)
    known = {case.id for case in CASES}
    assert not known & {finding.id for finding in checks.findings(design({}), dry)}
    assert known & {finding.id for finding in courtyard_year.findings}


def test_the_observed_loss_is_held_against_the_worst_day(
    design: Callable[..., Scenario], calm: Water, courtyard_year: YearResult
) -> None:
    """The finding on a leak says what this weather evaporates at most."""
    dry = replace(calm, evaporation_mm_by_day=np.array([1.0, 7.25]))
    (finding,) = found(design({"water.observed_loss_mm_per_day": 30.0}), dry, courtyard_year)
    assert "7.2 mm" in finding.message and "a leak is likely" in finding.message
