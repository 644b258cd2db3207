"""Pages in a browser without a window: what it says of them, what they load, what an accessibility checker finds."""

from __future__ import annotations

import json
import os
import re
import subprocess
from html import unescape
from importlib.util import find_spec
from pathlib import Path

import pytest

from sim.browser import browser_path, command

ASKED = """
<script src="axe.min.js"></script>
<script>
axe.run(document, {resultTypes: ["violations"]}).then(found => {
  const loaded = performance.getEntriesByType("resource").map(one => one.name);
  const broken = found.violations.map(rule => [rule.id, rule.nodes.slice(0, 3).map(node => node.html)]);
  const told = document.createElement("pre");
  told.id = "told";
  told.textContent = JSON.stringify({broken, loaded, passed: found.passes.length});
  document.body.append(told);
});
</script>
</body>"""


def needs_browser() -> None:
    """Skip where there is no browser, but fail in CI."""
    if browser_path() is None:
        assert os.environ.get("CI") != "true", "CI needs a chromium on its path"
        pytest.skip("no chromium on this machine")


def browse(tmp_path: Path, page: Path, *options: str) -> subprocess.CompletedProcess[str]:
    """What a browser without a window prints of a page; skips where there is none, but fails in CI."""
    needs_browser()
    call = [*command(tmp_path / "profile", "--allow-file-access-from-files", *options), page.as_uri()]
    return subprocess.run(call, capture_output=True, text=True, timeout=120, check=True)


def examined(tmp_path: Path, html: str) -> dict[str, list[object]]:
    """What axe-core finds broken in a page with every table open, and what the page loads beside itself."""
    inside = find_spec("axe_core_python")
    assert inside and inside.submodule_search_locations
    (tmp_path / "axe.min.js").write_bytes((Path(inside.submodule_search_locations[0]) / "axe.min.js").read_bytes())
    page = tmp_path / "examined.html"
    shown = html.replace("<details>", "<details open>")
    page.write_text(shown.replace("</body>", ASKED), encoding="utf-8")
    dom = browse(tmp_path, page, "--virtual-time-budget=60000", "--dump-dom").stdout
    told = re.search(r'<pre id="told">(.*?)</pre>', dom, re.DOTALL)
    assert told, "the checker came to no end"
    found: dict[str, list[object]] = json.loads(unescape(told[1]))
    found["loaded"] = [name for name in found["loaded"] if not str(name).startswith("data:")]
    return found
