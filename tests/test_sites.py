"""Many sites: what is wrong with one stops nobody, what is done is kept, and the most worrying stand first."""

from __future__ import annotations

import csv
import html
import io
import json
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from browser import fit_phones
from conftest import COURTYARD, SCENARIOS
from kit.pages import text_of

from sim import cli, hands
from sim.errors import InputError
from sim.report import site_pages
from sim.report.site_pages import Made
from sim.report.sites import as_csv, bars, sites_report
from sim.report.sites_folder import Folder, run_sites
from sim.scenario import load
from sim.studies.result import YearResult
from sim.studies.site import A_WARNING, TOO_LONG
from sim.studies.sites import Reader, Site, Sites, names_of, places_in
from sim.studies.yearly import study_year

MONTHLY = """title = "{title}"
[site]
latitude_deg = {latitude}
longitude_deg = -2.6
[panel]
power_w = 100
vmp_v = 18.0
imp_a = 5.56
voc_v = 22.0
isc_a = 5.9
[battery]
capacity_ah = 50
[pump]
power_w = 20
"""


@dataclass(frozen=True)
class Quick:
    """Stands in for the years of a site: a row without figures of weather, and one small report."""

    with_log: bool = False
    units: str = "metric"

    def __call__(self, site: Site, told: hands.Told) -> Made | InputError | hands.Lost:
        if site.scenario.title in ("odd", "deadly"):
            return InputError("odd", "", None, "another") if site.scenario.title == "odd" else hands.Lost("deadly")
        assert site.weathers and len(site.weathers[0].ghi) >= 8760
        title = site.scenario.title
        return Made(row(title, len(title) / 10.0), {"year.html": f"<title>{html.escape(title)}</title>"})


def row(title: str, worry: float, **other: Any) -> dict[str, Any]:
    """A site's row as its years would give it."""
    met = [1.0 - worry / 20.0] * 12
    poor = {"pump_hours": 2000.0, "hours_met_share": 0.5, "worst_month": 1, "longest_stop_h": 50.0, "min_soc": 0.1}
    own = {"pump_hours": 3000.0, "hours_met_share": met[0], "worst_month": 12, "longest_stop_h": 20.0, "min_soc": 0.2}
    rest = {"title": title, "warnings": 0, "worry": worry, "why": ["It stands in winter."], "met_share_by_month": met}
    return own | rest | {"poor_year": poor | {"met_share_by_month": met}} | other


def whole_row(name: str, title: str, worry: float, **other: Any) -> dict[str, Any]:
    """The same as it stands in the list."""
    return {"name": name} | row(title, worry, report=f"{name}-year.html", error=None, **other)


@pytest.fixture
def clients(tmp_path: Path) -> Path:
    """A folder of three good scenarios, of which two have a name, and two wrong ones."""
    folder = tmp_path / "clients"
    for place, title, latitude in (
        ("mill/pond", "Mill", 51.5),
        ("inn/pond", "Inn by it", 51.5),
        ("rill", "Rill", 48.0),
    ):
        path = folder / f"{place}.toml"
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(MONTHLY.format(title=title, latitude=latitude), encoding="utf-8")
    (folder / "negative.toml").write_text(MONTHLY.format(title="N", latitude=512.0), encoding="utf-8")
    (folder / "inn" / "no.toml").write_text("[[[", encoding="utf-8")
    (folder / ".hidden.toml").write_text("", encoding="utf-8")
    return folder


def through(clients: Path, out: Path, **how: Any) -> tuple[Sites, Folder]:
    """All sites of a folder, quickly."""
    folder = Folder(out, **how)
    with hands.working(hands.ALONE):
        return run_sites(places_in([clients], out), Reader({}, "1"), folder, Quick()), folder  # type: ignore[arg-type]


def test_what_is_wrong_is_listed_and_stops_nobody(clients: Path, tmp_path: Path) -> None:
    """Three reports, two messages; names that stand twice have their folder before them."""
    sites, folder = through(clients, tmp_path / "out")
    assert [one["name"] for one in sites.rows] == ["inn-pond", "mill-pond", "rill", "negative", "no"]
    assert [one["worry"] for one in sites.simulated] == [0.9, 0.4, 0.4] and len(sites.wrong) == 2
    assert "latitude_deg = 512.0" in sites.wrong[0]["error"] and "no.toml" in sites.wrong[1]["error"]
    there = {path.name for path in (tmp_path / "out").iterdir()}
    assert there == {
        f"{name}-{end}" for name in ("inn-pond", "mill-pond", "rill") for end in ("year.html", "site.json")
    }
    assert len(folder.written) == 3 and set(sites.rows[0]) >= set(sites.rows[-1]) - {"error"}


