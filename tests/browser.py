"""Pages in a browser without a window: what it says of them, what they load, what an accessibility checker finds."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from kit.chromium import Tab, browser

from sim.browser import browser_path

OPENED = "document.querySelectorAll('details').forEach(it => { it.open = true; })"
MEASURED = """({
  wide: document.documentElement.scrollWidth,
  hidden: [...document.querySelectorAll(".wide:not(.scrolls)")]
    .filter(one => one.scrollWidth > one.clientWidth + 1)
    .map(one => [one.className, one.textContent.trim().slice(0, 60), one.scrollWidth]),
  loaded: performance.getEntriesByType("resource").map(one => one.name).filter(name => !name.startsWith("data:")),
})"""
# Rows of a table that differ in nothing but their words, and marks of a chart that differ in nothing but their place,
# take the checker long: two of each kind stay, odd and even.
THINNED = """(() => {
  const thin = (alike, kindOf) => {
    const met = {};
    for (const one of [...alike]) {
      const kind = kindOf(one);
      met[kind] = (met[kind] || 0) + 1;
      if (met[kind] > 2) one.remove();
    }
  };
  const places = ["d", "x", "y", "x1", "x2", "y1", "y2", "cx", "cy", "width", "height", "points", "transform"];
  const looks = one => [...one.attributes].filter(it => !places.includes(it.name)).map(it => it.name + it.value);
  document.querySelectorAll("tbody").forEach(body => thin(body.rows, row => row.outerHTML.replace(/>[^<]+</g, "><")));
  document.querySelectorAll("svg").forEach(chart => thin(
    [...chart.querySelectorAll(":not(:has(*))")].filter(one => !["title", "desc"].includes(one.tagName)),
    mark => [mark.tagName, ...looks(mark)].join(),
  ));
})()"""
CHECKED = """axe.run(document, {resultTypes: ["violations"], ...%s}).then(found => ({
  broken: found.violations.map(rule => [rule.id, rule.nodes.slice(0, 3).map(node => node.html)]),
  passed: found.passes.length,
}))"""


class Seen(NamedTuple):
    """What a browser made of a page, and what it said on its console."""

    dom: str
    console: list[str]


def needs_browser() -> None:
    """Skip where there is no browser, but fail in CI."""
    if browser_path() is None:
        assert os.environ.get("CI") != "true", "CI needs a chromium on its path"
        pytest.skip("no chromium on this machine")


@contextmanager
def opened(page: Path) -> Iterator[Tab]:
    """A page in a tab; skips where there is no browser, but fails in CI."""
    needs_browser()
    with browser() as tab:
        tab.open(page.as_uri())
        yield tab


def browse(page: Path) -> Seen:
    """What a browser makes of a page."""
    with opened(page) as tab:
        return Seen(tab.ask("document.documentElement.outerHTML"), tab.console)


def widths_at_320(tmp_path: Path, html: str) -> list[int]:
    """How wide a page is on a screen of 320 pixels, as it comes and with every table open."""
    page = tmp_path / "small.html"
    page.write_text(html, encoding="utf-8")
    with opened(page) as tab:
        tab.screen(320, 800)
        wide = "document.documentElement.scrollWidth"
        return [tab.ask(wide), tab.ask(f"{OPENED}, {wide}")]


@cache
def checker() -> str:
    """The source of axe-core."""
    inside = find_spec("axe_core_python")
    assert inside and inside.submodule_search_locations
    return (Path(inside.submodule_search_locations[0]) / "axe.min.js").read_text("utf-8")


def checked(tab: Tab, rules: Sequence[str] = ()) -> dict[str, Any]:
    """What axe-core finds broken in a tab with every table open, by all its rules or by these."""
    tab.ask(f"{OPENED}; {THINNED}")
    tab.ask(f"if (!window.axe) {{ {checker()} }}; 0")
    found: dict[str, Any] = tab.ask(CHECKED % json.dumps({"runOnly": list(rules)} if rules else {}))
    return found


def measured(tab: Tab) -> dict[str, Any]:
    """How wide the page in a tab is with every table open, which tables scroll and bear no mark of it, and what the
    page loads beside itself.
    """
    tab.ask(OPENED)
    found: dict[str, Any] = tab.ask(MEASURED)
    return found


# Widths in pixels, how the page is shown there, and what is asked of it: in dark only the colours are others.
PHONES: tuple[tuple[int, str, tuple[str, ...]], ...] = ((320, "light", ()), (390, "dark", ("color-contrast",)))


def fit_phones(tmp_path: Path, html: str) -> None:
    """On every phone nothing sticks out, no table hides columns without a mark, and axe-core finds nothing.

    What charts draw within their frame takes the checker long, and is the same on any screen: it is left out.
    """
    page = tmp_path / "phone.html"
    page.write_text(re.sub(r"(</desc>).*?(</svg>)", r"\1\2", html, flags=re.DOTALL), encoding="utf-8")
    with opened(page) as tab:
        for width, scheme, _ in PHONES:
            tab.screen(width, 800, scheme)
            found = measured(tab)
            assert found["wide"] == width and found["hidden"] == []
        for width, scheme, rules in PHONES:
            tab.screen(width, 800, scheme)
            found = checked(tab, rules)
            assert found["passed"] and found["broken"] == [], f"{width} {scheme}"


def examined(tmp_path: Path, html: str) -> dict[str, Any]:
    """What axe-core finds broken in a page with every table open, and what the page loads beside itself."""
    page = tmp_path / "examined.html"
    page.write_text(html, encoding="utf-8")
    with opened(page) as tab:
        return measured(tab) | checked(tab)
