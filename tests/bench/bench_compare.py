"""What a comparison costs, against one year with its report: ``python tests/bench/bench_compare.py``.

The answers are asserted; the figures are printed beside their limits, because another machine may be slower. Both sides
run in this process after the kernel is compiled, in turn, and their medians are compared.
"""

from __future__ import annotations

import os
import resource
import statistics
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT))

from sim.figures.hourly import as_csv  # noqa: E402
from sim.files import write_text  # noqa: E402
from sim.report.compare import compare_report  # noqa: E402
from sim.report.render import year_report  # noqa: E402
from sim.scenario import Scenario  # noqa: E402
from sim.studies.compare import study_compare  # noqa: E402
from sim.studies.designs import Design, designs_in, simulate_designs  # noqa: E402
from sim.studies.year import simulate_year  # noqa: E402
from sim.studies.yearly import study_year  # noqa: E402

COURTYARD = ROOT / "scenarios" / "courtyard.toml"
DESIGNS = 50
LIMIT = 12.0
ROUNDS = 3


def write_year(scenario: Scenario, folder: Path) -> None:
    """One year with its report and its log, as the command writes them."""
    result = study_year(scenario)
    write_text(folder / "year.html", year_report(result))
    write_text(folder / "year.csv", as_csv(result.hourly()))


def designs() -> list[Design]:
    """The courtyard with its panel in fifty distinct positions."""
    first = designs_in(COURTYARD)[0]
    tilts = [{"panel.tilt_deg": 1.0 + 1.5 * k, "panel.azimuth_deg": 150.0 + k} for k in range(DESIGNS)]
    return [first.changed(f"position {k}", changes) for k, changes in enumerate(tilts)]


def compared(several: list[Design]) -> int:
    """The whole comparison with its report."""
    result = study_compare(several)
    assert len(compare_report(result)) > 100_000
    return len(result.designs)


def main() -> None:
    """Both sides in turn, and the ratio of their medians."""
    several = designs()
    with tempfile.TemporaryDirectory() as name:
        write_year(several[0].scenario, Path(name))
        years, studies, passes = [], [], []
        for _ in range(ROUNDS):
            marks = [time.perf_counter()]
            write_year(several[0].scenario, Path(name))
            marks.append(time.perf_counter())
            runs = simulate_designs(several)
            marks.append(time.perf_counter())
            assert compared(several) == DESIGNS
            marks.append(time.perf_counter())
            years.append(marks[1] - marks[0])
            passes.append(marks[2] - marks[1])
            studies.append(marks[3] - marks[2])
    alone = simulate_year(several[7].scenario).measures
    assert abs(runs[7].measures.pump_hours - alone.pump_hours) < 1e-3
    year_s, pass_s, study_s = map(statistics.median, (years, passes, studies))
    verdict = "PASS" if study_s <= LIMIT * year_s else "over"
    print(f"{os.cpu_count()} cores; one year with its report {year_s:.2f} s")
    print(f"{DESIGNS} designs in {DESIGNS} positions, one pass: {pass_s:.1f} s, {pass_s / year_s:.1f} x")
    print(f"with steps, curves and report: {study_s:.1f} s, {study_s / year_s:.1f} x  limit {LIMIT:g} x  {verdict}")
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB")


if __name__ == "__main__":
    main()