def test_what_turns_out_to_be_wrong_at_work_stops_nobody(tmp_path: Path) -> None:
    """Neither a scenario whose years cannot be made, nor one that kills who works on it."""
    for title in ("deadly", "good", "odd"):
        (tmp_path / f"{title}.toml").write_text(MONTHLY.format(title=title, latitude=51.5), encoding="utf-8")
    sites, _ = through(tmp_path, tmp_path / "out")
    assert [one["name"] for one in sites.rows] == ["good", "deadly", "odd"]
    assert "it was killed each time" in sites.wrong[0]["error"] and sites.wrong[1]["error"] == "odd: allowed is another"


def test_years_that_cannot_be_made_are_a_message(tmp_path: Path) -> None:
    """Months that vary more than months can come to light only when many years are made."""
    varying = "[weather.monthly]\ndaily_ghi_kwh_m2 = [{}]\ntemp_air_c = [{}]\nyear_to_year = [{}]\n"
    means = (", ".join([one] * 12) for one in ("2.0", "10.0", "0.45"))
    high = MONTHLY.format(title="odd", latitude=40.0).replace("[panel]", "elevation_m = 10\n[panel]")
    text = high + varying.format(*means)
    (tmp_path / "odd.toml").write_text(text, encoding="utf-8")
    reader = Reader({}, "1")
    site = reader.with_weather(reader.site(places_in([tmp_path / "odd.toml"], tmp_path)[0]))
    found = site_pages.Pages()(site, hands.nobody)
    assert isinstance(found, InputError) and "year_to_year" in found.key


def test_a_run_goes_on_where_it_was_broken_off(clients: Path, tmp_path: Path) -> None:
    """What is done and unchanged stays; what was changed, in scenario, report or row, is done again."""
    out = tmp_path / "out"
    first, _ = through(clients, out)
    again, folder = through(clients, out, go_on=True)
    assert again == first and folder.written == []
    (out / "rill-year.html").write_text("<title>Rill</title> cut", encoding="utf-8")
    (out / "inn-pond-site.json").write_text('{"key": 3', encoding="utf-8")
    changed = clients / "mill" / "pond.toml"
    changed.write_text(changed.read_text(encoding="utf-8") + "at_v = 12.0\n", encoding="utf-8")
    again, folder = through(clients, out, go_on=True)
    assert again == first
    assert sorted(path.name for path in folder.written) == [
        "inn-pond-year.html",
        "mill-pond-year.html",
        "rill-year.html",
    ]
    _, folder = through(clients, out)
    assert len(folder.written) == 3


def test_what_its_reports_follow_from_makes_a_site_new(clients: Path, tmp_path: Path) -> None:
    """Its weather file, the units asked for, and the version."""
    (clients / "year.epw").write_text("a", encoding="utf-8")
    path = clients / "rill.toml"
    path.write_text(MONTHLY.format(title="Rill", latitude=51) + '[weather]\nfile = "year.epw"\n', encoding="utf-8")
    place = places_in([path], tmp_path)[0]
    keys = {Reader(asked, version).site(place).key for asked in ({}, {"units": "us"}) for version in "12"}
    (clients / "year.epw").write_text("b", encoding="utf-8")
    assert len(keys | {Reader({}, "1").site(place).key}) == 5


def test_a_report_of_another_title_is_not_replaced(clients: Path, tmp_path: Path) -> None:
    """It is that site's message, and force replaces it."""
    out = tmp_path / "out"
    out.mkdir()
    (out / "rill-year.html").write_text("<title>Somebody's pond</title>", encoding="utf-8")
    sites, _ = through(clients, out)
    assert len(sites.wrong) == 3 and "Somebody's pond" in sites.wrong[-1]["error"]
    sites, _ = through(clients, out, force=True)
    assert len(sites.wrong) == 2


def test_weather_is_read_once_where_it_is_the_same(clients: Path, tmp_path: Path) -> None:
    """By what stands in the files, not by their names; few are kept."""
    reader = Reader({}, "1")
    given = [clients / "mill", clients / "inn" / "pond.toml", clients / "rill.toml"]
    mill, inn, rill = map(reader.site, places_in(given, tmp_path))
    first = reader.with_weather(mill).weathers
    assert reader.with_weather(inn).weathers is first and reader.with_weather(rill).weathers is not first


