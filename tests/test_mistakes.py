"""The trade's mistakes, each on both sides of its limit: found just beyond, silent at it, and never invented.

Limits without a source are our own defaults; those of two or three levels are met at their first.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from conftest import changed
from kit.pages import parts_of

from sim import checks
from sim.calendar import DAY_S
from sim.figures.causes import Stop, Stops, Unplanned, unplanned_of
from sim.figures.measures import Measures
from sim.figures.wiring import wiring_in
from sim.report.sections import expect
from sim.report.size import textbook
from sim.studies.chains import recorded, run_years
from sim.studies.common_years import met_shares, wanted_in
from sim.studies.controls import controls
from sim.studies.diagnose_trials import Days
from sim.studies.result import YearResult
from sim.studies.sweep import sweep
from sim.studies.year import simulate_year

Change = Callable[[Measures], dict[str, Any]]


@dataclass(frozen=True)
class Side:
    """What a scenario says, and what its year measured."""

    says: dict[str, Any] = field(default_factory=dict)
    measured: Change = lambda measures: {}


def year(**measured: Any) -> Side:
    return Side({}, lambda measures: measured)


def battery(says: dict[str, Any], **changes: Any) -> Side:
    return Side(says, lambda it: {"battery": replace(it.battery, **changes)})


def water(says: dict[str, Any] | None = None, **changes: Any) -> Side:
    return Side(says or {}, lambda it: {"water": replace(it.water, **changes)})


def point(says: dict[str, Any], **changes: Any) -> Side:
    def there(it: Measures) -> dict[str, Any]:
        assert it.water
        pipework = replace(it.water.pipework, point=replace(it.water.pipework.point, **changes))
        return {"water": replace(it.water, pipework=pipework)}

    return Side(says, there)


def stopping(**changes: float) -> Side:
    def there(it: Measures) -> dict[str, Any]:
        assert it.water
        return {"water": replace(it.water, stopping=replace(it.water.stopping, **changes))}

    return Side({}, there)


def nights(count: int, fish: bool = True) -> Side:
    def there(it: Measures) -> dict[str, Any]:
        assert it.water
        return {"water": replace(it.water, temperature=replace(it.water.temperature, warm_night_stops=count))}

    return Side({"water.fish": fish}, there)


def january(share: float) -> Side:
    """Everything met but in January, where each day has this share of what it wants."""
    return Side({}, lambda it: {"met_by_day": np.where(it.months[::24] == 1, share, 1.0) * it.wanted_by_day})


def deficit(days: int, doubled: float = 1.0) -> Side:
    """So many days running lack two minutes; twice the battery makes so many times the hours."""

    def there(it: Measures) -> dict[str, Any]:
        met = it.reach_by_day.copy()
        met[:days] -= 2.0 / 60.0
        return {"met_by_day": met, "double_battery_hours": doubled * it.pump_hours}

    return Side({}, there)


def highest(volts: float) -> Side:
    return Side({}, lambda it: {"bus_high_v_by_day": np.full_like(it.bus_high_v_by_day, volts)})


def dusk(met: float, daylight: float = 0.05) -> Side:
    says = {"controller.load_mode": "after-dusk"}
    return Side(says, lambda it: {"daylight_share": daylight, "met_by_day": met * it.wanted_by_day})


AGM = {"battery.chemistry": "agm"}
LIMIT_26 = {"controller.max_pv_v": 26.0}  # 22 V·1.18 at −20 °C, 1.14 at −10 °C: NEC table 690.7(A) (published)
SUBMERGED = {"water.outlet.kind": "submerged"}


def label(vmp_v: float) -> Side:
    return Side({"panel.vmp_v": vmp_v, "panel.imp_a": 100.0 / vmp_v})


# number in the trade's list, id, beyond the limit, at it
MISTAKES: list[tuple[int, str, Side, Side]] = [
    (1, "thresholds-too-close", Side({"controller.load_reconnect_v": 12.69}),
     Side({"controller.load_reconnect_v": 12.7})),
    (2, "short-cycling", year(starts=6 * 365 + 1, quick_starts=0), year(starts=6 * 365, quick_starts=0)),
    (2, "short-cycling", year(starts=365, quick_starts=1), year(starts=365, quick_starts=0)),
    (3, "early-cut-off", year(early_disconnects=1), year(early_disconnects=0)),
    (4, "lifted-restart", year(fooled_restarts=1), year(fooled_restarts=0)),
    (5, "restart-unreachable", year(unreached_h=72.1), year(unreached_h=72.0)),
    (6, "protection-trips-first", Side({"controller.load_disconnect_v": 10.19}),
     Side({"controller.load_disconnect_v": 10.2})),
    (7, "wrong-battery-preset", Side({"controller.absorption_v": 14.61}), Side({"controller.absorption_v": 14.6})),
    (7, "wrong-battery-preset", Side({"controller.compensation_mv_c": -0.1}),
     Side({"controller.compensation_mv_c": 0.0})),
    (7, "wrong-battery-preset", Side(AGM | {"controller.compensation_mv_c": -8.1}),
     Side(AGM | {"controller.compensation_mv_c": -8.0})),
    (8, "charging-frozen-lithium", battery({}, charge_refused_hours=0.1, cool_charge_hours=0.0),
     battery({}, charge_refused_hours=0.0, cool_charge_hours=0.0)),
    (8, "charging-frozen-lithium", battery({}, charge_refused_hours=0.0, cool_charge_hours=1.0), battery(AGM)),
    (9, "lead-acid-never-full", battery(AGM, days_between_full=8), battery(AGM, days_between_full=7)),
    (9, "lead-acid-never-full", battery(AGM, days_between_full=8), battery({}, days_between_full=8)),
    (10, "lead-acid-freezing", battery(AGM, freezing_hours=1.0), battery(AGM, freezing_hours=0.0)),
    (11, "panel-voltage-on-pwm", label(18.73), label(18.72)),
    (11, "panel-voltage-on-pwm", label(18.73),
     Side(label(18.73).says | {"controller.kind": "mppt"})),
    (12, "hot-panel", year(hot_vmp_v=15.39), year(hot_vmp_v=15.4)),
    (13, "cold-voltage-over-limit", Side(LIMIT_26 | {"site.record_low_c": -30.0}), Side({"controller.max_pv_v": 30.0})),
    (14, "shade-judged-by-area", Side({"panel.shade.0.transmittance": 0.81}),
     Side({"panel.shade.0.transmittance": 0.8})),
    (15, "panel-laid-flat", Side({"panel.tilt_deg": 9.9}), Side({"panel.tilt_deg": 10})),
    (16, "sized-on-the-annual-mean", january(0.49), january(0.5)),
    (17, "battery-does-not-fix-winter", deficit(10), deficit(9)),
    (17, "battery-does-not-fix-winter", deficit(10, 1.049), deficit(10, 1.051)),
    (18, "thin-cable", Side({"pump.cable.length_m": 40}), Side({"pump.cable.length_m": 20})),
    (19, "pump-voltage-too-high", highest(15.01), highest(15.0)),
    (20, "load-terminal-overloaded", Side({"controller.max_load_a": 1.99}), Side({"controller.max_load_a": 2.0})),
    (20, "load-terminal-overloaded", Side({"controller.max_load_a": 1.99}),
     Side({"controller.max_load_a": 1.99, "pump.start_current_factor": 2.5})),
    (21, "dusk-timer-left-on", dusk(0.94), dusk(0.96)),
    (21, "dusk-timer-left-on", dusk(0.94), dusk(0.94, daylight=0.1)),
    (22, "battery-fuse", Side({"battery.cable.fuse_a": 0}), Side({})),
    (22, "battery-fuse", Side({"battery.cable.fuse_distance_cm": 18.1}),
     Side({"battery.cable.fuse_distance_cm": 18})),
    (23, "box-label-flow", point({"pump.label_flow_lph": 1501.0}, flow_lph=1000.0),
     point({"pump.label_flow_lph": 1500.0}, flow_lph=1000.0)),
    (24, "filter-over-driven", water(filter_most_lph=1500.1), water(filter_most_lph=1500.0)),
    (25, "lazy-tee", point({}, branch_flow_lph=319.0), point({}, branch_flow_lph=321.0)),
    (26, "basin-overflow", stopping(freeboard=100.0, drain_back=90.1, siphon=0.0),
     stopping(freeboard=100.0, drain_back=90.0, siphon=0.0)),
    (27, "start-up-drawdown", stopping(basin=300.0, transit=100.1), stopping(basin=300.0, transit=100.0)),
    (28, "siphon", Side(SUBMERGED), Side(SUBMERGED | {"water.outlet.vent_depth_m": 0.01})),
    (29, "leak-or-evaporation", Side({"water.observed_loss_mm_per_day": 13.1}),
     Side({"water.observed_loss_mm_per_day": 13.0})),
    (30, "filter-gap", water(filter_longest_gap_h=2.1), water(filter_longest_gap_h=2.0)),
    (31, "night-oxygen-gap", nights(1), nights(0)),
    (31, "night-oxygen-gap", nights(1), nights(1, fish=False)),
]  # fmt: skip


def judged(side: Side, courtyard: YearResult) -> dict[str, Any]:
    """The findings of a side by id, and what passed under "ok"."""
    scenario = changed({"pump.cable.fuse_a": 5} | side.says)
    wires = wiring_in(scenario, courtyard.weather, courtyard.log, 0)
    measures = replace(courtyard.measures, wiring=wires)
    measures = replace(measures, **side.measured(measures))
    found = {one.id: one for one in checks.findings(scenario, measures)}
    return found | {"ok": {one.id for one in checks.passed(scenario, measures)}}


@pytest.mark.parametrize(("number", "id", "beyond", "within"), MISTAKES, ids=[f"{n}-{id}" for n, id, *_ in MISTAKES])
def test_a_mistake_is_found_beyond_its_limit_and_not_at_it(
    number: int, id: str, beyond: Side, within: Side, courtyard_year: YearResult
) -> None:
    """Beyond it there is a finding with value, limit and source; at it none of that id."""
    said = judged(beyond, courtyard_year)[id]
    assert said.value != said.limit and said.source and said.message.endswith(".")
    assert id not in {key for key in judged(within, courtyard_year) if key != "ok"}


def test_every_mistake_of_the_trade_is_in_the_table() -> None:
    """All thirty-one of them."""
    assert {number for number, *_ in MISTAKES} == set(range(1, 32))


def test_what_is_kept_is_listed_with_its_margin(courtyard_year: YearResult) -> None:
    """A rule passes or is broken, never both; the margin is on the right side of the limit, and in the JSON."""
    told = courtyard_year.as_json()
    broken, kept = {one["id"] for one in told["checks"]}, told["checks_passed"]
    assert broken & {one["id"] for one in kept} == set() and len(kept) > 20
    for one in kept:
        assert one["level"] == "ok" and one["margin"] >= 0.0 and one["source"] and one["message"]
    gap = next(one for one in kept if one["id"] == "thresholds-too-close")
    assert (gap["value"], gap["limit"], gap["margin"]) == pytest.approx((0.9, 0.5, 0.4))


def test_the_coldest_voltage_is_that_of_the_record(courtyard_year: YearResult) -> None:
    """At a record of −40 °C table 690.7(A) gives 1.25 times 22 V; the weather's own coldest hour gives less."""
    told = judged(Side(LIMIT_26 | {"site.record_low_c": -40.0}), courtyard_year)["cold-voltage-over-limit"]
    own = wiring_in(changed({}), courtyard_year.weather, courtyard_year.log, 0)
    assert told.value > own.array_cold_voc_v and "record low" in told.message
    several = replace(courtyard_year.weather, coldest_c=-30.0)
    assert wiring_in(changed({}), several, courtyard_year.log, 0).air_min_c == -30.0


