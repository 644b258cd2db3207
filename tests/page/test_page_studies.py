"""The studies on the page: the same report as the command's, progress, stopping, what is remembered."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from kit.service import YEAR, Service
from starlette.testclient import TestClient

from sim.errors import InputError
from sim.page.desk import Desk
from sim.page.guard import report_policy
from sim.page.jobs import AT_ONCE, REMEMBERED, Job, Jobs
from sim.page.text import data_of
from sim.report.render import year_report
from sim.scenario import load, parse
from sim.studies.size import study_size
from sim.studies.yearly import study_year

CHANGES = {"x-sunrill": "changes"}
PATIENCE_S = 120.0
FEW_YEARS = 10


def until(holds: Callable[[], bool]) -> None:
    """Wait for something that happens in another thread."""
    end = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end, "it did not come"
        time.sleep(0.05)


def test_a_study_ends_in_the_commands_report(owner: TestClient, desk: Desk, folder: Path) -> None:
    """The year's study: the page's report is the command's to the letter, shown, offered as a file, under a policy."""
    owner.post("/system/courtyard", data={"do": "study year"}, headers=CHANGES)
    until(lambda: desk.jobs.of("courtyard")[0].state == "done")
    shown = owner.get("/report/1/0")
    assert shown.text == year_report(study_year(load(folder / "courtyard.toml")))
    assert "sandbox" in shown.headers["content-security-policy"]
    kept = owner.get("/report/1/0/file")
    assert kept.text == shown.text and "courtyard-year.html" in kept.headers["content-disposition"]
    page = owner.get("/system/courtyard").text
    assert "/report/1/0" in page and "sunrill year &#34;courtyard.toml&#34;" in page
    assert owner.get("/report/1/9").status_code == owner.get("/report/99/0").status_code == 404


def test_the_map_fills_and_stops(owner: TestClient, desk: Desk) -> None:
    """Cells come a column at a time, each to be taken over; a stop ends it and leaves what is there."""
    told = owner.post("/system/courtyard", data={"do": "map"}, headers=CHANGES).json()
    assert told["busy"]
    job = desk.jobs.map_of("courtyard")
    assert job is not None
    until(lambda: len(job.cells) > 0)
    owner.post("/system/courtyard", data={"do": f"stop {job.number}"}, headers=CHANGES)
    until(lambda: job.state == "stopped")
    assert 0 < len(job.cells) < job.of
    part = owner.get("/system/courtyard/answer").json()["parts"]["map"]
    cell = re.search(r'value="(take [\d.]+ [\d.]+)"', part)
    assert cell and "The system has changed" not in part
    owner.post("/system/courtyard", data={"do": cell[1]}, headers=CHANGES)
    assert "The system has changed" not in owner.get("/system/courtyard/answer").json()["parts"]["map"]
    changed = owner.post("/system/courtyard", data={"panel.tilt_deg": "60"}, headers=CHANGES).json()
    assert "The system has changed" in changed["parts"]["map"]


def test_a_scenario_that_is_not_whole_is_not_studied(owner: TestClient, desk: Desk) -> None:
    """The message is the scenario's, and nothing begins."""
    told = owner.post("/system/courtyard", data={"panel.tilt_deg": "99", "do": "study pairs"}, headers=CHANGES)
    assert told.status_code == 422 and "panel.tilt_deg = 99" in told.json()["wrong"]
    assert not desk.jobs.of("courtyard") and "tilt_deg = 99" in desk.store.open("courtyard").text


def test_kept_designs_become_files(owner: TestClient, folder: Path) -> None:
    """Each design that was put aside is a scenario that runs by itself; a file of another content is left alone."""
    owner.post("/system/courtyard", data={"panel.tilt_deg": "70", "do": "keep", "_name": "steep"}, headers=CHANGES)
    assert owner.post("/system/courtyard", data={"do": "files"}, headers=CHANGES).status_code == 200
    assert load(folder / "courtyard - steep.toml").panel.tilt_deg == 70
    (folder / "courtyard - steep.toml").write_text("# somebody's own")
    assert owner.post("/system/courtyard", data={"do": "files"}, headers=CHANGES).status_code == 422
    assert (folder / "courtyard - steep.toml").read_text() == "# somebody's own"


def _job(number: int) -> Job:
    return Job(number, "pond", "pairs", "pairs", "", "")


def test_only_a_few_jobs_at_once() -> None:
    """One more is refused in words until one ends; a stopped one says so, a wrong one tells what is wrong."""
    jobs, gate = Jobs(), threading.Event()

    def waits(job: Job) -> None:
        while not gate.wait(0.01):
            job.progress(1, 4)

    first, *_ = [jobs.start(_job, waits) for _ in range(AT_ONCE)]
    with pytest.raises(InputError, match="at once"):
        jobs.start(_job, waits)
    until(lambda: first.of == 4)
    assert "left" in first.left
    first.stop.set()
    until(lambda: first.state == "stopped")

    def fails(job: Job) -> None:
        raise InputError("pond.toml", "panel", None, "something else")

    wrong = jobs.start(_job, fails)
    until(lambda: wrong.state == "failed")
    assert wrong.said == "pond.toml: panel: allowed is something else"
    gate.set()


