"""The most worrying sites in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen, table
from sim.terminal.shared import print_written
from sim.words import printable

if TYPE_CHECKING:
    from sim.studies.sites import Sites

MOST_SITES, WORST_SITES, REASONS = 20, 3, 2  # of a list, of those with reasons, and how many of these


def print_sites(sites: Sites, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the most worrying sites and why, how many are well or wrong, and where the list is."""
    console = console or Screen()
    head = ("", "wanted met", "poor year", "longest stop h", "lowest", "worry")
    rows = (
        (
            escape(printable(row["name"])),
            f"{row['hours_met_share']:.1%}",
            f"{row['poor_year']['hours_met_share']:.1%}",
            f"{row['longest_stop_h']:.0f}",
            f"{row['min_soc']:.0%}",
            f"{row['worry']:.2f}",
        )
        for row in sites.simulated[:MOST_SITES]
    )
    console.print(table(head, rows))
    for row in (one for one in sites.simulated[:WORST_SITES] if one["why"]):
        console.print(f"{escape(printable(row['name']))}: {escape(printable(' '.join(row['why'][:REASONS])))}")
    if len(sites.simulated) > MOST_SITES:
        console.print(f"[dim]and {len(sites.simulated) - MOST_SITES} more[/dim]")
    console.print(f"{len(sites.simulated)} sites simulated, {len(sites.wrong)} wrong.")
    print_written(written, console)
