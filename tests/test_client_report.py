"""The client's page and the ledger: what they say, and how they come out of a browser and a printer."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from browser import browse, examined, fit_phones, needs_browser
from conftest import COURTYARD, report_in, told_in
from kit.fullest import beside_many, fullest_year
from kit.pages import HOSTILE, cells_of, parts_of, text_of
from pypdf import PdfReader

from sim.browser import print_pdf
from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.cli import main
from sim.errors import InputError
from sim.figures.causes import CAUSES, Stop, Stops, hours_by_day, longest_unplanned
from sim.report.blocks import Closed, Words
from sim.report.calendar import ALL, LETTERS, calendar_figure, main_causes, met_shares, without
from sim.report.client import client_page
from sim.report.client_words import FILTER
from sim.report.render import client_report, year_report
from sim.report.seasons import REACHED, frost, months_of, seasons_of, still_nights
from sim.report.sections import expect, findings, ledger
from sim.scenario.models import Controller
from sim.studies.ledger import as_csv, bursts_of
from sim.studies.result import YearResult

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
TOLD = """<pre id="h"></pre><script>
h.textContent = [document.querySelector("h1").textContent, document.images.length, document.scripts.length].join("|");
</script></body>"""
PAPER_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


@pytest.fixture(scope="module")
def fullest() -> YearResult:
    """A design with much to say: the longest title, a timer with four windows, a season, five cleanings."""
    return fullest_year()


@pytest.fixture(scope="module")
def short_list(fullest: YearResult) -> str:
    """Its report beside many years, of whose stops few are listed: rows alike take the checker long."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ledger, "LISTED", 20)
        return year_report(beside_many(fullest, 1.1))


def titled(result: YearResult, title: str) -> YearResult:
    """The same year under another title."""
    return replace(result, scenario=result.scenario.model_copy(update={"title": title}))


def client_of(html: str) -> str:
    """What a reader sees of the client's page."""
    return text_of(html.split('<section id="client"')[1].split("</section>")[0])


def rules_of(head: str) -> set[tuple[str, ...]]:
    """The lines of a page's head, those of its style sheet as pairs of one selector and what it does."""
    lines = (line.partition("{") for line in head.splitlines())
    return {(selector, body) for selectors, _, body in lines for selector in selectors.split(",")}


# What it says


def test_promise_is_the_measured_one(courtyard_year: YearResult) -> None:
    """Best and worst month, days without running and the estimate's warning stand on the client's page."""
    year, said = courtyard_year.measures, client_of(report_in(COURTYARD))
    run = year.pump_hours_by_month / DAYS
    assert f"about {run.max():.0f} hours a day in" in said and f"about {run.min():.0f} hours a day in" in said
    assert f"no running at all on about {(year.pump_hours_by_day < 1 / 60).sum()} days a year" in said
    assert "An estimate, not a guarantee." in said and courtyard_year.weather.source in said


def test_the_page_alone_is_that_of_the_report(courtyard_year: YearResult) -> None:
    """Sign for sign, under the same title; of the style sheet it carries what it wears."""
    alone, whole = (
        html.split('<section id="client"') for html in (client_report(courtyard_year), report_in(COURTYARD))
    )
    assert alone[0].split("</style>")[1] == whole[0].split("</style>")[1]
    assert rules_of(alone[0]) < rules_of(whole[0])
    assert alone[1].split("</section>")[0] == whole[1].split("</section>")[0]


def test_months_alike_are_said_once(courtyard_year: YearResult) -> None:
    """Where every month brings the same hours a day, the promise does not compare months."""
    year = replace(courtyard_year.measures, pump_hours_by_month=DAYS * 24.0)
    assert "about 24 hours a day in every month." in client_of(client_report(replace(courtyard_year, measures=year)))


