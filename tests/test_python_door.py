"""The package from Python: the README's examples run, nothing costs before it is needed, and a loop pays once."""

from __future__ import annotations

import dataclasses
import doctest
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

import sim
from sim.studies.result import YearResult

ROOT = Path(__file__).parent.parent


def test_the_examples_of_the_readme_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every line of the section "From Python" gives what stands under it."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    section = text.split("## From Python\n")[1].split("\n## ")[0]
    code = "\n".join(section.split("```python\n")[1].split("```")[:1])
    monkeypatch.chdir(ROOT)
    examples = doctest.DocTestParser().get_doctest(code, {}, "README.md, From Python", None, 0)
    said: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.ELLIPSIS | doctest.IGNORE_EXCEPTION_DETAIL)
    found = runner.run(examples, out=said.append)
    assert found.attempted > 15 and not found.failed, "".join(said)


def test_everything_offered_is_documented() -> None:
    """Each name has a sentence, and types for what goes in and comes out."""
    for name in sim.__all__:
        offered = getattr(sim, name)
        assert offered.__doc__ and "return" in offered.__annotations__
    assert set(sim.__all__) == {"load", "simulate", "pairs", "compare", "spread", "size", "reading"}


def test_the_package_alone_loads_nothing_that_costs() -> None:
    """``import sim`` in a process of its own brings neither tables nor models of light, nor the compiler."""
    heavy = {"numpy", "pandas", "pvlib", "numba", "pydantic", "simpy"}
    code = f"import sys, sim; print(sorted({heavy!r} & set(sys.modules)))"
    variables = os.environ | {"PYTHONPATH": str(ROOT)}
    done = subprocess.run([sys.executable, "-c", code], env=variables, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_results_are_frozen_and_the_log_has_units(courtyard_year: YearResult) -> None:
    """A field cannot be set, and every column but none names its unit in brackets."""
    with pytest.raises(dataclasses.FrozenInstanceError):
        courtyard_year.measures = None  # type: ignore[misc, assignment]
    hours = courtyard_year.hourly()
    assert len(hours) == len(courtyard_year.weather.index)
    assert all(name.endswith("]") and "[" in name for name in hours.columns)
    run_h = hours["pump_run [min]"].sum() / 60.0
    assert run_h == pytest.approx(courtyard_year.as_json()["pump_hours"])


def test_a_year_in_a_loop_costs_a_year(courtyard_year: YearResult) -> None:
    """Five years one after another take no more than eight times the quickest of them: nothing is set up again."""
    taken = []
    for tilt in (20.0, 30.0, 40.0, 50.0, 60.0):
        pond = sim.load(ROOT / "scenarios" / "courtyard.toml", {"panel.tilt_deg": tilt})
        began = time.process_time()
        sim.simulate(pond)
        taken.append(time.process_time() - began)
    assert sum(taken) < 8.0 * min(taken)
