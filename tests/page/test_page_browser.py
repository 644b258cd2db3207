"""The page in a real Chromium: a whole piece of work, both voltages by pointer and keys, nothing lost."""

from __future__ import annotations

import json
import os
import shutil
import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser import checked, needs_browser
from kit.chromium import Tab, browser
from kit.serving import serving

from sim.scenario import load
from sim.studies.year import simulate_year

COURTYARD = Path(__file__).parents[2] / "scenarios" / "courtyard.toml"
OFF, ON = "controller.load_disconnect_v", "controller.load_reconnect_v"
READY = "document.readyState === 'complete' && document.querySelector('main[data-ready=yes] [data-figure]')"
STEP_V = 0.01  # of a handle
MOST_S = 120.0  # from an empty start to a report


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the courtyard's scenario."""
    needs_browser()
    place = tmp_path_factory.mktemp("ponds")
    shutil.copy(COURTYARD, place / "courtyard.toml")
    return place


@pytest.fixture(scope="module")
def address(folder: Path) -> Iterator[str]:
    """Where the page serves that folder."""
    with serving(folder) as (printed, _):
        assert printed.startswith("http://127.0.0.1:")
        yield printed


@pytest.fixture(scope="module")
def tab(address: str) -> Iterator[Tab]:
    """A tab in which the page is open and compiled."""
    with browser() as made:
        made.open(address)
        made.open(address.replace("/?", "/system/courtyard?"))
        made.until(f"Boolean({READY})")
        yield made
        assert not made.errors, made.errors
        host = address.split("/?")[0]
        assert {url for url in made.requests if not url.startswith((host, "data:", "about:", "blob:"))} == set()


def figure(tab: Tab, key: str) -> float:
    """A figure of the page by its result key."""
    return float(tab.ask(f"document.querySelector('[data-figure=\"{key}\"]').value"))


def handle(tab: Tab, key: str) -> float:
    """Where the handle of a threshold stands, V."""
    return float(tab.ask(f"document.getElementById('r-{key}').value"))


def settled(tab: Tab, key: str, value: str) -> None:
    """Wait until a field has a value and the answer to it is there."""
    tab.until(f"document.getElementById('f-{key}').value === '{value}' && !document.querySelector('.stale')")


def shown(tab: Tab, folder: Path) -> None:
    """The page shows what the year's study gives for the state on disk."""
    tab.until("document.documentElement.dataset.unsent === '0'")
    text = json.loads((folder / ".courtyard.state").read_text())
    (folder / "as-shown.txt").write_text(text["texts"][text["at"]], "utf-8")
    found = simulate_year(load(folder / "as-shown.txt")).measures
    tab.until(f"Number(document.querySelector('[data-figure=\"pump_hours\"]').value) === {found.pump_hours!r}")


def test_both_voltages_by_pointer_and_by_keys(tab: Tab, folder: Path) -> None:
    """A handle that is drawn or moved by arrow keys changes the year, and undo brings both back."""
    before = figure(tab, "pump_hours")
    for key, share, arrow, turned_v in ((OFF, 0.35, "ArrowLeft", -0.03), (ON, 0.7, "ArrowRight", 0.05)):
        start = handle(tab, key)
        tab.drag(f"[id='r-{key}']", share)
        tab.until(f"document.getElementById('f-{key}').value !== '{start:g}'")
        drawn = handle(tab, key)
        assert abs(drawn - start) > 0.1
        tab.ask(f"document.getElementById('r-{key}').focus()")
        tab.press(arrow, round(abs(turned_v) / STEP_V))
        tab.until(f"Number(document.getElementById('f-{key}').value) === {round(drawn + turned_v, 2)}")
        shown(tab, folder)
        state = json.loads((folder / ".courtyard.state").read_text())
        assert f"{key.rpartition('.')[2]} = {drawn + turned_v:.4g}" in state["texts"][state["at"]]
    assert figure(tab, "pump_hours") != before
    while tab.ask("!document.querySelector('[value=undo]').disabled"):
        serial = tab.ask("document.querySelector('[name=_seen]').value")
        tab.click("[value=undo]")
        tab.until(f"document.querySelector('[name=_seen]').value !== '{serial}'")
    tab.until(f"Number(document.querySelector('[data-figure=\"pump_hours\"]').value) === {before!r}")


