"""Page data into HTML: the only place that knows the templates."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files
from typing import TYPE_CHECKING

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from sim.report.client import poor_year
from sim.report.page import page_of

if TYPE_CHECKING:
    import numpy as np

    from sim.report.section import Page
    from sim.studies.result import YearResult


def year_report(result: YearResult, poor: YearResult | Sequence[float] | np.ndarray | None = None) -> str:
    """The report of a simulated year as one self-contained HTML page; the same year gives the same text.

    ``poor`` is a poor year beside it, as a simulated one or as its (12,) pump hours by month.
    """
    return render(page_of(result, poor_year(result, poor)))


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
    rooms.filters["drawn"] = Markup
    style = files("sim.report").joinpath("style.css").read_text(encoding="utf-8")
    return rooms.get_template("base.html.j2").render(page=page, style=Markup(style))