def test_few_reports_are_remembered() -> None:
    """Memory stays bounded: of many jobs that ended the last few are left."""
    jobs = Jobs()
    for _ in range(REMEMBERED + 5):
        job = jobs.start(_job, lambda job: None)
        until(lambda job=job: job.state == "done")
    assert [job.number for job in jobs.of("pond")] == list(range(REMEMBERED + 5, 5, -1))


def test_a_reports_own_scripts_are_known_by_their_hashes() -> None:
    """The policy names just the scripts that stand in the report, by SHA-256 (the one of "" is published)."""
    assert "script-src 'none'" in report_policy("<p>no script</p>")
    empty = "'sha256-47DEQpj8HBSa+/TImW+5JCeuQeRkm5NMpJWZG3hSuFU='"  # published: FIPS 180-4, of nothing
    assert f"script-src {empty};" in report_policy("<script></script>")


def test_a_fetched_year_is_taken_over(owner: TestClient, desk: Desk, folder: Path, service: Service) -> None:
    """The year of the place into the folder, its report, and the scenario names it when that is wanted."""
    place = {"site.latitude_deg": "36.1", "site.longitude_deg": "-79.95"}
    begun = owner.post("/system/courtyard", data={**place, "do": "study weather", "_year": str(YEAR)}, headers=CHANGES)
    assert begun.status_code == 200
    until(lambda: desk.jobs.of("courtyard")[0].state != "running")
    (job,) = desk.jobs.of("courtyard")
    assert job.state == "done" and len(service.asked) == 4
    assert f"--latitude 36.1 --longitude -79.95 --year {YEAR}" in job.command
    told = owner.post("/system/courtyard", data={"do": f"adopt {job.number}"}, headers=CHANGES).json()
    name = f"weather_36.10N_79.95W_{YEAR}.csv"
    assert told["fields"]["weather.file"][0] == name and (folder / name).exists()
    weather = parse(data_of(desk.store.open("courtyard").text), folder / "courtyard.toml").weather
    assert weather.file == name and weather.sample is None


@pytest.mark.parametrize(
    ("typed", "place", "words"),
    [
        ("", "36.1", "year"),
        ("two", "36.1", 'year = "two": allowed is a year from 2001'),
        ("2019", "", "site.latitude_deg: allowed is the coordinates"),
    ],
)
def test_a_fetch_needs_a_year_and_a_place(
    typed: str, place: str, words: str, owner: TestClient, desk: Desk, service: Service
) -> None:
    """Said at once, and nobody is asked."""
    given = {
        "site.latitude_deg": place,
        "site.longitude_deg": place and "-79.95",
        "do": "study weather",
        "_year": typed,
    }
    told = owner.post("/system/courtyard", data=given, headers=CHANGES)
    assert told.status_code == 422 and words in told.json()["wrong"]
    assert not desk.jobs.of("courtyard") and not service.asked


def test_what_to_buy_is_taken_over(
    owner: TestClient, desk: Desk, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The study ends in the report, and the design that it found becomes the scenario."""
    path = folder / "courtyard.toml"
    table = "[size]\npanel_w = [100, 200]\npanels = [1]\nbattery_ah = [50]\n"
    path.write_text(f'{path.read_text()}\n{table}fixed = ["tilt", "pair", "controller", "load"]\n')
    monkeypatch.setattr("sim.studies.size.study_size", partial(study_size, years=FEW_YEARS))
    owner.post("/system/courtyard", data={"weather.sample": "subtropic", "do": "study size"}, headers=CHANGES)
    until(lambda: desk.jobs.of("courtyard")[0].state != "running")
    (job,) = desk.jobs.of("courtyard")
    assert job.state == "done" and list(job.reports) == ["courtyard-size.html"]
    owner.post("/system/courtyard", data={"do": f"adopt {job.number}"}, headers=CHANGES)
    made = parse(data_of(desk.store.open("courtyard").text), path)
    assert made.battery.capacity_ah == 50 and made.panel.power_w == job.changes["panel.power_w"]


def test_what_is_wrong_is_weighed(owner: TestClient, desk: Desk) -> None:
    """Two readings end in the command's report; what cannot be read is told at once."""
    seen = {"_volts_on": "12,4", "_volts_off": "13.1", "_symptom": "clicks", "do": "study diagnosis"}
    assert owner.post("/system/courtyard", data=seen, headers=CHANGES).status_code == 200
    until(lambda: desk.jobs.of("courtyard")[0].state != "running")
    (job,) = desk.jobs.of("courtyard")
    assert job.state == "done" and list(job.reports) == ["courtyard-diagnosis.html"]
    assert job.command == ('sunrill diagnose "courtyard.toml" --volts-on "12.4" --volts-off "13.1" --symptom "clicks"')


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({}, "a reading, a log or a complaint"),
        ({"_volts_on": "much"}, 'volts on = "much": allowed is a number'),
        ({"_volts_on": "40"}, "a voltage from"),
        ({"_log": "../secret.toml"}, "the name of a file in"),
        ({"_log": "none.csv", "_at": "noon"}, "a moment such as"),
    ],
)
def test_what_was_seen_must_be_something(typed: dict[str, str], words: str, owner: TestClient, desk: Desk) -> None:
    """Refused in words, and nothing begins."""
    told = owner.post("/system/courtyard", data={**typed, "do": "study diagnosis"}, headers=CHANGES)
    assert told.status_code == 422 and words in told.json()["wrong"]
    assert not desk.jobs.of("courtyard")
