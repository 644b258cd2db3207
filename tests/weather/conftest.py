"""Scenarios that ask for weather, and weather files to damage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pvlib
import pytest

from sim.weather.samples import read_sample

PVLIB_DATA = Path(pvlib.__file__).parent / "data"
EPW_HEAD = (
    "LOCATION,Fernhollow,-,-,Typical,000000,{latitude},{longitude},{offset},{elevation}",
    *("DESIGN CONDITIONS,0", "TYPICAL/EXTREME PERIODS,0", "GROUND TEMPERATURES,0"),
    *("HOLIDAYS/DAYLIGHT SAVINGS,No,0,0,0", "COMMENTS 1,", "COMMENTS 2,", "DATA PERIODS,1,1,Data,Sunday,1/1,12/31"),
)


@pytest.fixture(scope="session")
def asking() -> Callable[..., SimpleNamespace]:
    """A scenario that asks for a weather file or sample, with site values to override."""

    def scenario(
        file: Path | None = None, sample: str | None = None, year: int = 2001, **site: float
    ) -> SimpleNamespace:
        names = ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h")
        return SimpleNamespace(
            path=Path("pond.toml") if file is None else file.parent / "pond.toml",
            site=SimpleNamespace(**{name: site.get(name) for name in names}),
            weather=SimpleNamespace(file=None if file is None else file.name, sample=sample, year=year),
        )

    return scenario


@pytest.fixture(scope="session")
def pvlib_data() -> Path:
    """The folder of pvlib's data files."""
    return PVLIB_DATA


@pytest.fixture(scope="session")
def tmy3() -> tuple[str, ...]:
    """The lines of a whole TMY3 file: two of header, 8760 of hours."""
    return tuple((PVLIB_DATA / "723170TYA.CSV").read_text().splitlines())


@pytest.fixture(scope="session")
def tmy2() -> tuple[str, ...]:
    """The lines of a whole TMY2 file: one of header, 8760 of hours."""
    return tuple((PVLIB_DATA / "12839.tm2").read_text().splitlines())


@pytest.fixture(scope="session")
def epw() -> tuple[str, ...]:
    """An EPW file written here: light and wind of a bundled sample, and a temperature that counts the hours."""
    table, _, site = read_sample("piedmont")
    head = "\n".join(EPW_HEAD).format(
        latitude=site.latitude_deg, longitude=site.longitude_deg, offset=site.utc_offset_h, elevation=site.elevation_m
    )
    stamps = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[h]").astype(object)
    rows = [
        f"{1990 + at.month},{at.month},{at.day},{at.hour + 1},60,?9?9,{hour / 1000:.3f},{hour / 1000 - 5:.3f},70,99000,"
        f"0,0,300,{ghi:g},{dni:g},{dhi:g},0,0,0,0,180,{wind:g},5,5,20,7777,9,999999999,10,0.1,0,88,0.2,0,0"
        for hour, (at, (ghi, dni, dhi, _, wind)) in enumerate(zip(stamps, table.to_numpy(), strict=True))
    ]
    return (*head.split("\n"), *rows)


@pytest.fixture
def saved(tmp_path: Path) -> Callable[[Sequence[str]], Path]:
    """Writes lines to a file whose suffix says nothing."""

    def save(lines: Sequence[str]) -> Path:
        path = tmp_path / "year.txt"
        path.write_text("\n".join(lines) + "\n")
        return path

    return save
