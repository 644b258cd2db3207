"""Files are written whole or not at all."""

from __future__ import annotations

import os
import resource
import socket
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sim.errors import InputError
from sim.files import check_file, check_folder, check_readable, read_bytes, write_bytes, write_text

ROOT = Path(__file__).parent.parent


@contextmanager
def full_disk() -> Iterator[None]:
    """No file may grow beyond 1000 bytes: writing more fails in the middle, as on a disk that fills up.

    Held around the one call only: the limit is the process's, so the test run's own log would meet it too.
    """
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def test_a_failure_in_the_middle_leaves_the_old_file(tmp_path: Path) -> None:
    """Half a file is never seen, and its remains are cleared away."""
    path = tmp_path / "report.html"
    write_text(path, "old")
    with full_disk(), pytest.raises(InputError, match="a place that can be written to"):
        write_bytes(path, b"x" * 5000)
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_an_interrupt_before_the_renaming_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Even Ctrl-C at the worst moment leaves no remains, and is not swallowed."""

    def interrupted(*_: object) -> None:
        raise KeyboardInterrupt

    path = tmp_path / "log.csv"
    write_text(path, "old")
    monkeypatch.setattr(os, "replace", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text(path, "new")
    assert path.read_text() == "old" and list(tmp_path.iterdir()) == [path]


def test_text_is_written_as_it_is(tmp_path: Path) -> None:
    """UTF-8, no change of line ends, folders made on the way, an old file replaced."""
    path = tmp_path / "a" / "b" / "c.txt"
    for text in ("first\n", "Bächlein\r\n°\n"):
        write_text(path, text)
        assert path.read_bytes() == text.encode("utf-8")
    assert list(path.parent.iterdir()) == [path]


def test_a_new_file_has_the_usual_permissions(tmp_path: Path) -> None:
    """Others may read a report exactly if they may read any file the user makes."""
    write_text(tmp_path / "report.html", "x")
    (tmp_path / "usual").touch()
    assert (tmp_path / "report.html").stat().st_mode == (tmp_path / "usual").stat().st_mode


@pytest.mark.parametrize("place", ["taken/report.html", "taken/deeper/report.html", "folder", "n" * 300 + "/x"])
def test_a_place_that_cannot_be_is_told(tmp_path: Path, place: str) -> None:
    """A file where a folder is needed, a folder in the file's place and a name too long are InputErrors."""
    (tmp_path / "taken").touch()
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="a place that can be written to"):
        write_text(tmp_path / place, "x")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["folder", "taken"]


@pytest.mark.parametrize("place", ["taken", "taken/deeper", "n" * 300])
def test_a_folder_is_checked_before_the_work(tmp_path: Path, place: str) -> None:
    """The same places are refused early, and nothing is made by asking."""
    (tmp_path / "taken").touch()
    check_folder(tmp_path / "new" / "deeper")
    with pytest.raises(InputError):
        check_folder(tmp_path / place)
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_a_protected_folder_is_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder the user may not write to is refused early."""
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(InputError, match="write-protected"):
        check_folder(tmp_path)


# ------------------------------------------------------------------ what is there already


@contextmanager
def others(folder: Path) -> Iterator[dict[str, Path]]:
    """A link, a dangling link, a pipe, a socket and a device in a folder.

    Whoever may make a device makes one: the machine's own is only offered where nobody could harm it.
    """
    kept = folder / "kept.txt"
    kept.write_text("kept", encoding="utf-8")
    (folder / "link").symlink_to(kept)
    (folder / "dangling").symlink_to(folder / "nowhere")
    os.mkfifo(folder / "pipe")
    with socket.socket(socket.AF_UNIX) as plug:
        plug.bind(str(folder / "socket"))
        yield {name: folder / name for name in ("link", "dangling", "pipe", "socket")} | {"device": a_device(folder)}
    assert kept.read_text(encoding="utf-8") == "kept"


def a_device(folder: Path) -> Path:
    """A device that takes everything."""
    if os.geteuid() != 0:
        return Path(os.devnull)
    os.mknod(folder / "device", stat.S_IFCHR | 0o666, os.stat(os.devnull).st_rdev)
    return folder / "device"


def test_nothing_but_a_file_is_replaced(tmp_path: Path) -> None:
    """A link (whoever put it there), a pipe, a socket and a device are refused, early and late, and stay."""
    with others(tmp_path) as places:
        for path in places.values():
            before = path.lstat()
            with pytest.raises(InputError, match="a place that can be written to .it is a "):
                check_file(path)
            with pytest.raises(InputError, match="a place that can be written to .it is a "):
                write_text(path, "x")
            assert path.lstat()[:2] == before[:2]
    assert not (tmp_path / "nowhere").exists()


def test_a_replaced_file_keeps_its_mode(tmp_path: Path) -> None:
    """What was the user's alone stays so."""
    path = tmp_path / "results.json"
    for mode in (0o600, 0o640, 0o664):
        path.touch()
        path.chmod(mode)
        write_text(path, "new")
        assert stat.S_IMODE(path.stat().st_mode) == mode and path.read_text() == "new"


def test_a_killed_run_leaves_nothing_after_the_next(tmp_path: Path) -> None:
    """A process killed in the middle of writing leaves its passing file; the next one to write there takes it away."""
    code = "import os, sys, sim.files as f; os.replace = lambda *_: os.kill(os.getpid(), 9)\n"
    code += "from pathlib import Path; f.write_text(Path(sys.argv[1]) / 'report.html', 'x')"
    killed = subprocess.run([sys.executable, "-c", code, tmp_path], cwd=ROOT, check=False)
    assert killed.returncode == -9
    (left,) = tmp_path.iterdir()
    ours = tmp_path / left.name.replace(str(left.name.split("-")[1]), str(os.getpid()))
    ours.touch()  # of a process that still runs
    write_text(tmp_path / "other.html", "y")
    assert {path.name for path in tmp_path.iterdir()} == {"other.html", ours.name}


def test_a_name_with_nul_is_told(tmp_path: Path) -> None:
    """Such a name is refused, for files and for folders, also of something to read."""
    for work in (check_file, check_folder, check_readable, lambda path: write_text(path, "x")):
        with pytest.raises(InputError, match="NUL"):
            work(tmp_path / "a\0b" / "c")


# ------------------------------------------------------------------ what is read


def test_only_files_are_read_and_only_so_much_of_them(tmp_path: Path) -> None:
    """A pipe without a writer, an endless device and a folder are refused at once, and so is too long a file."""
    with others(tmp_path) as places:
        for path in (places["pipe"], Path("/dev/zero"), tmp_path):
            with pytest.raises(InputError, match=r"a log that can be read \(it is a"):
                read_bytes(path, "a log")
        assert read_bytes(places["link"], "a log") == b"kept"
    long = tmp_path / "long.csv"
    with long.open("wb") as file:
        file.truncate(3_000_000_000)  # takes no room
    with pytest.raises(InputError, match="a log of at most 300 MB"):
        read_bytes(long, "a log")
    check_readable(long)


@pytest.mark.skipif(os.geteuid() == 0, reason="nothing is closed to the superuser")
def test_a_closed_folder_is_told(tmp_path: Path) -> None:
    """A folder that may not be searched: what lies in it can be neither read nor written."""
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o600)
    with pytest.raises(InputError, match="Permission denied"):
        read_bytes(closed / "a.csv", "a log")
    for check in (check_folder, check_file):
        with pytest.raises(InputError):
            check(closed / "deeper" / "a")
