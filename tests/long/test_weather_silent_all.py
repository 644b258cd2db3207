"""The whole table: every kind of damage in every climate, refused, said, harmless, or hidden with the reason."""

from __future__ import annotations

import re
from pathlib import Path

import pvlib
import pytest
from weather.silent_damages import HIDDEN, KINDS, MADE_UP, SAMPLED, Kind, checked, harmless, outcome, sound

from sim.errors import InputError
from sim.weather.read import read_file

pytestmark = pytest.mark.long
DATA = Path(pvlib.__file__).parent / "data"


@pytest.mark.parametrize("climate", [*SAMPLED, *MADE_UP])
@pytest.mark.parametrize("kind", KINDS, ids=[kind.name for kind in KINDS])
def test_every_kind_in_every_climate(kind: Kind, climate: str) -> None:
    """Found, or changing next to nothing, or listed as hidden there with the reason."""
    rows, site = sound(climate)
    damaged = kind.change(rows)
    found = bool(re.search("|".join(kind.must), outcome(damaged, site)))
    assert found or harmless(rows, damaged) or HIDDEN.get((kind.name, climate))


@pytest.mark.parametrize(
    ("name", "column", "dew"),
    [
        ("723170TYA.CSV", "Dry-bulb (C)", "Dew-point (C)"),
        ("703165TY.csv", "Dry-bulb (C)", "Dew-point (C)"),
    ],
)
def test_a_real_dew_point_is_told_from_air(name: str, column: str, dew: str, tmp_path: Path) -> None:
    """With the two headings exchanged an open file is doubted; as it is, it is not."""
    lines = (DATA / name).read_text(encoding="latin-1").splitlines()
    heads = lines[1].replace(column, "?").replace(dew, column).replace("?", dew)
    path = tmp_path / "year.csv"
    path.write_text("\n".join([lines[0], heads, *lines[2:]]) + "\n")
    sound_rows, swapped = read_file(DATA / name), read_file(path)
    assert checked(sound_rows.table, sound_rows.site).doubts == ()
    try:
        ids = {doubt.id for doubt in checked(swapped.table, swapped.site).doubts}
    except InputError:
        return
    assert ids & {"air-course", "air-sign", "air-flat"}
