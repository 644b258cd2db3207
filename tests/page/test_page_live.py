"""The live answer against the year of the command line, states that survive, designs and undo."""

from __future__ import annotations

import json
import socket
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from page.forms import figures_of
from sim.page.desk import Desk
from sim.page.live import SupersededError, Turns
from sim.page.server import listen
from sim.page.store import MOST_STATES, State, read_state
from sim.scenario import load
from sim.studies.year import simulate_year

ROOT = Path(__file__).parents[2]
CHANGES = {"x-sunrill": "changes"}


def at(data: Any, key: str) -> float:
    """A figure of a result by its dotted key."""
    for step in key.split("."):
        data = data[int(step)] if step.isdecimal() else data[step]
    return float(data)


def test_the_saved_file_gives_the_pages_figures_exactly(owner: TestClient, folder: Path) -> None:
    """Changed on the page, saved, run by the year's study: every figure is the same to its last digit."""
    owner.post("/system/courtyard", data={"panel.tilt_deg": "52", "care.soiling_per_month": "0.04"})
    page = owner.post("/system/courtyard", data={"battery.capacity_ah": "60", "do": "save"}).text
    shown = figures_of(page)
    result = simulate_year(load(folder / "courtyard.toml")).as_json()
    assert len(shown) == 17
    assert {key: float(value) for key, value in shown.items()} == {key: at(result, key) for key in shown}
    saved = load(folder / "courtyard.toml")
    assert (saved.panel.tilt_deg, saved.battery.capacity_ah) == (52, 60)
    assert "# the maple" in (folder / "courtyard.toml").read_text("utf-8")


def test_the_checks_are_those_of_the_year(owner: TestClient, folder: Path) -> None:
    """The short way leaves the twins out, and finds what the whole study finds."""
    found = simulate_year(load(folder / "courtyard.toml")).findings
    told = owner.get("/system/courtyard/answer").json()["parts"]["checks"]
    assert found and told.count('class="found') == len(found)


def test_the_figures_before_a_change_stay_as_a_ghost(owner: TestClient) -> None:
    """Bars and figures of the state before are shown behind those of now, and gone where nothing changed."""
    first = owner.get("/system/courtyard/answer").json()["parts"]
    told = owner.post("/system/courtyard", data={"pump.power_w": "30"}, headers=CHANGES).json()["parts"]
    assert "ghost" not in first["bars"] and told["bars"].count("ghost") == 12
    assert "was " in told["figures"] and "was " not in first["figures"]


def test_undo_redo_names_and_kept_designs(owner: TestClient, desk: Desk) -> None:
    """A state goes back and forth, gets a name and is gone back to; designs stand side by side, and one holds again."""

    def act(**data: str) -> Any:
        return owner.post("/system/courtyard", data=data, headers=CHANGES).json()

    act(**{"panel.tilt_deg": "50"})
    act(do="keep", _name="steep")
    act(**{"panel.tilt_deg": "10"})
    assert act(do="undo")["fields"]["panel.tilt_deg"][0] == "50"
    assert act(do="redo")["fields"]["panel.tilt_deg"][0] == "10"
    assert act(do="name", _name="nearly flat")["parts"]["trail"].count("nearly flat") == 1
    side = act(**{"panel.tilt_deg": "20"})["parts"]["kept"]
    assert side.count("<tr>") == 3 and "steep" in side
    named = desk.store.open("courtyard").names.index("nearly flat")
    assert act(do=f"go {named}")["fields"]["panel.tilt_deg"][0] == "10"
    assert act(do="again steep")["fields"]["panel.tilt_deg"][0] == "50"
    assert "steep" not in act(do="drop steep")["parts"]["kept"]


def test_a_pair_of_voltages_is_taken_over_at_once(owner: TestClient) -> None:
    """Both thresholds change in one step, so that neither is wrong in between."""
    told = owner.post("/system/courtyard", data={"do": "take 12.9 13.3"}, headers=CHANGES).json()
    assert told["handles"] == {"controller.load_disconnect_v": "12.9", "controller.load_reconnect_v": "13.3"}


def test_a_newer_change_ends_the_older() -> None:
    """The turn that was taken last goes on, the one before is told to stop; other scenarios are left alone."""
    turns = Turns()
    first, other = turns.take("pond"), turns.take("rill")
    first()
    second = turns.take("pond")
    with pytest.raises(SupersededError):
        first()
    second()
    other()


