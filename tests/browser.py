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
  const wide = document.documentElement.scrollWidth;
  const hidden = [...document.querySelectorAll(".wide:not(.scrolls)")]
    .filter(one => one.scrollWidth > one.clientWidth + 1)
    .map(one => [one.className, one.textContent.trim().slice(0, 60), one.scrollWidth]);
  told.textContent = JSON.stringify({broken, loaded, passed: found.passes.length, wide, hidden});
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


SMALL = """<!doctype html><title>widths</title>%s<script>
const frames = [...document.querySelectorAll("iframe")];
onload = () => { document.title = "widths " + frames.map(one => one.contentDocument.documentElement.scrollWidth); };
</script>"""


def widths_at_320(tmp_path: Path, html: str) -> list[int]:
    """How wide a page is on a screen of 320 pixels, as it comes and with every table open."""
    frames = []
    for name, shown in (("as-it-comes", html), ("opened", html.replace("<details>", "<details open>"))):
        (tmp_path / f"{name}.html").write_text(shown, encoding="utf-8")
        frames.append(f'<iframe src="{name}.html" width="320" height="800" style="border:0"></iframe>')
    frame = tmp_path / "small.html"
    frame.write_text(SMALL % "".join(frames), encoding="utf-8")
    dom = browse(tmp_path, frame, "--hide-scrollbars", "--dump-dom").stdout
    told = re.search(r"<title>widths ([\d,]+)</title>", dom)
    assert told, "the browser measured nothing"
    return [int(width) for width in told[1].split(",")]


PHONES = ((320, "light"), (390, "dark"))  # widths in pixels, and how the page is shown there
GATHER = """<!doctype html><html lang="en"><title>phones</title><body>%s<script>
const waiting = setInterval(() => {
  const told = [...document.querySelectorAll("iframe")].map(one => one.contentDocument.getElementById("told"));
  if (!told.every(Boolean)) return;
  clearInterval(waiting);
  const all = document.createElement("pre");
  all.id = "all";
  all.textContent = JSON.stringify(told.map(one => JSON.parse(one.textContent)));
  document.body.append(all);
}, 50);
</script></body></html>"""


def on_phones(tmp_path: Path, html: str) -> list[dict[str, object]]:
    """What axe-core finds broken on each of PHONES with every table open, how wide the page is, and what is hidden.

    One start of the browser for all of them; ``hidden`` are tables that scroll and bear no mark of it. What charts draw
    within their frame takes the checker long, and is the same on any screen: it is left out.
    """
    _lay_axe(tmp_path)
    framed = re.sub(r"(</desc>).*?(</svg>)", r"\1\2", html, flags=re.DOTALL)
    shown = framed.replace("<details>", "<details open>").replace("</body>", ASKED)
    frames = []
    for width, colours in PHONES:
        page = shown.replace("(prefers-color-scheme:dark)", "all") if colours == "dark" else shown
        (tmp_path / f"phone-{width}.html").write_text(page, encoding="utf-8")
        frames.append(f'<iframe title="{width}" src="phone-{width}.html" width="{width}" height="800"></iframe>')
    frame = tmp_path / "phones.html"
    frame.write_text(GATHER % "".join(frames).replace("<iframe", '<iframe style="border:0"'), encoding="utf-8")
    dom = browse(tmp_path, frame, "--virtual-time-budget=60000", "--hide-scrollbars", "--dump-dom").stdout
    told = re.search(r'<pre id="all">(.*?)</pre>', dom, re.DOTALL)
    assert told, "the checker came to no end"
    found: list[dict[str, object]] = json.loads(unescape(told[1]))
    return found


def fit_phones(tmp_path: Path, html: str) -> None:
    """On every phone nothing sticks out, no table hides columns without a mark, and axe-core finds nothing."""
    for (width, colours), found in zip(PHONES, on_phones(tmp_path, html), strict=True):
        assert found["broken"] == [], f"{width} {colours}"
        assert found["wide"] == width and found["hidden"] == []


def _lay_axe(folder: Path) -> None:
    """The checker beside the page."""
    inside = find_spec("axe_core_python")
    assert inside and inside.submodule_search_locations
    (folder / "axe.min.js").write_bytes((Path(inside.submodule_search_locations[0]) / "axe.min.js").read_bytes())


def examined(tmp_path: Path, html: str) -> dict[str, list[object]]:
    """What axe-core finds broken in a page with every table open, and what the page loads beside itself."""
    _lay_axe(tmp_path)
    page = tmp_path / "examined.html"
    shown = html.replace("<details>", "<details open>")
    page.write_text(shown.replace("</body>", ASKED), encoding="utf-8")
    dom = browse(tmp_path, page, "--virtual-time-budget=60000", "--dump-dom").stdout
    told = re.search(r'<pre id="told">(.*?)</pre>', dom, re.DOTALL)
    assert told, "the checker came to no end"
    found: dict[str, list[object]] = json.loads(unescape(told[1]))
    found["loaded"] = [name for name in found["loaded"] if not str(name).startswith("data:")]
    return found
