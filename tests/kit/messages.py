"""Every message of the sources that a reader may see in another language."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from jinja2 import Environment
from jinja2.nodes import Call, Const, Name

from sim.catalogue import chemistries

SIM = Path(__file__).parent.parent.parent / "sim"
MARKERS = {"say": 1, "mark": 1, "say_many": 2}  # and how many of the arguments are messages
OF_CHECKS = {"sentence": 1}  # findings are told again by whoever reads them


def _of_python(path: Path) -> Iterator[tuple[str, ...]]:
    markers = MARKERS | (OF_CHECKS if path.parent.name == "checks" else {})
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in markers:
            said = [one.value for one in node.args[: markers[node.func.id]] if isinstance(one, ast.Constant)]
            assert not any(isinstance(one, ast.JoinedStr) for one in node.args), f"{path}:{node.lineno}"
            if said:
                yield tuple(map(str, said))


def _of_template(path: Path) -> Iterator[tuple[str, ...]]:
    for call in Environment().parse(path.read_text(encoding="utf-8")).find_all(Call):
        if isinstance(call.node, Name) and call.node.name == "say":
            (said,) = call.args
            assert isinstance(said, Const), f"{path}:{call.lineno}"
            yield (said.value,)


@cache
def messages() -> frozenset[tuple[str, ...]]:
    """Each a sentence, or its two forms for one and many."""
    found = {one for path in SIM.rglob("*.py") for one in _of_python(path)}
    found |= {one for path in SIM.rglob("*.html.j2") for one in _of_template(path)}
    return frozenset(found | {(one["words"],) for one in chemistries().values()})
