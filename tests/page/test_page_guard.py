"""Attacks on the page: who may ask, what may be read, how much may be sent, what hostile text does."""

from __future__ import annotations

import random
import socket
import string
from contextlib import ExitStack
from pathlib import Path
from urllib.parse import urlsplit
from urllib.request import urlopen

import pytest
from kit.serving import serving
from markupsafe import escape
from starlette.testclient import TestClient

from sim.page.desk import Desk

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


@pytest.mark.parametrize("posts", [30, pytest.param(10000, marks=pytest.mark.long)])
def test_random_posts_make_no_defect(owner: TestClient, folder: Path, posts: int) -> None:
    """Random forms: none answered as a defect, the file untouched, the page still there.

    Keys are fields, buttons and noise; values are numbers, TOML, signs of HTML and noise; the dice are fixed.
    """
    before, dice = (folder / "courtyard.toml").read_bytes(), random.Random(1)
    keys = list(owner.get("/system/courtyard/answer").json()["fields"])
    for _ in range(posts):
        data = {_key(dice, keys): _noise(dice) for _ in range(dice.randint(0, 3))}
        data["do"] = dice.choice(_DOING) + (f" {_noise(dice)}" if dice.random() < 0.5 else "")
        data["_seen"] = dice.choice(["", "0", "7", "99999999999999999999", "-1", "x"])
        status = owner.post("/system/courtyard", data=data, follow_redirects=False).status_code
        assert status < 500, data
    assert (folder / "courtyard.toml").read_bytes() == before
    assert owner.get("/").status_code == 200


_DOING = ["change", "undo", "redo", "go", "name", "keep", "drop", "again", "take", "add", "remove", "nonsense"]
_TEXTS = [
    "[",
    "[[",
    "{}",
    "1e999",
    "nan",
    "=",
    "\\",
    '"',
    "[[1,2],[3,",
    "07:00-09:00",
    "12,5",
    "\x00",
    "é\u2028\ud7ff",
    "-",
]


def _key(dice: random.Random, keys: list[str]) -> str:
    return dice.choice(keys) if dice.random() < 0.8 else dice.choice(["panel", "panel.shade", "a.b", "", "alternative"])


def _noise(dice: random.Random) -> str:
    made = "".join(dice.choice(string.printable) for _ in range(dice.randint(0, 12)))
    return dice.choice([*_TEXTS, made, str(dice.uniform(-1e3, 1e3)), "panel.shade.0", "panel.shade", "12.2 13.1"])


def test_connections_left_half_open_shut_nobody_out(folder: Path) -> None:
    """Fifty connections that begin a request and say no more: the owner's next request is answered at once."""
    with serving(folder) as (printed, _), ExitStack() as held:
        port = urlsplit(printed).port
        for _ in range(50):
            mute = held.enter_context(socket.create_connection(("127.0.0.1", port), timeout=10))
            mute.sendall(b"POST /upload HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 1000\r\n")
        with urlopen(printed, timeout=30) as answer:
            assert answer.status == 200 and b"courtyard" in answer.read()
