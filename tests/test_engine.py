"""Time: what the processes change, when, and what the log keeps of it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.calendar import DAY_S, HOUR_S
from sim.figures.lanes import longest_stop_h, lowest_soc, shortest_run_h
from sim.plant import run as door
from sim.plant.engine import WHOLE_DAY, Hours, Plant, schedule, simulate
from sim.plant.lanes import lanes_from
from sim.plant.log import Log
from sim.plant.people import processes
from sim.scenario import Scenario
from sim.studies.result import YearResult

minutes = st.integers(0, 1439).map(lambda minute: 60.0 * minute)


@given(start_s=minutes, end_s=minutes, at_s=st.floats(0.0, 3 * DAY_S))
def test_a_window_holds_from_its_start_to_its_end(start_s: float, end_s: float, at_s: float) -> None:
    """Inside is where fewer seconds have passed since the start than the window is long, also through midnight."""
    length_s = (end_s - start_s) % DAY_S or DAY_S
    assert Hours(((start_s, end_s),)).holds(at_s) == ((at_s - start_s) % DAY_S < length_s)


def test_the_whole_day_always_holds() -> None:
    """From midnight to midnight there is no moment outside."""
    assert all(Hours(WHOLE_DAY).holds(60.0 * minute) for minute in range(2 * 1440))


def run(design: Scenario, sky: np.ndarray, every_s: float = HOUR_S, until_s: float | None = None) -> Log:
    """The log of one design under its sky."""
    plant = Plant(lanes_from([design], [0]), sky[np.newaxis])
    return simulate(plant, processes(plant, [design]), every_s, until_s)


def test_a_clock_schedule_is_kept_to_the_second(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """With windows 06:10-07:05 and 22:30-01:15 a full battery runs the pump 3 h 40 min a day, from edge to edge."""
    windows = [["06:10", "07:05"], ["22:30", "01:15"]]
    timed = design({"controller.load_mode": "clock", "controller.load_windows": windows, "battery.capacity_ah": 400})
    log = run(timed, sky_for(timed), until_s=10 * DAY_S)
    hours = log.per_interval("run_s").reshape(10, 24)
    expected = np.zeros(24)
    expected[[0, 1, 6, 7, 22, 23]] = [3600.0, 900.0, 3000.0, 300.0, 1800.0, 3600.0]
    assert hours[1:] == pytest.approx(np.tile(expected, (9, 1)), abs=1e-6)


def test_running_counts_as_needed_only_inside_the_window(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """A pump that never stops is counted exactly for the window's length, through midnight."""
    always = design({"need.between": ["21:30", "04:00"], "need.hours_per_day": 5, "battery.capacity_ah": 900})
    log = run(always, sky_for(always), DAY_S, 5 * DAY_S)
    assert log.per_interval("run_s") == pytest.approx(DAY_S)
    assert log.per_interval("window_run_s") == pytest.approx(6.5 * HOUR_S)


def test_reading_seldom_gives_the_same_year(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """The kernel stops at every hour anyhow: daily readings end in the same totals."""
    courtyard = design({})
    sky = sky_for(courtyard)
    daily, hourly = run(courtyard, sky, DAY_S), run(courtyard, sky, HOUR_S)
    assert len(daily.at_s) == 366 and daily.at_s[-1] == hourly.at_s[-1]
    for name in ("run_s", "starts", "soc", "panel_wh"):
        assert daily.totals[name][-1, 0] == hourly.totals[name][-1, 0]
    for extreme in (longest_stop_h, shortest_run_h, lowest_soc):
        assert extreme(daily) == extreme(hourly)
    lowest = hourly.per_interval("soc_low").reshape(-1, 24).min(axis=1)
    assert daily.per_interval("soc_low") == pytest.approx(lowest, abs=1e-12)


def test_two_schedules_may_share_an_edge(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Lanes whose windows differ each keep their own: 08:00-12:00 beside 12:00-18:00."""
    lanes = [
        design({"controller.load_mode": "clock", "controller.load_windows": [window], "battery.capacity_ah": 400})
        for window in (["08:00", "12:00"], ["12:00", "18:00"])
    ]
    plant = Plant(lanes_from(lanes, [0, 0]), sky_for(lanes[0])[np.newaxis])
    log = simulate(plant, processes(plant, lanes), DAY_S, 3 * DAY_S)
    assert log.per_interval("run_s", 0)[1:] == pytest.approx(4 * HOUR_S, abs=1e-6)
    assert log.per_interval("run_s", 1)[1:] == pytest.approx(6 * HOUR_S, abs=1e-6)


def test_a_process_of_ones_own_may_change_an_input(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Advance, change, wait: a switch thrown at 1234.5 s stops the pump at 1234.5 s."""
    courtyard = design({})
    plant = Plant(lanes_from([courtyard], [0]), sky_for(courtyard)[np.newaxis])

    def switch() -> Any:
        yield plant.env.timeout(1234.5)
        plant.advance()
        plant.lanes["inputs"]["scheduled"] = 0

    log = simulate(plant, [schedule(plant, "in_window", {0: Hours(WHOLE_DAY)}), switch()], until_s=DAY_S)
    assert log.totals["run_s"][-1, 0] == pytest.approx(1234.5)
    assert log.totals["schedule_s"][-1, 0] == pytest.approx(DAY_S - 1234.5)


def test_many_lanes_on_all_cores_are_each_as_if_alone(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Dealt out over threads in hands of three, every lane comes back in its place with its own result, bit by bit."""
    pairs = [(12.0 + 0.1 * k, 13.0 + 0.03 * k) for k in range(10)]
    several = [
        design({"controller.load_disconnect_v": off_v, "controller.load_reconnect_v": on_v, "battery.initial_soc": 0.8})
        for off_v, on_v in pairs
    ]
    sky = sky_for(several[0])
    lanes = door.run(several, sky[np.newaxis], how=door.How(at_once=3))
    for k in (0, 4, 9):
        log, lane = lanes[k]
        assert log.totals[:, lane].tobytes() == run(several[k], sky, DAY_S).totals[:, 0].tobytes()


def test_events_are_the_starts_and_stops(courtyard_year: YearResult) -> None:
    """The events alternate between running and not, as often as was counted, and span the hours that were counted."""
    log = courtyard_year.log
    events, last = log.events_of(), log.totals[-1, 0]
    starts = events["cause"] == 0
    assert starts.sum() == last["starts"]
    assert np.all(np.diff(events["at_s"]) >= 0.0)
    ends_s = np.append(events["at_s"], log.at_s[-1])
    running = np.concatenate(([True], starts))
    lengths_s = np.diff(np.concatenate(([0.0], ends_s)))
    assert lengths_s[running].sum() == pytest.approx(last["run_s"], rel=1e-9)
