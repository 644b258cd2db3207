"""Page data into HTML: the only place that knows the templates."""

from collections.abc import Sequence
from dataclasses import replace
from importlib.resources import files

import numpy as np
from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sim.report.client import poor_year
from sim.report.page import page_of
from sim.report.section import Page
from sim.studies.result import YearResult

LONGEST_FOOT = 90  # signs of a title at the foot of a printed page


def year_report(result: YearResult, poor: YearResult | Sequence[float] | np.ndarray | None = None) -> str:
    """The report of a simulated year as one self-contained HTML page; the same year gives the same text.

    ``poor`` is a poor year beside it, as a simulated one or as its (12,) pump hours by month.
    """
    return render(page_of(result, poor_year(result, poor)))


def client_report(result: YearResult, poor: YearResult | Sequence[float] | np.ndarray | None = None) -> str:
    """The client's page alone, as a page of its own."""
    page = page_of(result, poor_year(result, poor))
    return render(replace(page, sections=page.sections[:1]))


def render(page: Page) -> str:
    """The HTML of a page. Everything is escaped but the style sheet and what goes through the filter ``drawn``.

    These are charts, which hold no text of a user's, and what a section embeds for its script.
    """
    rooms = Environment(
        loader=PackageLoader("sim.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    rooms.filters |= {"drawn": Markup, "css": css_text, "kind": lambda block: type(block).__name__.lower()}
    style = files("sim.report").joinpath("style.css").read_text(encoding="utf-8")
    return rooms.get_template("base.html.j2").render(page=page, style=Markup(style))


def css_text(words: str) -> str:
    r"""Words within a style sheet's quotes: all but plain letters and digits by their numbers; a long text is cut.

    >>> css_text('A"</style>')
    'A\\22 \\3c \\2f style\\3e '
    """
    shown = words if len(words) <= LONGEST_FOOT else f"{words[:LONGEST_FOOT]}…"
    return "".join(sign if sign.isascii() and sign.isalnum() else f"\\{ord(sign):x} " for sign in shown)
