"""Calendar years of recorded weather run as they are, with and without a 29 February."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from conftest import COURTYARD

from sim import cli
from sim.errors import InputError
from sim.scenario import load, overridden, parse, read_toml
from sim.studies.spread import recorded_years, study_spread
from sim.studies.year import simulate_year
from sim.weather import weathers_for
from sim.weather.samples import read_sample

COLUMNS = """
[weather.columns]
time = "at"
stamp = "hour-start"
utc_offset_h = -5
ghi = { column = "ghi", unit = "W/m2" }
dni = { column = "dni", unit = "W/m2" }
dhi = { column = "dhi", unit = "W/m2" }
temp_air = { column = "temp_air", unit = "C" }
wind_speed = { column = "wind_speed", unit = "m/s" }
"""


def recorded(first: int, last: int) -> str:
    """A table of calendar years: the sample's hours, each year's a tenth less bright than the last one's."""
    at = pd.date_range(f"{first}-01-01", f"{last}-12-31 23:00", freq="h")
    leap_day = (at.month == 2) & (at.day == 29)
    like = (at.day_of_year - (at.is_leap_year & (at.month > 2)) - leap_day - 1) * 24 + at.hour
    table = read_sample("piedmont")[0].iloc[like].set_axis(at)
    left = np.asarray(0.9 ** (at.year - first))
    for name in ("ghi", "dni", "dhi"):
        table[name] *= left
    return table.round(3).to_csv(index_label="at")


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The courtyard on a table of the years 2018 to 2020."""
    folder = tmp_path_factory.mktemp("recorded")
    (folder / "table.csv").write_text(recorded(2018, 2020))
    site = "[site]\nlatitude_deg = 36.1\nlongitude_deg = -79.95\nelevation_m = 273\nutc_offset_h = -5\n"
    rest = "[panel]\npower_w = 100\nvmp_v = 18.0\nimp_a = 5.56\nvoc_v = 22.0\nisc_a = 5.9\n"
    rest += "[battery]\ncapacity_ah = 50\n[pump]\npower_w = 20\n"
    weather = '[weather]\nfile = "table.csv"\nyear = 2019\n'
    (folder / "pond.toml").write_text(site + weather + COLUMNS + rest)
    return folder / "pond.toml"


def test_each_year_is_the_year_alone(path: Path) -> None:
    """Hours and starts of 2018, 2019 and 2020, which has a 29 February, are those of each year simulated alone.

    The first settles, and each of the others begins as the one before it ended.
    """
    scenario = load(path)
    found = study_spread(scenario, weathers=recorded_years(scenario))
    assert found.names == (2018, 2019, 2020) and found.poor_name == "year 2020"
    ended = None
    for figures, share, weather in zip(found.figures, found.hours_met_share, weathers_for(scenario), strict=True):
        alone = simulate_year(scenario, weather, with_twins=False, ended=ended)
        ended = alone.log.lanes
        assert (figures["hours"], figures["starts"]) == (alone.measures.pump_hours, alone.measures.starts)
        assert share == pytest.approx(alone.measures.hours_met_share, rel=1e-9)
    assert sorted(found.hours_met_share, reverse=True) == found.hours_met_share.tolist()


def test_the_command_runs_recorded_years(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """It writes the spread's report and that of the poor year, and names no seed."""
    out = path.parent / "reports"
    assert cli.main(["spread", str(path), "--recorded", "--out", str(out), "--json", str(out / "s.json")]) == 0
    found = json.loads((out / "s.json").read_text())
    assert found["years"] == 3 and found["poor_year_seed"] is None
    assert {"pond-spread.html", "pond-poor-year.html"} <= {file.name for file in out.iterdir()}
    assert "year 2020" in capsys.readouterr().out


@pytest.mark.long  # the suite has its words, and a single year refused
def test_the_year_stands_beside_the_poor_one_as_it_was(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The client's page names the poor year among those that were recorded, and no made-up one."""
    out = path.parent / "year"
    assert cli.main(["year", str(path), "--recorded", "--no-log", "--out", str(out), "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["many_years"]["years"] == 3
    page = (out / "pond-year.html").read_text()
    assert "With the weather of 2020, a poor one of 3 recorded years, it runs" in page
    assert "eight in ten of 3 recorded years" in page and "made-up" not in page


def test_a_single_year_is_no_record(tmp_path: Path) -> None:
    """A typical year is not several: the message says what is."""
    scenario = parse(overridden(read_toml(COURTYARD), {}), COURTYARD)
    with pytest.raises(InputError, match=r"weather\.sample = 1: allowed is weather of 2 calendar years"):
        recorded_years(scenario)