@pytest.fixture(scope="module")
def winter_break() -> YearResult:
    """Four months switched off, a clock at night, and a pond whose pump has no curve."""
    pond = {"fish": True, "filter": {}, "outlet": {"kind": "submerged"}, "observed_loss_mm_per_day": 25.0}
    says = {
        "care.shut_down": "11-01",
        "care.start_up": "03-01",
        "need": {"hours_per_day": 20, "longest_stop_h": 2.0},
        "controller.load_mode": "clock",
        "controller.load_windows": [["06:00", "20:00"]],
        "panel.shade": [],
        "water": pond,
    }
    scenario = changed(says)
    return simulate_year(scenario.but(pump={"curve": None}))


def test_a_planned_break_is_no_alarm(winter_break: YearResult) -> None:
    """No finding speaks of sun that lacks, or of the months that are switched off as one stop."""
    measures, found = winter_break.measures, {one.id: one for one in winter_break.findings}
    assert measures.longest_stop_h > 2800.0 and measures.longest_deficit_days < 10
    assert "battery-does-not-fix-winter" not in found and found["filter-gap"].value < 200.0
    assert "stop-too-long" not in found or found["stop-too-long"].value < 200.0


def test_nothing_is_wanted_in_a_planned_break(winter_break: YearResult) -> None:
    """Twenty hours on 245 days are 4,900 h; a timer of fourteen hours a day leaves 70 % of them at most (derived)."""
    told, report = winter_break.as_json(), parts_of(winter_break, expect.section)
    assert told["hours_wanted"] == 4900.0 and 0.6 < told["hours_met_share"] < 0.71
    shares = winter_break.measures.met_share_by_month
    assert shares[[0, 1, 10, 11]].tolist() == [1.0] * 4 and (shares[2:10] < 0.71).all()
    assert winter_break.measures.worst_month in range(3, 11) and "none in the break" in report