def test_seasons_are_the_year(any_year: YearResult) -> None:
    """The seasons' hours, weighed by their days, are the year's, and each says how often the wish was met."""
    seasons, year = seasons_of(any_year), any_year.measures
    months = months_of(any_year.weather.latitude_deg)
    assert [season.name for season in seasons] == ["Spring", "Summer", "Autumn", "Winter"]
    assert sorted(month for found in months.values() for month in found) == list(range(1, 13))
    days = [sum(DAYS[month - 1] for month in months[season.name]) for season in seasons]
    hours = [float(season.hours_a_day.removeprefix("about ")) for season in seasons]
    assert np.dot(days, hours) == pytest.approx(year.pump_hours, abs=0.5 * 365)


def test_often_means_what_was_measured(courtyard_year: YearResult) -> None:
    """A season is said to be good every day just when each of its days reached the wanted hours."""
    year = courtyard_year.measures
    reached = year.met_by_day >= REACHED * year.wanted_by_day
    for season in seasons_of(courtyard_year):
        chosen = np.isin(year.months[::24], months_of(courtyard_year.weather.latitude_deg)[season.name])
        assert (season.reached == "every day") == (reached[chosen].mean() >= 0.995)


def test_still_nights_are_counted_from_the_log(courtyard_year: YearResult) -> None:
    """A summer in which the pump stands every night from midnight to six has as many still nights as days."""
    run = courtyard_year.measures.run_h.reshape(-1, 24).copy()
    run[:, :6] = 0.0
    stopped = replace(courtyard_year, measures=replace(courtyard_year.measures, run_h=run.ravel()))
    assert still_nights(stopped) == (92, 92)
    assert still_nights(courtyard_year)[0] < 92


def test_longest_stop_and_its_consequence(courtyard_year: YearResult) -> None:
    """No stop of the measures is longer than the page says, and what a filter needs after so long stands by it."""
    page = client_page(courtyard_year)
    begun, ended = longest_unplanned(courtyard_year.measures.stops) or (0.0, 0.0)
    assert ended - begun == pytest.approx(courtyard_year.measures.longest_stop_h, abs=1e-6)
    assert f"In a typical winter it may stand for up to {int(np.ceil((ended - begun) / 24))} days" in page.stop
    assert FILTER[0][1] in page.consequences


@pytest.mark.parametrize(("from_h", "part"), [(18.5, "evening"), (2.0, "night"), (7.0, "morning"), (12.0, "afternoon")])
def test_when_it_mostly_stands_is_said(courtyard_year: YearResult, from_h: float, part: str) -> None:
    """The part of the day in which most stops of the season begin, and none where they begin all over the day."""
    stops = Stops.of(Stop(24.0 * k + from_h, 24.0 * k + from_h + 3.0 + k, "night", 0.1, 12.1) for k in range(5))
    page = client_page(replace(courtyard_year, measures=replace(courtyard_year.measures, stops=stops)))
    assert page.stop == f"In a typical winter it may stand for up to 7 hours, mostly from the {part} on."
    spread = Stops.of(Stop(31.0 * k, 31.0 * k + 3.0, "night", 0.1, 12.1) for k in range(1, 9))
    page = client_page(replace(courtyard_year, measures=replace(courtyard_year.measures, stops=spread)))
    assert page.stop == "In a typical winter it may stand for up to 3 hours."


def test_no_codes_on_the_clients_page(courtyard_year: YearResult) -> None:
    """No option of a command, no year that hours are dated in, no window that is the whole day."""
    need = courtyard_year.scenario.need.model_copy(update={"between": ("00:00", "24:00")})
    whole = replace(courtyard_year, scenario=courtyard_year.scenario.model_copy(update={"need": need}))
    said = client_report(whole).split("<header>")[1]
    assert "--" not in text_of(said) and "<code>" not in said and "dated" not in said and "24:00" not in said
    assert "You asked for 8 hours a day. " in said


