"""The pairs' report: what it recommends, that every pair can be read without script and explored with it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from html import unescape
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from browser import browse, widths_at_320
from kit.pages import TITLES, cells_of, text_of, without_foot
from kit.readers import apart, mixed
from made_up_pairs import DAYS, made_up, made_up_pair

from sim.catalogue import chemistries
from sim.report.maps import Ground
from sim.report.pair_figures import MEASURES, bands_by_volts, ground_of, opacities
from sim.report.pair_words import COLUMNS, band_words, cells, pair_name
from sim.report.pairs import explored, pairs_report
from sim.report.sheet import LOAD_MODES, sheet_of
from sim.scenario.models import Controller
from sim.studies.pairs import PairsResult

HEADINGS = (
    "Which two voltages?",
    "What else is in this report",
    "Every pair at a glance",
    "Pair by pair",
    "What your controller really sees",
    "How far apart they must be",
    "Which pairs are steady",
    "Other ways to control the load",
    "Settings sheet",
    "Assumptions and weather",
    "Cautions",
)
CHARTS = ("pair-months", *(f"pairs-{measure.key}" for measure in MEASURES), "bands", "gap")


@pytest.fixture(scope="module")
def result() -> PairsResult:
    """A study of some 300 pairs."""
    return made_up()


@pytest.fixture(scope="module")
def html(result: PairsResult) -> str:
    """Its report."""
    return pairs_report(result)


@pytest.fixture(scope="module")
def by_title(result: PairsResult) -> Callable[[str], str]:
    """Its report under other titles."""
    return cache(
        lambda title: pairs_report(replace(result, scenario=result.scenario.model_copy(update={"title": title})))
    )


@pytest.fixture(scope="module")
def steady(result: PairsResult) -> str:
    """The report of a study in which every pair is steady, and no cut-off comes early."""
    present = replace(result.present, early_cut_off_share=0.0)
    return pairs_report(
        replace(result, pairs=tuple(replace(pair, steady=True) for pair in result.pairs), present=present)
    )


def section(html: str, key: str) -> str:
    """A section of the page, as HTML."""
    return html.split(f'<h2 id="{key}">')[1].split("</section>")[0]


def rows_of(html: str) -> list[list[str]]:
    """The rows of the first table's body, as text."""
    rows = re.findall(r"<tr>(.*?)</tr>", html.split("<tbody>")[1].split("</tbody>")[0], re.DOTALL)
    return [[text_of(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in rows]


def data_of(html: str) -> dict[str, object]:
    """What the page's script reads."""
    found = re.findall(r'<script type="application/json" id="pairs-data">(.*?)</script>', html, re.DOTALL)
    data = json.loads(found[0])
    assert len(found) == 1 and isinstance(data, dict)
    return data


def plain(text: str) -> str:
    """Text with ordinary spaces, as a reader sees it."""
    return " ".join(text.split())


def test_same_study_same_bytes(html: str) -> None:
    """A report is byte-identical when the study is made again."""
    assert pairs_report(made_up()) == html


def test_self_contained(html: str) -> None:
    """A report needs no network, fetches nothing, and stays under a megabyte."""
    without_names = html.replace("http://www.w3.org/2000/svg", "")
    assert "http" not in without_names and "@import" not in html and "<script src" not in html
    assert not re.search(r"\b(fetch|XMLHttpRequest|import|eval|innerHTML)\b *\(?", html.split("pairs-data")[-1])
    assert len(html.encode()) < 1_000_000


def test_headings(html: str) -> None:
    """Every section is there, once, and the answer comes first."""
    assert tuple(re.findall(r'<h2 id="[^"]+">([^<]+)</h2>', html)) == HEADINGS


def test_ids_are_unique(html: str) -> None:
    """No two elements share an id, and every reference to one is met."""
    page = html.split("<script>")[0]
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    named = {
        name
        for names in re.findall(r'(?:aria-(?:labelledby|describedby)|for)="([^"]+)"', page)
        for name in names.split()
    }
    assert named | set(re.findall(r"url\(#([^)]+)\)", page)) <= set(ids)


def test_recommendation_comes_first(result: PairsResult, html: str) -> None:
    """The first section names both pairs, every reason and every change, in plain sentences."""
    said = text_of(section(html, "h-which"))
    assert "switch the pump off at 12.5 V and on again at 13.4 V, instead of 12.2 V and 13.1 V" in said
    assert all(words in said for words in (*result.reasons, *result.changes))
    assert "an estimate, not a guarantee" in said


def test_compared_pairs(result: PairsResult, html: str) -> None:
    """Present and recommended pair stand side by side with all their figures."""
    rows = rows_of(section(html, "h-which"))
    expected = zip(COLUMNS, cells(result.present), cells(result.recommended), strict=True)
    assert rows == [[column.name, plain(now), plain(best)] for column, now, best in expected]


def test_keeping_the_present_pair(result: PairsResult) -> None:
    """Where the present pair is the recommended one, the report says to leave it, and marks one place."""
    page = pairs_report(replace(result, recommended=result.present, changes=()))
    assert "Leave the two voltages as they are" in page and "What changes" not in page
    assert ">present and recommended</text>" in page


def test_an_unsteady_pair_is_a_caution(result: PairsResult, html: str) -> None:
    """What makes the present pair unsteady is said beside the recommendation, and nothing where both are steady."""
    unsteady = made_up_pair(12.8, 13.1)
    said = text_of(section(pairs_report(replace(result, present=unsteady)), "h-which"))
    assert f"The present pair, 12.8 / 13.1 V, is unsteady: {unsteady.unsteady_because[0]}." in said
    assert "unsteady" not in text_of(section(html, "h-which"))


@pytest.mark.parametrize("title", TITLES.values(), ids=TITLES.keys())
def test_hostile_titles_are_text(by_title: Callable[[str], str], html: str, title: str) -> None:
    """Whatever a title holds, it is shown as text and the rest of the page stays the same."""
    page = by_title(title)
    written = re.findall(r"<h1[^>]*><bdi>(.*?)</bdi></h1>", page, re.DOTALL)[0]
    own = re.findall(r"<h1[^>]*><bdi>(.*?)</bdi></h1>", html, re.DOTALL)[0]
    assert unescape(written) == title and "<" not in written
    page, html = without_foot(page), without_foot(html)
    assert page.replace(written, "").replace('<h1 class="long">', "<h1>") == html.replace(own, "")


def test_data_cannot_end_its_element(result: PairsResult) -> None:
    """Words with markup in them reach the script as they are, and cannot end the element they stand in."""
    words = '</script><img src=x onerror="alert(1)"><!--'
    first = replace(result.pairs[0], steady=False, unsteady_because=(words,))
    page = pairs_report(replace(result, pairs=(first, *result.pairs[1:])))
    pairs = data_of(page)["pairs"]
    assert isinstance(pairs, list) and words in pairs[0]["figures"][-1]
    assert words not in page and page.count("</script>") == 2


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.key)
def test_map_tables_hold_every_pair(result: PairsResult, html: str, measure: object) -> None:
    """The table behind a map has every pair's value in its place, and marks the unsteady ones."""
    assert measure in MEASURES
    key, words, value = measure.key, measure.words, measure.value  # type: ignore[attr-defined]
    behind = html.split(f'id="pairs-{key}-title"')[1].split("<details>")[1]
    head = [text_of(cell) for cell in re.findall(r'<th scope="col">(.*?)</th>', behind.split("</thead>")[0])][1:]
    shown = {
        (off, row[0]): cell for row in cells_of(html, f"pairs-{key}") for off, cell in zip(head, row[1:], strict=True)
    }
    for pair in result.pairs:
        at = f"{pair.load_disconnect_v:.4g} V", f"{pair.load_reconnect_v:.4g} V"
        assert shown.pop(at) == words(value(pair)) + ("" if pair.steady else "*")
    assert set(shown.values()) == {""}


def test_every_pair_is_readable_without_script(result: PairsResult, html: str) -> None:
    """All figures and all months of every pair stand in tables."""
    figures, months = section(html, "h-pairs").split("<details>")[1:]
    assert rows_of(figures) == [[plain(cell) for cell in (pair_name(pair), *cells(pair))] for pair in result.pairs]
    for row, pair in zip(rows_of(months), result.pairs, strict=True):
        assert row[0] == plain(pair_name(pair))
        assert sum(float(cell) * days for cell, days in zip(row[1:], DAYS, strict=True)) == pytest.approx(
            pair.pump_hours, abs=0.05 * 365
        )


def test_script_data_equals_the_tables(result: PairsResult, html: str) -> None:
    """What the script shows of a pair is what the tables say of it."""
    data = data_of(html)
    assert data == json.loads(json.dumps(explored(result)))
    pairs = data["pairs"]
    assert isinstance(pairs, list) and [pair["figures"] for pair in pairs] == [cells(pair) for pair in result.pairs]
    assert pairs[data["present"]]["name"] == pair_name(result.present)
    assert pairs[data["recommended"]]["name"] == pair_name(result.recommended)


def test_a_present_pair_off_the_grid(result: PairsResult) -> None:
    """A present pair between and beyond the grid's steps is marked where it lies, and the axes reach it."""
    data = explored(replace(result, present=made_up_pair(11.35, 13.15)))
    assert len(data["pairs"]) == data["cells"] + 1 == len(result.pairs) + 1
    assert data["present"] == data["cells"] and data["pairs"][-1]["at"] == (0.5, 5.5) and data["offs"][0] == 11.3
    assert data["pairs"][0]["at"] == (3.0, 0.0)


def test_bands_are_never_a_single_figure(result: PairsResult, html: str) -> None:
    """Every voltage is a band of charge at rest, under the pump's load and under charge, drawn and in a table."""
    rows = cells_of(html, "bands")
    assert len(rows) == len(result.bands)
    for (name, reads, words, band), expected in zip(rows, result.bands, strict=True):
        assert reads == f"{expected.volts:.4g} V" and f"{name}, {words}" == expected.words
        low, high = map(int, re.findall(r"\d+", band))
        assert low < high and low <= expected.soc_low * 100 and expected.soc_high * 100 <= high
    assert "battery %" not in text_of(html).lower() and "guaranteed" not in text_of(html).lower()


def test_bands_of_one_voltage_stand_together(result: PairsResult) -> None:
    """Bands in any order are grouped by voltage; where two thresholds share one, each condition stands once."""
    again = tuple(replace(band, words=band.words.replace("present", "recommended")) for band in result.bands)
    grouped = bands_by_volts(result.bands[::2] + result.bands[1::2] + again)
    assert {volts: len(group) for volts, group in grouped.items()} == {12.2: 3, 13.1: 3}
    assert band_words(0.349, 0.351) == "34–36 %"


def test_fooled_restarts_are_said(result: PairsResult, html: str, steady: str) -> None:
    """How many restarts a charging battery makes below 40 %, and how many cut-offs come early, is in the report."""
    said = text_of(section(html, "h-sees"))
    lifted, early = result.present.lifted_restart_share, result.present.early_cut_off_share
    assert f"{lifted * 100:.0f} % of the present pair's restarts in the year are made by a charging battery" in said
    assert f"{early * 100:.0f} % of its cut-offs come early" in said
    assert "None of its cut-offs come early" in text_of(steady) and "None of its" not in text_of(html)


def test_a_flat_map_is_a_sentence(result: PairsResult, html: str) -> None:
    """Where every pair has the same battery life there is no map of it, but a sentence."""
    same = tuple(replace(pair, life_years_low=10.0) for pair in result.pairs)
    page = pairs_report(replace(result, pairs=same, present=replace(result.present, life_years_low=10.0)))
    assert "Battery life, lower end in years: 10.0 with every pair." in page and "pairs-life-title" not in page
    assert "pairs-life-title" in html and "with every pair" not in html


def test_needed_gap_adds_up(result: PairsResult, html: str) -> None:
    """Rebound, which is what the pump had pulled down, and margin add up to the gap that is needed."""
    sag, rebound, margin, needed, *gaps = (float(row[1]) for row in cells_of(html, "gap"))
    assert sag == rebound and rebound + margin == pytest.approx(needed) == pytest.approx(result.needed_gap_v)
    assert gaps == [0.9, 0.9]


def test_limits_and_controls(result: PairsResult, html: str) -> None:
    """The limits of steadiness and every way to control the load are in the report."""
    assert all(limit in text_of(section(html, "h-steady")) for limit in result.limits)
    steady = sum(pair.steady for pair in result.pairs)
    assert f"{steady} of the {len(result.pairs)} pairs are steady" in text_of(section(html, "h-steady"))
    assert [row[0] for row in rows_of(section(html, "h-control"))] == [control.name for control in result.controls]


def test_settings_sheet(result: PairsResult, html: str) -> None:
    """The sheet holds both voltages before and after, charge set-points, delays, load mode, battery, and blanks."""
    rows = {row[0]: row[1:] for row in rows_of(section(html, "h-sheet"))}
    assert rows["Load disconnect voltage (LVD)"] == ["12.2 V", "12.5 V", ""]
    assert rows["Load reconnect voltage (LVR)"] == ["13.1 V", "13.4 V", ""]
    assert rows["Absorption voltage"] == ["14.4 V", "14.4 V", ""] and rows["Float voltage"][1] == "13.6 V"
    assert rows["Disconnect delay"][1] == "30 s" and rows["Reconnect delay"][1] == "120 s"
    assert rows["Load mode"][1] == LOAD_MODES["always"] and rows["Battery type"][1] == chemistries()["lfp"]["words"]
    assert all(blank in section(html, "h-sheet") for blank in ("Date set", "Set by (signature)"))
    assert re.search(r"@media print\{[^@]*#sheet\{break-before:page;break-after:page", html)


@pytest.mark.parametrize(
    ("update", "words"),
    [
        (
            {"load_mode": "clock", "load_windows": (("08:00", "18:00"),)},
            "by the clock, and the two voltages (08:00–18:00)",
        ),
        ({"load_mode": "after-dusk"}, "for some hours after dusk, and the two voltages (4 h)"),
    ],
    ids=["clock", "after dusk"],
)
def test_load_mode_in_words(result: PairsResult, update: dict[str, object], words: str) -> None:
    """A load mode with times or hours says them."""
    controller = result.scenario.controller.model_copy(update=update)
    changed = replace(result, scenario=result.scenario.model_copy(update={"controller": controller}))
    assert ("Load mode", words, words, "") in sheet_of(changed).rows


def test_every_load_mode_has_words() -> None:
    """No load mode that a scenario may set is without words."""
    assert set(LOAD_MODES) == set(Controller.model_fields["load_mode"].annotation.__args__)  # type: ignore[union-attr]


@pytest.mark.parametrize("key", CHARTS)
def test_charts_are_accessible(html: str, key: str) -> None:
    """Each chart is an image with a title and a description, scales, and has its numbers in a table."""
    drawn = re.search(rf'<svg[^>]*aria-labelledby="{key}-title {key}-desc".*?</svg>', html, re.DOTALL)
    assert drawn and 'role="img"' in drawn[0] and "viewBox=" in drawn[0]
    tree = ElementTree.fromstring(drawn[0].replace("<svg", '<svg xmlns:xlink="x"', 1))
    assert tree.findtext("title") and tree.findtext("desc")
    assert not re.findall(r"(?:fill|stroke): ?#[0-9a-f]+", drawn[0])
    assert cells_of(html, key)


@pytest.mark.parametrize("measure", MEASURES, ids=lambda measure: measure.key)
def test_maps_mark_both_pairs_and_hatch_the_unsteady(html: str, steady: str, measure: object) -> None:
    """A map names both marks and hatches the unsteady pairs, and hatches nothing where all are steady."""
    key = measure.key  # type: ignore[attr-defined]
    pattern = rf"<svg[^>]*pairs-{key}-title.*?</svg>"
    drawn = re.findall(pattern, html, re.DOTALL)[0]
    assert ">present</text>" in drawn and ">recommended</text>" in drawn and "<pattern" in drawn
    assert "<pattern" not in re.findall(pattern, steady, re.DOTALL)[0]


def test_opacity_follows_the_measure(result: PairsResult) -> None:
    """The fuller the colour, the greater the figure, for evenly and for logarithmically drawn measures."""
    for measure in MEASURES:
        values = np.array([measure.value(pair) for pair in result.pairs])
        opaque = opacities(measure, result.pairs)
        assert opaque.min() > 0 and opaque.max() == pytest.approx(1.0)
        assert (np.diff(opaque[np.argsort(values)]) >= -1e-12).all()


def test_a_single_pair_has_a_report(result: PairsResult) -> None:
    """A grid of one pair, without changes, bands or other controls, still makes a page."""
    only = result.present
    page = pairs_report(replace(result, pairs=(only,), recommended=only, changes=(), controls=()))
    assert "1 of the 1 pairs are steady" in page


def test_ground_finds_the_step() -> None:
    """The grid's step is the smallest distance of neighbours, whatever it is."""
    at = (11.0, 13.0)
    ground = Ground(np.array([11.0, 11.25, 11.5]), np.array([13.0, 13.0, 13.25]), np.ones(3, bool), at, at)
    assert ground.step_v == pytest.approx(0.25) and ground.place(11.5, 13.25) == (2.0, 1.0)


@pytest.mark.parametrize(
    ("present", "recommended", "above"),
    [
        ((12.2, 13.1), (12.5, 13.4), (False, True)),
        ((12.2, 13.4), (12.5, 13.1), (True, False)),
        ((12.2, 13.1), (12.2, 13.1), (True, False)),
        ((12.2, 12.3), (12.1, 12.4), (True, True)),
        ((12.2, 13.1), (12.2, 14.0), (True, True)),
    ],
    ids=["present lower", "recommended lower", "the same", "no room below", "far apart"],
)
def test_names_keep_clear(
    result: PairsResult, present: tuple[float, float], recommended: tuple[float, float], above: tuple[bool, bool]
) -> None:
    """The lower one of two close marks has its name below, unless the axis is there."""
    moved = replace(result, present=made_up_pair(*present), recommended=made_up_pair(*recommended))
    assert ground_of(moved).named_above == above


@pytest.mark.parametrize(
    ("hours", "shortest", "words"),
    [(0.0, None, "never ran"), (8760.0, None, "never stopped"), (900.0, 1 / 120, "30 s"), (900.0, 0.5, "30 min")],
)
def test_shortest_run(result: PairsResult, hours: float, shortest: float | None, words: str) -> None:
    """A pump that never ran and one that never stopped are told apart; short runs are in seconds or minutes."""
    assert words in cells(replace(result.present, pump_hours=hours, shortest_run_h=shortest))


# In a browser

HARNESS = """
<iframe src="page.html" width="{width}" height="3000" style="border:0"></iframe><pre id="found"></pre>
<script>
"use strict";
document.querySelector("iframe").addEventListener("load", (loaded) => {{
  const page = loaded.target.contentDocument, view = loaded.target.contentWindow;
  const byId = (id) => page.getElementById(id), map = byId("explore-map"), found = {{}};
  const note = (name) => {{
    found[name] = {{
      name: byId("explore-name").textContent, said: byId("explore-said").textContent,
      figures: [...page.querySelectorAll("#explore-figures dd")].map((cell) => cell.textContent),
      months: [...page.querySelectorAll("#explore-months td:last-child")].map((cell) => cell.textContent),
      widths: [...page.querySelectorAll("#explore-months .bar")].map((bar) => bar.style.width),
    }};
  }};
  const press = (key) => map.dispatchEvent(new view.KeyboardEvent("keydown", {{key, bubbles: true, cancelable: true}}));
  const svg = map.querySelector("svg"), frame = svg.getBoundingClientRect();
  const cells = [...svg.querySelectorAll('rect[fill="var(--water)"]')];
  const point = (kind, index) => {{
    const cell = cells[index].getBoundingClientRect();
    const at = {{bubbles: true, clientX: cell.left + cell.width / 2, clientY: cell.top + cell.height / 2}};
    cells[index].dispatchEvent(new view[kind === "click" ? "MouseEvent" : "PointerEvent"](kind, at));
  }};
  {steps}
  found.cells = cells.length;
  found.without = byId("explore-without").hidden;
  found.focusable = (map.focus(), page.activeElement === map);
  found.fetched = view.performance.getEntriesByType("resource").map((entry) => entry.name);
  found.wide = page.documentElement.scrollWidth;
  document.getElementById("found").textContent = JSON.stringify(found);
}});
</script>
"""
STEPS = """
  note("start");
  press("ArrowRight"); note("right");
  press("ArrowUp"); note("up");
  press("ArrowLeft"); press("ArrowDown"); note("back");
  press("p"); note("present");
  press("R"); note("recommended");
  point("pointermove", 0); note("hovered");
  svg.dispatchEvent(new view.PointerEvent("pointerleave")); note("left");
  point("click", cells.length - 1); note("clicked");
  press("ArrowRight"); note("edge");
  const before = cells.map((cell) => cell.getAttribute("fill-opacity"));
  byId("explore-measure").value = "1";
  byId("explore-measure").dispatchEvent(new view.Event("change"));
  found.recoloured = cells.filter((cell, k) => cell.getAttribute("fill-opacity") !== before[k]).length;
"""


def explore(tmp_path: Path, html: str, steps: str = STEPS, width: int = 1000) -> dict[str, dict[str, object]]:
    """What a browser finds in the page while it is driven by keys and pointer; no complaint on its console."""
    (tmp_path / "page.html").write_text(html, encoding="utf-8")
    harness = tmp_path / "harness.html"
    harness.write_text(HARNESS.format(steps=steps, width=width), encoding="utf-8")
    shown = browse(harness)
    assert shown.console == []
    found = json.loads(unescape(re.findall(r'<pre id="found">(.*?)</pre>', shown.dom, re.DOTALL)[0]))
    assert isinstance(found, dict)
    return found


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory, html: str) -> dict[str, Any]:
    """What the page shows along the steps."""
    return explore(tmp_path_factory.mktemp("explored"), html)


