"""Attacks on the page: who may ask, what may be read, how much may be sent, what hostile text does."""

from __future__ import annotations

import random
import socket
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from kit.serving import serving
from markupsafe import escape
from starlette.testclient import TestClient

from page.posts import Posts, keys_of
from sim.page.desk import Desk
from sim.page.live import Remembered

MIB = 1024 * 1024
CHANGES = {"x-sunrill": "changes"}


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "localhost:8765.evil.example", ""])
def test_a_foreign_host_is_refused(owner: TestClient, host: str) -> None:
    """A name that somebody else points at this computer does not open the page, with or without the key."""
    assert owner.get("/", headers={"host": host}).status_code == 403


@pytest.mark.parametrize("origin", ["http://evil.example", "https://127.0.0.1:8765", "null", "http://127.0.0.1:1"])
def test_a_foreign_origin_changes_nothing(owner: TestClient, folder: Path, origin: str) -> None:
    """A form on another site is refused though the browser brings the cookie along."""
    answer = owner.post("/system/courtyard", data={"do": "change", "title": "taken"}, headers={"origin": origin})
    assert answer.status_code == 403
    assert not (folder / ".courtyard.state").exists()


def test_the_own_origin_may_change(owner: TestClient, folder: Path) -> None:
    """The page's own form is taken: the refusals above are not for want of anything else."""
    origin = {"origin": "http://127.0.0.1:8765"}
    assert owner.post("/system/courtyard", data={"title": "mine"}, headers=origin).status_code == 200
    assert "mine" in (folder / ".courtyard.state").read_text()


@pytest.mark.parametrize("path", ["/", "/system/courtyard", "/look/page.js", "/system/courtyard/file", "/nothing"])
def test_without_the_key_nothing_is_told(stranger: TestClient, path: str) -> None:
    """Neither an address without the key nor one with another key opens anything."""
    assert stranger.get(path).status_code == 403
    assert stranger.get(path, params={"key": "guessed"}).status_code == 403
    assert "courtyard" not in stranger.get(path).text


def test_the_address_stays_valid(stranger: TestClient, desk: Desk) -> None:
    """The printed address opens the page again from another browser, and its cookie stays on this site."""
    for _ in range(2):
        answer = stranger.get(desk.keys.address)
        assert answer.status_code == 200 and "SameSite=Strict" in answer.headers["set-cookie"]
        stranger.cookies.clear()


def test_the_policy_lets_nothing_in(owner: TestClient) -> None:
    """Scripts come from the page's own file alone, and every answer says so, errors too."""
    for path in ("/", "/system/courtyard", "/system/none", "/look/none"):
        policy = owner.get(path).headers["content-security-policy"]
        assert "script-src 'self';" in policy and "unsafe" not in policy and "default-src 'none'" in policy


@pytest.mark.parametrize(
    "name", ["../secret", "..%2Fsecret", "%2e%2e%2fsecret", "..%5Csecret", ".courtyard", "%2Fetc%2Fpasswd", "a%00b"]
)
def test_no_path_leads_outside(owner: TestClient, name: str) -> None:
    """However the way out is written, what lies there is not shown."""
    answer = owner.get(f"/system/{name}")
    assert answer.status_code in (404, 422) and "secret outside" not in answer.text


def test_a_link_that_leads_outside_is_not_followed(owner: TestClient, folder: Path) -> None:
    """A scenario or a state that is a link to a place outside is neither read nor written nor listed."""
    (folder / "link.toml").symlink_to(folder.parent / "secret.toml")
    (folder / "round.toml").symlink_to(folder / "round.toml")
    (folder / ".courtyard.state").symlink_to(folder.parent / "outside.state")
    assert "/system/link" not in owner.get("/").text
    for name in ("link", "round", "courtyard"):
        assert owner.get(f"/system/{name}").status_code == 422
        assert owner.post(f"/system/{name}", data={"title": "x", "do": "save"}).status_code == 422
    assert not (folder.parent / "outside.state").exists()
    assert (folder.parent / "secret.toml").read_text() == 'title = "secret outside"\n'


@pytest.mark.parametrize("name", ["../secret.toml", "/etc/passwd", "link.csv"])
def test_weather_from_outside_is_not_read(owner: TestClient, folder: Path, name: str) -> None:
    """A scenario's weather file is opened inside the folder alone, and the message says what to do."""
    (folder / "link.csv").symlink_to(folder.parent / "secret.toml")
    told = owner.post("/system/courtyard", data={"weather.sample": "", "weather.file": name}, headers=CHANGES).json()
    assert "a file inside" in told["fields"]["weather.file"][2] and "--folder" in told["fields"]["weather.file"][2]


def test_an_upload_has_its_limit(owner: TestClient, folder: Path) -> None:
    """33 MiB are refused, also when the length is not told beforehand; 1 MiB is taken and replaces nothing."""
    big = b"x" * (33 * MIB)
    assert owner.post("/upload", files={"file": ("big.csv", big)}).status_code == 413
    untold = owner.post("/upload", content=(big[k : k + MIB] for k in range(0, len(big), MIB)), headers=_MULTIPART)
    assert untold.status_code == 413
    assert owner.post("/upload", files={"file": ("small.csv", b"x" * MIB)}).status_code == 200
    assert owner.post("/upload", files={"file": ("small.csv", b"y")}).status_code == 422
    assert (folder / "small.csv").stat().st_size == MIB and not (folder / "big.csv").exists()
    assert owner.post("/system/courtyard", data={"title": "x" * (9 * MIB)}).status_code == 413