def test_long_running_beside_missed_hours_is_explained(courtyard_year: YearResult) -> None:
    """A page that shows 24 hours a day and missed hours says why; one that misses none says nothing of it."""
    assert client_page(courtyard_year).beyond
    met = replace(courtyard_year.measures, met_by_day=courtyard_year.measures.wanted_by_day)
    assert not client_page(replace(courtyard_year, measures=met)).beyond


def test_fish_and_filter_only_where_there_are(courtyard_year: YearResult) -> None:
    """A pond without fish, or without a filter, has no sentence on them; where nobody told, both stand."""
    pond = courtyard_year.scenario.water
    assert pond is not None and pond.filter is not None and not pond.fish

    def consequences(**update: object) -> tuple[str, ...]:
        water = pond.model_copy(update=update) if update else None
        scenario = courtyard_year.scenario.model_copy(update={"water": water})
        return client_page(replace(courtyard_year, scenario=scenario)).consequences

    assert len(consequences()) == 2 and consequences(fish=False) == (FILTER[0][1],)
    (fish,) = consequences(fish=True, filter=None)
    assert fish.startswith("Fish") and consequences(fish=False, filter=None) == ()


def test_a_year_without_stops_promises_no_stop(courtyard_year: YearResult) -> None:
    """A pump that never stands is said to never stop, and harms no filter."""
    page = client_page(replace(courtyard_year, measures=replace(courtyard_year.measures, stops=Stops.of(()))))
    assert page.stop == "In a typical year it never stops." and FILTER[-1][1] in page.consequences


def test_many_years_stand_beside_the_typical_one(courtyard_year: YearResult) -> None:
    """Months have the typical year's hours and P10 to P90, the poor year is told in words; without, that is said."""
    year = beside_many(courtyard_year)
    html = client_report(year)
    shown = np.array([[float(cell) for cell in row[1:]] for row in cells_of(html, "client")])
    typical = courtyard_year.measures.hours_a_day
    np.testing.assert_allclose(shown[:, :3], np.outer(typical, (1.0, 0.74, 1.06)), atol=0.051)
    mean = courtyard_year.measures.pump_hours / 365.0
    said = f"In a poor year, one in ten, it runs {0.9 * mean:.1f} hours a day on average and meets 80 % of the wanted"
    assert said in html
    assert "A poor year was not worked out" not in html
    alone = client_report(courtyard_year)
    assert "A poor year was not worked out" in alone and len(cells_of(alone, "client")[0]) == 3


def test_a_poor_year_that_is_no_poorer_is_explained(courtyard_year: YearResult) -> None:
    """The client's page says why."""
    year = beside_many(courtyard_year)
    alike = replace(year, many=replace(year.many, poor_year=courtyard_year))
    assert "this design hardly feels how years differ" in client_page(alike).poor
    assert "hardly feels" not in client_page(year).poor


def test_settings_as_left(courtyard_year: YearResult) -> None:
    """Battery, both voltages, timer, tilt and direction are as in the scenario; what nobody told is left blank."""
    rows = {row.name: row.value for row in client_page(courtyard_year).settings}
    control, panel = courtyard_year.scenario.controller, courtyard_year.scenario.panel
    assert rows["Pump stops at"].startswith(f"{control.load_disconnect_v:g} V")
    assert rows["… runs again at"].startswith(f"{control.load_reconnect_v:g} V")
    assert f"tilt {panel.tilt_deg:g}°, facing south" in rows["Panel"]
    fuses = {
        "at the battery": courtyard_year.scenario.battery.cable.fuse_a,
        "pump": courtyard_year.scenario.pump.cable.fuse_a,
    }
    assert rows["Fuses"] == ", ".join(f"{size:g} A {place}" for place, size in fuses.items() if size)
    assert set(rows["Battery type"].split(", ")) == {"lithium iron phosphate (LFP)", "12 V", "100 Ah"}


