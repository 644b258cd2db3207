"""The command line: what it writes, what it prints, how it ends, and what it does not import."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType, SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from sim import cli
from sim.catalogue import template
from sim.scenario import load

INDEX = pd.date_range("2001", periods=8760, freq="h")
POND = {
    "title": '"Bad pond"',
    "weather.sample": '"piedmont"',
    "panel.power_w": "100",
    "panel.vmp_v": "18.0",
    "panel.imp_a": "5.56",
    "panel.voc_v": "22.0",
    "panel.isc_a": "5.9",
    "battery.capacity_ah": "100",
    "pump.power_w": "20",
}
MAPLE = "from_azimuth_deg = 225, to_azimuth_deg = 265, below_elevation_deg = 40"
ABSENT = ""

# What is changed in a valid scenario (a TOML value, or absent), what the message names, and a piece of the rest of it.
BAD: list[tuple[dict[str, str], str, str]] = [
    ({"site.latitude_deg": "95"}, "site.latitude_deg = 95", "a number from -90 to 90"),
    ({"site.longitude_deg": "-181"}, "site.longitude_deg = -181", "-180 to 180"),
    ({"site.utc_offset_h": "-13"}, "site.utc_offset_h = -13", "-12 to 14"),
    ({"site.albedo": "nan"}, "site.albedo = nan", "a number from 0 to 0.9"),
    ({"weather.sample": ABSENT}, "weather", "exactly one of weather.file"),
    ({"weather.file": '"year.epw"'}, "weather", "exactly one of weather.file"),
    ({"weather.sample": '"atlantis"'}, 'weather.sample = "atlantis"', '"piedmont"'),
    ({"weather.year": "2001.5"}, "weather.year = 2001.5", "a whole number from 1950 to 2100"),
    ({"weather.sky": '"blue"'}, 'weather.sky = "blue"', '"hay-davies" or "perez"'),
    ({"panel.power_w": '"100"'}, 'panel.power_w = "100"', "a number above 0"),
    ({"panel.power_w": "true"}, "panel.power_w = True", "a number above 0"),
    ({"panel.power_w": "inf"}, "panel.power_w = inf", "a number above 0"),
    ({"panel.power_w": "9" * 400}, "panel.power_w = 999", "a number above 0"),
    ({"panel.power_w": "120"}, "panel.power_w = 120", "within 5 % of vmp_v x imp_a (100.1 W)"),
    ({"panel.isc_a": ABSENT}, "panel.isc_a", "this key has no default"),
    ({"panel.vmp_v": "22.0"}, "panel.vmp_v = 22", "less than voc_v (22 V)"),
    ({"panel.isc_a": "5.5"}, "panel.imp_a = 5.56", "less than isc_a (5.5 A)"),
    ({"panel.cells": "60"}, "panel.cells = 60", "0.5 to 0.8 V a cell; here it is 0.367 V"),
    ({"panel.count": "3", "panel.series": "2"}, "panel.count = 3", "a multiple of panel.series (2)"),
    ({"panel.tilt_deg": "91"}, "panel.tilt_deg = 91", "a number from 0 to 90"),
    ({"controller.rebulk_v": "13.2"}, "controller.rebulk_v = 13.2", "allowed is recharge_below_v, which is"),
    ({"controller.tail_current_a": "2"}, "controller.tail_current_a = 2", "allowed is charge_ends_a, which is"),
    ({"panel.tilt": "30"}, "panel.tilt = 30", "did you mean tilt_deg?"),
    ({"panel.mounting": '"pole"'}, 'panel.mounting = "pole"', '"open" or "roof" or "flush"'),
    ({"panel.cable.length_m": "-1"}, "panel.cable.length_m = -1", "a number from 0 to 500"),
    ({"panel.cable": "4"}, "panel.cable = 4", "a table of length_m, awg, area_mm2, extra_mohm"),
    ({"panel.shade": f"{{{MAPLE}}}"}, "panel.shade = ", "tables headed [[panel.shade]]"),
    (
        {"panel.shade": f"[{{{MAPLE}}}, {{{MAPLE}, transmittance = 1.2}}]"},
        "panel.shade[1].transmittance = 1.2",
        "0 to 1",
    ),
    ({"panel.shade": f"[{{{MAPLE}, transmittance = [0.5, 0.6]}}]"}, "panel.shade[0].transmittance", "twelve of them"),
    ({"panel.shade": f"[{{{MAPLE.replace('265', '225')}}}]"}, "panel.shade[0].to_azimuth_deg = 225", "other than"),
    ({"battery.capacity_ah": "0"}, "battery.capacity_ah = 0", "a number above 0, up to 5000"),
    ({"battery.chemistry": '"lemon"'}, 'battery.chemistry = "lemon"', '"lfp"'),
    ({"battery.nominal_v": "36"}, "battery.nominal_v = 36", "12 or 24"),
    ({"battery.nominal_v": "24"}, "battery.nominal_v = 24", "12, which suits panel.voc_v (22 V); or more panel.series"),
    ({"battery.initial_soc": "80"}, "battery.initial_soc = 80", "a number from 0 to 1"),
    ({"controller.kind": '"MPPT"'}, 'controller.kind = "MPPT"', '"pwm" or "mppt"'),
    ({"controller.load_reconnect_v": "12.2"}, "controller.load_reconnect_v = 12.2", "load_disconnect_v (12.2 V)"),
    (
        {"controller.load_disconnect_v": "9.5"},
        "controller.load_disconnect_v = 9.5",
        "10 to 14.6 V for a 12 V battery of chemistry lfp",
    ),
    (
        {"controller.load_reconnect_v": "14.0", "controller.absorption_v": "13.9"},
        "controller.load_reconnect_v = 14",
        "less than absorption_v (13.9 V)",
    ),
    (
        {"controller.load_reconnect_v": "14.7", "controller.absorption_v": "14.8"},
        "controller.load_reconnect_v = 14.7",
        "10 to 14.6 V",
    ),
    ({"controller.absorption_v": "15.0"}, "controller.absorption_v = 15", "13.6 to 14.8 V"),
    ({"controller.float_v": "14.5"}, "controller.float_v = 14.5", "at most absorption_v (14.4 V)"),
    ({"controller.recharge_below_v": "13.6"}, "controller.recharge_below_v = 13.6", "less than float_v (13.6 V)"),
    ({"controller.load_mode": '"dusk"'}, 'controller.load_mode = "dusk"', '"always" or "daylight" or "clock"'),
    ({"controller.load_mode": '"clock"'}, "controller.load_windows", "at least one window"),
    ({"controller.load_windows": '[["08:00", "18:00"]]'}, "controller.load_windows", 'unless load_mode is "clock"'),
    (
        {"controller.load_mode": '"clock"', "controller.load_windows": '[["8:00", "18:00"]]'},
        'controller.load_windows[0][0] = "8:00"',
        '"HH:MM"',
    ),
    (
        {"controller.load_mode": '"clock"', "controller.load_windows": '[["22:00", "06:00"], ["05:00", "09:00"]]'},
        "controller.load_windows",
        "do not overlap",
    ),
    ({"controller.max_load_a": "1"}, "controller.max_load_a = 1", "power_w / at_v (1.67 A)"),
    ({"pump.power_w": "-20"}, "pump.power_w = -20", "a number above 0, up to 2000"),
    ({"pump.min_v": "12.5"}, "pump.min_v = 12.5", "at most at_v (12 V)"),
    ({"pump.max_v": "11"}, "pump.max_v = 11", "at least at_v (12 V)"),
    ({"need.hours_per_day": "25"}, "need.hours_per_day = 25", "a number from 0 to 24"),
    ({"need.hours_per_day": "12", "need.between": '["08:00", "18:00"]'}, "need.hours_per_day", "10 h of need.between"),
    ({"need.between": '["08:00", "08:00"]'}, "need.between", 'a whole day is ["00:00", "24:00"]'),
    ({"title": '""'}, "title", "text of 1 to 300 characters"),
    ({"battery": "12", "battery.capacity_ah": ABSENT}, "battery = 12", "a table of chemistry"),
    ({"batery.capacity_ah": "100", "battery.capacity_ah": ABSENT}, "batery", "did you mean battery?"),
    ({"panel.mounting": r'"two\nlines\u001b[31m"'}, "panel.mounting", '"open"'),
]


def written(folder: Path, changes: dict[str, str]) -> Path:
    """A scenario file with changes, one dotted key a line."""
    path = folder / "pond.toml"
    lines = [f"{key} = {value}" for key, value in (POND | changes).items() if value != ABSENT]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_the_unchanged_pond_is_valid(tmp_path: Path) -> None:
    """Each bad scenario is bad because of its change."""
    assert load(written(tmp_path, {})).title == "Bad pond"


@pytest.mark.parametrize(("changes", "place", "fragment"), BAD, ids=[f"{n}-{bad[1][:30]}" for n, bad in enumerate(BAD)])
def test_a_bad_scenario_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], changes: dict[str, str], place: str, fragment: str
) -> None:
    """Exit code 2; one line with file, key, value and what is allowed; nothing printed or written besides."""
    path, out = written(tmp_path, changes), tmp_path / "out"
    code = cli.main(["year", str(path), "--out", str(out), "--json", str(tmp_path / "results.json")])
    printed, said = capsys.readouterr()
    assert code == 2 and printed == ""
    assert said.count("\n") == 1 and said.endswith("\n") and "\x1b" not in said
    assert said.startswith(f"{path}: {place}") and fragment in said and "Traceback" not in said
    assert list(tmp_path.iterdir()) == [path]


def python(*arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """A Python process of its own, run in a folder, that can import this package."""
    environment = os.environ | {"PYTHONPATH": str(Path(cli.__file__).parent.parent)}
    command = [sys.executable, *arguments]
    return subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("name", ["missing.toml", "pond.toml"])
def test_the_process_ends_with_2_and_no_traceback(tmp_path: Path, name: str) -> None:
    """What the shell sees is the exit code and one line, for a missing file as for a wrong value."""
    written(tmp_path, {"panel.power_w": "-1"})
    done = python("-m", "sim", "year", name, folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert done.stderr.startswith(f"{name}: ") and "Traceback" not in done.stderr
    assert not (tmp_path / "reports").exists()


@pytest.mark.parametrize("arguments", [[], ["dance"], ["year"], ["year", "pond.toml", "--loud"], ["new"]])
def test_wrong_arguments_end_with_2(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    """A missing or unknown argument is answered with the usage."""
    with pytest.raises(SystemExit) as end:
        cli.main(arguments)
    assert end.value.code == 2 and "usage: sunrill" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["--help"], ["new", "--help"], ["year", "--help"]])
def test_help_ends_with_the_cautions(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    """Every help text closes with what can go wrong on site."""
    with pytest.raises(SystemExit) as end:
        cli.main(arguments)
    said = " ".join(capsys.readouterr().out.split())
    assert end.value.code == 0 and said.endswith(cli.CAUTIONS)


def test_version_is_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    """The version is printed, and nothing is run."""
    with pytest.raises(SystemExit) as end:
        cli.main(["--version"])
    assert end.value.code == 0 and capsys.readouterr().out.startswith("sunrill ")


def test_new_writes_a_scenario_that_can_be_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The file is the template, in a folder made for it, and the next command is told."""
    path = tmp_path / "garden" / "pond.toml"
    assert cli.main(["new", str(path)]) == 0
    assert path.read_text(encoding="utf-8") == template() and load(path).title == "My pond"
    assert f"sunrill year {path}" in capsys.readouterr().out


