"""Weather of a place, fetched from a server on this machine that answers as the service does, or badly."""

from __future__ import annotations

import json
import threading
import time
import tracemalloc
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from kit.service import TABLE, YEAR, Service, bomb

from sim import cli
from sim.errors import InputError
from sim.weather import weather_for
from sim.weather.fetch import Patience, Place, fetch_year
from sim.weather.service import within

PIEDMONT = Place.at(36.1, -79.95)
BRISK = Patience(tries=3, pause_s=0.01, answer_s=5.0)


def kept(tmp_path: Path) -> list[str]:
    """What is on disk of the quarters."""
    return sorted(path.stem for path in (tmp_path / "cache").rglob("*") if path.is_file())


def test_a_fetched_year_is_a_file_that_a_scenario_can_name(service: Service, tmp_path: Path, asking: Any) -> None:
    """The table written holds every hour at the place's own clock, and is asked for once only."""
    out = tmp_path / "out"
    command = ["weather", "--latitude", "36.1", "--longitude", "-79.95", "--year", str(YEAR), "--out", str(out)]
    assert cli.main([*command, "--json", str(tmp_path / "found.json")]) == 0
    path = out / "weather_36.10N_79.95W_2019.csv"
    assert set(out.iterdir()) == {path, path.with_name(f"{path.stem}-weather.html")}
    weather = weather_for(asking(file=path, year=YEAR))
    np.testing.assert_allclose(weather.ghi, TABLE[:, 0], atol=0.051)
    np.testing.assert_allclose(weather.temp_air, TABLE[:, 3], atol=0.0051)
    assert weather.site == (36.1, -79.95, 247.3, -5.0)
    assert weather.notes == () and "SATELLITE, REANALYSIS" in weather.source and "public agency" in weather.licence
    assert json.loads((tmp_path / "found.json").read_text())["years"][0]["year"] == YEAR
    asked = list(service.asked)
    assert asked == ["20190101-20190331", "20190401-20190630", "20190701-20190930", "20191001-20200101"]
    assert cli.main(command) == 0 and service.asked == asked


def test_a_bad_answer_is_asked_for_again(service: Service) -> None:
    """An error, a cut body and nonsense are passing troubles: the next try goes on, and the year is the same."""
    bad = ["500", "503", "429", "cut", "list", "empty", "null", "words", "impossible", "short", "high up", "cut"]
    service.moods = [mood for first in range(0, 12, 3) for mood in (*bad[first : first + 3], "well")]
    weather = fetch_year(PIEDMONT, YEAR, Patience(tries=4, pause_s=0.01, answer_s=5.0))
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])
    assert len(service.asked) == 16


def test_the_pause_grows_from_try_to_try(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """A service in trouble is asked more and more rarely."""
    pauses: list[float] = []
    monkeypatch.setattr("sim.weather.fetch.time.sleep", pauses.append)
    service.moods = ["429"] * 4
    with pytest.raises(InputError):
        fetch_year(PIEDMONT, YEAR)
    assert pauses == [2.0, 4.0, 8.0]


def test_a_slow_answer_is_not_waited_for(service: Service) -> None:
    """The client itself waits without end; here the time for an answer is limited."""
    service.moods = ["slow"]
    weather = fetch_year(PIEDMONT, YEAR, Patience(tries=2, pause_s=0.01, answer_s=1.0))
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])


