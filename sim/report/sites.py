"""The overview of many sites: a row of twelve small bars for each, the most worrying first and why, and a table."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from typing import Any
from urllib.parse import quote

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.report.blocks import Key, Legend, Points, SiteRow, SiteRows, Table, Words, tabled, words
from sim.report.render import render
from sim.report.section import Page, Section
from sim.report.sections.assumptions import cautions
from sim.studies.site import A_WARNING, POOR_OF, TOO_LONG
from sim.studies.sites import Sites
from sim.words import hours, percent

MOST_ROWS = 500  # on the page; all of them stand in the CSV
WIDTH, HEIGHT, ROOM, BAR = 240.0, 40.0, 20.0, 14.0  # of the small bars, in their own units
REASONS = 5  # of a site, on the page
CALM = 0.02  # less worry is none
COLUMNS = ("name", "title", "pump_hours", "hours_met_share", "worst_month", "longest_stop_h", "min_soc", "warnings",
           "worry", "report", "error")  # fmt: skip

HOW = (
    "The worry adds up the share of wanted hours that a typical year misses, the share that the worst month of a poor "
    f"year misses, {A_WARNING:g} for each warning, and {TOO_LONG:g} where a stop is longer than the scenario allows. "
    f"The weights are our own. A poor year is the one that stands at a tenth of {POOR_OF} synthetic years."
)
ESTIMATE = "These are estimates, not guarantees: what each design does in a typical and in a poor year of weather."
LEGEND = Legend(
    (
        Key("water", "wanted hours met in a typical year, January to December"),
        Key("none", "wanted hours"),
        Key("line", "met in the poor year"),
    )
)


def sites_report(sites: Sites) -> str:
    """The overview as one self-contained HTML page; the same sites give the same text."""
    sections = (
        Section("sites", "The most worrying first", _first(sites)),
        Section("wrong", "Not simulated", _wrong(sites)) if sites.wrong else None,
        Section("table", "All figures side by side", (_table(sites.simulated[:MOST_ROWS]),))
        if sites.simulated
        else None,
        Section("how", "How this list is made", (*words((HOW,)), Words(ESTIMATE, "estimate"))),
        cautions(),
    )
    made = tuple(one for one in sections if one)
    return render(Page("Many sites on sunlight", _title(sites), _promise(sites), made))


def _title(sites: Sites) -> str:
    return f"{len(sites.rows)} {'site' if len(sites.rows) == 1 else 'sites'}"


def _promise(sites: Sites) -> str:
    """How many ask for a visit."""
    calm = sum(row["worry"] <= CALM for row in sites.simulated)
    wrong = f"; {len(sites.wrong)} could not be simulated" if sites.wrong else ""
    return f"{len(sites.simulated) - calm} with something to worry about, {calm} with nothing{wrong}"


def _first(sites: Sites) -> tuple[object, ...]:
    shown = sites.simulated[:MOST_ROWS]
    left = len(sites.simulated) - len(shown)
    more = f"The {len(shown)} most worrying sites are shown; the other {left} stand in sites.csv." if left else ""
    none = "" if shown else "No site could be simulated."
    rows = (LEGEND, SiteRows(tuple(_row(row) for row in shown))) if shown else ()
    return *words((none, more)), *rows


def _row(row: dict[str, Any]) -> SiteRow:
    met, poor = row["met_share_by_month"], row["poor_year"]["met_share_by_month"]
    return SiteRow(
        title=row["title"],
        name=row["name"],
        link=quote(row["report"]),
        svg=bars(met, poor),
        figures=f"{percent(row['hours_met_share'])} of the wanted hours met in a typical year, "
        f"{percent(row['poor_year']['hours_met_share'])} in a poor one; longest stop {hours(row['longest_stop_h'])}; "
        f"lowest charge {percent(row['min_soc'])}.",
        why=_reasons(row["why"]),
    )


def _reasons(why: Sequence[str]) -> tuple[str, ...]:
    """The first reasons to worry in a sentence each, and how many more there are."""
    left = len(why) - REASONS
    more = (f"{left} more {'stands' if left == 1 else 'stand'} in its report.",) if left > 0 else ()
    return (*(re.split(r"(?<=\.) (?=[A-Z])", one)[0] for one in why[:REASONS]), *more) or ("Nothing to worry about.",)


def bars(met: Sequence[float], poor: Sequence[float]) -> str:
    """Twelve small bars of shares met (12,), in the frame of what was wanted, and a stroke for the poor year's (12,).

    >>> bars([1.0] * 12, [0.5] * 12).count("<rect")
    24
    """
    drawn = []
    for month, (share, low) in enumerate(zip(np.clip(met, 0.0, 1.0), np.clip(poor, 0.0, 1.0), strict=True)):
        left, top, line = month * ROOM + (ROOM - BAR) / 2.0, HEIGHT * (1.0 - share), HEIGHT * (1.0 - low)
        drawn += [
            f'<rect class="frame" x="{left:g}" y="0" width="{BAR:g}" height="{HEIGHT:g}"/>',
            f'<rect class="met" x="{left:g}" y="{top:.1f}" width="{BAR:g}" height="{HEIGHT - top:.1f}"/>',
            f'<path class="poor" d="M{left - 2.0:g} {line:.1f}h{BAR + 4.0:g}"/>',
        ]
    said = ", ".join(f"{name} {percent(a)} and {percent(b)}" for name, a, b in zip(MONTHS, met, poor, strict=True))
    return (
        f'<svg class="small-bars" role="img" aria-label="Wanted hours met in a typical and in the poor year: {said}" '
        f'viewBox="-2 -2 {WIDTH + 4.0:g} {HEIGHT + 4.0:g}">{"".join(drawn)}</svg>'
    )


def _wrong(sites: Sites) -> tuple[object, ...]:
    return (Points(tuple(f"{row['name']}: {row['error']}" for row in sites.wrong)),)


def _table(rows: Sequence[dict[str, Any]]) -> Table:
    """The figures of sites."""
    return tabled(
        "Site",
        [row["name"] for row in rows],
        ("Worry", [row["worry"] for row in rows], ".2f"),
        ("Pump hours", [row["pump_hours"] for row in rows], ",.0f"),
        ("Wanted met", [row["hours_met_share"] for row in rows], percent),
        ("Worst month", [MONTH_NAMES[row["worst_month"] - 1] for row in rows], str),
        ("Longest stop, h", [row["longest_stop_h"] for row in rows], ".0f"),
        ("Lowest charge", [row["min_soc"] for row in rows], percent),
        ("Warnings", [row["warnings"] for row in rows], "d"),
    )


def as_csv(sites: Sites) -> str:
    """The list as a table, a row for each site; empty where there is nothing."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(COLUMNS)
    table.writerows([_cell(row[name]) for name in COLUMNS] for row in sites.rows)
    return text.getvalue()


def _cell(value: Any) -> Any:
    """A value, and a text that a spreadsheet would take for a formula behind an apostrophe."""
    return f"'{value}" if isinstance(value, str) and value[:1] in "=+-@\t\r" and value else value
