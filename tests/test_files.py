"""Files are written whole or not at all."""

from __future__ import annotations

import os
import resource
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from sim.errors import InputError
from sim.files import check_folder, write_bytes, write_text


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
