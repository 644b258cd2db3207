"""Reading reports, and titles that a report must survive."""

from __future__ import annotations

import re
from html import unescape

from sim.report.page import Maker, page_of
from sim.report.render import render
from sim.studies.result import YearResult
from sim.units import in_units

HOSTILE = {
    "script": "<script>alert(1)</script>",
    "closing tags": "</title></style></h1><img src=x onerror=alert(1)>",
    "right to left": "\u202eetirw\u202c \u05d1\u05e8\u05db\u05d4",
    "300 letters": "W" * 300,
    "emoji": "\U0001f41f\U0001f469\u200d\U0001f33e pond",
    "quotes": '"O\'Rill" & `co` {{ 7*7 }} {% raw %}',
    "mathematics": "$\\frac{1}{0}$",
}
# A report each: all the odd signs in one title, and the longest title.
TITLES = {
    "hostile": " ".join(title for title in HOSTILE.values() if len(title) < 300),
    "300 letters": HOSTILE["300 letters"],
}


def parts_of(result: YearResult, *makers: Maker) -> str:
    """A year's report of the client's page and some sections alone."""
    with in_units(result.scenario.report.units):
        return render(page_of(result, makers))


def text_of(html: str) -> str:
    """What a reader sees of a piece of HTML."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def cells_of(html: str, key: str) -> list[list[str]]:
    """The body of the table behind a chart, as text."""
    behind = html.split(f'id="{key}-title"')[1].split("<details>")[1].split("</details>")[0]
    rows = re.findall(r"<tr>(.*?)</tr>", behind.split("<tbody>")[1], re.DOTALL)
    return [[text_of(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in rows]


def without_foot(html: str) -> str:
    """A page without the words at the foot of its printed pages."""
    return re.sub(r'@bottom-left\{content:"[^"]*"', "", html)
