"""Many sites on real processes: twice one core's speed nearly, memory that does not grow, and runs that are killed."""

from __future__ import annotations

import hashlib
import json
import os
import random
import re
import resource
import signal
import time
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

import psutil
import pytest
from kit.many import started, write_sites

from sim import cluster, hands
from sim.report.site_pages import Pages
from sim.report.sites_folder import Folder, run_sites
from sim.studies.sites import Reader, Sites, places_in

pytestmark = pytest.mark.long
SITES = int(os.environ.get("SUNRILL_SITES", "200"))
FEW = min(max(SITES // 20, 4), 10)  # sites on one core
KILLS, KILLED_SITES = int(os.environ.get("SUNRILL_KILLS", "10")), 4
GROWN = 1.15  # of the first third's memory, what the last may take


class Run(NamedTuple):
    """All sites of a folder by some processes."""

    found: Sites
    took_s: float
    worked_s: float  # of processor, by all processes
    memory: list[int]  # of all processes after each site, bytes

    @property
    def a_second(self) -> float:
        """Sites."""
        return len(self.found.rows) / self.took_s


def simulated(folder: Path, out: Path, processes: int) -> Run:
    """All sites of a folder by some processes, how long it took, and the memory of all of them after each site."""
    memory: list[int] = []

    def told(done: int, of: int) -> None:
        own = psutil.Process()
        memory.append(sum(one.memory_info().rss for one in (own, *own.children(recursive=True))))

    begun, before = time.monotonic(), os.times()
    with hands.working(hands.Processes(processes)):
        found = run_sites(places_in([folder], out), Reader({}, "1"), Folder(out), Pages(), told)
    worked_s = sum(os.times()[:4]) - sum(before[:4])
    return Run(found, time.monotonic() - begun, worked_s, memory)


def contents(out: Path) -> dict[str, str]:
    """What stands in a folder, file by file."""
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in sorted(out.iterdir())}


def test_two_cores_are_nearly_twice_as_fast(tmp_path: Path) -> None:
    """At least 0.8 of two times one core's speed, the same files, and memory does not grow with the sites."""
    write_sites(tmp_path / "few", FEW)
    write_sites(tmp_path / "all", SITES)
    one = simulated(tmp_path / "few", tmp_path / "one", 1)
    two = simulated(tmp_path / "all", tmp_path / "two", 2)
    third = len(two.memory) // 3
    first, last = max(two.memory[third : 2 * third]), max(two.memory[2 * third :])
    print(
        f"\none core {1 / one.a_second:.2f} s a site, two {1 / two.a_second:.2f} s: {two.a_second / one.a_second:.2f} "
        f"times the speed; processor {one.worked_s / FEW:.2f} and {two.worked_s / SITES:.2f} s a site, "
        f"{two.worked_s / two.took_s:.2f} cores busy; all processes hold {first / 1e6:.0f} MB in the middle third, "
        f"{last / 1e6:.0f} MB in the last; this one "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MB"
    )
    same = contents(tmp_path / "one")
    assert same == {name: its for name, its in contents(tmp_path / "two").items() if name in same}
    assert len(two.found.simulated) == SITES and last <= GROWN * first
    assert two.a_second >= 0.8 * 2 * one.a_second


def test_a_run_that_is_killed_goes_on(tmp_path: Path) -> None:
    """SIGKILL at moments by chance, then --continue until it is through: complete, and the very same files.

    Moments are counted in processor time, so that they fall into the work however busy the machine is.
    """
    write_sites(tmp_path / "in", KILLED_SITES)
    asked = ("-m", "sim", "sites", str(tmp_path / "in"))
    before = os.times()
    assert started(*asked, "--out", str(tmp_path / "whole"), heard=False).wait(1800) == 0
    whole_s = sum(os.times()[2:4]) - sum(before[2:4])
    chance, kept, ended = random.Random(20), [], 0
    for k in range(KILLS):
        one = started(*asked, "--out", str(tmp_path / "out"), "--continue", heard=False)
        ended += not _works_for(one.pid, chance.uniform(0.05, 0.5) * whole_s)
        one.send_signal(signal.SIGKILL)
        one.wait()
        rows = list((tmp_path / "out").glob("*-site.json"))
        kept.append(len(rows))
        assert all(json.loads(path.read_text(encoding="utf-8"))["row"] for path in rows), k
        for path in random.Random(k).sample(sorted(rows), max(len(rows) - KILLED_SITES // 2, 0)):
            path.unlink()  # so that there is work left
    assert started(*asked, "--out", str(tmp_path / "out"), "--continue", heard=False).wait(1800) == 0
    print(f"\nwhole run {whole_s:.0f} s; rows there after each kill: {kept}; {ended} were through before")
    assert contents(tmp_path / "out") == contents(tmp_path / "whole") and ended <= KILLS // 2
    _nobody_is_left()


def _works_for(pid: int, worked_s: float) -> bool:
    """Wait until a run and its processes have used so much of a processor; False where it ended before."""
    while (one := psutil.Process(pid)).status() != psutil.STATUS_ZOMBIE:
        with suppress(psutil.NoSuchProcess):
            spent = [sum(it.cpu_times()[:2]) for it in (one, *one.children(recursive=True))]
            if sum(spent) > worked_s:
                return True
        time.sleep(0.02)
    return False


def _nobody_is_left() -> None:
    """No process of a run that was killed goes on."""
    deadline = time.monotonic() + 10.0
    while left := [one.pid for one in psutil.process_iter(["cmdline"]) if _of_a_run(one)]:
        assert time.monotonic() < deadline, left
        time.sleep(0.2)


def _of_a_run(one: psutil.Process) -> bool:
    """Whether a process is one that was orphaned by a run."""
    return one.info["cmdline"] is not None and "spawn_main" in " ".join(one.info["cmdline"]) and one.ppid() == 1


def test_twenty_good_and_ten_broken(tmp_path: Path) -> None:
    """Twenty reports, ten messages, exit code 2."""
    write_sites(tmp_path / "in", 20, 10)
    one = started(
        "-m", "sim", "sites", str(tmp_path / "in"), "--out", str(tmp_path / "out"), "--json", str(tmp_path / "a")
    )
    said, _ = one.communicate(timeout=1500)
    found = json.loads((tmp_path / "a").read_text(encoding="utf-8"))["sites"]
    assert one.returncode == 2
    assert len(list((tmp_path / "out").glob("*-year.html"))) == 40  # of typical and of poor years
    assert len(re.findall(r"wrong-\d\d\.toml: panel\.tilt_deg", said)) == 10
    assert sum(row["error"] is None for row in found) == 20
    worries = [row["worry"] for row in found if row["error"] is None]
    assert worries == sorted(worries, reverse=True)


def test_a_cluster_makes_the_same_reports(tmp_path: Path) -> None:
    """Byte for byte."""
    write_sites(tmp_path / "in", 3)
    simulated(tmp_path / "in", tmp_path / "here", 2)
    with cluster.handed_to("local:2"):
        run_sites(places_in([tmp_path / "in"], tmp_path), Reader({}, "1"), Folder(tmp_path / "there"), Pages())
    assert contents(tmp_path / "here") == contents(tmp_path / "there")
