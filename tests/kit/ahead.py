"""Machine code for a fresh place: made once, by a process of its own, while the workers read and run other tests.

Without it every worker would compile the same code. What needs none of it comes first; who then asks for code that is
not there yet waits for the process that makes it.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]
PATIENCE_S = 180.0
MADE = "SUNRILL_TESTS_MADE"  # names the file that is there once the code is
BEFORE = ("weather/", "test_scenario.py", "test_architecture.py", "test_checks.py")  # tests without compiled code


def first_those_without(items: list[pytest.Item]) -> None:
    """The tests that need no compiled code to the beginning of both halves: each of two workers begins with one."""
    early = [item for item in items if any(name in item.nodeid for name in BEFORE)]
    chosen = set(early)
    others = [item for item in items if item not in chosen]
    cut, half = len(early) // 2, len(items) // 2 - len(early) // 2
    items[:] = early[:cut] + others[:half] + early[cut:] + others[half:]


@contextmanager
def making() -> Iterator[None]:
    """Make the code meanwhile; workers learn from the environment which file says that it is there."""
    with tempfile.TemporaryDirectory(prefix="sunrill-tests-") as folder:
        os.environ[MADE] = str(Path(folder) / "made")
        given = os.environ | {"PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "tests")))}
        with subprocess.Popen([sys.executable, "-m", "kit.ahead"], env=given, stdout=subprocess.DEVNULL) as made:
            yield
            made.kill()
        del os.environ[MADE]


def wait() -> None:
    """Until the code is there, or nobody makes it."""
    end = time.monotonic() + PATIENCE_S
    while MADE in os.environ and not Path(os.environ[MADE]).exists() and time.monotonic() < end:
        time.sleep(0.1)


def wait_at_first_use() -> None:
    """Whoever looks for compiled code on disk waits until it is there."""
    from sim import compiled

    if compiled.INTERPRETED:
        return
    look = compiled.Kept.load_overload

    def waited(self: Any, *given: Any) -> Any:
        wait()
        compiled.Kept.load_overload = look  # type: ignore[method-assign]
        return look(self, *given)

    compiled.Kept.load_overload = waited  # type: ignore[method-assign]


def make() -> None:
    """Have everything compiled that a year needs, unless some of it is there already for the sources at this place."""
    from sim import compiled
    from sim.plant.step import advance

    if not compiled.INTERPRETED and compiled.FOLDER and not any(Path(advance._cache.cache_path).glob("*.nbi")):
        from sim.scenario import load
        from sim.studies.year import simulate_year

        simulate_year(load(ROOT / "scenarios" / "courtyard.toml"))


if __name__ == "__main__":
    try:
        make()
    finally:
        Path(os.environ[MADE]).touch()