def test_what_the_water_adds(courtyard_year: YearResult) -> None:
    """Valve, topping up and fish are told from the water's results, and without them in general words."""
    pond, water = courtyard_year.scenario.water, courtyard_year.measures.water
    assert pond and pond.branch and water
    page = client_page(courtyard_year)
    assert f"{pond.branch.opening_percent:g} % open" in {row.name: row.value for row in page.settings}["Valve"]
    said = {row.name: row.value for row in page.calendar}["Topping up"]
    weekly = water.top_up_l_per_week
    assert f"{weekly.max():.0f} litres a week" in said and f"{weekly.min():.0f} litres a week" in said
    warm = replace(water, temperature=replace(water.temperature, warm_nights=40, warm_night_stops=7))
    fish = courtyard_year.scenario.model_copy(update={"water": pond.model_copy(update={"fish": True})})
    told = replace(courtyard_year, scenario=fish, measures=replace(courtyard_year.measures, water=warm))
    assert "7 of 40 nights with warm water" in client_page(told).consequences[1]
    dry = courtyard_year.scenario.model_copy(update={"water": None})
    bare = client_page(replace(courtyard_year, scenario=dry, measures=replace(courtyard_year.measures, water=None)))
    assert bare.settings[-1].value == "" and "litres" not in bare.calendar[1].value


@pytest.mark.parametrize("mode", Controller.model_fields["load_mode"].annotation.__args__)  # type: ignore[union-attr]
@pytest.mark.parametrize("chemistry", chemistries())
def test_every_kind_of_system_has_a_page(courtyard_year: YearResult, mode: str, chemistry: str) -> None:
    """Every load mode and chemistry can be put into words, and a timer is asked about first."""
    scenario = courtyard_year.scenario
    control = scenario.controller.model_copy(update={"load_mode": mode})
    battery = scenario.battery.model_copy(update={"chemistry": chemistry})
    update = {"controller": control, "battery": battery}
    page = client_page(replace(courtyard_year, scenario=scenario.model_copy(update=update)))
    assert page.timed == (mode != "always")


def test_cost_of_a_year(fullest: YearResult, courtyard_year: YearResult) -> None:
    """A year costs its share of a battery over the middle of its life, and the cleanings; or nothing is said."""
    low, high = fullest.measures.battery.stress.life_years
    capacity_ah = fullest.scenario.battery.capacity_ah
    rows = {row.name: row.value for row in client_page(fullest).upkeep}
    assert f"about {4.0 * capacity_ah / (0.5 * (low + high)) + 5 * 10.0:.0f} EUR" in rows["Cost a year"]
    bare = courtyard_year.scenario.model_copy(update={"cost": type(courtyard_year.scenario.cost)()})
    assert len(client_page(replace(courtyard_year, scenario=bare)).upkeep) == 2


def test_dates_of_care(fullest: YearResult) -> None:
    """The season's dates and the days of cleaning stand in the calendar."""
    rows = {row.name: row.value for row in client_page(fullest).calendar}
    assert {"15 December", "15 February"} <= set(rows) and rows["Panel cleaning"].startswith("15 March, 15 May")


def test_frost_dates(courtyard_year: YearResult) -> None:
    """The first frost after summer and the last of spring are days on which the weather's air is below freezing."""
    cold = courtyard_year.weather.temp_air.reshape(-1, 24).min(axis=1) < 0.0
    first, last = frost(courtyard_year.weather) or (0, 0)
    assert cold[first] and cold[last] and not cold[last + 1 : first].any() and first > 180 and last < 182
    warm = replace(courtyard_year.weather, temp_air=np.full(8760, 3.0))
    assert frost(warm) is None


# The ledger


def test_ledger_adds_up_to_the_year(any_year: YearResult) -> None:
    """Hours of standing by day and cause, with the hours of running, are the year."""
    year = any_year.measures
    by_day = hours_by_day(year.stops, 365)
    assert by_day.sum() + year.pump_hours == pytest.approx(8760.0, abs=1e-6)
    assert by_day.sum(axis=1) + year.pump_hours_by_day == pytest.approx(np.full(365, 24.0), abs=1e-6)
    assert dict(zip(CAUSES, by_day.sum(axis=0), strict=True)) == pytest.approx(year.stops_by_cause)


