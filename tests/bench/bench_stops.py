"""What the report of very many stops costs against their simulation: ``python tests/bench/bench_stops.py``.

The answers are asserted; the ratio is printed beside its limit. Both are processor time of this process after a first
year has compiled the kernel and warmed the charts, so that a busy machine does not matter.
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from sim.figures.hourly import as_csv  # noqa: E402
from sim.report.render import year_report  # noqa: E402
from sim.scenario import Scenario, parse  # noqa: E402
from sim.studies import ledger, year  # noqa: E402
from sim.studies.result import YearResult  # noqa: E402
from sim.studies.yearly import study_year  # noqa: E402

LIMIT = 4.0
LEAST_STOPS = 500_000
PLAIN: dict[str, Any] = {
    "weather": {"sample": "piedmont"},
    "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}
NO_DELAYS = {"load_disconnect_v": 13.0, "disconnect_delay_s": 0, "reconnect_delay_s": 0}
YEARS: dict[str, dict[str, Any]] = {
    "50 mV apart": {"controller": {"load_disconnect_v": 13.05}},
    "a pump too big": {"controller": {"load_disconnect_v": 12.2}, "pump": {"power_w": 100}},
    "no delays": {"controller": NO_DELAYS},
    "no delays, too big": {"controller": NO_DELAYS, "pump": {"power_w": 60}},
}


def chattering(changes: dict[str, Any]) -> Scenario:
    """A plain system whose pump clicks on and off."""
    return parse(PLAIN | changes, ROOT / "chattering.toml")


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Processor seconds of a piece of work, and what it made."""
    began = time.process_time()
    made = work()
    return time.process_time() - began, made


def reported(result: YearResult) -> int:
    """Everything that a year's command writes."""
    stops, index, care = result.measures.stops, result.weather.index, result.scenario.care
    texts = (
        year_report(result),
        as_csv(result.log, result.weather, result.sunlight, result.sky),
        ledger.as_csv(stops, index, care),
        json.dumps(result.as_json()),
    )
    return sum(map(len, texts))


def main() -> None:
    """Each of the years, simulated and reported."""
    reported(study_year(chattering({})))
    most = 0
    for name, changes in YEARS.items():
        scenario = chattering(changes)
        simulated_s, _ = timed(lambda: year.simulate_year(scenario))  # noqa: B023
        whole_s, result = timed(lambda: study_year(scenario))  # noqa: B023
        written_s, size = timed(lambda: reported(result))  # noqa: B023
        hours = result.measures.pump_hours + sum(result.measures.stops_by_cause.values())
        assert abs(hours - 8760.0) < 1e-6, hours
        ratio = (whole_s - simulated_s + written_s) / simulated_s
        most = max(most, len(result.measures.stops))
        print(f"{name}: {len(result.measures.stops):,} stops, simulated in {simulated_s:.1f} s, reported in", end=" ")
        print(f"{whole_s - simulated_s + written_s:.1f} s ({size / 1e6:.0f} MB): {ratio:.2f} times (limit {LIMIT})")
    assert most > LEAST_STOPS


if __name__ == "__main__":
    main()
