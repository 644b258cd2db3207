"""The year's report: what it says, that it says it safely, and that it can be read anywhere."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import escape, unescape
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from browser import browse, widths_at_320
from conftest import COURTYARD, report_in, told_in
from kit.pages import TITLES, cells_of, parts_of, text_of, without_foot

from sim.figures.causes import Stop, Stops, longest_stretch
from sim.report.render import year_report
from sim.report.sections import assumptions, battery, findings, fortnight, settings
from sim.report.sections.battery import DEPTHS
from sim.report.sections.energy import yields
from sim.report.sections.fortnight import worst_spell
from sim.report.settings import settings_of
from sim.scenario import load
from sim.scenario.care import Care, Fault
from sim.scenario.choice import Cost
from sim.studies.commissioning import expected_readings
from sim.studies.fading import AgedYear
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

HEADINGS = (
    "What else is in this report",
    "The year in figures",
    "Findings",
    "Hours a day by month",
    "When the pump runs",
    "Water",
    "The battery through the year",
    "The worst fortnight",
    "Why the pump stood",
    "Where the energy went",
    "What the year does to the battery",
    "Wiring",
    "Settings as left",
    "Commissioning sheet",
    "Assumptions and weather",
    "Cautions",
)
CHARTS = (
    *("client", "months", "map", "charge", "fortnight", "causes", "calendar", "energy", "cycles"),
    *("operating", "branch", "turnovers", "top-up"),
)
WATER_PARTS = ("pipe", "fittings", "branch", "filter", "basin", "stream", "outlet")


@pytest.fixture(scope="module")
def result() -> YearResult:
    """The courtyard's year with the readings to expect."""
    return told_in(COURTYARD)


@pytest.fixture(scope="module")
def html() -> str:
    """Its report."""
    return report_in(COURTYARD)


@pytest.fixture(scope="module")
def by_title(result: YearResult) -> Callable[[str], str]:
    """Its report under other titles."""
    return cache(
        lambda title: year_report(replace(result, scenario=result.scenario.model_copy(update={"title": title})))
    )


def test_same_year_same_bytes(html: str) -> None:
    """A report is byte-identical when it is made again from a year simulated again."""
    scenario = load(COURTYARD)
    assert year_report(replace(simulate_year(scenario), readings=expected_readings(scenario))) == html


def test_self_contained(html: str) -> None:
    """A report needs no network and no script, and stays under a megabyte."""
    assert "http" not in html and "<script" not in html and "@import" not in html
    assert set(re.findall(r'(?:src|href)="([^"]{0,5})', html)) <= {"data:"} | set(
        re.findall(r'href="(#[^"]{0,4})', html)
    )
    assert len(html.encode()) < 1_000_000


@pytest.mark.parametrize("heading", HEADINGS)
def test_headings(html: str, heading: str) -> None:
    """Every section is there, under its heading, once."""
    assert len(re.findall(rf'<h2 id="[^"]+">{heading}</h2>', html)) == 1


def test_ids_are_unique(html: str) -> None:
    """No two elements share an id, and every reference to one is met."""
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    wanted = re.findall(r'href="#([^"]+)"|url\(#([^)]+)\)', html)
    named = {name for names in re.findall(r'aria-labelledby="([^"]+)"', html) for name in names.split()}
    assert {a or b for a, b in wanted} | named <= set(ids)


@pytest.mark.parametrize("title", TITLES.values(), ids=TITLES.keys())
def test_hostile_titles_are_text(by_title: Callable[[str], str], html: str, title: str) -> None:
    """Whatever a title holds, it is shown as text and the rest of the page stays the same."""
    page = by_title(title)
    assert re.findall(r"<h1[^>]*><bdi>(.*?)</bdi></h1>", page, re.DOTALL) == [
        re.sub("&#x27;", "&#39;", escape(title)).replace("&quot;", "&#34;")
    ]
    assert unescape(re.findall(r"<title>(.*?)</title>", page, re.DOTALL)[0]) == title
    written = re.findall(r"<h1[^>]*><bdi>(.*?)</bdi></h1>", page, re.DOTALL)[0]
    own = re.findall(r"<h1[^>]*><bdi>(.*?)</bdi></h1>", html, re.DOTALL)[0]
    page, html = without_foot(page), without_foot(html)
    assert page.replace(written, "").replace('<h1 class="long">', "<h1>") == html.replace(own, "")


