"""A new battery chemistry is one file of the catalogue: nothing else of the program knows chemistries by name."""

from __future__ import annotations

import ast
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import changed

from sim import catalogue
from sim.catalogue.cells import cell
from sim.report.render import year_report
from sim.studies.year import simulate_year

SIM = Path(catalogue.__file__).parents[1]
BLUE = {"words": '"sodium, blue"', "absorption_v": "14.1", "load_disconnect_v": "11.4", "coulombic_efficiency": "0.97"}


@pytest.fixture
def blue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A chemistry that exists nowhere, as one more file beside the others: lithium with other figures, made up."""
    folder = tmp_path / "chemistries"
    shutil.copytree(catalogue.CHEMISTRIES, folder)
    text = (folder / "lfp.toml").read_text("utf-8")
    for key, value in BLUE.items():
        text, found = re.subn(rf"(?m)^{key} = [^#\n]*", f"{key} = {value} ", text)
        assert found == 1
    (folder / "blue.toml").write_text(text, "utf-8")
    monkeypatch.setattr(catalogue, "CHEMISTRIES", folder)
    catalogue.chemistries.cache_clear()
    yield "blue"
    catalogue.chemistries.cache_clear()
    cell.cache_clear()


def test_a_chemistry_is_one_file(blue: str) -> None:
    """With it in the catalogue a year runs with its settings and its losses, and the report calls it by its words."""
    own, lithium = (simulate_year(changed({"battery.chemistry": name})) for name in (blue, "lfp"))
    control = own.scenario.controller
    assert (control.absorption_v, control.load_disconnect_v) == (14.1, 11.4)
    assert own.measures.battery.highest_v < 14.2 < lithium.measures.battery.highest_v
    lost = [result.measures.energy.battery_loss for result in (own, lithium)]
    assert lost[0] > 1.5 * lost[1]
    assert abs(own.measures.energy.balance_error) < 1e-3
    assert "sodium, blue" in year_report(own)


def test_nothing_else_names_a_chemistry() -> None:
    """No source has the name of one as a value, but for the battery that a scenario gets if it does not say."""
    names = {path.stem for path in catalogue.CHEMISTRIES.glob("*.toml")}
    found = [
        (path.relative_to(SIM).as_posix(), node.value)
        for path in sorted(SIM.rglob("*.py"))
        for node in ast.walk(ast.parse(path.read_text("utf-8")))
        if isinstance(node, ast.Constant) and node.value in names
    ]
    assert found == [("scenario/models.py", "lfp")]