def test_a_wrong_value_is_told_beside_its_field(tab: Tab) -> None:
    """The error is tied to the field for a screen reader, and goes when the value is right."""
    tab.type("[id='f-panel.tilt_deg']", "95")
    field = "document.getElementById('f-panel.tilt_deg')"
    tab.until(f"{field}.getAttribute('aria-invalid') === 'true'")
    said = tab.ask(f"{field}.ariaDescribedByElements.map(it => it.textContent).join()")
    assert "panel.tilt_deg = 95: allowed is a number from 0 to 90" in said
    tab.type("[id='f-panel.tilt_deg']", "40")
    tab.until(f"!{field}.hasAttribute('aria-invalid')")
    tab.until("document.getElementById('heard').textContent.includes('hours')")


def test_designs_side_by_side_and_a_second_tab(tab: Tab, address: str, folder: Path) -> None:
    """A kept design stays beside the one at hand; a reload and a second tab show the same state, and both go on."""
    tab.type("#keep-name", "steep")
    tab.type("[id='f-panel.tilt_deg']", "65")
    settled(tab, "panel.tilt_deg", "65")
    tab.click("[value=keep]")
    tab.until("document.querySelectorAll('.kept tbody tr').length === 2")
    hours = figure(tab, "pump_hours")
    tab.open(address.replace("/?", "/system/courtyard?"))
    assert figure(tab, "pump_hours") == hours
    assert tab.ask("document.getElementById('f-panel.tilt_deg').value") == "65"
    assert tab.ask("document.querySelector('.kept').textContent").count("steep") == 1
    with tab.beside() as second:
        second.open(address.replace("/?", "/system/courtyard?"))
        assert figure(second, "pump_hours") == hours
        second.type("[id='f-pump.power_w']", "22")
        settled(second, "pump.power_w", "22")
        second.until("document.documentElement.dataset.unsent === '0'")
    tab.type("[id='f-battery.capacity_ah']", "70")
    settled(tab, "pump.power_w", "22")
    shown(tab, folder)


def test_from_an_empty_start_to_a_saved_scenario_and_report(tab: Tab, address: str, folder: Path) -> None:
    """Describe, fill in, save, ask for the year's report: within two minutes of scripted use."""
    began = time.monotonic()
    tab.open(address)
    tab.type("#new-name", "goose pond")
    tab.click("form[action='/begin'] button")
    tab.until("location.pathname === '/system/goose%20pond' && document.readyState === 'complete'")
    for key, value in {"title": "Goose pond", "battery.capacity_ah": "75", "pump.power_w": "15"}.items():
        tab.type(f"[id='f-{key}']", value)
    tab.until("document.querySelector('[data-part=trail]').textContent.includes('Not saved yet')")
    settled(tab, "pump.power_w", "15")
    tab.click("[value=save]")
    tab.until("document.querySelector('[data-part=trail]').textContent.includes('The file says the same')")
    saved = load(folder / "goose pond.toml")
    assert (saved.title, saved.battery.capacity_ah, saved.pump.power_w) == ("Goose pond", 75, 15)
    tab.click("[value='study year']")
    link = tab.until("(document.querySelector('a[href^=\"/report/\"]') || {}).href")
    tab.open(link)
    assert "Goose pond" in tab.ask("document.title")
    took = time.monotonic() - began
    print(f"from an empty start to a report: {took:.0f} s")
    assert took < MOST_S


def test_a_study_is_stopped(tab: Tab, address: str) -> None:
    """Many years are asked for, show how far they are and how long it takes, and end at the press of a button."""
    tab.open(address.replace("/?", "/system/courtyard?"))
    tab.click("[value='study spread']")
    tab.until("Boolean(document.querySelector('[data-part=studies] progress[value]'))")
    tab.ask("document.querySelector('[data-part=studies] [value^=\"stop \"]').focus()")
    tab.press("Enter")
    tab.until("document.querySelector('[data-part=studies]').textContent.includes('Stopped')")
    assert not tab.ask("document.querySelector('[data-part=studies] progress')")


