"""The folder of compiled code is another one as soon as a source that may be in it changes."""

from __future__ import annotations

import ast
import shutil
from collections.abc import Iterator
from pathlib import Path

from sim.compiled import COMPILED_ROOMS, source_key

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
        tree = ast.parse(path.read_text(encoding="utf-8"))
        imported = origins(tree)
        for function in compiled_functions(tree):
            users.add(path.relative_to(SIM).parts[0])
            names = {node.id for node in ast.walk(function) if isinstance(node, ast.Name)} - SWITCHES
            taken = {origin for name, origin in imported.items() if name in names}
            assert not [origin for origin in taken if not origin.startswith(rooms)], f"{path.name}: {function.name}"
    assert users == set(COMPILED_ROOMS)