def test_every_study_wants_the_same_hours(winter_break: YearResult) -> None:
    """Pairs, many years and ways of control count against the hours that the year itself counts against."""
    scenario, own = winter_break.scenario, winter_break.measures.hours_met_share
    sky, months = winter_break.sky, winter_break.measures.months[::24]
    pair = (scenario.controller.load_disconnect_v, scenario.controller.load_reconnect_v)
    swept = sweep(scenario, sky, months, (pair,), lambda done, of: None)
    (lasting,) = run_years([scenario], recorded([winter_break.weather])).figures
    wanted_h = wanted_in(scenario, winter_break.weather)
    by_clock = {it.name: it for it in controls(scenario, sky, months)[0]}["voltage only"]
    assert (wanted_h == swept.wanted_h).all() and wanted_h.sum() == 4900.0
    for met in (swept.figures[0, 0]["met_h"].sum() / swept.wanted_h.sum(), met_shares(lasting, wanted_h)[0][0]):
        assert met == pytest.approx(own, rel=1e-9)
    assert own < by_clock.hours_met_share <= 1.0


def test_nobody_asks_for_hours_in_the_break(winter_break: YearResult) -> None:
    """Days that are diagnosed across its beginning, and the textbook's month of least light, know it too (derived)."""
    scenario = winter_break.scenario
    at_s = 302 * DAY_S  # 30 October, two days before
    days = Days.of((scenario,), winter_break.sky, np.array([at_s + 3600.0, at_s + 4 * DAY_S - 3600.0]))
    assert days.wanted_by_day.tolist() == [20.0, 20.0, 0.0, 0.0] and days.wanted_h == 10.0
    dark = ("January", "February", "November", "December")
    assert not any(month in textbook(SimpleNamespace(year=winter_break))[0] for month in dark)  # type: ignore[arg-type]