@pytest.mark.parametrize(
    ("mood", "message"),
    [
        ("500", "3 tries, the last: an error, .*not now"),
        ("503", "3 tries, the last: an error, 503, Service Unavailable"),
        ("cut", "3 tries, the last: (an answer that breaks off|an answer that is no data, or is cut)"),
        ("list", "the last: an answer that is not what this service gives"),
        ("short", "the last: 2160 hours instead of the 2184"),
        ("impossible", "the last: figures of ghi that cannot be"),
        ("high up", "not what this service gives .*a height of 1e.09 m"),
        ("large", "the last: an answer of more than 8 MB"),
        ("deep", "the last: an answer that is no data, or is cut"),
        ("nan", "the last: an answer that is no data, or is cut"),
        ("odd packing", "the last: an answer packed as br"),
    ],
)
def test_what_stays_bad_ends_in_one_message(mood: str, message: str, service: Service, tmp_path: Path) -> None:
    """After the last try there is one message, and the quarter that came is kept."""
    service.moods = ["well", mood, mood, mood]
    with pytest.raises(InputError, match=message):
        fetch_year(PIEDMONT, YEAR, BRISK)
    assert kept(tmp_path) == ["2019-01-01_2019-03-31"]


def test_a_fetch_that_broke_off_goes_on(service: Service) -> None:
    """The next run asks only for what is not there yet."""
    service.moods = ["well", *["500"] * 3]
    with pytest.raises(InputError, match="the same command goes on from there"):
        fetch_year(PIEDMONT, YEAR, BRISK)
    service.asked.clear()
    fetch_year(PIEDMONT, YEAR, BRISK)
    assert service.asked == ["20190401-20190630", "20190701-20190930", "20191001-20200101"]


@pytest.mark.parametrize(
    ("mood", "message"),
    [
        ("units", r'units of ALLSKY_SFC_SW_DWN = "MJ/hr": allowed is Wh/m\^2 or W/m\^2'),
        ("solar time", 'time_standard = "LST": allowed is "UTC"'),
        ("fill", "2019-01-01 to 2019-03-31: allowed is days that the service has data of; ghi is missing in 100%"),
    ],
)
def test_other_conventions_are_refused_at_once(mood: str, message: str, service: Service, tmp_path: Path) -> None:
    """Another unit, another clock or days without data do not change by asking again, and nothing is kept."""
    service.moods = [mood] * 3
    with pytest.raises(InputError, match=message):
        fetch_year(PIEDMONT, YEAR, BRISK)
    assert len(service.asked) == 1 and kept(tmp_path) == []


def test_fill_values_are_filled_and_said(service: Service) -> None:
    """Two hours that the service has no temperature of are filled from their neighbours."""
    service.moods = ["two hours"]
    notes = fetch_year(PIEDMONT, YEAR, BRISK).notes
    assert len(notes) == 1 and notes[0].startswith("Filled: 2 hours without temp_air")


def test_a_damaged_quarter_on_disk_is_asked_for_again(service: Service, tmp_path: Path) -> None:
    """What was kept is read only if it is whole."""
    fetch_year(PIEDMONT, YEAR, BRISK)
    first = next((tmp_path / "cache").rglob("2019-01-01*"))
    first.write_text(first.read_text()[:50_000])
    service.asked.clear()
    np.testing.assert_array_equal(fetch_year(PIEDMONT, YEAR, BRISK).ghi, TABLE[:, 0])
    assert service.asked == ["20190101-20190331"]


def test_data_by_another_clock_are_refused_and_not_kept(service: Service, tmp_path: Path) -> None:
    """Stamps of another clock than they say come to light at noon, and the quarters are thrown away."""
    service.moods = ["an hour late"] * 4
    with pytest.raises(InputError, match=r'clock = "\d+ minutes late"'):
        fetch_year(PIEDMONT, YEAR, BRISK)
    assert len(service.asked) == 4 and kept(tmp_path) == []


