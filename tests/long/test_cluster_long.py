"""Real schedulers and workers: nearly as fast as threads, the same bytes; who is killed is replaced or named."""

from __future__ import annotations

import os
import signal
import threading
import time
from pathlib import Path

import numpy as np
import psutil
import pytest
from conftest import COURTYARD
from kit.handed import Grows, Square
from kit.many import farm, started

from sim import cluster, hands
from sim.errors import InputError
from sim.hands import Lost
from sim.scenario import Scenario, load
from sim.studies.chains import Ran, Walk, run_years, synthetic
from sim.studies.pairs import study_pairs
from sim.weather.many import years_for

pytestmark = pytest.mark.long
YEARS = int(os.environ.get("SUNRILL_LANE_YEARS", "20000"))
AT_A_TIME = 4000  # of them in a test


def years_of(scenario: Scenario, count: int, seed: int = 0) -> tuple[Ran, float]:
    """So many years, and how long they took."""
    begun = time.monotonic()
    ran = run_years([scenario], synthetic(years_for(scenario, seed=seed), count))
    return ran, time.monotonic() - begun


def same(first: Ran, second: Ran) -> bool:
    """Whether two runs came to the same, bit by bit."""
    return first.figures.tobytes() == second.figures.tobytes() and first.light.tobytes() == second.light.tobytes()


@pytest.mark.parametrize("piece", range(-(-YEARS // AT_A_TIME)))
def test_two_workers_are_nearly_as_fast_as_threads(piece: int) -> None:
    """At least 0.75 of their speed on the same lane-years, and identical bytes; memory does not grow.

    All of them are taken in pieces with a seed of their own, one way and the other by turns, so that what else the
    machine does falls on both.
    """
    scenario, count = load(COURTYARD), min(AT_A_TIME, YEARS)
    few = synthetic(years_for(scenario), 2)
    years_of(scenario, 2)
    here, threads_s = years_of(scenario, count, piece)
    with cluster.handed_to("local:2") as who:
        hands.in_order(who, Walk((scenario,), few.without_chains), [few.chains] * who.width)  # the workers wake up
        there, workers_s = years_of(scenario, count, piece)
        held = [one.memory_info().rss // 1_000_000 for one in psutil.Process().children(recursive=True)]
    print(
        f"\n{count} lane-years: threads {threads_s:.0f} s, workers {workers_s:.0f} s: {threads_s / workers_s:.2f}; "
        f"the largest process below {max(held)} MB, this one {psutil.Process().memory_info().rss // 1_000_000} MB"
    )
    assert same(here, there) and threads_s / workers_s >= 0.75


def test_a_worker_that_is_killed_costs_nothing_but_time() -> None:
    """SIGKILL in the middle: its work is done again, and the figures are the same."""
    scenario = load(COURTYARD)
    here, _ = years_of(scenario, 80)
    with farm(2) as made, cluster.handed_to(made.address):
        killer = threading.Timer(3.0, os.kill, (made.workers()[0], signal.SIGKILL))
        killer.start()
        there, _ = years_of(scenario, 80)
        killer.join()
    assert same(here, there)


def test_pairs_on_a_cluster_are_those_of_threads() -> None:
    """Every figure of the map and of its years."""
    scenario = load(COURTYARD)
    asked = {"step_v": 0.4, "years": 10}
    here = study_pairs(scenario, **asked)  # type: ignore[arg-type]
    with cluster.handed_to("local:2"):
        there = study_pairs(scenario, **asked)  # type: ignore[arg-type]
    assert here.as_json() == there.as_json() and here.years and there.years
    np.testing.assert_array_equal(here.years.met, there.years.met)


def test_what_kills_workers_is_named(tmp_path: Path) -> None:
    """And not tried for ever; the others' results are there."""
    work = Square(tmp_path, deadly=5, once=2)
    with farm(2) as made, cluster.handed_to(made.address) as who:
        found = dict(who.each(work, range(10), name=lambda number: f"site {number}"))
    assert found == {k: k * k for k in range(10)} | {5: Lost("site 5")}


def test_a_worker_out_of_memory_is_named(tmp_path: Path) -> None:
    """A task that takes more than a worker may have ends the worker, and is named."""
    with farm(1, memory="600MB") as made, cluster.handed_to(made.address) as who:
        found = dict(who.each(Grows(2000), range(2), name=lambda number: f"site {number}"))
    assert found == {0: 0, 1: Lost("site 1")}


def test_a_scheduler_that_is_killed_is_one_message(tmp_path: Path) -> None:
    """Within some seconds."""
    with farm(1) as made, cluster.handed_to(made.address) as who:
        threading.Timer(2.0, made.scheduler.kill).start()
        begun = time.monotonic()
        with pytest.raises(InputError, match="a scheduler that stays"):
            hands.in_order(who, Square(tmp_path, slow_s=0.5), range(1000))
        took = time.monotonic() - begun
    print(f"\ntold after {took - 2.0:.1f} s")
    assert took < 30.0


def test_an_interruption_leaves_no_tasks(tmp_path: Path) -> None:
    """Ctrl-C: exit code 130, and the scheduler has nothing left to do."""
    with farm(1) as made:
        one = started("-m", "sim", "spread", str(COURTYARD), "--years", "2000", "--out", str(tmp_path),
                      "--scheduler", made.address, heard=False)  # fmt: skip
        with cluster.handed_to(made.address) as who:
            deadline = time.monotonic() + 60.0
            while _tasks(who) < 2:
                assert time.monotonic() < deadline
                time.sleep(0.2)
            one.send_signal(signal.SIGINT)
            assert one.wait(30) == 130
            while _tasks(who):
                assert time.monotonic() < deadline + 60.0
                time.sleep(0.2)
    assert not list(tmp_path.iterdir())


def _tasks(who: hands.Hands) -> int:
    """How many tasks the scheduler knows."""
    return int(who.client.run_on_scheduler(lambda dask_scheduler: len(dask_scheduler.tasks)))  # type: ignore[attr-defined]