def test_a_keyboard_is_enough(tab: Tab, address: str) -> None:
    """Tab leads from the page's top through its fields, each seen and named, and typing there changes the answer."""
    tab.open(address.replace("/?", "/system/courtyard?"))
    names = []
    while (field := tab.ask("document.activeElement.id")) != "f-panel.tilt_deg":
        tab.press("Tab")
        names.append(field)
        assert tab.ask("document.activeElement.matches(':focus-visible')"), field
        assert len(names) < 200, names
    before = figure(tab, "pump_hours")
    for sign in ("1", "5"):
        tab.call("Input.insertText", text=sign)
    tab.until(f"Number(document.querySelector('[data-figure=\"pump_hours\"]').value) !== {before!r}")
    assert {"f-site.latitude_deg", "f-panel.power_w"} <= set(names)


@pytest.mark.parametrize(("scheme", "rules"), [("light", ()), ("dark", ("color-contrast",))])
@pytest.mark.parametrize("path", ["/", "/system/courtyard", "/system/none"])
def test_axe_finds_nothing(tab: Tab, address: str, path: str, scheme: str, rules: tuple[str, ...]) -> None:
    """No finding of the accessibility checker on any view, with every part opened, also with an error; in dark only
    the colours are others.
    """
    tab.call("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])
    tab.open(address.replace("/?", f"{path}?"))
    found = checked(tab, rules)
    assert found["broken"] == [] and found["passed"] > (0 if rules else 5)


def test_the_answer_is_always_in_view_and_covers_nothing(tab: Tab, address: str) -> None:
    """On a wide screen it stands beside whatever is worked on: the handles can be taken hold of."""
    tab.open(address.replace("/?", "/system/courtyard?"))
    for selector in (f"[id='r-{OFF}']", "[id='f-battery.capacity_ah']", "[value='study year']"):
        hit = f"""(() => {{ const it = document.querySelector({json.dumps(selector)});
            it.scrollIntoView({{block: "center"}});
            const box = it.getBoundingClientRect(), answer = document.querySelector(".answer").getBoundingClientRect();
            const there = document.elementFromPoint(box.left + box.width / 2, box.top + box.height / 2);
            return there === it && answer.top > -1 && answer.top < innerHeight / 2; }})()"""
        assert tab.ask(hit), selector


def test_it_fits_a_narrow_screen(tab: Tab, address: str) -> None:
    """At 320 px nothing reaches past the edge, and the answer is folded at the bottom."""
    metrics = {"width": 320, "height": 640, "deviceScaleFactor": 1, "mobile": True}
    tab.call("Emulation.setDeviceMetricsOverride", **metrics)
    for path in ("/", "/system/courtyard"):
        tab.open(address.replace("/?", f"{path}?"))
        assert tab.ask("document.documentElement.scrollWidth") <= 320
    assert tab.ask("!document.querySelector('.fold').open")
    assert tab.ask("document.querySelector('.answer').getBoundingClientRect().bottom") <= 641
    tab.call("Emulation.clearDeviceMetricsOverride")


def test_killed_while_typing_nothing_accepted_is_lost(folder: Path) -> None:
    """SIGKILL in the middle of typing and of a study: after the restart everything that was answered is there."""
    with serving(folder) as (printed, running), browser() as tab:
        tab.open(printed.replace("/?", "/system/courtyard?"))
        tab.click("[value='study spread']")
        for tilt in ("21", "22", "23"):
            tab.type("[id='f-panel.tilt_deg']", tilt)
            tab.until("document.querySelector('[name=_seen]').value && !document.querySelector('.wrong')")
            time.sleep(0.3)
        accepted = int(tab.ask("document.querySelector('[name=_seen]').value"))
        os.kill(running.pid, signal.SIGKILL)
    state = json.loads((folder / ".courtyard.state").read_text())
    assert state["first"] + state["at"] >= accepted
    with serving(folder) as (printed, _), browser() as tab:
        tab.open(printed.replace("/?", "/system/courtyard?"))
        assert tab.ask("document.getElementById('f-panel.tilt_deg').value") in ("21", "22", "23")
        assert not list(folder.glob("*.tmp"))