def test_offline_is_one_clear_message(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a network: one line, exit code 2, nothing written."""
    monkeypatch.setenv("SUNRILL_WEATHER_SERVICE", "http://127.0.0.1:9/hourly")
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("NO_PROXY", "127.0.0.1")
    monkeypatch.setattr("sim.weather.fetch.time.sleep", lambda seconds: None)
    out = tmp_path / "out"
    assert cli.main(["weather", "--latitude", "50", "--longitude", "8", "--year", "2019", "--out", str(out)]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "the bundled world climate is the way on" in said and "tries" not in said
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("url", ["http://no-such-host.invalid/hourly", "http://127.0.0.1:9/hourly"])
def test_no_network_is_told_within_five_seconds(url: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A name that nobody knows and a door that is shut: no second try."""
    monkeypatch.setenv("SUNRILL_WEATHER_SERVICE", url)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("NO_PROXY", "*")
    begun = time.monotonic()
    with pytest.raises(InputError, match="world climate is the way on"):
        fetch_year(PIEDMONT, YEAR)
    assert time.monotonic() - begun < 5.0


def test_a_name_that_is_looked_up_without_end_is_given_up(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A network that swallows questions lets the lookup of a name hang for long."""
    waiting = threading.Event()
    monkeypatch.setattr("sim.weather.service.socket.getaddrinfo", lambda *_: waiting.wait(30.0))
    monkeypatch.setattr("sim.weather.service.CONNECT_S", 0.2)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("SUNRILL_WEATHER_SERVICE", "http://hanging.invalid/hourly")
    with pytest.raises(InputError, match="world climate is the way on"):
        fetch_year(PIEDMONT, YEAR)
    waiting.set()


def test_a_refusal_is_shown_and_not_asked_again(service: Service, tmp_path: Path) -> None:
    """422 comes with the service's own reasons; another try would bring the same."""
    service.moods = ["422"] * 4
    with pytest.raises(
        InputError, match="it refuses: 422, Your start date is outside of the available range.; Try 2001"
    ):
        fetch_year(PIEDMONT, YEAR)
    assert len(service.asked) == 1 and kept(tmp_path) == []


def test_an_address_that_is_none_is_refused_at_once(service: Service) -> None:
    """404 without a reason in its body."""
    service.moods = ["404"] * 4
    with pytest.raises(InputError, match="it refuses: 404, Not Found"):
        fetch_year(PIEDMONT, YEAR)
    assert len(service.asked) == 1


def test_a_wait_that_the_service_asks_for_is_kept(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """Retry-After in seconds or as a date that is over; the program's own pause where that is longer."""
    pauses: list[float] = []
    monkeypatch.setattr("sim.weather.fetch.time.sleep", pauses.append)
    service.moods = ["429 after 7", "503 after 1", "429 after Wed, 21 Oct 2015 07:28:00 GMT"]
    fetch_year(PIEDMONT, YEAR)
    assert pauses == [7.0, 4.0, 8.0]


def test_a_long_wait_is_told_instead(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    """An hour is not slept through."""
    monkeypatch.setattr("sim.weather.fetch.time.sleep", lambda seconds: pytest.fail("it slept"))
    service.moods = ["429 after 3600"]
    with pytest.raises(InputError, match="another try in 60 minutes, as the service asks"):
        fetch_year(PIEDMONT, YEAR)


def test_a_packed_answer_is_read(service: Service) -> None:
    """Gzip is what the program asks for."""
    service.moods = ["packed"] * 4
    np.testing.assert_array_equal(fetch_year(PIEDMONT, YEAR, BRISK).ghi, TABLE[:, 0])


def test_an_answer_that_would_burst_is_given_up(service: Service, tmp_path: Path) -> None:
    """A quarter of a gigabyte, packed a thousandfold, never takes more than what is allowed (peak traced here)."""
    bomb()
    service.moods = ["bomb"] * 3
    tracemalloc.start()
    with pytest.raises(InputError, match="the last: an answer of more than 8 MB"):
        fetch_year(PIEDMONT, YEAR, BRISK)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 60e6 and kept(tmp_path) == []


def test_the_last_months_are_not_there_yet(service: Service, tmp_path: Path) -> None:
    """Missing hours at the end of a recent year: up to when there are data, and the last full year."""
    year = date.today().year
    service.moods = ["unwritten"]
    last = datetime(year, 4, 1) - timedelta(hours=501)
    words = f"data up to {last:%Y-%m-%d}, the rest is not there yet. The last full year is {year - 1}"
    with pytest.raises(InputError, match=words):
        fetch_year(PIEDMONT, year, BRISK)
    service.moods = ["all unwritten"]
    with pytest.raises(InputError, match=f"there already: the rest is not there yet. The last full year is {year - 1}"):
        fetch_year(PIEDMONT, year, BRISK)
    assert kept(tmp_path) == []


def test_signs_in_an_answer_change_nothing(service: Service, tmp_path: Path) -> None:
    """What the service calls its sources stays one short line in the table that is written."""
    out = tmp_path / "out"
    service.moods = ["signs"] * 4
    command = ["weather", "--latitude", "36.1", "--longitude", "-79.95", "--year", str(YEAR), "--out", str(out)]
    assert cli.main(command) == 0
    head = (out / "weather_36.10N_79.95W_2019.csv").read_text("utf-8").split("\n")[:8]
    assert "# utc_offset_h = -5.0" in head and "# utc_offset_h = 9" not in head
    assert max(map(len, head)) < 500 and "\x1b" not in "".join(head)


def test_a_defect_in_the_check_keeps_nothing(service: Service, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever goes wrong with a whole year, its quarters are thrown away and asked for anew."""
    monkeypatch.setattr("sim.weather.fetch.checked_year", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        fetch_year(PIEDMONT, YEAR, BRISK)
    assert kept(tmp_path) == []


def test_a_thread_hands_its_failure_over(capsys: pytest.CaptureFixture[str]) -> None:
    """Whatever fails in the thread of an answer is raised where it was asked for, and nothing is printed."""
    with pytest.raises(ZeroDivisionError):
        within(5.0, lambda: 1 / 0)
    assert capsys.readouterr().err == ""


def test_a_clock_of_quarters_shares_the_hours_out(service: Service) -> None:
    """At 5 h 30 min behind, an hour takes half of each of two; the year's light stays (derived)."""
    weather = fetch_year(Place.at(36.1, -79.95, -5.5), YEAR, BRISK)
    light = TABLE[:, 0]
    np.testing.assert_allclose(weather.ghi[1:-1], (0.5 * (light + np.roll(light, -1)))[1:-1], atol=1e-9)
    assert weather.utc_offset_h == -5.5 and "30 minutes past" in weather.notes[0]


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ([], "a FILE, or --latitude and --longitude, with --year to fetch"),
        (["--latitude", "50"], "a FILE, or --latitude and --longitude, with --year to fetch"),
        (["year.epw", "--year", "2019"], "a FILE, or --latitude and --longitude, with --year to fetch"),
        (["--latitude", "50", "--longitude", "8", "--year", "2019", "--elevation", "9"], "nothing beside --year"),
        (["--latitude", "50", "--longitude", "8", "--elevation", "9001"], "--elevation = 9001.0: allowed is a number"),
        (["--latitude", "81", "--longitude", "8"], "--latitude = 81.0: allowed is a number from -56 to 79, where the"),
        (["--latitude", "91", "--longitude", "8", "--year", "2019"], "--latitude = 91.0: allowed is a number from -90"),
        (["--latitude", "nan", "--longitude", "8", "--year", "2019"], "--latitude = nan: allowed is a number from -90"),
        (["--latitude", "50", "--longitude", "8", "--year", "19"], "--year = 19: allowed is a year from 2001, where"),
        (
            ["--latitude", "20", "--longitude", "80", "--year", "2019", "--utc-offset", "5.6"],
            "--utc-offset = 5.6: allowed is quarters of an hour",
        ),
    ],
)
def test_wrong_arguments_are_one_line(
    arguments: list[str], message: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What does not go together, or is no place and no year, is said before anything is done."""
    assert cli.main(["weather", *arguments, "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and message in said
    assert list(tmp_path.iterdir()) == []