def test_exploring_by_keyboard_and_pointer(result: PairsResult, found: dict[str, Any]) -> None:
    """Arrow keys, letters, pointer and clicks each show the pair they lead to, with its figures and twelve months."""
    expected = {
        "start": result.recommended,
        "right": made_up_pair(12.6, 13.4),
        "up": made_up_pair(12.6, 13.5),
        "back": result.recommended,
        "present": result.present,
        "recommended": result.recommended,
        "hovered": result.pairs[0],
        "left": result.recommended,
        "clicked": result.pairs[-1],
        "edge": result.pairs[-1],
    }
    for step, pair in expected.items():
        shown = found[step]
        assert shown["name"].startswith(f"Off / on at {pair_name(pair)}"), step
        assert shown["figures"] == cells(pair), step
        months = np.array(pair.pump_hours_by_month) / DAYS
        assert shown["months"] == [f"{value:.1f}" for value in months], step
        assert [float(width.rstrip("%")) for width in shown["widths"]] == pytest.approx(months / 0.24, abs=0.21), step
    assert "(present)" in found["present"]["name"] and "(recommended)" in found["start"]["name"]
    assert found["cells"] == len(result.pairs) and found["recoloured"] > len(result.pairs) / 2


def test_exploring_is_heard(found: dict[str, Any]) -> None:
    """A chosen pair is said in a sentence with its months; one that is only pointed at is not."""
    assert found["start"]["said"] == ""
    assert found["right"]["said"].startswith("Disconnect 12.6 volts, reconnect 13.4 volts:")
    assert "Jan 1.6, Feb" in found["right"]["said"]
    assert found["hovered"]["said"] == found["recommended"]["said"] and "(recommended)" in found["left"]["said"]


