"""What is wrong in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen
from sim.studies.diagnose_symptom import CAUTIONS
from sim.terminal.shared import print_written
from sim.units import told

if TYPE_CHECKING:
    from sim.studies.diagnose import Diagnosis


def print_diagnosis(found: Diagnosis, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what is wrong, how sure that is, what to change and what to measure next."""
    console = console or Screen()
    console.print(f"[bold]{escape(found.scenario.title)}[/bold]")
    console.print(f"[bold]{escape(found.in_words)}[/bold]")
    for cause in found.likely:
        console.print(f"{cause.probability:4.0%}  {cause.id}: {escape(cause.evidence)}")
        console.print(f"      {escape(cause.change)}")
    if found.next:
        console.print(f"[bold]Measure next[/]. {escape(found.next.words)}")
    for note in found.notes:
        console.print(f"[dim]{escape(note)}[/dim]")
    for caution in CAUTIONS:
        console.print(f"[yellow]caution[/]: {escape(told(caution))}")
    print_written(written, console)