def test_calendar_shows_every_day(courtyard_year: YearResult) -> None:
    """A bar a day, as full as its wanted hours were met, and a letter on every bar that is not full."""
    figure, year = calendar_figure(courtyard_year), courtyard_year.measures
    met = met_shares(year)
    assert met == pytest.approx(year.met_by_day / year.wanted_by_day)
    outlines, fillings = re.findall(r'<path d="([^"]*)" clip-path', figure.svg)[:2]
    assert outlines.count("M") == fillings.count("M") == 365
    across = [[float(at) for at in re.findall(r"[MLH]([\d.]+)", bar)] for bar in (outlines + fillings).split("z")[:-1]]
    wide = np.array([max(bar) - min(bar) for bar in across])
    assert wide[365:] / wide[:365] == pytest.approx(met, abs=1e-3)
    letters = re.findall(r">([A-Z])</text>", figure.svg)
    assert len(letters) == len(DAYS) + int((met < ALL).sum())
    days = sum(int(row[1]) + int(row[2]) + int(row[3]) for row in figure.table.rows)
    assert days == 365 and len(set(LETTERS.values())) == len(CAUSES)


def test_days_without_are_the_same_days(courtyard_year: YearResult) -> None:
    """Page, figures and calendar count a day without running alike; where they differ, the calendar says so."""
    year = courtyard_year.measures
    always = replace(year, wanted_by_day=np.full(365, 24.0), met_by_day=year.pump_hours_by_day)
    assert int(without(always).sum()) == year.days_without_running
    at_night = replace(year, met_by_day=np.where(np.arange(365) < 3, 0.0, year.met_by_day))
    said = calendar_figure(replace(courtyard_year, measures=at_night)).caption
    none = int(without(at_night).sum())
    assert f"on {none} days none of them" in said and none > year.days_without_running
    assert f"it does not run at all on {year.days_without_running}." in said


def test_the_timer_takes_a_day_only_alone() -> None:
    """A day of fifteen hours by the timer and one hour of low voltage is a day of low voltage."""
    stops = (
        Stop(0.0, 15.0, "schedule", 0.9, 13.2),
        Stop(20.0, 21.0, "night", 0.1, 12.1),
        Stop(24.0, 30.0, "schedule", 0.9, 13.2),
    )
    assert [CAUSES[k] for k in main_causes(hours_by_day(stops, 2))] == ["night", "schedule"]


