"""What a run says goes where it can go: a reader who leaves, a disk that is full, a user without a home."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path
from typing import IO, Any

import pytest

from sim import cli
from sim.commands import reading

ROOT = Path(__file__).parent.parent
COURTYARD = ROOT / "scenarios" / "courtyard.toml"


def ran(*arguments: str, folder: Path, out: int | IO[Any] | None = None, **others: str) -> tuple[int, str]:
    """Exit code of a process of its own, and what it says on standard error."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), **others}
    command = [sys.executable, *arguments]
    done = subprocess.run(
        command, cwd=folder, env=environment, stdout=out, stderr=subprocess.PIPE, text=True, timeout=60, check=False
    )
    return done.returncode, done.stderr


@pytest.mark.parametrize("asked", [["--version"], ["reading", str(COURTYARD), "--volts=12.9"]], ids=["plain", "rich"])
def test_a_reader_who_leaves_ends_it_quietly(asked: list[str], tmp_path: Path) -> None:
    """As `sunrill … | head -1` does; 141 is what a shell calls it."""
    reads, writes = os.pipe()
    os.close(reads)
    assert ran("-m", "sim", *asked, folder=tmp_path, out=writes) == (141, "")
    os.close(writes)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
def test_a_full_disk_behind_standard_output_is_told(tmp_path: Path) -> None:
    """One line, and the file that was written stays."""
    with open("/dev/full", "w", encoding="utf-8") as full:
        code, said = ran("-m", "sim", "new", "pond.toml", folder=tmp_path, out=full)
    assert (code, said.count("\n")) == (2, 1) and said.startswith("standard output: allowed is a place that takes it")
    assert [path.name for path in tmp_path.iterdir()] == ["pond.toml"]


@pytest.mark.parametrize("failure", [OSError(errno.ENOSPC, "full", "a.csv"), OSError(errno.EPERM, "no")])
def test_other_failures_of_the_system_are_not_hidden(failure: OSError, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is not about standard output is a defect, and shown as one."""

    def fails(*_: object) -> None:
        raise failure

    monkeypatch.setattr(reading, "scenario_of", fails)
    with pytest.raises(OSError, match=failure.strerror):
        cli.main(["reading", "pond.toml", "--volts", "13"])


def test_without_a_home_the_charts_are_drawn_in_silence(tmp_path: Path) -> None:
    """What keeps its fonts in the user's folders says nothing where there are none."""
    nowhere = dict.fromkeys(("HOME", "XDG_CONFIG_HOME", "XDG_CACHE_HOME"), "/dev/null/x")
    assert ran("-c", "import sim.report, matplotlib", folder=tmp_path, MPLCONFIGDIR="", **nowhere) == (0, "")
