"""What a year costs, as ratios measured in one run: ``python tests/bench/bench_year.py``.

Times are medians of interleaved repetitions, so that a busy machine slows both sides of a ratio. The answers are
asserted; the times are printed beside their limits, because another machine may be slower.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402
import simpy  # noqa: E402

from sim.calendar import DAY_S, HOUR_S  # noqa: E402
from sim.light.sunlight import sunlight_on  # noqa: E402
from sim.plant.engine import Hours, Plant, schedule, simulate  # noqa: E402
from sim.plant.lanes import lanes_from  # noqa: E402
from sim.plant.log import Log  # noqa: E402
from sim.plant.run import How, run  # noqa: E402
from sim.plant.sky import sky_row  # noqa: E402
from sim.scenario import Scenario, overridden, parse, read_toml  # noqa: E402
from sim.weather import weather_for  # noqa: E402

COURTYARD = ROOT / "scenarios" / "courtyard.toml"
DEPENDENCIES = "simpy, numpy, pandas, pvlib, scipy, matplotlib, numba, pydantic, jinja2, rich, rainflow"
DISCONNECTS, RECONNECTS = np.linspace(11.5, 13.1, 20), np.linspace(13.12, 13.5, 20)
PLAIN = 7  # the pair whose year is simulated alone, too


def medians(repetitions: int, *jobs: Callable[[], object]) -> list[float]:
    """Median seconds of each job, run in turn."""
    taken: list[list[float]] = [[] for _ in jobs]
    for _ in range(repetitions):
        for job, times in zip(jobs, taken, strict=True):
            began = time.perf_counter()
            job()
            times.append(time.perf_counter() - began)
    return [statistics.median(times) for times in taken]


def empty_loop() -> None:
    """A year of hours in which nothing happens."""
    env = simpy.Environment()

    def clock():  # type: ignore[no-untyped-def]
        for _ in range(8760):
            yield env.timeout(HOUR_S)

    env.process(clock())
    env.run()


def designs() -> list[Scenario]:
    """The courtyard with 400 pairs of thresholds, some of which chatter; one pass each, from a written charge."""
    data = overridden(read_toml(COURTYARD), {"pump.power_w": 20, "battery.initial_soc": 0.8})
    pairs = [(float(off_v), float(on_v)) for off_v in DISCONNECTS for on_v in RECONNECTS]
    keys = ("controller.load_disconnect_v", "controller.load_reconnect_v")
    return [parse(overridden(data, dict(zip(keys, pair, strict=True))), COURTYARD) for pair in pairs]


def sky_of(scenario: Scenario) -> np.ndarray:
    """(1, hours) of SKY."""
    weather = weather_for(scenario)
    row = sky_row(sunlight_on(scenario, weather), weather, scenario.battery)
    return row[np.newaxis]


def inputs(plant: Plant, several: list[Scenario]) -> list[object]:
    """The processes of one lane-year: the hours that are wanted."""
    return [schedule(plant, "in_window", {k: Hours((one.need.between_s,)) for k, one in enumerate(several)})]


def one_year(design: Scenario, sky: np.ndarray, every_s: float) -> Log:
    """One lane through one year."""
    plant = Plant(lanes_from([design], [0]), sky)
    return simulate(plant, inputs(plant, [design]), every_s)  # type: ignore[arg-type]


def all_pairs(several: list[Scenario], sky: np.ndarray) -> np.ndarray:
    """(pairs,) of TOTALS: every pair through the year, on every core."""
    how = How(people=lambda plant, designs, _: inputs(plant, list(designs)))  # type: ignore[arg-type,return-value]
    return np.array(run(several, sky, lambda log, _: list(log.totals[-1]), how))


def fresh(folder: Path, *arguments: str, code: int = 0) -> Callable[[], None]:
    """A new Python process with these arguments that must end with this exit code."""

    def job() -> None:
        variables = os.environ | {"PYTHONPATH": str(ROOT)}
        variables.pop("PYTHONDONTWRITEBYTECODE", None)  # the dependencies are kept as bytecode, too
        done = subprocess.run([sys.executable, *arguments], cwd=folder, env=variables, capture_output=True)
        assert done.returncode == code, done.stderr.decode()

    return job


def report(what: str, figure: float, limit: float | None, unit: str = "x") -> None:
    """A line with a figure and its limit."""
    verdict = "" if limit is None else f"  limit {limit:g} {unit}  {'PASS' if figure <= limit else 'over'}"
    print(f"{what:74s} {figure:8.3f} {unit}{verdict}")


def frost_free(design: Scenario) -> Scenario:
    """The same with its battery in a place without frost, so that its pump does not start and stop all winter."""
    return design.but(battery={"place": "frost-free", "place_min_c": 5.0})


def bench_engine() -> None:
    """Ratios of the engine, compiled and warm."""
    several = designs()
    frosty, one = several[PLAIN], frost_free(several[PLAIN])
    frost_sky, sky = sky_of(frosty), sky_of(one)
    frost, plain, grid = one_year(frosty, frost_sky, DAY_S), one_year(one, sky, DAY_S), all_pairs(several, frost_sky)
    assert grid[PLAIN].tobytes() == frost.totals[-1, 0].tobytes()
    hourly = one_year(one, sky, HOUR_S)
    for name in ("run_s", "starts", "soc"):
        assert hourly.totals[name][-1, 0] == plain.totals[name][-1, 0]
    switches = 2.0 * grid["starts"]
    empty_s, daily_s, hourly_s, frost_s = medians(
        9,
        empty_loop,
        lambda: one_year(one, sky, DAY_S),
        lambda: one_year(one, sky, HOUR_S),
        lambda: one_year(frosty, frost_sky, DAY_S),
    )
    lane_s, grid_s = medians(3, lambda: one_year(frosty, frost_sky, DAY_S), lambda: all_pairs(several, frost_sky))
    print(f"one lane-year: {plain.totals['run_s'][-1, 0] / 3600:.1f} pump hours, {1000 * daily_s:.1f} ms")
    print(f"empty loop of 8760 timeouts: {1000 * empty_s:.1f} ms; {len(several)} pairs: {grid_s:.2f} s")
    assert (switches > 50_000).any()
    print(f"pairs with more than 50,000 starts and stops: {int((switches > 50_000).sum())}, most {int(switches.max())}")
    report("one lane-year, daily totals / empty loop", daily_s / empty_s, 3.5)
    report("one lane-year, hourly log / empty loop", hourly_s / empty_s, None)
    report(f"the same in frost, {frost.totals['starts'][-1, 0]:.0f} starts / empty loop", frost_s / empty_s, None)
    alone_s = lane_s * len(several) / (os.cpu_count() or 1)
    report(f"400 pairs on {os.cpu_count()} cores / as many lane-years in frost, each alone", grid_s / alone_s, 1.0)


def bench_command(folder: Path) -> None:
    """Ratios and seconds of the command in fresh processes; the compiled kernel is on disk."""
    year = fresh(folder, "-m", "sim", "year", str(COURTYARD), "--out", "reports")
    year()
    imports_s, year_s = medians(
        5, fresh(folder, "-c", f"import {DEPENDENCIES}, matplotlib.pyplot, pvlib.iotools"), year
    )
    bad = folder / "bad.toml"
    bad.write_text(COURTYARD.read_text(encoding="utf-8") + "\n[site]\nlatitude_deg = 95\n", encoding="utf-8")
    help_s, bad_s = medians(
        5, fresh(folder, "-m", "sim", "--help"), fresh(folder, "-m", "sim", "year", str(bad), code=2)
    )
    print(f"importing the dependencies: {imports_s:.2f} s; sunrill year, cold: {year_s:.2f} s")
    report("sunrill year, cold / importing its dependencies", year_s / imports_s, 2.2)
    report("sunrill --help", help_s, 0.35, "s")
    report("a scenario with a wrong value", bad_s, 0.35, "s")


if __name__ == "__main__":
    bench_engine()
    with tempfile.TemporaryDirectory() as name:
        bench_command(Path(name))
