"""Make the bundled weather samples from the three typical years that pvlib carries.

Run in the project's folder: ``python shared/make_weather_samples.py [FOLDER]`` (default: the package's own folder).
The same pvlib files always make the same bytes.
"""

from __future__ import annotations

import gzip
import importlib.metadata
import sys
from pathlib import Path

import pandas as pd
import pvlib

sys.path.insert(0, str(Path(__file__).parent.parent))

from sim.weather.fit import check_clock, check_closure, check_limits, filled
from sim.weather.order import whole_year
from sim.weather.read import Readings, read_file
from sim.weather.samples import FOLDER
from sim.weather.sun import sun_of_year
from sim.weather.weather import COLUMNS

DATA = Path(pvlib.__file__).parent / "data"
FILES = {"piedmont": "723170TYA.CSV", "aleutian": "703165TY.csv", "subtropic": "12839.tm2"}
MANUALS = {"TMY3": "NREL/TP-581-43156, 2008", "TMY2": "NREL, User's Manual for TMY2s, 1995"}
LICENCE = (
    "typical meteorological year made for the United States Department of Energy by its renewable energy laboratory "
    "and published for free use; taken from the pvlib distribution, BSD 3-Clause, see LICENCE-pvlib.txt"
)


def header(found: Readings) -> dict[str, str]:
    """What the sample says about itself."""
    kind, station = found.source.split()[0], found.source.split("station ")[1].split()[0]
    years = sorted(set(found.table["year"]))
    return {
        **{name: repr(value) for name, value in found.site._asdict().items()},
        "source": f"{kind} typical year of station {station} ({MANUALS[kind]}), pvlib file {Path(found.file).name}",
        "licence": LICENCE,
        "years": " ".join(str(year) for year in years),
        "rows": "one an hour from 1 January 00:00, local standard time, hour starting; W/m2, C, m/s",
    }


def make(name: str, folder: Path) -> Path:
    """Read, check and write one sample; its path."""
    found = read_file(DATA / FILES[name])
    table, notes = whole_year(found)
    sun = sun_of_year(2001, found.site)
    full = filled(table, sun)
    check_limits(found.file, full, sun)
    notes += check_clock(found.file, full, sun, found.site) + check_closure(found.file, full, sun)
    if notes:
        raise SystemExit(f"{found.file}: " + " ".join(notes))
    path = folder / f"{name}.csv.gz"
    write_sample(path, full[list(COLUMNS)], header(found))
    return path


def write_sample(path: Path, table: pd.DataFrame, header: dict[str, str]) -> None:
    """Write a sample so that the same content always makes the same bytes."""
    lines = [f"# {key} = {value}" for key, value in header.items()]
    lines.append(",".join(table.columns))
    lines += [",".join(f"{number:g}" for number in row) for row in table.to_numpy()]
    path.write_bytes(gzip.compress(("\n".join(lines) + "\n").encode("utf-8"), compresslevel=9, mtime=0))


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    for sample in FILES:
        print(make(sample, target))
    licence = importlib.metadata.distribution("pvlib").read_text("licenses/LICENSE")
    (target / "LICENCE-pvlib.txt").write_text(licence or "", encoding="utf-8")
