"""The bundled sample years against the files they were taken from, and against published totals of those files."""

from __future__ import annotations

import csv
import gzip
import runpy
import sys
from pathlib import Path

import numpy as np
import published
import pytest

from sim.errors import InputError
from sim.weather import weather_for
from sim.weather.samples import FOLDER, SAMPLES, read_sample
from sim.weather.weather import COLUMNS

MAKER = Path(__file__).parent.parent.parent / "shared" / "make_weather_samples.py"
TMY3_COLUMNS = ("GHI (W/m^2)", "DNI (W/m^2)", "DHI (W/m^2)", "Dry-bulb (C)", "Wspd (m/s)")
TMY2_CELLS = ((17, 21, 1), (23, 27, 1), (29, 33, 1), (67, 71, 10), (95, 98, 10))  # start, end, divisor: TMY2 manual
SITES = {  # from the headers of the files, read by eye
    "piedmont": (36.1, -79.95, 273.0, -5.0),
    "aleutian": (55.317, -160.517, 7.0, -9.0),
    "subtropic": (25.8, -(80 + 16 / 60), 2.0, -5.0),
}
TOTALS = {  # ids of annual ghi, dni, dhi; mean, lowest, highest temperature; ghi of months 1, 6, 12; mean of month 1
    name: [f"REF{first + k:03d}" for k in range(11)]
    for name, first in (("piedmont", 66), ("aleutian", 86), ("subtropic", 104))
}


def from_tmy3(path: Path) -> np.ndarray:
    """Columns of a TMY3 file in the order of its rows, by the csv module alone."""
    with path.open() as lines:
        next(lines)
        return np.array([[float(row[column]) for column in TMY3_COLUMNS] for row in csv.DictReader(lines)])


def from_tmy2(path: Path) -> np.ndarray:
    """Columns of a TMY2 file in the order of its rows, by their places in the line."""
    rows = path.read_text().splitlines()[1:]
    return np.array([[int(row[start:end]) / divisor for start, end, divisor in TMY2_CELLS] for row in rows])


SOURCES = {
    "piedmont": ("723170TYA.CSV", from_tmy3),
    "aleutian": ("703165TY.csv", from_tmy3),
    "subtropic": ("12839.tm2", from_tmy2),
}


@pytest.mark.parametrize("name", SAMPLES)
def test_a_sample_holds_every_value_of_its_source(name, pvlib_data):
    """Row for row and column for column, a sample equals the file that pvlib ships."""
    file, read = SOURCES[name]
    table, header, site = read_sample(name)
    assert list(table.columns) == list(COLUMNS)
    np.testing.assert_allclose(table.to_numpy(), read(pvlib_data / file), rtol=0, atol=1e-9)
    assert site == pytest.approx(SITES[name])
    assert file in header["source"]
    assert "BSD 3-Clause" in header["licence"]


def test_the_script_makes_the_bundled_bytes(tmp_path, monkeypatch, capsys):
    """Running the script that is kept gives exactly the files that are bundled, each under 150 kB."""
    monkeypatch.setattr(sys, "argv", [str(MAKER), str(tmp_path)])
    runpy.run_path(str(MAKER), run_name="__main__")
    assert len(capsys.readouterr().out.splitlines()) == len(SAMPLES)
    for path in [*SAMPLES.values(), FOLDER / "LICENCE-pvlib.txt"]:
        assert (tmp_path / path.name).read_bytes() == path.read_bytes()
        assert path.stat().st_size < 150_000


def test_a_sample_carries_no_clock_time():
    """The compressed files hold no time stamp, so that the same content is the same bytes."""
    for path in SAMPLES.values():
        content = path.read_bytes()
        assert content[4:8] == b"\0\0\0\0"
        assert gzip.decompress(content).startswith(b"# latitude_deg")


@pytest.mark.parametrize("name", SAMPLES)
def test_totals_of_the_typical_years(name, asking):
    """Sums, means and extremes of the year and of months agree with the reference table (pvlib 0.16.1 files)."""
    weather = weather_for(asking(sample=name))
    ids = TOTALS[name]
    for id, values in zip(ids, (weather.ghi, weather.dni, weather.dhi), strict=False):
        published.check(id, values.sum() / 1000)
    air = weather.temp_air
    for id, value in zip(ids[3:6], (air.mean(), air.min(), air.max()), strict=True):
        published.check(id, value)


@pytest.mark.parametrize("name", SAMPLES)
def test_months_of_the_typical_years(name, asking):
    """Months by the start of the hour agree with the reference table, which counts by the date in the file."""
    weather = weather_for(asking(sample=name))
    month = weather.index.month
    ids = TOTALS[name][6:]
    for id, number in zip(ids, (1, 6, 12), strict=False):
        published.check(id, weather.ghi[month == number].sum() / 1000)
    published.check(ids[3], weather.temp_air[month == 1].mean())
    published.check(ids[4], weather.dhi[month == 12].sum() / 1000)


def test_a_sample_starts_with_the_first_hour_of_the_year(asking):
    """The first row is 1 January 00:00 at the site's standard time, the last 31 December 23:00."""
    weather = weather_for(asking(sample="piedmont", year=2003))
    assert [str(weather.index[k]) for k in (0, -1)] == ["2003-01-01 00:00:00-05:00", "2003-12-31 23:00:00-05:00"]
    assert len(weather.index) == len(weather.ghi) == 8760
    assert weather.ghi.dtype == np.float64


def test_what_a_weather_year_says_about_itself(asking):
    """Source, licence and the years its months come from are there in words."""
    weather = weather_for(asking(sample="subtropic", year=2001))
    assert weather.source.startswith("TMY2 typical year of station 12839")
    assert "published for free use" in weather.licence
    assert weather.notes == ("Rows from 1961, 1962, 1964, 1965, 1970, 1971, 1974, 1978, 1980, 1988 are dated in 2001.",)


def test_a_site_far_from_the_weather_is_doubted(asking):
    """A site moved by more than half a degree is used and doubted; one moved by less is used without a word."""
    near = weather_for(asking(sample="piedmont", latitude_deg=36.4, elevation_m=100.0))
    far = weather_for(asking(sample="piedmont", latitude_deg=38.1))
    assert (near.latitude_deg, near.elevation_m, near.longitude_deg) == (36.4, 100.0, -79.95)
    assert near.doubts == ()
    assert [doubt.id for doubt in far.doubts] == ["site-far"]
    assert far.doubts[0].message.startswith("The site lies 2.0 degrees from where the weather was recorded: ")


def test_a_site_on_another_clock_is_refused(asking):
    """A longitude that puts the sun hours off the recorded light is an error naming the minutes."""
    with pytest.raises(InputError, match=r'sample piedmont: clock = "3\d\d minutes late".*longitude 0.00 and -5 h'):
        weather_for(asking(sample="piedmont", longitude_deg=0.0))
