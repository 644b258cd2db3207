"""What many years of weather cost, against the engine alone: ``python tests/bench/bench_spread.py``.

Both sides of the ratio run in turn on all cores, so that a busy machine slows both. The answers are asserted; the
figures are printed beside their limits, because another machine may be slower. Peak memory is that of a process of its
own for each number of years.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402

from sim.figures.lanes import figures_of  # noqa: E402
from sim.plant.run import How, run  # noqa: E402
from sim.scenario import Scenario, load  # noqa: E402
from sim.studies.spread import YEARS_AT_ONCE, Synthetic, run_years, sky_of, synthetic_years  # noqa: E402
from sim.weather import Weather  # noqa: E402

YEARS = 200
REPETITIONS = 3


def seconds(job: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock and of the processors that a job takes."""
    began, used = time.perf_counter(), time.process_time()
    job()
    return time.perf_counter() - began, time.process_time() - used


def engine_alone(scenario: Scenario, ready: np.ndarray, weather: Weather) -> np.ndarray:
    """The figures of as many lanes, over rows of sky that are there already, in hands of the same size."""
    months = weather.index.month.to_numpy()[::24]
    wanted = np.asarray(scenario.need.hours_per_day)[months - 1]
    return np.array(
        run(
            [scenario] * YEARS,
            lambda numbers: ready[: len(numbers)],
            lambda log, _: figures_of(log, months, wanted),
            How(at_once=YEARS_AT_ONCE),
        )
    )


def bench(name: str) -> None:
    """The ratio for a scenario."""
    scenario = load(ROOT / "scenarios" / f"{name}.toml")
    make = synthetic_years(scenario)
    ready = np.stack([sky_of(scenario, make(1 + k)) for k in range(YEARS_AT_ONCE)])
    count = -(-YEARS // YEARS_AT_ONCE)
    alone = engine_alone(scenario, ready, make(1))
    few = run_years(scenario, Synthetic(make, range(1, YEARS_AT_ONCE + 1)), lambda done, of: None)
    assert few.tobytes() == alone[::count].tobytes()
    taken = []
    for _ in range(REPETITIONS):
        engine = seconds(lambda: engine_alone(scenario, ready, make(1)))
        whole = seconds(lambda: run_years(scenario, Synthetic(make, range(1, YEARS + 1)), lambda done, of: None))
        taken.append((engine, whole))
    (engine_s, engine_cpu), (whole_s, whole_cpu) = (np.median([pair[k] for pair in taken], axis=0) for k in (0, 1))
    print(f"{name}: {YEARS} years on {os.cpu_count()} cores {whole_s:.1f} s (25), CPU {whole_cpu:.1f} s")
    print(f"  engine alone {engine_s:.2f} s, CPU {engine_cpu:.2f} s ({1000 * engine_cpu / YEARS:.1f} ms a lane-year)")
    print(f"  ratio on the clock {whole_s / engine_s:.2f} (4), of CPU time {whole_cpu / engine_cpu:.2f} (4)")


def memory(years: int) -> None:
    """Peak memory of a study of so many years, in a process of its own."""
    code = (
        "from pathlib import Path; from sim.scenario import load; "
        "from sim.studies.spread import study_spread; "
        f"study_spread(load(Path('scenarios/courtyard.toml')), {years}); "
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    print(f"peak memory with {years} years: {int(done.stdout) / 1024:.0f} MB")


if __name__ == "__main__":
    for one in ("courtyard", "school"):
        bench(one)
    for number in (50, 400):
        memory(number)
