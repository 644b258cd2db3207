"""The recommended pair of voltages in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen, table
from sim.terminal.shared import print_coarse, print_written

if TYPE_CHECKING:
    from rich.table import Table

    from sim.studies.pairs import Pair, PairsResult


def _pair_row(name: str, pair: Pair) -> tuple[str, ...]:
    return (
        name,
        f"{pair.load_disconnect_v:.2f} / {pair.load_reconnect_v:.2f}",
        f"{pair.pump_hours:.0f}",
        f"{pair.hours_met_share:.1%}",
        str(pair.starts),
        f"{pair.min_soc:.0%}",
        f"{pair.longest_stop_h:.0f}",
        "yes" if pair.steady else "no",
    )


def _pair_table(result: PairsResult) -> Table:
    head = ("", "off / on V", "pump hours", "wanted met", "starts", "lowest", "longest stop h", "steady")
    return table(head, (_pair_row("present", result.present), _pair_row("recommended", result.recommended)))


def print_pairs(result: PairsResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the recommended pair beside the present one, the reasons, the changes and where the report is."""
    console = console or Screen()
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(result.pairs)} pairs of load voltages")
    console.print(_pair_table(result))
    for sentence in result.reasons:
        console.print(f"- {escape(sentence)}")
    console.print(f"Against the present pair: {escape('; '.join(result.changes))}")
    print_coarse(result.scenario, console)
    print_written(written, console)