def test_weather_words_are_text(result: YearResult) -> None:
    """Source, licence and notes of a weather file are escaped like a title."""
    hostile = replace(result.weather, source="<b>s</b>", licence="<b>l</b>", notes=("<b>n</b>",))
    page = year_report(replace(result, weather=hostile))
    assert all(f"&lt;b&gt;{name}&lt;/b&gt;" in page for name in "sln") and "<b>s" not in page


def test_headline_equals_measures(result: YearResult, html: str) -> None:
    """The section of figures holds the measures' own."""
    year, said = result.measures, text_of(html.split('id="h-expect"')[1].split("</section>")[0])
    low, high = year.battery.stress.life_years
    assert f"met {year.hours_met_share * 100:.0f} %" in said
    assert f"stop {year.longest_stop_h:.0f} h from" in said
    assert f"Days without running {(year.pump_hours_by_day < 1 / 60).sum()} of 365" in said
    assert f"{year.pump_hours:,.0f} h {year.starts:,} starts" in said
    assert f"{low:.0f}–{high:.0f} years" in said


def test_findings_equal_the_checks(result: YearResult, html: str) -> None:
    """Each finding stands with level, message and source, in the order of the checks."""
    said = text_of(html.split('id="h-findings"')[1].split("</section>")[0])
    places = [said.index(f"{found.level.capitalize()}. {found.message}") for found in result.findings]
    assert places and places == sorted(places)
    assert all(f"Source: {found.source}." in said for found in result.findings)


def test_no_findings_is_said(result: YearResult) -> None:
    """A design without findings says so."""
    assert "None of the design checks found anything." in parts_of(replace(result, findings=()), findings.section)


def test_months_table(result: YearResult, html: str) -> None:
    """The months' table adds up to the year's pump hours and shows the months' shares."""
    rows, year = cells_of(html, "months"), result.measures
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert sum(float(row[1]) * n for row, n in zip(rows, days, strict=True)) == pytest.approx(
        year.pump_hours, abs=0.05 * 365
    )
    assert [row[4] for row in rows] == [f"{share * 100:.0f} %" for share in year.met_share_by_month]


def test_map_table(result: YearResult, html: str) -> None:
    """The map is 12 by 24 chances of running, drawn and in a table; their mean is the share of the year that it ran."""
    shares = np.array([[float(cell) for cell in row[1:]] for row in cells_of(html, "map")])
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert shares.shape == (12, 24)
    assert (shares.sum(axis=1) / 100 * days).sum() == pytest.approx(result.measures.pump_hours, abs=0.005 * 8760)


def test_causes_table(result: YearResult, html: str) -> None:
    """Every cause has its hours, and they are all the hours the pump stood."""
    rows, year = cells_of(html, "causes"), result.measures
    assert [row[0] for row in rows] == [*year.stops_by_cause, "all stops"]
    assert float(rows[-1][1].replace(",", "")) == pytest.approx(8760 - year.pump_hours, abs=0.51)


def test_energy_table_balances(result: YearResult, html: str) -> None:
    """Each month's books close, the months are the year, and every row of the table adds up to what was possible."""
    months, year = result.measures.energy_months, result.measures.energy
    for name in vars(year):
        assert sum(getattr(month, name) for month in months) == pytest.approx(getattr(year, name), rel=1e-9, abs=1e-3)
    assert all(abs(month.balance_error) < 1e-6 * year.panel for month in months)
    rows = [[float(cell.replace("−", "-").replace(",", "")) for cell in row[1:]] for row in cells_of(html, "energy")]
    assert len(rows) == 13 and all(row[1] == pytest.approx(sum(row[2:]), abs=0.5) for row in rows)
    assert [row[2] for row in rows] == [round(energy.pump / 1000, 1) for energy in (*months, year)]
    assert sum(row[2] for row in rows[:12]) == pytest.approx(year.pump / 1000, abs=0.6)


def test_yields(result: YearResult, html: str) -> None:
    """The performance ratio is final over reference yield, as IEC 61724-1 defines it."""
    energy = result.measures.energy
    rows = {row[0]: row[1] for row in yields(result.measures).rows}
    rated_kw = result.scenario.panel.power_w * result.scenario.panel.count / 1000
    final = energy.pump / 1000 / rated_kw
    assert rows["Final yield"] == f"{final:,.0f} kWh/kW"
    assert rows["Performance ratio"] == f"{final / result.measures.in_plane_kwh_m2:.2f}"


def test_cycles_table(result: YearResult, html: str) -> None:
    """The histogram counts every rainflow cycle once."""
    rows = cells_of(html, "cycles")
    counted = sum(count for _, count in result.measures.battery.stress.cycles)
    assert len(rows) == len(DEPTHS) - 1 and sum(float(row[1]) for row in rows) == pytest.approx(counted)


