"""From a scenario to the form and back: nothing changes by itself, comments stay, errors are the command line's."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
import tomlkit
from hypothesis import given, settings
from starlette.testclient import TestClient
from strategies import Data, ponds, scenarios

from page.forms import form_of
from sim.catalogue import template
from sim.page.desk import Desk, changed, example_texts
from sim.page.fields import Part, fields_of, is_optional, parts_of
from sim.page.routes import ROOMS, application
from sim.page.store import State
from sim.page.text import GONE, shown, with_table, with_value
from sim.page.view import view_of
from sim.scenario import load, parse

ROOT = Path(__file__).parents[2]


def rendered(desk: Desk, text: str) -> str:
    """The page of a scenario text."""
    view = view_of(desk, "drawn", State((text,)))
    return ROOMS.get_template("system.html.j2").render(view=view, wrong="", parts=ROOMS.get_template("parts.html.j2"))


@pytest.fixture(scope="module")
def unready(tmp_path_factory: pytest.TempPathFactory) -> Desk:
    """A desk that works nothing out, for forms alone."""
    from sim.page.folder import Folder
    from sim.page.guard import Keys

    return Desk(Folder.at(tmp_path_factory.mktemp("forms")), Keys.new(1))


@pytest.mark.parametrize("examples", [20, pytest.param(200, marks=pytest.mark.long)])
def test_any_scenario_survives_open_page_and_save(unready: Desk, examples: int) -> None:
    """Random valid scenarios: opened, shown, the whole form sent back and saved, the file is the same sign for sign."""
    path, seen = unready.folder.root / "drawn.toml", []
    client = TestClient(application(unready), base_url="http://127.0.0.1:1")
    assert client.get(unready.keys.address).status_code == 200

    @settings(max_examples=examples)
    @given(data=scenarios() | ponds())
    def survives(data: Data) -> None:
        text = tomlkit.dumps(data)
        path.write_bytes(text.encode())
        before = load(path)
        form = form_of(client.get("/system/drawn").text)
        saved = client.post("/system/drawn", data=form | {"do": "save"}, follow_redirects=False)
        assert saved.status_code == 303 and len(form) > 100
        assert path.read_bytes() == text.encode() and load(path) == before
        seen.append(text)

    survives()
    assert len(set(seen)) >= examples // 2


@pytest.mark.parametrize("path", [*sorted((ROOT / "scenarios").glob("*.toml"))], ids=lambda path: path.stem)
def test_the_projects_scenarios_survive_the_form(unready: Desk, path: Path) -> None:
    """Comments, multi-line lists and all."""
    text = path.read_text("utf-8")
    form = form_of(rendered(unready, text))
    assert len(form) > 100 and changed(text, text, form) == text


def test_every_key_of_a_scenario_has_its_field(unready: Desk) -> None:
    """The form is made from the scenario's fields: each key is there under its path, with words and range."""
    fields = fields_of(tomllib.loads((ROOT / "scenarios/courtyard.toml").read_text("utf-8")))
    assert {"panel.tilt_deg", "panel.shade.1.from_azimuth_deg", "water.branch.valve", "title"} <= fields.keys()
    assert all(field.words and (field.allowed or field.options) for field in fields.values())
    assert {key for key, field in fields.items() if field.needed} >= {
        "panel.power_w",
        "battery.capacity_ah",
        "pump.power_w",
    }
    assert not fields["controller.absorption_v"].needed and not fields["pump.at_v"].needed


def test_only_label_battery_pump_and_place_are_needed() -> None:
    """Of the plain parts nothing else has to be filled in."""

    def needed(part: Part) -> set[str]:
        return {field.key for field in part.fields if field.needed}

    asked = set().union(*(needed(part) for part in parts_of({})))
    label = {f"panel.{name}" for name in ("power_w", "vmp_v", "imp_a", "voc_v", "isc_a")}
    assert asked == label | {"battery.capacity_ah", "pump.power_w"}


CHANGES = [
    ("panel.tilt_deg", "45", 45),
    ("panel.tilt_deg", " 45,5 ", 45.5),
    ("battery.chemistry", "agm", "agm"),
    ("battery.nominal_v", "24", 24),
    ("need.hours_per_day", "6", 6),
    ("need.hours_per_day", "6, 6, 6, 6, 8, 8, 8, 8, 8, 6, 6, 6", [6] * 4 + [8] * 5 + [6] * 3),
    ("need.between", "08:00–17:00", ["08:00", "17:00"]),
    ("controller.load_windows", '[["08:00", "18:00"]]', [["08:00", "18:00"]]),
    ("care.panel_cleaning", "03-15, 09-15", ["03-15", "09-15"]),
    ("title", 'a "pond" \\ of # mine', 'a "pond" \\ of # mine'),
    ("water.fish", "true", True),
    ("panel.power_w", "abc", "abc"),
    ("weather.monthly.daily_ghi_kwh_m2", "[1, 2", "[1, 2"),
]


