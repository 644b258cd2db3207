"""The local page on a real server: ten thousand random forms, memory that does not grow, a start without anything."""

from __future__ import annotations

import os
import random
import re
import shutil
import time
from collections import Counter
from pathlib import Path
from typing import Any

import psutil
import pytest
import requests
from conftest import COURTYARD
from kit.serving import serving
from page.posts import Posts, keys_of

pytestmark = pytest.mark.long
POSTS = int(os.environ.get("SUNRILL_POSTS", "10000"))
GROWN = 1.15  # of the memory after the first third, what the last may take
ANSWER_S = 10.0  # that the owner's tab may wait while a machine is busy with everything else
LOOKS = 50  # times that the owner's tab asks
PATIENCE_S = 120.0


class Asks:
    """Asks a server at a printed address as the owner does."""

    def __init__(self, printed: str) -> None:
        self.host, self.session = printed.split("/?")[0], requests.Session()
        assert self.session.get(printed, timeout=PATIENCE_S).status_code == 200

    def get(self, path: str) -> requests.Response:
        """What stands at an address."""
        return self.session.get(self.host + path, timeout=PATIENCE_S)

    def post(self, path: str, headers: dict[str, str], **given: Any) -> int:
        """How something that is sent is answered."""
        asked = self.session.post(self.host + path, headers=headers, timeout=PATIENCE_S, allow_redirects=False, **given)
        return asked.status_code

    def until(self, words: str, path: str) -> None:
        """Wait until an answer is without some words."""
        end = time.monotonic() + PATIENCE_S
        while words in self.get(path).text:
            assert time.monotonic() < end
            time.sleep(0.2)


def test_ten_thousand_random_posts(tmp_path: Path) -> None:
    """None is a defect, the file is untouched, memory does not grow, and the owner's tab answers throughout."""
    folder = tmp_path / "ponds"
    folder.mkdir()
    shutil.copy(COURTYARD, folder)
    with serving(folder) as (printed, running):
        asks = Asks(printed)
        asks.until("Compiling for the first time", "/system/courtyard")
        posts, said, memory, waited = Posts(random.Random(19), keys_of(asks)), Counter[int](), [], []
        for k in range(POSTS):
            path, given = posts.anywhere()
            answered = asks.post(path, {"x-sunrill": "changes"} if k % 10 == 0 else {}, **given)
            assert answered < 500, (k, path, given)
            said[answered] += 1
            if k % max(POSTS // LOOKS, 1) == 0:
                began = time.monotonic()
                assert asks.get("/system/courtyard").status_code == 200
                waited.append(time.monotonic() - began)
                memory.append(psutil.Process(running.pid).memory_info().rss)
        assert asks.get("/").status_code == 200 and running.poll() is None
    third = len(memory) // 3
    first, last = max(memory[: 2 * third]), max(memory[2 * third :])
    print(
        f"\n{POSTS} posts: {dict(said)}; memory {[it // 1_000_000 for it in memory[:: max(third // 3, 1)]]} MB; "
        f"the owner's tab within {max(waited):.1f} s, mostly {sorted(waited)[len(waited) // 2]:.2f} s"
    )
    assert (folder / "courtyard.toml").read_bytes() == COURTYARD.read_bytes()
    assert last <= GROWN * first and max(waited) < ANSWER_S
    assert {path.suffix for path in tmp_path.iterdir()} == {""} and len(said) > 2


def test_a_start_without_a_compiled_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page answers at once, says that it compiles, takes a change, and has its figures when it has compiled."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    folder = tmp_path / "ponds"
    folder.mkdir()
    shutil.copy(COURTYARD, folder)
    with serving(folder) as (printed, _):
        began = time.monotonic()
        asks = Asks(printed)
        page = asks.get("/system/courtyard").text
        first_s = time.monotonic() - began
        assert "Compiling for the first time" in page and 'data-figure="pump_hours"' not in page
        assert asks.post("/system/courtyard", {}, data={"panel.tilt_deg": "52"}) == 303
        asks.until("Compiling for the first time", "/system/courtyard")
        print(f"\nthe first page after {first_s:.2f} s, compiled after {time.monotonic() - began:.0f} s")
        assert re.search(r'data-figure="pump_hours" value="[\d.]+"', asks.get("/system/courtyard").text)
        assert "tilt_deg = 52" in asks.get("/system/courtyard/file").text
    assert first_s < ANSWER_S and any((tmp_path / "cache").rglob("*.nbc"))
