"""One design over a region: at each place it does what its year there does, and its panel is just large enough."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pytest
from browser import fit_phones
from conftest import COURTYARD
from kit.pages import text_of

from sim import cli, hands
from sim.report.grid import as_csv, grid_report
from sim.scenario import load, parse, read_toml
from sim.studies.grid import MET, TIMES, At, GridResult, There, larger, met_by, moved_to, region_of
from sim.studies.year import simulate_year
from sim.weather import weather_for

DATA = read_toml(COURTYARD)
PLACE = (42.0, -3.0)


def test_a_place_does_what_its_year_does() -> None:
    """The worst month's share is that of the design's own year there, and the panel found is as large as it must be."""
    found = At(DATA, COURTYARD)(PLACE, hands.nobody)
    moved = moved_to(DATA, *PLACE)
    year = simulate_year(parse(moved, COURTYARD), with_twins=False).measures
    assert found and found.worst_month == year.worst_month
    assert found.worst_month_met == pytest.approx(min(year.met_share_by_month), abs=1e-9)
    assert found.hours_met_share == pytest.approx(year.hours_met_share, abs=1e-9)
    times = found.panel_w / DATA["panel"]["power_w"] / DATA["panel"].get("count", 1)
    assert TIMES[0] < times < TIMES[-1]
    around = [one for one in (larger(moved, times * near, COURTYARD) for near in (0.85, 1.15)) if one]
    _, (less, more), _ = met_by(around, weather_for(around[0]))  # derived: between two panels of those tried
    assert less < MET <= more


def test_the_sea_is_blank() -> None:
    """No country's clock, no place."""
    assert At(DATA, COURTYARD)((45.0, -30.0), hands.nobody) is None


def test_a_moved_design_faces_the_equator_and_leaves_its_place_behind() -> None:
    """South of it the panel looks north; shades, weather and clock are the other place's."""
    moved = parse(moved_to(DATA, -34.0, 19.0), COURTYARD)
    own = load(COURTYARD)
    assert moved.site.utc_offset_h == 2.0 and not moved.panel.shade and moved.weather.coarse
    assert moved.panel.tilt_deg == own.panel.tilt_deg and moved.battery.capacity_ah == own.battery.capacity_ah
    assert weather_for(moved).latitude_deg == -34.0


@pytest.mark.parametrize(
    ("grid", "said"),
    [
        ("60 50 0 10 1", "lower first"),
        ("50 85 0 10 1", "latitudes"),
        ("50 60 0 200 1", "longitudes"),
        ("50 60 0 10 0", "a step"),
        ("-50 70 -180 180 0.1", "at most"),
    ],
)
def test_a_region_that_is_none_is_one_message(grid: str, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2."""
    assert cli.main(["sites", str(COURTYARD), "--grid", *grid.split()]) == cli.WRONG_INPUT
    words = capsys.readouterr().err
    assert said in words and "--grid" in words and len(words.strip().splitlines()) == 1


def test_a_grid_is_of_one_scenario(capsys: pytest.CaptureFixture[str]) -> None:
    """Two are refused."""
    asked = ["sites", str(COURTYARD), str(COURTYARD), "--grid", "50", "51", "0", "1", "1"]
    assert cli.main(asked) == cli.WRONG_INPUT and "one scenario" in capsys.readouterr().err


def made(count: int = 3) -> GridResult:
    """A region of so many places on land in a row, and a row of sea."""
    region = region_of("x", [50.0, 51.0, 0.0, float(count - 1), 1.0])
    panels = [120.0, 400.0, np.inf]
    places = [There(50.0, float(k), 0.9, 12, 0.2 + 0.4 * (k % 3), panels[k % 3]) for k in range(count)]
    return GridResult(load(COURTYARD), region, tuple(places))


def test_the_maps_can_be_read_anywhere(tmp_path: Path) -> None:
    """On a phone too; what is blank says so, and large regions have tables that fit a page."""
    page = grid_report(made())
    assert "At 1 of 3 places on land" in text_of(page) and page == grid_report(made())
    assert "From 120 W to 400 W." in page
    assert grid_report(made(40)).count('<th scope="col">') < 40
    fit_phones(tmp_path, page)


def test_a_region_of_sea_has_a_page() -> None:
    """It says that there is no land."""
    empty = GridResult(load(COURTYARD), made().region, ())
    assert "There is no land in this region." in text_of(grid_report(empty))


def test_no_panel_is_an_empty_cell() -> None:
    """In the table and in the plain data."""
    rows = list(csv.DictReader(io.StringIO(as_csv(made()))))
    assert [row["panel_w"] for row in rows] == ["120.0", "400.0", ""]
    assert made().as_json()["grid"]["places"][2]["panel_w"] is None
    assert np.isnan(made().table("panel_w")[1]).all()
