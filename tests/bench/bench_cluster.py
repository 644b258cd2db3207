"""How the cost of many years grows: time, tasks, bytes that travel, and the memory of a worker.

Run with a scheduler's address or local:N, and lane-years: ``bench_cluster.py local:2 1000 10000``.
"""

from __future__ import annotations

import pickle
import sys
import time
from pathlib import Path

import psutil

sys.path[:0] = [str(Path(__file__).parents[2])]

from sim import cluster, hands  # noqa: E402
from sim.scenario import load  # noqa: E402
from sim.studies.chains import Walk, _dealt, run_years, synthetic  # noqa: E402
from sim.weather.many import years_for  # noqa: E402

COURTYARD = Path(__file__).parents[2] / "scenarios" / "courtyard.toml"


def sizes(count: int, width: int) -> str:
    """Tasks, and the bytes that travel there and back."""
    scenario = load(COURTYARD)
    many = synthetic(years_for(scenario), count)
    dealt = _dealt([scenario], many, width)
    shared = len(pickle.dumps(Walk((scenario,), many.without_chains)))
    a_year = 296 + 12 * 8 + 2680  # FIGURES, light by month, and the lane that is handed on
    there = sum(len(pickle.dumps(chains)) for chains in dealt)
    travels = f"shared {shared / 1e6:.1f} MB a worker; items {there / 1e3:.0f} kB; back {count * a_year / 1e6:.1f} MB"
    return f"{len(dealt)} tasks; {travels}"


def memory() -> list[int]:
    """MB that each process below this one holds."""
    return sorted(one.memory_info().rss // 1_000_000 for one in psutil.Process().children(recursive=True))


def main(address: str, counts: list[int]) -> None:
    """Print a line for each count, here and there."""
    scenario = load(COURTYARD)
    run_years([scenario], synthetic(years_for(scenario), 2))
    for count in counts:
        many = synthetic(years_for(scenario), count)
        begun = time.monotonic()
        here = run_years([scenario], many)
        here_s = time.monotonic() - begun
        with cluster.handed_to(address) as who:
            hands.in_order(who, Walk((scenario,), many.without_chains), [many.chains[:1]] * who.width)  # they wake up
            begun = time.monotonic()
            there = run_years([scenario], many)
            there_s = time.monotonic() - begun
            print(f"{count} lane-years: threads {here_s:.1f} s ({count / here_s:.1f}/s), {address} {there_s:.1f} s "
                  f"({here_s / there_s:.2f}); {sizes(count, who.width)}; workers {memory()} MB, "
                  f"this {psutil.Process().memory_info().rss // 1_000_000} MB")  # fmt: skip
        assert here.figures.tobytes() == there.figures.tobytes()


if __name__ == "__main__":
    main(sys.argv[1], [int(count) for count in sys.argv[2:]])