def test_worst_fortnight(result: YearResult, html: str) -> None:
    """No other fourteen days leave more wanted hours unserved; the table tells the same days."""
    year = result.measures
    missed = year.wanted_by_day - year.met_by_day
    first = worst_spell(year)
    assert missed[first : first + 14].sum() >= max(missed[k : k + 14].sum() for k in range(352)) - 1e-5
    rows = cells_of(html, "fortnight")
    assert [row[2] for row in rows] == [f"{met:.1f}" for met in year.met_by_day[first : first + 14]]


def test_worst_fortnight_of_a_faultless_year(result: YearResult) -> None:
    """Where every wanted hour is met, the fortnight with the lowest charge is shown."""
    soc = np.full(365, 0.9)
    soc[200:214] = 0.5
    year = replace(result.measures, met_by_day=result.measures.wanted_by_day, soc_low_by_day=soc)
    assert worst_spell(year) == 200
    assert "no wanted hour is missed in the year" in parts_of(replace(result, measures=year), fortnight.section)


def test_longest_stretch_is_the_measured_one(result: YearResult) -> None:
    """Stops that follow one another without a run are one stretch, as long as the longest stop that was measured."""
    begun, ended = longest_stretch(result.measures.stops) or (0.0, 0.0)
    assert ended - begun == pytest.approx(result.measures.longest_stop_h, abs=1e-6)


@pytest.mark.parametrize(
    ("stops", "stretch"),
    [
        ((), None),
        ((Stop(1.0, 2.0, "night", 0.1, 12.0),), (1.0, 2.0)),
        ((Stop(1.0, 2.0, "night", 0.1, 12.0), Stop(2.0, 4.0, "fault", 0.1, 12.0)), (1.0, 4.0)),
        ((Stop(1.0, 3.0, "night", 0.1, 12.0), Stop(3.5, 4.0, "fault", 0.1, 12.0)), (1.0, 3.0)),
    ],
    ids=["none", "one", "two that touch", "two apart"],
)
def test_longest_stretch(stops: tuple[Stop, ...], stretch: tuple[float, float] | None) -> None:
    """The longest stretch of none, one, and several stops."""
    assert longest_stretch(stops) == stretch


def test_a_year_without_stops(result: YearResult) -> None:
    """A pump that never stands still has a report."""
    none = dict.fromkeys(result.measures.stops_by_cause, 0.0)
    year = replace(result.measures, stops=Stops.of(()), stops_by_cause=none, longest_stop_h=0.0)
    assert "the pump never stood" in year_report(replace(result, measures=year))


@pytest.mark.parametrize("key", CHARTS)
def test_charts_are_accessible(html: str, key: str) -> None:
    """Each chart is an image with a title and a description, scales, and has its numbers in a table."""
    drawn = re.search(rf'<svg[^>]*aria-labelledby="{key}-title {key}-desc".*?</svg>', html, re.DOTALL)
    assert drawn and 'role="img"' in drawn[0] and "viewBox=" in drawn[0]
    assert not re.search(r"<svg[^>]* (width|height)=", drawn[0])
    tree = ElementTree.fromstring(drawn[0].replace("<svg", '<svg xmlns:xlink="x"', 1))
    assert tree.findtext("title") and tree.findtext("desc")
    assert cells_of(html, key)


def test_charts_take_the_page_colours(html: str) -> None:
    """Nothing in a chart is in a colour of its own, so that light, dark and print each have theirs."""
    drawings = "".join(re.findall(r"<svg.*?</svg>", html, re.DOTALL))
    assert "var(--water)" in drawings and not re.findall(r"(?:fill|stroke): ?#[0-9a-f]+", drawings)


def test_every_setting_is_shown(result: YearResult, html: str) -> None:
    """Every value of the scenario is printed with its key, and the thresholds with their unit."""
    shown = set(re.findall(r"<code>([^<]+)</code>", html))
    dumped = result.scenario.model_dump(exclude={"path", "title", "cost", "alternative", "report"})
    for name, section in dumped.items():
        apart = ("cable", "shade", "extension", "fault", "monthly", "columns", *WATER_PARTS)
        expected = {f"{name}.{key}" for key in section or () if key not in apart}
        assert expected <= shown
    for name in WATER_PARTS:
        parts = dumped["water"][name]
        assert {f"water.{name}.{key}" for key in (parts[0] if isinstance(parts, tuple) else parts)} <= shown
    assert {f"{owner}.cable.area_mm2" for owner in ("panel", "battery", "pump")} <= shown
    controller = settings_of(result.scenario, result.weather)[0]
    values = {row.remark: row.value for row in controller.rows}
    assert values["controller.load_disconnect_v"] == f"{result.scenario.controller.load_disconnect_v:g} V"


