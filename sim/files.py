"""Files written whole or not at all: under a passing name in the same folder first, then renamed."""

import csv
import errno
import html
import os
import re
import secrets
import stat
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from sim.errors import InputError

TITLE_WITHIN = 4096  # bytes from the start of a report
MOST_BYTES = 300_000_000  # of a file of weather or readings: a minute's log of five years has some 150 MB
QUOTE = '"'
_NEEDS_A_READER = re.compile(r"[\"\r\n]")  # other lines are just parted
PASSING = ".sunrill-"  # the passing name is this, the number of the process, and chance
KINDS = {
    stat.S_IFDIR: "a folder",
    stat.S_IFLNK: "a link",
    stat.S_IFCHR: "a device",
    stat.S_IFBLK: "a device",
    stat.S_IFIFO: "a pipe",
    stat.S_IFSOCK: "a socket",
}


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
    """The same for bytes; a file of the user's keeps its mode, and nothing but a file is ever replaced."""
    passing = path.parent / f"{PASSING}{os.getpid()}-{secrets.token_hex(4)}.tmp"
    with _writable(path):
        path.parent.mkdir(parents=True, exist_ok=True)
        _clear(path.parent)
        before = _replaced(path)
        try:
            with open(passing, "xb") as file:
                file.write(content)
            if before and before.st_uid == passing.stat().st_uid:  # what somebody else allowed is not kept
                passing.chmod(stat.S_IMODE(before.st_mode))
            os.replace(passing, path)
        except BaseException:
            passing.unlink(missing_ok=True)
            raise


@contextmanager
def _writable(path: Path) -> Iterator[None]:
    """A context in which what the system says against a place becomes InputError."""
    try:
        yield
    except OSError as reason:
        raise _refused(path, reason.strerror) from None
    except ValueError:
        raise _refused(path, "a name cannot have the sign NUL in it") from None


def _replaced(path: Path) -> os.stat_result | None:
    """What is known of the file that is replaced, None where there is none; InputError if it is no plain file."""
    try:
        found = path.lstat()
    except FileNotFoundError:
        return None
    if not stat.S_ISREG(found.st_mode):
        raise _refused(path, f"it is {KINDS[stat.S_IFMT(found.st_mode)]}")
    if not os.access(path, os.W_OK):
        raise _refused(path, "it is write-protected")
    return found


def _clear(folder: Path) -> None:
    """Remove what a run that was killed in the middle of writing left behind."""
    for left in folder.glob(f"{PASSING}*.tmp"):
        number = left.name.removeprefix(PASSING).split("-")[0]
        if number.isdecimal() and not _runs(int(number)):
            with suppress(OSError):
                left.unlink()


def _runs(process: int) -> bool:
    """Whether a process still runs; where that cannot be asked it is taken to."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        return True
    return True


def check_folder(folder: Path) -> None:
    """Raise InputError now, before long work, if files could not be written into a folder; it need not exist yet.

    >>> check_folder(Path("reports"))
    """
    with _writable(folder):
        nearest = next(place for place in (folder, *folder.absolute().parents) if _there(place))
    if not nearest.is_dir():
        raise _refused(folder, f"{nearest} is a file")
    if not os.access(nearest, os.W_OK | os.X_OK):
        raise _refused(folder, f"{nearest} is write-protected")


def _there(place: Path) -> bool:
    """Whether something is there; OSError where that cannot be seen, ValueError where no name can be so."""
    try:
        place.stat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    return True


def check_file(path: Path) -> None:
    """The same for one file, which may be there already.

    >>> check_file(Path("reports/results.json"))
    """
    check_folder(path.parent)
    with _writable(path):
        _replaced(path)


def check_title(report: Path, title: str) -> None:
    """Raise InputError now if a report that is there bears another title: it tells of another system.

    >>> check_title(Path("reports/none-year.html"), "Courtyard rill")
    """
    try:
        with open_file(report) as file:
            head = file.read(TITLE_WITHIN).decode("utf-8", errors="replace")
    except OSError:
        return
    found = re.search("<title>(.*?)</title>", head, re.DOTALL)
    if found and html.unescape(found[1]).strip() != title.strip():
        allowed = f'a folder without the report of "{html.unescape(found[1]).strip()}"; --force replaces it'
        raise InputError(str(report), "title", title, allowed)


def check_readable(path: Path) -> None:
    """Raise InputError now, before long work, if a log from site cannot be read later."""
    read_bytes(path, "a log", 0)


def open_file(path: Path) -> BinaryIO:
    """A plain file, opened without waiting; OSError if it is none: a pipe or a device may never end."""
    number = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    kind = stat.S_IFMT(os.fstat(number).st_mode)
    if kind == stat.S_IFREG:
        return open(number, "rb")
    os.close(number)
    raise OSError(errno.EINVAL, f"it is {KINDS[kind]}")


def read_bytes(path: Path, what: str, most: int = MOST_BYTES) -> bytes:
    """The content of a plain file of at most so many bytes, or, where ``most`` is 0, nothing of it.

    Raises InputError, which calls it ``what``, if it is no file, cannot be read or is longer than ``most``.
    """
    try:
        with open_file(path) as file:
            content = file.read(most + 1 if most else 0)
    except OSError as reason:
        raise InputError(str(path), "", None, f"{what} that can be read ({reason.strerror})") from None
    except ValueError:
        raise InputError(str(path), "", None, f"{what} whose name has no sign NUL in it") from None
    if len(content) > most:
        raise InputError(str(path), "", None, f"{what} of at most {most / 1e6:g} MB")
    return content


def cells_of(file: str, number: int, line: str, delimiter: str = ",") -> list[str]:
    """The cells of one line of a table; InputError where a quote stays open, or a cell has no end.

    >>> cells_of("log.csv", 2, '12.9,"on"')
    ['12.9', 'on']
    """
    if len(line) <= csv.field_size_limit() and not _NEEDS_A_READER.search(line):
        return line.split(delimiter) if line else []
    if line.count(QUOTE) % 2:
        raise InputError(file, f"line {number}", None, "quotes that are closed; one stays open")
    try:
        return next(csv.reader([line], delimiter=delimiter), [])
    except csv.Error:
        raise InputError(
            file, f"line {number}", line[:80], f"cells of at most {csv.field_size_limit()} signs"
        ) from None


def _refused(path: Path, reason: str | None) -> InputError:
    return InputError(str(path), "", None, f"a place that can be written to ({reason})")
