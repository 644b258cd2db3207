"""What many years of weather cost, against the engine alone: ``python tests/bench/bench_spread.py [ratio|shared|own]``.

Both sides of the ratio run in turn on all cores, so that a busy machine slows both. The answers are asserted; the
figures are printed beside their limits, because another machine may be slower. Peak memory is that of a process of its
own.
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
from sim.light.sunlight import sunlight_on  # noqa: E402
from sim.plant.run import How, run  # noqa: E402
from sim.plant.sky import sky_row  # noqa: E402
from sim.scenario import Scenario, load, overridden, parse, read_toml  # noqa: E402
from sim.studies.chains import SKIES_AT_ONCE, run_years, synthetic  # noqa: E402
from sim.weather import Weather  # noqa: E402
from sim.weather.many import years_for  # noqa: E402

YEARS, DESIGNS = 200, 50
REPETITIONS = 3
MANY = 10_000


def scenario_of(name: str) -> Scenario:
    """One of the project's scenarios."""
    return load(ROOT / "scenarios" / f"{name}.toml")


def seconds(job: Callable[[], object]) -> tuple[float, float]:
    """Seconds on the clock and of the processors that a job takes."""
    began, used = time.perf_counter(), time.process_time()
    job()
    return time.perf_counter() - began, time.process_time() - used


def engine_alone(scenario: Scenario, ready: np.ndarray, weather: Weather) -> np.ndarray:
    """The figures of as many lanes, over rows of sky that are there already, in hands of twenty."""
    months = weather.index.month.to_numpy()[::24]
    wanted = np.asarray(scenario.need.hours_per_day)[months - 1]
    return np.array(
        run(
            [scenario] * YEARS,
            lambda numbers: ready[: len(numbers)],
            lambda log, _: figures_of(log, months, wanted),
            How(at_once=SKIES_AT_ONCE),
        )
    )


def ratio(name: str) -> None:
    """200 years of one design against the engine over as many lanes."""
    scenario = scenario_of(name)
    make = years_for(scenario)
    weathers = [make(k) for k in range(SKIES_AT_ONCE)]
    ready = np.stack([sky_row(sunlight_on(scenario, one), one, scenario.battery) for one in weathers])
    few = run_years([scenario], synthetic(make, 5)).figures
    taken = []
    for _ in range(REPETITIONS):
        engine = seconds(lambda: engine_alone(scenario, ready, weathers[0]))
        whole = seconds(lambda: run_years([scenario], synthetic(make, YEARS)))
        taken.append((engine, whole))
    assert run_years([scenario], synthetic(make, YEARS)).figures[:, :5].tobytes() == few.tobytes()
    (engine_s, engine_cpu), (whole_s, whole_cpu) = (np.median([pair[k] for pair in taken], axis=0) for k in (0, 1))
    print(f"{name}: {YEARS} years on {os.cpu_count()} cores {whole_s:.1f} s, CPU {whole_cpu:.1f} s")
    print(f"  engine alone {engine_s:.2f} s, CPU {engine_cpu:.2f} s ({1000 * engine_cpu / YEARS:.1f} ms a lane-year)")
    print(f"  ratio on the clock {whole_s / engine_s:.2f} (4), of CPU time {whole_cpu / engine_cpu:.2f}")


def designs() -> list[Scenario]:
    """The courtyard with five panels' powers, five batteries and two voltages at which the load is disconnected."""
    path = ROOT / "scenarios" / "courtyard.toml"
    data = read_toml(path)
    panel = data["panel"]
    return [
        parse(
            overridden(
                data,
                {
                    "panel.power_w": panel["power_w"] * share,
                    "panel.imp_a": panel["imp_a"] * share,
                    "panel.isc_a": panel["isc_a"] * share,
                    "battery.capacity_ah": capacity_ah,
                    "controller.load_disconnect_v": disconnect_v,
                },
            ),
            path,
        )
        for share in np.linspace(0.5, 1.4, DESIGNS // 10).tolist()
        for capacity_ah in (30, 50, 80, 120, 200)
        for disconnect_v in (12.0, 12.4)
    ]


def shared() -> None:
    """Fifty designs through 200 shared years."""
    several = designs()
    make = years_for(several[0])
    run_years(several[:2], synthetic(make, 2))
    clock_s, cpu_s = seconds(lambda: run_years(several, synthetic(make, YEARS)))
    print(f"{DESIGNS} designs x {YEARS} shared years: {clock_s:.1f} s (60), CPU {cpu_s:.1f} s")


def own(years: int) -> None:
    """Time and peak memory of a study of so many years, in a process of its own."""
    code = (
        "from pathlib import Path; from sim.scenario import load; "
        "from sim.studies.spread import study_spread; "
        f"study_spread(load(Path('scenarios/courtyard.toml')), {years}); "
        "print(Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    began = time.perf_counter()
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    peak_mb = int(done.stdout) / 1024
    print(f"{years} years of own weather: {time.perf_counter() - began:.0f} s, peak memory {peak_mb:.0f} MB (1024)")


if __name__ == "__main__":
    asked = sys.argv[1:] or ["ratio", "shared", "own"]
    if "ratio" in asked:
        for one in ("courtyard", "school"):
            ratio(one)
    if "shared" in asked:
        shared()
    if "own" in asked:
        for number in (200, MANY):
            own(number)
