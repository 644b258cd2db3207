"""What the study of pairs costs, against one lane-year: ``python tests/bench/bench_pairs.py``.

The answers are asserted; the figures are printed beside their limits, because another machine may be slower.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402

from sim.calendar import HOUR_S  # noqa: E402
from sim.light.sunlight import sunlight_on  # noqa: E402
from sim.plant.engine import Plant, simulate  # noqa: E402
from sim.plant.people import processes  # noqa: E402
from sim.plant.sky import sky_row  # noqa: E402
from sim.scenario import Scenario, overridden, parse, read_toml  # noqa: E402
from sim.studies.pairs import study_pairs  # noqa: E402
from sim.studies.sweep import grid, lanes_of, sweep  # noqa: E402
from sim.weather import weather_for  # noqa: E402


def seconds(job: Callable[[], object]) -> float:
    """How long a job takes."""
    began = time.perf_counter()
    job()
    return time.perf_counter() - began


def lane_year(lanes: np.ndarray, sky: np.ndarray, scenario: Scenario) -> np.void:
    """The totals of the first lane, alone."""
    plant = Plant(lanes[:1].copy(), sky[np.newaxis])
    return simulate(plant, processes(plant, [scenario]), 24 * HOUR_S).totals[-1, 0]  # type: ignore[no-any-return]


def compiled_loop(lanes: np.ndarray, sky: np.ndarray) -> None:
    """All lanes by the compiled loop alone, on one core: no simpy, no log, no people."""
    plant = Plant(lanes.copy(), sky[np.newaxis])
    plant._advance(0.0, len(sky) * HOUR_S)


def main() -> None:
    """Seconds, ratios and memory."""
    path = ROOT / "scenarios" / "courtyard.toml"
    scenario = parse(overridden(read_toml(path), {"battery.initial_soc": 0.8}), path)  # one pass, not settled
    weather = weather_for(scenario)
    sky, months = sky_row(sunlight_on(scenario, weather), weather, scenario.battery), weather.index.month.to_numpy()
    volts = grid(scenario, None, None, None)
    lanes = lanes_of(scenario, volts)
    alone = lane_year(lanes, sky, scenario)
    swept = sweep(scenario, sky, months[::24], volts, lambda done, of: None)
    assert swept.figures["hours"][0, 0] == alone["run_s"] / 3600.0 and swept.figures["starts"][0, 0] == alone["starts"]
    one_s = min(seconds(lambda: lane_year(lanes, sky, scenario)) for _ in range(9))
    loop_s = seconds(lambda: compiled_loop(lanes, sky))
    sweep_s = seconds(lambda: sweep(scenario, sky, months[::24], volts, lambda done, of: None))
    study_s = seconds(lambda: study_pairs(scenario))
    memory_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{len(volts)} pairs, {len(lanes)} lane-years on {os.cpu_count()} cores; one lane-year {1000 * one_s:.1f} ms")
    print(f"compiled loop alone, one core: {loop_s:.1f} s, {loop_s / one_s:.0f} x one lane-year")
    print(
        f"sweep: {sweep_s:.1f} s, {sweep_s / one_s:.0f} x; whole study: {study_s:.1f} s, {study_s / one_s:.0f} x (480)"
    )
    print(f"peak memory {memory_mb:.0f} MB (1000)")


if __name__ == "__main__":
    main()
