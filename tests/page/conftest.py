"""The page on a folder of its own, asked without a socket."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from sim.page.desk import Desk
from sim.page.folder import Folder
from sim.page.guard import Keys
from sim.page.routes import application

COURTYARD = Path(__file__).parents[2] / "scenarios" / "courtyard.toml"
PORT = 8765


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one scenario, and something outside it that nobody may read."""
    place = tmp_path / "ponds"
    place.mkdir()
    shutil.copy(COURTYARD, place / "courtyard.toml")
    (tmp_path / "secret.toml").write_text('title = "secret outside"\n')
    return place


@pytest.fixture
def desk(folder: Path) -> Desk:
    """What the page works with; nothing needs to be compiled first."""
    made = Desk(Folder.at(folder), Keys.new(PORT))
    made.ready.set()
    return made


@pytest.fixture
def stranger(desk: Desk) -> TestClient:
    """Somebody without the key."""
    client = TestClient(application(desk), base_url=f"http://127.0.0.1:{PORT}", raise_server_exceptions=False)
    client.follow_redirects = True
    return client


@pytest.fixture
def owner(stranger: TestClient, desk: Desk) -> TestClient:
    """The owner, who has opened the printed address."""
    assert stranger.get(desk.keys.address).status_code == 200
    return stranger
