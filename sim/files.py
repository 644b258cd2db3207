"""Files written whole or not at all: under a passing name in the same folder first, then renamed."""

from __future__ import annotations

import html
import os
import re
from pathlib import Path

from sim.errors import InputError

TITLE_WITHIN = 4096  # signs from the start of a report


def write_text(path: Path, text: str) -> None:
    """Write text as UTF-8, making the folder if need be; what was there before stays until all of it is written.

    Raises InputError where the place cannot be written to.

    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     write_text(Path(folder) / "new" / "a.txt", "rill")
    ...     print((Path(folder) / "new" / "a.txt").read_text())
    rill
    """
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, content: bytes) -> None:
    """The same for bytes."""
    passing = path.parent / f".sunrill-{os.getpid()}.tmp"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            passing.write_bytes(content)
            os.replace(passing, path)
        except BaseException:
            passing.unlink(missing_ok=True)
            raise
    except OSError as reason:
        raise _refused(path, reason.strerror) from None


def check_folder(folder: Path) -> None:
    """Raise InputError now, before long work, if files could not be written into a folder; it need not exist yet.

    >>> check_folder(Path("reports"))
    """
    try:
        nearest = next(place for place in (folder, *folder.absolute().parents) if place.exists())
    except OSError as reason:
        raise _refused(folder, reason.strerror) from None
    if not nearest.is_dir():
        raise _refused(folder, f"{nearest} is a file")
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise _refused(folder, f"{nearest} is write-protected")


def check_file(path: Path) -> None:
    """The same for one file, which may be there already.

    >>> check_file(Path("reports/results.json"))
    """
    check_folder(path.parent)
    if path.is_dir():
        raise _refused(path, "it is a folder")


def check_title(report: Path, title: str) -> None:
    """Raise InputError now if a report that is there bears another title: it tells of another system.

    >>> check_title(Path("reports/none-year.html"), "Courtyard rill")
    """
    try:
        head = report.read_text(encoding="utf-8", errors="replace")[:TITLE_WITHIN]
    except OSError:
        return
    found = re.search("<title>(.*?)</title>", head, re.DOTALL)
    if found and html.unescape(found[1]).strip() != title.strip():
        allowed = f'a folder without the report of "{html.unescape(found[1]).strip()}"; --force replaces it'
        raise InputError(str(report), "title", title, allowed)


def check_readable(path: Path) -> None:
    """Raise InputError now, before long work, if a log from site cannot be read later."""
    try:
        path.open("rb").close()
    except OSError as reason:
        raise InputError(str(path), "", None, f"a log that can be read ({reason.strerror})") from None


def _refused(path: Path, reason: str | None) -> InputError:
    return InputError(str(path), "", None, f"a place that can be written to ({reason})")
