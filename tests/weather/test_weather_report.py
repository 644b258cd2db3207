"""What ``sunrill weather FILE`` says: figures, report, and a wrong clock by its minutes."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Sequence
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import published
import pytest
from browser import fit_phones

from sim import cli
from sim.weather.samples import read_sample

CHARTS = ("light", "map", "air", "clock")


@pytest.fixture(scope="module")
def looked_at(tmp_path_factory: pytest.TempPathFactory, tmy3: Sequence[str]) -> Path:
    """The folder in which a whole TMY3 file was looked at."""
    folder = tmp_path_factory.mktemp("looked")
    (folder / "garden.csv").write_text("\n".join(tmy3) + "\n")
    arguments = [
        "weather",
        str(folder / "garden.csv"),
        "--out",
        str(folder / "out"),
        "--json",
        str(folder / "all.json"),
    ]
    assert cli.main(arguments) == 0
    return folder


@pytest.fixture(scope="module")
def html(looked_at: Path) -> str:
    """Its report."""
    return (looked_at / "out" / "garden-weather.html").read_text("utf-8")


def test_the_figures_are_those_of_the_file(looked_at: Path) -> None:
    """Totals and extremes agree with the reference table (pvlib file 723170TYA.CSV), months with the file's rows."""
    (year,) = json.loads((looked_at / "all.json").read_text())["years"]
    published.check("REF066", year["ghi_kwh_m2"])
    published.check("REF070", year["temp_min_c"])
    published.check("REF072", year["by_month"]["ghi_kwh_m2"][0])
    table = read_sample("piedmont")[0]
    january = table[: 31 * 24]
    assert year["by_month"]["lowest_c"][0] == january["temp_air"].min()
    assert year["by_month"]["sunshine_h"][0] == (january["dni"] > 120).sum()
    assert year["coldest_at"] == "5 February 04:00" and abs(year["clock_minutes"]) < 5
    assert year["closure"] == pytest.approx(1.0, abs=0.01)
    days = table["ghi"].to_numpy().reshape(-1, 24).sum(axis=1)
    least = min(days[k : k + 5].sum() for k in range(361)) / 5000
    assert year["darkest_days"].endswith(f", {least:.2f} kWh/m2 a day")


def test_the_report_is_one_file_with_words_behind_each_chart(html: str) -> None:
    """Self-contained, every chart with title, description and table; same file, same bytes."""
    assert "http" not in html.replace("http://www.w3.org", "") and "<script" not in html
    assert len(html.encode()) < 1_000_000
    for key in CHARTS:
        plot = re.search(rf'<svg [^>]*aria-labelledby="{key}-title {key}-desc".*?</svg>', html, re.DOTALL)
        assert plot is not None
        root = ElementTree.fromstring(re.sub(r'xlink:href="data:[^"]*"', "", plot[0]))
        assert all(root.find(name).text for name in ("title", "desc"))  # type: ignore[union-attr]
    assert html.count("The numbers behind this chart") == len(CHARTS)
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))


def test_the_report_says_what_the_terminal_says(html: str, looked_at: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Light of the year, coldest hour, clock and remarks stand in both; running again writes the same bytes."""
    assert cli.main(["weather", str(looked_at / "garden.csv"), "--out", str(looked_at / "again")]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Light 1566 kWh/m2 in the year" in said and "5 February 04:00" in said and "are dated in 2001." in said
    assert "1,566 kWh/m²" in html and "5 February 04:00" in html and "are dated in 2001." in html
    assert (looked_at / "again" / "garden-weather.html").read_text("utf-8") == html


@pytest.mark.parametrize(("hours", "words"), [(1, "5[5-9] minutes late"), (-2, "12[0-5] minutes early")])
def test_a_wrong_clock_is_named_with_its_minutes(
    hours: int, words: str, tmp_path: Path, tmy3: Sequence[str], capsys: pytest.CaptureFixture[str],
    saved: Callable[[Sequence[str]], Path],
) -> None:  # fmt: skip
    """Exit code 2, one line with the shift in minutes, nothing written."""
    rows = [line.split(",") for line in tmy3[2:]]
    moved = np.roll(np.arange(8760), hours)
    late = [",".join(row[:2] + rows[at][2:]) for row, at in zip(rows, moved, strict=True)]
    assert cli.main(["weather", str(saved([*tmy3[:2], *late])), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and re.search(f'clock = "{words}": allowed is less than 45 minutes off the sun', said)
    assert not (tmp_path / "out").exists()


def test_a_scenario_says_how_to_read_a_table(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A scenario in place of the file: its weather is looked at, several years as a list, the poorest drawn."""
    table = read_sample("piedmont")[0].to_numpy()
    rows = ["at,G,T"]
    for year, share in ((2018, 1.0), (2019, 0.9)):
        stamps = np.datetime64(f"{year}-01-01T00") + np.arange(8760)
        rows += [f"{at},{ghi * share:.1f},{air}" for at, ghi, air in zip(stamps, table[:, 0], table[:, 3], strict=True)]
    (tmp_path / "two.csv").write_text("\n".join(rows))
    (tmp_path / "pond.toml").write_text(
        'site = { latitude_deg = 36.1, longitude_deg = -79.95, utc_offset_h = -5 }\n[weather]\nfile = "two.csv"\n'
        '[weather.columns]\ntime = "at"\ntime_format = "%Y-%m-%dT%H"\nstamp = "hour-start"\n'
        'ghi = { column = "G", unit = "W/m2" }\ntemp_air = { column = "T", unit = "C" }\n'
        "[panel]\npower_w = 100\nvmp_v = 18.0\nimp_a = 5.56\nvoc_v = 22.0\nisc_a = 5.9\n"
        "[battery]\ncapacity_ah = 50\n[pump]\npower_w = 20\n"
    )
    assert cli.main(["weather", str(tmp_path / "pond.toml"), "--out", str(tmp_path)]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "2018: 1566 kWh/m2 on the level 2019: 1410 kWh/m2 on the level The year with the least light, 2019:" in said
    assert "split by the correlation of Erbs, Klein and Duffie" in said
    assert "Year by year" in (tmp_path / "pond-weather.html").read_text("utf-8")


def test_a_file_that_is_not_there_is_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A missing file is said, and nothing is written."""
    assert cli.main(["weather", str(tmp_path / "none.epw"), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "an existing file" in said
    assert list(tmp_path.iterdir()) == []


def test_monthly_means_are_printed_for_a_scenario(looked_at: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --monthly the terminal shows tables to paste into a scenario, and nothing else."""
    file = str(looked_at / "garden.csv")
    assert cli.main(["weather", file, "--monthly", "--out", str(looked_at / "monthly")]) == 0
    tables = tomllib.loads(capsys.readouterr().out)
    assert tables["site"]["latitude_deg"] == 36.1
    january = read_sample("piedmont")[0]["ghi"][: 31 * 24].sum() / 31000
    assert tables["weather"]["monthly"]["daily_ghi_kwh_m2"][0] == pytest.approx(january, abs=6e-4)


def test_on_a_phone(tmp_path: Path, html: str) -> None:
    """No column is hidden and nothing is found broken at 320 pixels in light, at 390 in dark."""
    fit_phones(tmp_path, html)