@pytest.mark.parametrize(
    "start", [template(), (ROOT / "scenarios/courtyard.toml").read_text("utf-8")], ids=["new", "written"]
)
@pytest.mark.parametrize(("key", "typed", "value"), CHANGES)
def test_a_change_changes_one_value(start: str, key: str, typed: str, value: object) -> None:
    """What is typed becomes the value, all else and every comment stays, and clearing it gives the old data back."""
    made = changed(start, start, {key: typed})
    data, section = tomllib.loads(made), tomllib.loads(made)
    for step in key.split("."):
        data = data[step]
    assert data == value and type(data) is type(value)
    assert with_value(made, key, GONE, is_optional) == made or tomllib.loads(changed(made, made, {key: ""})) != section
    words = re.findall(r"#.*$", start, re.MULTILINE)
    assert len(re.findall(r"#.*$", made, re.MULTILINE)) >= len(words) - 1


def test_a_described_system_is_what_new_would_write() -> None:
    """A value takes the place of the commented default, in its line, beside its words."""
    made = changed(template(), template(), {"panel.tilt_deg": "45"})
    lines = [(old, new) for old, new in zip(template().split("\n"), made.split("\n"), strict=True) if old != new]
    assert [(old[:14], new[:13]) for old, new in lines] == [("#tilt_deg = 30", "tilt_deg = 45")]
    assert lines[0][0][14:].split("#")[1] == lines[0][1][13:].split("#")[1]


def test_tables_come_and_go() -> None:
    """One more shade and one less; an optional table goes with its last value."""
    text = (ROOT / "scenarios/courtyard.toml").read_text("utf-8")
    more = with_table(text, "panel.shade")
    assert len(tomllib.loads(more)["panel"]["shade"]) == 3 and more.startswith(text.rstrip())
    assert tomllib.loads(with_value(more, "panel.shade.2", GONE, is_optional)) == tomllib.loads(text)
    assert (
        "stream"
        not in tomllib.loads(changed(text, text, {"water.stream.length_m": "", "water.stream.width_m": ""}))["water"]
    )


def test_a_stale_tab_changes_only_what_it_changed(owner: TestClient, desk: Desk) -> None:
    """A form that was made from an older state brings its own change, and undoes nobody else's."""
    old = form_of(owner.get("/system/courtyard").text)
    owner.post("/system/courtyard", data={"panel.tilt_deg": "50"}, follow_redirects=False)
    owner.post("/system/courtyard", data=old | {"battery.capacity_ah": "80"}, follow_redirects=False)
    data = tomllib.loads(desk.store.open("courtyard").text)
    assert (data["panel"]["tilt_deg"], data["battery"]["capacity_ah"]) == (50, 80)


WRONG = [
    ("panel.tilt_deg", "95"),
    ("battery.capacity_ah", "abc"),
    ("controller.load_reconnect_v", "11.9"),
    ("battery.chemistry", "coal"),
    ("need.hours_per_day", "30"),
]


@pytest.mark.parametrize(("key", "typed"), WRONG)
def test_an_error_stands_beside_its_field_in_the_command_lines_words(
    owner: TestClient, folder: Path, key: str, typed: str
) -> None:
    """The message is that of the command line on the same text; nothing is refused; Save waits until it is right."""
    told = owner.post("/system/courtyard", data={key: typed}, headers={"x-sunrill": "changes"}).json()
    text = owner.get("/system/courtyard/file").text
    (folder / "same.toml").write_text(text, "utf-8")
    with pytest.raises(Exception) as said:
        load(folder / "same.toml")
    assert told["fields"][key][0] == typed
    assert told["fields"][key][2] == str(said.value).removeprefix(f"{folder / 'same.toml'}: ")
    before = (folder / "courtyard.toml").read_bytes()
    saved = owner.post("/system/courtyard", data={"do": "save"})
    assert saved.status_code == 422 and (folder / "courtyard.toml").read_bytes() == before
    assert 'aria-invalid="true"' in owner.get("/system/courtyard").text


@pytest.mark.parametrize("name", sorted(example_texts()))
def test_examples_are_whole(name: str) -> None:
    """What the page offers as an example is a scenario."""
    assert parse(tomllib.loads(example_texts()[name]), Path(f"{name}.toml")).title


@pytest.mark.parametrize("value", ["x\ny", "", [], [1, "a,b"], [["a"], []], 1.0, True, 10**30])
def test_what_is_shown_is_one_line(value: object) -> None:
    """A field holds one line, whatever the value."""
    assert "\n" not in shown(value)