_MULTIPART = {"content-type": "multipart/form-data; boundary=b"}


@pytest.mark.parametrize("name", ["../../evil.toml", "..\\evil.toml", "/evil.toml", ".evil.toml", "evil\x00.toml"])
def test_an_upload_lands_inside(owner: TestClient, folder: Path, name: str) -> None:
    """A hostile file name is cut to its last part or refused."""
    owner.post("/upload", files={"file": (name, b'title = "evil"\n')})
    assert {path.name for path in folder.parent.iterdir()} == {"ponds", "secret.toml"}


HOSTILE = ["<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "{{ 7*7 }}", "</title><script>", "'\"`${7*7}"]


@pytest.mark.parametrize("title", HOSTILE)
def test_a_hostile_title_is_text(owner: TestClient, folder: Path, title: str) -> None:
    """A title, a design's name and a state's name are shown as they are typed and run nowhere."""
    for doing in ("keep", "name"):
        assert owner.post("/system/courtyard", data={"title": title, "do": doing, "_name": title}).status_code == 200
    page = owner.get("/system/courtyard").text
    assert page.count(str(escape(title))) >= 3 and "<script>" not in page and "<img" not in page
    parts = owner.get("/system/courtyard/answer").json()["parts"]
    assert not any("<img" in html or "<script" in html for html in parts.values())


def test_a_hostile_file_name_is_text(owner: TestClient, folder: Path) -> None:
    """A file with signs of HTML in its name is listed as text."""
    (folder / "<img src=x onerror=alert(1)>.toml").write_text("x")
    assert "<img" not in owner.get("/").text


def test_random_posts_make_no_defect(owner: TestClient, folder: Path) -> None:
    """Random forms: none answered as a defect, the file untouched, the page still there.

    Ten thousand of them, to every address of a real server, are in tests/long/test_page_long.py.
    """
    before, posts = (folder / "courtyard.toml").read_bytes(), Posts(random.Random(1), keys_of(owner))
    for _ in range(60):
        data = posts.changing()
        assert owner.post("/system/courtyard", data=data, follow_redirects=False).status_code < 500, data
    assert (folder / "courtyard.toml").read_bytes() == before
    assert owner.get("/").status_code == 200


NINES = "9" * 5000


@pytest.mark.parametrize(
    "data",
    [
        {"_seen": NINES},
        {"_seen": "²"},
        {"do": f"go {NINES}"},
        {"do": f"stop {NINES}"},
        {"do": f"remove panel.shade.{NINES}"},
        {"panel.tilt_deg": NINES},
        {"weather.monthly.temp_air_c": "[" * 5000},
        {"_tab": "a", "_number": NINES},
    ],
    ids=str,
)
def test_a_number_without_end_is_none(owner: TestClient, desk: Desk, data: dict[str, str]) -> None:
    """More digits than anybody counts are no defect, wherever a number is looked for."""
    desk.ready.clear()
    assert owner.post("/system/courtyard", data=data, follow_redirects=False).status_code == 303


@pytest.mark.parametrize("path", [f"/report/{NINES}/0", f"/report/1/{NINES}", "/report/-1/x"])
def test_a_report_without_a_number_is_not_there(owner: TestClient, path: str) -> None:
    """Just as one that is not remembered any more."""
    assert owner.get(path).status_code == 404


def test_a_name_that_no_file_can_have_is_refused(owner: TestClient, folder: Path) -> None:
    """Too long in signs, or in the bytes that a file system counts."""
    for name in ("p" * 101, "\u6c60" * 90, NINES):
        assert owner.post("/begin", data={"name": name}).status_code == 422
        assert owner.get(f"/system/{name}").status_code == 422
        assert owner.post("/upload", files={"file": (f"{name}.csv", b"x")}).status_code in (400, 422)
    assert [path.name for path in folder.iterdir()] == ["courtyard.toml"]


def test_names_run_out_in_words(owner: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same name over and over gets numbers, and at last a message."""
    monkeypatch.setattr("sim.page.desk.MOST_ALIKE", 4)
    told = [owner.post("/begin", data={"name": "pond"}, follow_redirects=False).status_code for _ in range(4)]
    assert told == [303, 303, 303, 422]


def test_what_is_not_there_leaves_nothing_behind(owner: TestClient, desk: Desk) -> None:
    """Names that somebody makes up are not remembered, however many they are."""
    for k in range(20):
        data = {"_tab": "a", "_number": str(k), "title": "x"}
        assert owner.post(f"/system/none-{k}", data=data, headers=CHANGES).status_code == 422
        assert owner.get(f"/system/none-{k}").status_code == 422
    assert "none" not in str(vars(desk.turns))


def test_few_answers_are_remembered() -> None:
    """The last ones; what is used again stays."""
    few = Remembered(3)
    for key in (1, 2, 3, 1, 4, 5):
        few.get(key, lambda key=key: -key)  # type: ignore[misc]
    assert [few.known(key) for key in range(1, 6)] == [-1, None, None, -4, -5]


def test_connections_left_half_open_shut_nobody_out(folder: Path) -> None:
    """Fifty connections that begin a request and say no more: the owner's next request is answered at once."""
    with serving(folder) as (printed, _), ExitStack() as held:
        port = urlsplit(printed).port
        for _ in range(50):
            mute = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
            mute.sendall(b"POST /upload HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n")
        with urlopen(printed, timeout=30) as answer:
            assert answer.status == 200 and b"courtyard" in answer.read()
