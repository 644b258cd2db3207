"""The page in a process of its own, as it is served."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from kit.ahead import wait

ROOT = Path(__file__).parents[2]


@contextmanager
def serving(folder: Path, port: int = 0) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The page in a process of its own on a folder: its printed address, and the process."""
    call = [sys.executable, "-m", "sim", "page", "--folder", str(folder), "--no-browser", "--port", str(port)]
    env = os.environ | {"PYTHONPATH": str(ROOT)}
    wait()  # or it would compile once more what is being compiled
    with subprocess.Popen(call, cwd=ROOT, env=env, text=True, stdout=subprocess.PIPE) as running:
        assert running.stdout
        try:
            yield running.stdout.readline().strip(), running
        finally:
            running.send_signal(signal.SIGKILL)
