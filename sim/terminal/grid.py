"""A region in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen
from sim.terminal.shared import print_written

if TYPE_CHECKING:
    from sim.studies.grid import GridResult


def print_grid(result: GridResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print how much of a region a design is enough for, and where the maps are."""
    console = console or Screen()
    shares = sorted(one.worst_month_met for one in result.places)
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(shares)} places on land")
    if shares:
        console.print(f"In the worst month {shares[0]:.0%} to {shares[-1]:.0%} of the wanted hours are met.")
    print_written(written, console)
