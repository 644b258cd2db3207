"""The folder of compiled code: another one once a source changes, the user's alone, and mended where it is broken."""

from __future__ import annotations

import ast
import os
import shutil
import stat
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numba
import pytest

from sim.compiled import COMPILED_ROOMS, INTERPRETED, cache_folder, compiled, source_key

SIM = Path(__file__).parent.parent / "sim"
SWITCHES = {"compiled", "fused"}


def copied(folder: Path) -> Path:
    """The package's sources in a folder of their own."""
    return shutil.copytree(SIM, folder / "sim", ignore=shutil.ignore_patterns("__pycache__", "*.gz"))


def test_an_edit_in_any_source_of_a_compiled_room_changes_the_key(tmp_path: Path) -> None:
    """So does a new source and one that moves; an edit elsewhere does not."""
    house = copied(tmp_path)
    keys = [source_key(house)]
    sources = [house / "compiled.py", *(path for room in COMPILED_ROOMS for path in (house / room).rglob("*.py"))]
    for path in sources:
        path.write_bytes(path.read_bytes() + b"# edited\n")
        keys.append(source_key(house))
    (house / "plant" / "helper.py").write_text("HALF = 0.5\n", encoding="utf-8")
    keys.append(source_key(house))
    (house / "plant" / "helper.py").rename(house / "light" / "helper.py")
    keys.append(source_key(house))
    assert len(sources) > 15 and len(set(keys)) == len(sources) + 3
    (house / "cli.py").write_text("", encoding="utf-8")
    assert source_key(house) == keys[-1]


def compiled_functions(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    """The functions of a source that a switch decorates."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and any(ast.unparse(one) in SWITCHES for one in node.decorator_list):
            yield node


def origins(tree: ast.Module) -> dict[str, str]:
    """The module of the package that each imported name of a source comes from."""
    found = {}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("sim"):
            found |= {alias.asname or alias.name: f"{node.module}.{alias.name}" for alias in node.names}
    return found


def test_compiled_code_lies_in_the_compiled_rooms_with_all_it_uses() -> None:
    """Compiled functions, and what they take from other sources of the package: functions and constants alike."""
    rooms = tuple(f"sim.{room}." for room in COMPILED_ROOMS)
    users = set()
    for path in SIM.rglob("*.py"):
        text = path.read_text(encoding="utf-8")
        if not any(switch in text for switch in SWITCHES):
            continue
        tree = ast.parse(text)
        imported = origins(tree)
        for function in compiled_functions(tree):
            users.add(path.relative_to(SIM).parts[0])
            names = {node.id for node in ast.walk(function) if isinstance(node, ast.Name)} - SWITCHES
            taken = {origin for name, origin in imported.items() if name in names}
            assert not [origin for origin in taken if not origin.startswith(rooms)], f"{path.name}: {function.name}"
    assert users == set(COMPILED_ROOMS)


# ------------------------------------------------------------------ the folder


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache folder of the user's."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    return tmp_path


def test_the_folder_is_the_users_alone(home: Path) -> None:
    """It is made readable and writable for nobody else, also where it stood open for reading."""
    folder = cache_folder()
    assert folder is not None and folder.parent == home / "sunrill"
    folder.chmod(0o755)
    assert cache_folder() == folder
    assert {stat.S_IMODE(path.stat().st_mode) for path in (folder, folder.parent)} == {0o700}


def test_a_folder_of_somebody_else_is_not_used(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One made beforehand by another user, one that others may write to, one behind a link: all in memory only."""
    folder = cache_folder()
    assert folder is not None
    with monkeypatch.context() as other:
        other.setattr(os, "geteuid", lambda: folder.stat().st_uid + 1)
        assert cache_folder() is None
    for path in (folder, folder.parent, home):
        path.chmod(0o777)
        assert cache_folder() is None
        path.chmod(0o700)
    home.chmod(0o1777)  # as a folder for everybody's passing files is: what is ours there stays ours
    assert cache_folder() == folder
    (home / "sunrill").rename(home / "elsewhere")
    (home / "sunrill").symlink_to(home / "elsewhere")
    assert cache_folder() is None


def test_no_home_means_in_memory(home: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A cache folder that cannot be made, and a user without a home: no folder, and never a shared one."""
    (home / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv("XDG_CACHE_HOME", str(home / "file" / "cache"))
    assert cache_folder() is None
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setattr(Path, "home", missing)
    assert cache_folder() is None


def missing() -> Path:
    """What the standard library says of a user without a home."""
    raise RuntimeError("Could not determine home directory.")


HALVES = """
import sys
from sim.compiled import compiled

@compiled
def half(number):
    return 0.5 * number

assert half(3.0) == 1.5
print(sum(half.stats.cache_hits.values()), sum(half.stats.cache_misses.values()))
"""


def halved(folder: Path) -> str:
    """Cache hits and misses of a function that is compiled in a process of its own."""
    script = folder / "halves.py"
    if not script.exists():
        script.write_text(HALVES, encoding="utf-8")
    given = {**os.environ, "XDG_CACHE_HOME": str(folder / "cache"), "PYTHONPATH": str(SIM.parent)}
    ran = subprocess.run([sys.executable, script], env=given, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stderr
    return ran.stdout.strip()


@pytest.mark.skipif(INTERPRETED, reason="nothing is compiled")
def test_broken_files_are_compiled_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty, a cut and a foreign file in the folder: the code is made anew, and kept for the next time."""
    monkeypatch.setattr(numba.config, "CACHE_DIR", str(tmp_path))
    assert [once_more(), once_more()] == [(0, 1), (1, 0)]
    for kind in ("*.nbi", "*.nbc"):
        (whole,) = (path.read_bytes() for path in tmp_path.rglob(kind))
        for damaged in (b"", b"\x80\x05", b"not compiled code", whole[:-100]):
            (file,) = tmp_path.rglob(kind)
            file.write_bytes(damaged)
            assert [once_more(), once_more()] == [(0, 1), (1, 0)], (kind, damaged)


def half(number: float) -> float:
    """A function to compile."""
    return 0.5 * number


def once_more() -> tuple[int, int]:
    """Hits and misses of the folder for a function that is compiled as if nothing in this process knew of it."""
    function = compiled(half)
    assert function(3.0) == 1.5
    return sum(function.stats.cache_hits.values()), sum(function.stats.cache_misses.values())


def test_compiled_code_without_a_folder_runs(tmp_path: Path) -> None:
    """With a file in the folder's place everything is compiled in memory, and says nothing."""
    (tmp_path / "cache").write_text("", encoding="utf-8")
    assert halved(tmp_path) == "0 1"
    assert (tmp_path / "cache").read_text(encoding="utf-8") == ""