def test_quiet_hours_are_none_of_the_wanted_ones() -> None:
    """A pump that runs whenever it may meets all 16 h that quiet hours leave of the day (derived)."""
    says = {"need.quiet": ["21:30", "05:30"], "need.hours_per_day": 16, "need.between": ["00:00", "24:00"]}
    strong = {"panel.power_w": 800, "panel.imp_a": 44.4, "panel.isc_a": 47.2, "panel.shade": [], "pump.power_w": 5}
    year = simulate_year(changed(says | strong | {"battery.place": "heated"}), with_twins=False).measures
    assert year.hours_wanted == 16.0 * 365 and year.hours_met_share == pytest.approx(1.0, abs=1e-9)


def test_unplanned_hours_of_a_stop_count_and_planned_ones_do_not() -> None:
    """A night by the clock is no stop; four hours of low battery before it make one of them, 19 h long (derived)."""
    night, low = Stop(24.0, 39.0, "schedule", 0.1, 12.2), Stop(20.0, 24.0, "night", 0.1, 12.2)
    assert unplanned_of(Stops.of([night])).unplanned_h == 0.0
    assert unplanned_of(Stops.of([low, night])) == Unplanned(20.0, 39.0, 4.0)
    winter = Stop(40.0, 3000.0, "seasonal", 0.9, 13.2)
    assert unplanned_of(Stops.of([low, night, winter])).hours == 19.0


def test_starts_are_counted_over_the_days_in_service(courtyard_year: YearResult) -> None:
    """1,200 starts in 365 days are three a day; in the 165 days that a break leaves they are seven (derived)."""
    measures, scenario = courtyard_year.measures, changed({})
    some = replace(measures, starts=1200, quick_starts=0)
    broken = replace(some, stops_by_cause=some.stops_by_cause | {"seasonal": 200 * 24.0})
    for case, found in ((some, False), (broken, True)):
        assert ("short-cycling" in {one.id for one in checks.findings(scenario, case)}) is found


def test_water_without_a_curve_is_judged_as_far_as_it_can_be(winter_break: YearResult) -> None:
    """No flow is worked out and that is said; fish, siphon, evaporation and filter gap are judged all the same."""
    told, ids = winter_break.as_json(), {one.id for one in winter_break.findings}
    assert winter_break.measures.water is None and told["water"] is None
    assert {"water-without-curve", "siphon", "leak-or-evaporation", "filter-gap"} <= ids
    assert told["pond"]["top_up_l_by_month"][6] > 0.0
    assert "box-label-flow" not in ids | {one.id for one in winter_break.passed}


def test_no_false_alarm_on_the_scenarios(any_year: YearResult) -> None:
    """Where all that is wanted is met nothing speaks of sun, stops or restarts; planned stops are never blamed."""
    ids, measures = {one.id for one in any_year.findings}, any_year.measures
    if measures.hours_met_share > 0.999:
        assert not ids & {"stop-too-long", "restart-unreachable", "battery-does-not-fix-winter", "dusk-timer-left-on"}
    if measures.unplanned.unplanned_h <= any_year.scenario.need.longest_stop_h:
        assert "stop-too-long" not in ids
