"""Another user of the machine, in a folder that everybody may write to, prepares what this user will meet there.

Needs the superuser, who can be both.
"""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from sim.compiled import cache_folder, source_key
from sim.errors import InputError
from sim.files import check_file, write_text

OTHER = 65534  # nobody
pytestmark = pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can be two users")


def as_other(code: str, *arguments: object) -> None:
    """Some Python by the other user."""
    drop = (
        f"import os, shutil, sys; from pathlib import Path; os.setgroups([]); os.setgid({OTHER}); os.setuid({OTHER})\n"
    )
    subprocess.run([sys.executable, "-S", "-c", drop + code, *map(str, arguments)], check=True)


@pytest.fixture
def shared() -> Iterator[Path]:
    """A folder for everybody's passing files, which both can reach."""
    import shutil
    import tempfile

    folder = Path(tempfile.mkdtemp(prefix="everybody-"))
    folder.chmod(0o1777)
    yield folder
    shutil.rmtree(folder)


def test_compiled_code_of_another_user_is_never_run(shared: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder's name can be told beforehand; one that somebody else made is left alone, closed or open."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(shared))
    lay = "folder = Path(sys.argv[1]); folder.mkdir(mode=int(sys.argv[2], 8), parents=True)"
    for mode in ("700", "777"):
        as_other(
            f"{lay}; (folder / 'a.nbi').write_bytes(b'evil')", shared / "sunrill" / f"compiled-{source_key()}", mode
        )
        assert cache_folder() is None
        assert (shared / "sunrill").stat().st_uid == OTHER
        as_other("shutil.rmtree(sys.argv[1])", shared / "sunrill")
    assert cache_folder() == shared / "sunrill" / f"compiled-{source_key()}"


def test_results_go_into_nothing_that_another_user_laid_out(shared: Path, tmp_path: Path) -> None:
    """A link to this user's own file, a link to nowhere and a pipe are refused, early and late, and nothing is lost."""
    mine, place = tmp_path / "mine.txt", shared / "results.json"
    mine.write_text("mine", encoding="utf-8")
    for lay in (f"place.symlink_to({str(mine)!r})", "place.symlink_to('nowhere')", "os.mkfifo(place)"):
        as_other(f"place = Path(sys.argv[1]); {lay}", place)
        for write in (check_file, lambda path: write_text(path, "{}")):
            with pytest.raises(InputError, match="a place that can be written to .it is a (link|pipe)"):
                write(place)
        assert mine.read_text(encoding="utf-8") == "mine" and not (shared / "nowhere").exists()
        place.unlink()


def test_another_user_s_file_does_not_say_who_may_write_to_ours(shared: Path) -> None:
    """A file that lay there open to all is replaced by one with this user's usual mode."""
    place = shared / "results.json"
    as_other("place = Path(sys.argv[1]); place.touch(); place.chmod(0o666)", place)
    write_text(place, "{}")
    (shared / "usual").touch()
    assert place.stat().st_uid == 0 and stat.S_IMODE(place.stat().st_mode) == stat.S_IMODE(
        (shared / "usual").stat().st_mode
    )