def test_new_replaces_a_file_only_when_forced(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is there stays as it is, unless --force is given."""
    path = written(tmp_path, {})
    before = path.read_text()
    assert cli.main(["new", str(path)]) == 2
    assert path.read_text() == before and "--force" in capsys.readouterr().err
    assert cli.main(["new", str(path), "--force"]) == 0
    assert path.read_text(encoding="utf-8") == template()


@pytest.mark.parametrize("force", [[], ["--force"]])
def test_new_cannot_replace_a_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str], force: list[str]) -> None:
    """A folder in the place of the file is told, forced or not."""
    assert cli.main(["new", str(tmp_path), *force]) == 2
    assert capsys.readouterr().err.count("\n") == 1 and list(tmp_path.iterdir()) == []


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Any, ...]]:
    """Puts recorders in the place of simulation, report and headline; the physics have tests of their own."""
    calls: list[tuple[Any, ...]] = []
    measures, weather = SimpleNamespace(stops=(), water=None), SimpleNamespace(index=INDEX)
    result = SimpleNamespace(as_json=lambda: {"title": "Bächlein", "pump_hours": 1234.5}, measures=measures)
    result.weather, result.hourly = weather, lambda: None
    stand_ins = {
        "sim.studies.yearly": {"study_year": lambda *given: calls.append(given) or result},
        "sim.terminal.year": {"print_year": lambda shown, paths: print("headline of", shown.as_json()["pump_hours"])},
        "sim.report.render": {"year_report": lambda *_: "<title>Bad pond</title>"},
        "sim.figures.hourly": {"as_csv": lambda *_, **__: "hours"},
    }
    for name, made in stand_ins.items():
        module = ModuleType(name)
        vars(module).update(made)
        monkeypatch.setitem(sys.modules, name, module)
    return calls


def test_year_runs_the_scenario_and_prints_the_headline(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], runs: list[tuple[Any, ...]]
) -> None:
    """The scenario goes to the study, report, log and ledger into the folder, the headline to the terminal."""
    path = written(tmp_path, {})
    assert cli.main(["year", str(path), "--out", str(tmp_path / "out")]) == 0
    assert runs == [(load(path), 1, 0, None, None)]
    assert capsys.readouterr().out == "headline of 1234.5\n"
    names = {file.name for file in (tmp_path / "out").iterdir()}
    assert names == {"pond-year.html", "pond-year.csv", "pond-ledger.csv"}


def test_year_refuses_a_record_of_a_single_year(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], runs: list[tuple[Any, ...]]
) -> None:
    """--recorded needs calendar years to take the poor one from, and says so before anything is simulated."""
    assert cli.main(["year", str(written(tmp_path, {})), "--recorded"]) == 2
    assert "weather of 2 calendar years or more, for --recorded" in capsys.readouterr().err and runs == []


def test_year_can_do_without_the_log(tmp_path: Path, runs: list[tuple[Any, ...]]) -> None:
    """--no-log leaves the report alone."""
    assert cli.main(["year", str(written(tmp_path, {})), "--no-log", "--out", str(tmp_path / "out")]) == 0
    assert len(runs) == 1 and [file.name for file in (tmp_path / "out").iterdir()] == ["pond-year.html"]


def test_json_to_standard_output_is_alone_there(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], runs: list[tuple[Any, ...]]
) -> None:
    """With --json - the output is one JSON document and no headline."""
    assert cli.main(["year", str(written(tmp_path, {})), "--out", str(tmp_path / "out"), "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    head = found.pop("about")
    assert found == {"title": "Bächlein", "pump_hours": 1234.5} and len(runs) == 1
    assert list(head) == ["command", "version", "scenario", "title", "weather"]
    assert (head["command"], head["scenario"]) == ("year", str(tmp_path / "pond.toml"))


def test_json_to_a_file_comes_with_the_headline(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], runs: list[tuple[Any, ...]]
) -> None:
    """With --json PATH the results go to the file and the headline to the terminal."""
    results = tmp_path / "new" / "results.json"
    assert cli.main(["year", str(written(tmp_path, {})), "--out", str(tmp_path), "--json", str(results)]) == 0
    assert json.loads(results.read_text(encoding="utf-8"))["pump_hours"] == 1234.5
    assert capsys.readouterr().out == "headline of 1234.5\n" and len(runs) == 1


def test_a_report_of_another_title_is_not_replaced(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], runs: list[tuple[Any, ...]]
) -> None:
    """Two scenarios of one file name and one folder: the second is told so before it runs, unless it is forced."""
    given = ["year", str(written(tmp_path, {})), "--out", str(tmp_path / "out")]
    assert cli.main(given) == 0 and cli.main(given) == 0
    other = tmp_path / "other"
    other.mkdir()
    given[1] = str(written(other, {"title": '"Good & other pond"'}))
    capsys.readouterr()
    assert cli.main(given) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "Bad pond" in said and "--force" in said and len(runs) == 2
    assert cli.main([*given, "--force"]) == 0 and len(runs) == 3


@pytest.mark.parametrize("where", [["--out", "pond.toml"], ["--json", "pond.toml/results.json"], ["--json", "."]])
def test_a_place_that_cannot_be_written_is_told_before_the_work(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    runs: list[tuple[Any, ...]],
    where: list[str],
) -> None:
    """A file where a folder is needed, or a folder where a file is, stops the command before the simulation."""
    monkeypatch.chdir(tmp_path)
    assert cli.main(["year", str(written(tmp_path, {})), *where]) == 2
    assert runs == [] and "a place that can be written to" in capsys.readouterr().err


def test_an_interrupt_ends_quietly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C ends with the shell's code for it and no traceback."""

    def interrupted(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "COMMANDS", (cli.COMMANDS[0]._replace(does=interrupted),))
    assert cli.main(["new", str(tmp_path / "pond.toml")]) == 130


def test_a_defect_is_not_hidden(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error that is not the user's leaves as it came, so that Python ends with 1 and a traceback."""

    def defective(_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(cli, "COMMANDS", (cli.COMMANDS[0]._replace(does=defective),))
    with pytest.raises(ZeroDivisionError):
        cli.main(["new", str(tmp_path / "pond.toml")])


HEAVY = {"pandas", "numpy", "numba", "pvlib", "matplotlib", "simpy", "rich", "jinja2", "scipy", "fluids"}


def imported(code: str, folder: Path) -> set[str]:
    """The packages that are loaded after a piece of code in a fresh process."""
    code += "\nimport sys; print(*{name.partition('.')[0] for name in sys.modules}, file=sys.__stderr__)"
    done = python("-c", code, folder=folder)
    assert done.returncode == 0, done.stderr
    return set(done.stderr.splitlines()[-1].split())


def test_help_imports_nothing_heavy(tmp_path: Path) -> None:
    """The command line and its help come without the libraries that calculate, and without the validator."""
    loaded = imported("import sim.cli\nsim.cli.parser().format_help()", tmp_path)
    assert "argparse" in loaded and not loaded & (HEAVY | {"pydantic"})


def test_a_wrong_value_imports_nothing_heavy(tmp_path: Path) -> None:
    """A message about a scenario comes without the libraries that calculate."""
    written(tmp_path, {"panel.power_w": "-1"})
    loaded = imported("import sim.cli\nassert sim.cli.main(['year', 'pond.toml']) == 2", tmp_path)
    assert "pydantic" in loaded and not loaded & HEAVY