def test_a_setting_is_named_by_its_own_field(result: YearResult, html: str) -> None:
    """Keys of one name in several sections have the words of their own: a fitting is no kind of controller."""
    named = re.findall(r"<dt>([^<]*) <code>([^<]*[.]kind)</code></dt><dd>([^<]*)</dd>", html)
    assert ("kind of controller", "controller.kind", "pwm") in named
    assert ("kind of fitting", "water.fittings.kind", "elbow") in named
    assert ("kind of outlet", "water.outlet.kind", "air-break") in named
    assert all(words.endswith("controller") == key.startswith("controller") for words, key, _ in named)


def test_what_is_simulated_is_not_denied(result: YearResult, html: str) -> None:
    """Snow, dirt and faults are said to be there where the scenario names them, and not to be where it does not."""
    fault = Fault(kind="pump-clog", mean_days_between=60.0, repair_h=30.0)
    care = Care(snow=(("01-10", "01-14"),), soiling_per_month=0.04, fault=(fault,))
    cared = replace(result, scenario=result.scenario.model_copy(update={"care": care}))
    told = text_of(parts_of(cared, assumptions.section))
    assert "Snow lies on the panel on the days" in told and "new dirt takes 4.0% of the light a month" in told
    assert "by chance (pump clog)" in told and "nothing broken" not in told and "a clean panel" not in told
    assert "No snow lies on the panel" in html and "Nothing breaks" in html and "a clean panel" in html


def test_thresholds_are_named_in_the_fortnight(result: YearResult, html: str) -> None:
    """Both thresholds are drawn with their voltage."""
    drawn = re.search(r"<svg[^>]*fortnight-title.*?</svg>", html, re.DOTALL)
    said = text_of(drawn[0]) if drawn else ""
    control = result.scenario.controller
    assert f"reconnect {control.load_reconnect_v:g} V" in said and f"disconnect {control.load_disconnect_v:g} V" in said


def test_weather_source_and_notes(result: YearResult, html: str) -> None:
    """The weather's source, licence and every note are in the report."""
    said = text_of(html)
    assert all(words in said for words in (result.weather.source, result.weather.licence, *result.weather.notes))


def test_words_that_promise_too_much_are_absent(html: str) -> None:
    """No hour is guaranteed and no battery percentage is read off a voltage."""
    said = text_of(html).lower()
    assert "guaranteed" not in said and "battery %" not in said


# In a browser


def test_no_console_errors(tmp_path: Path, html: str) -> None:
    """A browser opens the report without a complaint."""
    page = tmp_path / "page.html"
    page.write_text(html, encoding="utf-8")
    shown = browse(page)
    assert "What else is in this report" in shown.dom and shown.console == []


def test_no_sideways_scroll_on_a_small_screen(tmp_path: Path, by_title: Callable[[str], str]) -> None:
    """At 320 pixels nothing sticks out to the side, with the longest title, as it comes and with every table open."""
    assert widths_at_320(tmp_path, by_title(TITLES["300 letters"])) == [320, 320]


def test_a_fading_battery_has_a_section_of_its_own(result: YearResult, html: str) -> None:
    """Each year's capacity and hours, and when a new battery comes; not for a single year."""
    years = (
        AgedYear(1, 0.0, 0.9, 100.0, 7809.0, 0.942, 93.0, 0.6, 5000.0),
        AgedYear(2, 0.9, 1.8, 82.0, 7700.0, 0.931, 95.0, 0.6, 5000.0),
        AgedYear(3, 0.0, 0.9, 100.0, 7809.0, 0.942, 93.0, 0.6, 5000.0),
    )
    text = parts_of(replace(result, aged=years), battery.fading)
    assert "A new battery at the beginning of year 3." in text and "7,700" in text
    assert 'id="fading"' in text and 'id="fading"' not in html


def test_prices_are_shown_where_there_are_any(result: YearResult, html: str) -> None:
    """Those that the scenario names, and nothing of those it leaves out."""
    cost = Cost(currency="EUR", panel_per_w=1.5)
    priced = parts_of(replace(result, scenario=result.scenario.model_copy(update={"cost": cost})), settings.section)
    assert "<code>cost.panel_per_w</code>" in priced and "<code>cost.battery_per_ah</code>" not in priced
    assert "<code>cost." not in html