def test_no_requests(found: dict[str, Any]) -> None:
    """The page hides its sentence about script, takes the focus, and asks for nothing outside itself."""
    assert found["without"] is True and found["focusable"] is True
    assert [name for name in found["fetched"] if not name.startswith("data:")] == []


def test_no_sideways_scroll_on_a_small_screen(tmp_path: Path, by_title: Callable[[str], str]) -> None:
    """At 320 pixels nothing sticks out to the side, with the longest title, as it comes and with every table open."""
    assert widths_at_320(tmp_path, by_title(TITLES["300 letters"])) == [320, 320]


def test_without_script_nothing_is_missing(tmp_path: Path, html: str) -> None:
    """Where no script runs, the map to move along stays away and a sentence points to the tables."""
    (tmp_path / "page.html").write_text(html, encoding="utf-8")
    frame = tmp_path / "frame.html"
    frame.write_text(
        '<iframe src="page.html" sandbox="allow-same-origin" onload="const page = this.contentDocument;'
        " document.title = page.getElementById('explore').hidden + ' ' + "
        "page.getElementById('explore-without').hidden\"></iframe>",
        encoding="utf-8",
    )
    dom = browse(frame).dom
    assert re.findall(r"<title>(.*?)</title>", dom) == ["true false"]


def test_us_units(result: PairsResult, html: str) -> None:
    """In US units no other unit stands in it, and every figure is the same."""
    read = pairs_report(replace(result, scenario=result.scenario.but(report={"units": "us"})))
    assert mixed(read, "us") == [] and mixed(html, "metric") == [] and list(apart(html, read)) == []
