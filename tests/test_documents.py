"""What the documents point to is there, and comes with a clone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DOCUMENTS = ("README.md", "DEVELOPERS.md", "reports/README.md")


@pytest.mark.parametrize("name", DOCUMENTS)
def test_every_link_and_picture_is_there(name: str) -> None:
    """A link that is no address names a file of the project, and none that a clone would leave behind."""
    text = (ROOT / name).read_text(encoding="utf-8")
    named = [link.partition("#")[0] for link in re.findall(r"\]\(([^)\s]+)\)", text)]
    linked = [ROOT / name / ".." / link for link in named if link and not re.match(r"[a-z]+:", link)]
    kept = (ROOT / "reports" / ".gitignore").read_text(encoding="utf-8").splitlines()
    for path in map(Path.resolve, linked):
        assert path.exists(), path
        assert path.parent != ROOT / "reports" or f"!{path.name}" in kept, path