def test_every_stop_is_listed_or_counted(courtyard_year: YearResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """A list holds every stop, those of a burst in one row; of a long one the shortest are added up in a sentence."""
    stops = courtyard_year.measures.stops
    bursts = bursts_of(stops)
    said, whole = ledger.listed(courtyard_year)
    assert isinstance(whole, Closed) and len(whole.table.rows) == min(len(bursts), ledger.LISTED)
    assert len(bursts) < len(stops) and isinstance(said, Words)
    monkeypatch.setattr(ledger, "LISTED", 10)
    said, part = ledger.listed(courtyard_year)
    kept = sum(sorted((one.hours for one in bursts), reverse=True)[:10])
    assert isinstance(part, Closed) and len(part.table.rows) == 10
    assert isinstance(said, Words) and "shorter stops" in said.text
    assert f"together {round(stops.hours.sum() - kept):,} h" in said.text


def test_a_stop_says_how_far_its_voltage_sagged(courtyard_year: YearResult) -> None:
    """The rest voltage of LFP at a fifth of its charge less the controller's; none for a dead bus (derived)."""
    weather, scenario = courtyard_year.weather, courtyard_year.scenario
    low, dead = Stop(1.0, 3.0, "night", 0.2, 12.1), Stop(5.0, 6.0, "protection circuit", 0.2, 0.0)
    found = ledger.ledger_of((low, dead), weather.index, scenario.care, scenario.battery)
    lfp = cell("lfp")
    rest_v = float(np.interp(20.0, lfp.rest_percent, lfp.rest_v))
    assert (found[0].rest_voltage_at_stop, found[0].sag_at_stop) == pytest.approx((rest_v, rest_v - 12.1))
    assert found[1].sag_at_stop is None
    heading, first, second = as_csv((low, dead), weather.index, scenario.care, scenario.battery).splitlines()
    assert heading.endswith("rest_voltage_at_stop,sag_at_stop")
    assert first.endswith(f"{rest_v:.6g},{rest_v - 12.1:.6g}") and second.endswith(f"{rest_v:.6g},")


def test_a_stop_at_the_end_of_the_year_has_no_restart(courtyard_year: YearResult) -> None:
    """The last stop ends with the year: neither the list nor the ledger's file says that the pump started again."""
    last = courtyard_year.measures.stops[-1]
    assert last.to_h == 8760.0 and last.end_soc is None
    index, care = courtyard_year.weather.index, courtyard_year.scenario.care
    measures = replace(courtyard_year.measures, stops=Stops.of((last,)))
    _, part = ledger.listed(replace(courtyard_year, measures=measures))
    assert isinstance(part, Closed) and part.table.rows[0][1] == "not in this year" and part.table.rows[0][-1] == ""
    assert ledger.ledger_of((last,), index, care)[0].restarted is None
    assert as_csv((last,), index, care).splitlines()[1].split(",")[3] == ""


# In a browser and on paper


def printed(tmp_path: Path, html: str, paper: str) -> PdfReader:
    """A report on paper."""
    needs_browser()
    print_pdf(html, tmp_path / "report.pdf", paper)
    return PdfReader(tmp_path / "report.pdf")


ON_PAPER = (
    ("much to say", "a4"),
    ("much to say", "letter"),
    ("a poor year beside it", "letter"),
    pytest.param("a poor year beside it", "a4", marks=pytest.mark.long),
)


@pytest.mark.parametrize(("which", "paper"), ON_PAPER)
def test_first_page_is_one_page(
    tmp_path: Path, fullest: YearResult, courtyard_year: YearResult, which: str, paper: str
) -> None:
    """The client's page, from its title to its last line, is the first printed page, and nothing else is on it."""
    year = beside_many(fullest, 1.1) if which == "much to say" else beside_many(courtyard_year)
    pages = printed(tmp_path, parts_of(year, expect.section, findings.section), paper).pages
    box, (first, second) = pages[0].mediabox, (page.extract_text() for page in pages[:2])
    size_mm = (float(box.width) * 25.4 / 72.0, float(box.height) * 25.4 / 72.0)
    assert size_mm == pytest.approx(PAPER_MM[paper], abs=0.5)
    assert "Running on sunlight" in first and "Signature" in first and "not a guarantee" in first
    assert "Weather:" in first and "What else is in this report" not in first
    assert "What else is in this report" in second and "not a guarantee" not in second


LONG_TITLE = "Courtyard rill, Fernhollow House" + ", with its basins, its cascade and the fountain by the east wing" * 4


@pytest.mark.parametrize("paper", ["letter", pytest.param("a4", marks=pytest.mark.long)])
def test_the_whole_year_on_paper(tmp_path: Path, fullest: YearResult, paper: str) -> None:
    """At most twelve pages, each with the title and its number; the settings are on one, and no heading ends a page.

    Letter is the shorter paper, and the title is as long as one may be.
    """
    html = year_report(beside_many(titled(fullest, LONG_TITLE), 1.1))
    pages = [page.extract_text() for page in printed(tmp_path, html, paper).pages]
    assert len(pages) <= 12 and 280 < len(LONG_TITLE) <= 300
    assert all(f"{k} / {len(pages)}" in page for k, page in enumerate(pages, 1))
    assert all("Courtyard rill, Fernhollow House" in " ".join(page.split()) for page in pages)
    assert any("Drop on each run" in page and "Measured by" in page for page in pages)
    (settings,) = [page for page in pages if "Settings as left" in page and "load disconnect voltage" in page]
    assert "pool area" in settings
    titles = re.findall(r"<h[23][^>]*>([^<]+)</h[23]>", html)
    ends = [page.replace("\N{NO-BREAK SPACE}", " ").strip().splitlines()[-1].strip() for page in pages]
    assert not set(ends) & set(titles)


def test_pdf_by_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The command prints the report it wrote, and says where; the client's page alone is one sheet of its own."""
    needs_browser()
    monkeypatch.setattr("sim.studies.yearly.study_year", lambda *_: told_in(COURTYARD))
    printed = ["--pdf", "--pdf-page-one", "--paper", "letter"]
    assert main(["year", str(COURTYARD), "--out", str(tmp_path), "--no-log", *printed]) == 0
    assert str(tmp_path / "courtyard-year.pdf") in capsys.readouterr().out.replace("\n", "")
    assert len(PdfReader(tmp_path / "courtyard-year.pdf").pages) > 5
    (page,) = PdfReader(tmp_path / "courtyard-client.pdf").pages
    said = page.extract_text()
    assert "Signature" in said and "not a guarantee" in said and "What else is in this report" not in said


def test_pdf_without_a_browser(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without Chromium the command ends at once with one message, and nothing is written."""
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["year", str(COURTYARD), "--out", str(tmp_path / "out"), "--pdf"]) == 2
    said = capsys.readouterr().err
    assert "--pdf" in said and "Chromium" in said and len(said.strip().splitlines()) == 1
    assert not (tmp_path / "out").exists()


def test_a_browser_that_prints_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser that ends without a page is one message, and no file is left behind."""
    false = tmp_path / "chromium"
    false.write_text("#!/bin/sh\nexit 1\n")
    false.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(InputError, match="printed nothing"):
        print_pdf("<style></style>", tmp_path / "report.pdf", "a4")
    assert not (tmp_path / "report.pdf").exists()


def test_accessible_and_alone(tmp_path: Path, short_list: str) -> None:
    """With every table open the checker finds no violation, and the page loads nothing."""
    found = examined(tmp_path, short_list)
    assert found["broken"] == [] and found["loaded"] == []


def test_on_a_phone(tmp_path: Path, short_list: str) -> None:
    """No column is hidden and nothing is found broken at 320 pixels in light, at 390 in dark."""
    fit_phones(tmp_path, short_list)


def test_the_checker_sees_faults(tmp_path: Path) -> None:
    """A picture without words, pale text and a request for a file are seen: the test above can fail."""
    pale = '<p style="color:#eee;background:#fff">pale</p>'
    bad = f'<!doctype html><html><body><img src="http://127.0.0.1:9/rill.png">{pale}</body></html>'
    found = examined(tmp_path, bad)
    assert {"image-alt", "color-contrast", "html-has-lang"} <= {rule[0] for rule in found["broken"]}  # type: ignore[index]
    assert found["loaded"] == ["http://127.0.0.1:9/rill.png"]


def test_hostile_titles_are_text(tmp_path: Path, courtyard_year: YearResult) -> None:
    """All hostile titles in one: shown as text in the browser's own tree, and no element comes of it."""
    title = " ".join(HOSTILE.values())[:300]
    html = client_report(titled(courtyard_year, title))
    page = tmp_path / "page.html"
    page.write_text(html.replace("</body>", TOLD), encoding="utf-8")
    told = re.search(r'<pre id="h">(.*?)</pre>', browse(page).dom, re.DOTALL)
    assert told and unescape(told[1]) == f"{title}|0|1"
