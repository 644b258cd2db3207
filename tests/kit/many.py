"""Many scenarios and a scheduler with workers as processes of their own, for tests of long runs."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from conftest import COURTYARD

START_S = 60.0  # a scheduler or a worker may take


def write_sites(folder: Path, good: int, broken: int = 0) -> None:
    """Scenarios like the courtyard with tilts and titles of their own, and some that are wrong."""
    folder.mkdir(parents=True, exist_ok=True)
    text = COURTYARD.read_text(encoding="utf-8")
    for k in range(good):
        own = re.sub(r"(?m)^title = .*$", f'title = "Courtyard {k}"', text, count=1)
        own = re.sub(r"(?m)^tilt_deg = .*$", f"tilt_deg = {20.0 + k % 50}", own, count=1)
        (folder / f"site-{k:03d}.toml").write_text(own, encoding="utf-8")
    for k in range(broken):
        odd = re.sub(r"(?m)^tilt_deg = .*$", f"tilt_deg = {91.0 + k}", text, count=1)
        (folder / f"wrong-{k:02d}.toml").write_text(odd, encoding="utf-8")


def started(*words: str, heard: bool = True, **more: str) -> subprocess.Popen[str]:
    """A process of this Python, whose words can be read where they are to be ``heard``."""
    environment = os.environ | {"OMP_NUM_THREADS": "1", "PYTHONPATH": os.pathsep.join(sys.path)} | more
    return subprocess.Popen(
        [sys.executable, *words],
        stdout=subprocess.PIPE if heard else subprocess.DEVNULL,
        stderr=subprocess.STDOUT,
        text=True,
        env=environment,
    )


@dataclass
class Farm:
    """A scheduler and its workers, each under a nanny that starts it again when it is killed."""

    address: str
    scheduler: subprocess.Popen[str]
    nannies: list[subprocess.Popen[str]] = field(default_factory=list)

    def add(self, memory: str = "0") -> None:
        """One more worker."""
        words = ("-m", "distributed.cli.dask_worker", self.address, "--nthreads", "1", "--no-dashboard")
        self.nannies.append(started(*words, "--memory-limit", memory, heard=False))

    def workers(self) -> list[int]:
        """The numbers of the processes that do the work."""
        from distributed import Client

        with Client(self.address, timeout=10, set_as_default=False) as client:
            return list(client.run(os.getpid).values())


@contextmanager
def farm(workers: int, memory: str = "0", failures: int = 1) -> Iterator[Farm]:
    """A farm with so many workers that are ready."""
    allowed = {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": str(failures)}
    words = ("-m", "distributed.cli.dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--dashboard-address", ":0")
    scheduler = started(*words, **allowed)
    assert scheduler.stdout
    said = next(line for line in scheduler.stdout if "Scheduler at:" in line)
    made = Farm(said.split()[-1], scheduler)
    try:
        for _ in range(workers):
            made.add(memory)
        _wait(made, workers)
        yield made
    finally:
        for one in (*made.nannies, scheduler):
            with suppress(ProcessLookupError):
                one.send_signal(signal.SIGINT)
        for one in (*made.nannies, scheduler):
            try:
                one.wait(15)
            except subprocess.TimeoutExpired:
                one.kill()
                one.wait()
            if one.stdout:
                one.stdout.close()


def _wait(made: Farm, workers: int) -> None:
    deadline = time.monotonic() + START_S
    while len(made.workers()) < workers:
        assert time.monotonic() < deadline, "workers do not come"
        time.sleep(0.3)
