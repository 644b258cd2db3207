"""How fast the local page follows a hand, in a real Chromium, beside a lane-year of the same run; and its cold start.

Run: python tests/bench/bench_page.py [CHANGES]. The answers are checked against the year's study.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[2]
sys.path[:0] = [str(ROOT), str(ROOT / "tests")]

from kit.chromium import Tab, browser  # noqa: E402
from kit.serving import serving  # noqa: E402

from sim.light.sunlight import sunlight_on  # noqa: E402
from sim.plant.run import run  # noqa: E402
from sim.plant.sky import sky_row  # noqa: E402
from sim.scenario import load  # noqa: E402
from sim.studies.year import simulate_year  # noqa: E402
from sim.weather import weather_for  # noqa: E402

COURTYARD = ROOT / "scenarios" / "courtyard.toml"
CHANGES = 200
# pydantic loads what is asked of it and nothing before, so the class that the page needs is named.
NEEDS = (
    "import starlette.applications, uvicorn, jinja2, tomlkit, python_multipart, numpy; from pydantic import BaseModel"
)
MOST = 1.5  # of the cold start against the import of what it depends on
STARTS = 5
# Every field of these in turn: a threshold, a tilt, a battery, a pump, a lead, a need.
TURNED = (
    ("controller.load_disconnect_v", 12.0, 0.01),
    ("panel.tilt_deg", 20.0, 0.2),
    ("battery.capacity_ah", 60.0, 0.5),
    ("pump.power_w", 10.0, 0.05),
    ("pump.cable.length_m", 3.0, 0.1),
    ("controller.load_reconnect_v", 13.2, 0.005),
)
CHANGE = """
(async () => {
  const field = document.getElementById("f-%s"), root = document.documentElement, before = root.dataset.answered || "0";
  const began = performance.now();
  field.value = "%s";
  field.dispatchEvent(new Event("input", {bubbles: true}));
  while ((root.dataset.answered || "0") === before) await new Promise((done) => setTimeout(done, 1));
  return performance.now() - began;
})()
"""


def least_s(work: Callable[[], object], times: int) -> float:
    """The least time that some work takes."""

    def once() -> float:
        began = time.perf_counter()
        work()
        return time.perf_counter() - began

    return min(once() for _ in range(times))


def lane_year_ms() -> float:
    """One design alone through its settled year, without sunlight and without figures."""
    scenario = load(COURTYARD)
    weather = weather_for(scenario)
    sky = sky_row(sunlight_on(scenario, weather), weather, scenario.battery)[np.newaxis]
    run([scenario], sky)
    return 1e3 * least_s(lambda: run([scenario], sky), 10)


def turned(tab: Tab, changes: int) -> list[float]:
    """Milliseconds from a change to the answer in the document, change by change."""
    told = []
    for k in range(changes):
        key, start, step = TURNED[k % len(TURNED)]
        told.append(float(tab.ask(CHANGE % (key, f"{start + step * (k // len(TURNED)):.3f}"))))
    return told


def check(tab: Tab, folder: Path) -> None:
    """The last answer is the year's study of the state on disk."""
    state = json.loads((folder / ".courtyard.state").read_text())
    (folder / "last.toml").write_text(state["texts"][state["at"]], "utf-8")
    shown = float(tab.ask("document.querySelector('[data-figure=pump_hours]').value"))
    assert shown == simulate_year(load(folder / "last.toml")).measures.pump_hours


def follow(changes: int) -> None:
    """Print how long answers take."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / "ponds"
        folder.mkdir()
        shutil.copy(COURTYARD, folder)
        with serving(folder) as (printed, _), browser() as tab:
            tab.open(printed.replace("/?", "/system/courtyard?"))
            tab.until("document.querySelector('main[data-ready=yes] .handles') && document.readyState === 'complete'")
            lane_ms = lane_year_ms()
            told = np.array(turned(tab, changes))
            check(tab, folder)
    median, most = np.percentile(told, (50, 95))
    print(f"{changes} changes: median {median:.0f} ms, 95 of 100 within {most:.0f} ms")
    print(f"one lane-year in the same run: {lane_ms:.0f} ms; the median answer is {median / lane_ms:.1f} of them")


def start_s(code: str) -> float:
    """The least time a fresh process takes for some code."""
    return least_s(lambda: subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True), STARTS)


def cold_start() -> None:
    """Print the cold start of the page against the import of what it stands on."""
    needs = start_s(NEEDS)
    whole = start_s("from sim.page.server import listen; listen(0).close()")
    print(f"cold start {whole:.2f} s, import of what it stands on {needs:.2f} s: {whole / needs:.2f} (at most {MOST})")


if __name__ == "__main__":
    follow(int(sys.argv[1]) if len(sys.argv) > 1 else CHANGES)
    cold_start()