def test_places_have_names_of_their_own(tmp_path: Path) -> None:
    """However often a file's name stands there; a file is taken once, and the reports' folder is none of scenarios."""
    assert names_of([Path("/a/b/x.toml"), Path("/c/b/x.toml"), Path("/x.toml")]) == ["a-b-x", "c-b-x", "x"]
    assert len(set(names_of([Path("/x.toml"), Path("/x.toml")]))) == 2
    for name in ("a.toml", "reports/made.toml"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    found = places_in([tmp_path, tmp_path / "a.toml"], tmp_path / "reports")
    assert [one.path.name for one in found] == ["a.toml"]
    (tmp_path / "empty").mkdir()
    with pytest.raises(InputError, match="a folder with scenarios"):
        places_in([tmp_path / "empty"], tmp_path)


def test_the_command_says_it_all(
    clients: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """List, table, JSON, a message for each wrong scenario, and exit code 2; 0 where none is wrong."""
    monkeypatch.setattr(site_pages, "Pages", Quick)
    monkeypatch.setattr(hands, "Processes", lambda width: hands.ALONE)
    out = tmp_path / "out"
    assert cli.main(["sites", str(clients), "--out", str(out), "--json", "-"]) == cli.WRONG_INPUT
    told = capsys.readouterr()
    found = json.loads(told.out)
    assert found["about"]["command"] == "sites" and len(found["sites"]) == 5
    assert len(told.err.strip().splitlines()) == 2 and "512" in told.err
    assert (out / "sites.html").exists() and len((out / "sites.csv").read_text(encoding="utf-8").splitlines()) == 6
    assert cli.main(["sites", str(clients / "mill"), str(clients / "rill.toml"), "--out", str(out)]) == 0
    assert "2 sites simulated, 0 wrong" in capsys.readouterr().out


@pytest.fixture(scope="module")
def courtyard_site() -> tuple[Made, YearResult]:
    """What the courtyard comes to as a site, with ten years behind its poor one, and the year that its report tells."""
    seen: list[YearResult] = []
    reader = Reader({}, "1")
    site = reader.with_weather(reader.site(places_in([COURTYARD], COURTYARD.parent / "reports")[0]))
    with pytest.MonkeyPatch.context() as patched:
        for name in ("year_report", "poor_year_report", "spread_report"):
            patched.setattr(site_pages, name, lambda result: "" if seen.append(result) else "")
        made = site_pages.Pages(years=10)(site, hands.nobody)
    assert isinstance(made, Made)
    return made, seen[0]


def test_a_sites_report_tells_what_the_years_does(courtyard_site: tuple[Made, YearResult]) -> None:
    """Dirt and days without sun too: every figure that `sunrill year` has, and those of the poor year beside them."""
    _, result = courtyard_site
    found, alone = result.as_json(), study_year(load(COURTYARD)).as_json()
    assert {key: found[key] for key in alone} == alone and {"dirt", "without_sun"} <= set(alone)
    assert set(found) - set(alone) == {"poor_year", "many_years"}


def test_the_worry_is_what_it_says(courtyard_site: tuple[Made, YearResult]) -> None:
    """What is missing in the typical year and in the poor year's worst month, warnings, and a stop that is too long."""
    (found, _), year = courtyard_site
    assert year.many
    poor = year.many.poor_year.measures
    warned = [one for one in year.findings if one.level == "warning"]
    assert found["warnings"] == len(warned) and found["longest_stop_h"] > year.scenario.need.longest_stop_h
    missing = 1.0 - year.measures.hours_met_share + 1.0 - min(poor.met_share_by_month)
    assert found["worry"] == pytest.approx(missing + A_WARNING * len(warned) + TOO_LONG)  # derived
    assert len(found["why"]) == 3 + len(warned) and json.loads(json.dumps(found)) == found


def test_the_list_can_be_read_anywhere(tmp_path: Path) -> None:
    """By everybody, on a phone too; titles are text, links lead to the reports, long lists are cut and say so."""
    rows = [whole_row(f"site-{k:02d}", f"Pond <{k}>", k / 10.0) for k in range(4)]
    wrong = dict.fromkeys(rows[0]) | {"name": "odd", "error": f"{'odd/' * 60}.toml: allowed is <nothing>"}
    sites = Sites.of([*rows, wrong])
    page = sites_report(sites)
    assert page == sites_report(Sites.of([wrong, *reversed(rows)]))
    assert page.index("Pond &lt;3&gt;") < page.index("Pond &lt;2&gt;") and 'href="site-03-year.html"' in page
    assert "allowed is &lt;nothing&gt;" in page and "1 could not be simulated" in text_of(page)
    assert "the other 100 stand in sites.csv" in sites_report(Sites.of(whole_row(str(k), "P", 1.0) for k in range(600)))
    assert "No site could be simulated" in sites_report(Sites.of([wrong]))
    fit_phones(tmp_path, page)


def test_small_bars_show_shares() -> None:
    """As high as the share, within the frame."""
    drawn = bars([0.25, *[1.0] * 11], [0.0] * 12)
    assert 'y="30.0" width="14" height="10.0"' in drawn and drawn.count('height="40.0"') == 11


def test_the_table_holds_no_formula() -> None:
    """A title that a spreadsheet would calculate stands as text."""
    table = list(csv.DictReader(io.StringIO(as_csv(Sites.of([whole_row("a", "=1+1", 0.5)])))))
    assert table[0]["title"] == "'=1+1" and float(table[0]["worry"]) == 0.5


def test_examples_have_names(tmp_path: Path) -> None:
    """The project's own scenarios are sites."""
    for path in SCENARIOS:
        shutil.copy(path, tmp_path)
    assert [one.name for one in places_in([tmp_path], tmp_path / "out")] == [path.stem for path in SCENARIOS]
