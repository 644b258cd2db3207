"""What to buy in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen
from sim.terminal.shared import print_coarse, print_findings, print_written

if TYPE_CHECKING:
    from sim.studies.size import SizeResult


def print_size(result: SizeResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what to buy and how to run it, what one size less would cost, and where report and scenario are."""
    from sim.report.size_words import answer, fresh_sentence, less_sentences

    console = console or Screen()
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(result.designs)} designs judged")
    for sentence in (answer(result), fresh_sentence(result), *less_sentences(result)):
        console.print(escape(sentence))
    print_findings(console, result.year.findings)
    print_coarse(result.scenario, console)
    print_written(written, console)