def test_what_was_overtaken_on_the_way_changes_nothing(owner: TestClient) -> None:
    """A tab's older change that comes after its newer one is refused; another tab's is not."""

    def sent(tab: str, number: int, tilt: str) -> int:
        data = {"_tab": tab, "_number": str(number), "panel.tilt_deg": tilt}
        return owner.post("/system/courtyard", data=data, follow_redirects=False).status_code

    assert [sent("a", 5, "50"), sent("a", 4, "40"), sent("b", 1, "41")] == [303, 409, 303]
    assert "tilt_deg = 41" in owner.get("/system/courtyard/file").text


def test_what_was_answered_is_on_disk(owner: TestClient, desk: Desk, folder: Path) -> None:
    """Another start of the page on the same folder finds every state; the file itself is untouched until Save."""
    before = (folder / "courtyard.toml").read_bytes()
    owner.post("/system/courtyard", data={"panel.tilt_deg": "71"}, follow_redirects=False)
    state = Desk(desk.folder, desk.keys).store.open("courtyard")
    assert "tilt_deg = 71" in state.text and state.before == before.decode()
    assert (folder / "courtyard.toml").read_bytes() == before
    assert desk.folder.latest() == "courtyard"


def test_a_file_that_somebody_else_changed_is_the_newest_state(owner: TestClient, desk: Desk, folder: Path) -> None:
    """An editor beside the page loses nothing, and neither does the page."""
    owner.post("/system/courtyard", data={"panel.tilt_deg": "71"}, follow_redirects=False)
    text = (folder / "courtyard.toml").read_text("utf-8").replace("tilt_deg = 35", "tilt_deg = 12")
    (folder / "courtyard.toml").write_text(text, "utf-8")
    state = desk.store.open("courtyard")
    assert state.text == text and "tilt_deg = 71" in str(state.before)


def test_writers_side_by_side_lose_nothing(owner: TestClient, desk: Desk) -> None:
    """Twenty changes at once: each is in the state that is left."""
    desk.ready.clear()

    def write(k: int) -> None:
        desk.act("courtyard", {f"cost.{('system', 'controller', 'mounting', 'panel_per_w')[k % 4]}": str(k)})

    threads = [threading.Thread(target=write, args=(k,)) for k in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    state = desk.store.open("courtyard")
    assert len(state.texts) == 21 and all(name in state.text for name in ("system", "controller", "mounting"))


@pytest.mark.parametrize("text", ["", "{}", "[]", '{"texts": []}', "\x00", '{"texts":["a"],"at":9}'])
def test_a_damaged_state_is_no_defect(owner: TestClient, folder: Path, text: str) -> None:
    """The scenario's file is taken as it is."""
    (folder / ".courtyard.state").write_text(text)
    assert owner.get("/system/courtyard/file").text == (folder / "courtyard.toml").read_text("utf-8")


def test_states_are_bounded() -> None:
    """The oldest go, the numbers of the others stay, and what is written reads back."""
    state = State(("0",))
    for k in range(1, MOST_STATES + 50):
        state = state.changed(str(k))
    assert len(state.texts) == MOST_STATES and state.serial == MOST_STATES + 49 == int(state.text)
    assert state.numbered(100) == "100"
    from dataclasses import asdict

    assert read_state(json.dumps(asdict(state))) == state


def test_until_it_is_compiled_the_page_says_so(owner: TestClient, desk: Desk) -> None:
    """The page answers meanwhile, takes changes, and works nothing out."""
    desk.ready.clear()
    page = owner.get("/system/courtyard")
    assert page.status_code == 200 and "Compiling for the first time" in page.text and not figures_of(page.text)
    assert owner.post("/system/courtyard", data={"panel.tilt_deg": "3"}, headers=CHANGES).json()["ready"] is False


def test_the_server_starts_without_what_calculates() -> None:
    """The page is there before pandas, numba and matplotlib are: they are imported while it answers."""
    code = "import sim.page.server, sys; print(*{name.partition('.')[0] for name in sys.modules})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    assert "starlette" in done.stdout.split()
    assert not {"pandas", "numba", "matplotlib", "pvlib", "scipy", "requests"} & set(done.stdout.split())


def test_an_answer_s_body_does_not_wait_for_its_head_to_be_confirmed() -> None:
    """The event loop sends without delay on sockets that say that they are TCP; on others a body came 40 ms late."""
    with listen(0) as mine:
        assert mine.proto == socket.IPPROTO_TCP
