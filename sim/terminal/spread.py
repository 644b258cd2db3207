"""Many years in a few lines."""

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

    from sim.studies.spread import SpreadResult

_SPREAD = (
    ("pump hours", "hours", "pump_hours", "{:.0f}"),
    ("wanted hours met", "hours_met_share", "hours_met_share", "{:.1%}"),
    ("longest stop, h", "longest_stop_h", "longest_stop_h", "{:.0f}"),
    ("days without running", "idle_days", "days_without_running", "{:.0f}"),
)


def _spread_table(result: SpreadResult) -> Table:
    typical = result.typical.measures
    rows = (
        (words, *(form.format(value) for value in (*vars(result.quantiles(name)).values(), getattr(typical, own))))
        for words, name, own, form in _SPREAD
    )
    return table(("of a year", "P10", "P50", "P90", "typical"), rows)


def print_spread(result: SpreadResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what a tenth, a half and nine tenths of the years stay below, the poor year and where the reports are."""
    from sim.report.standing import poor_no_poorer, rank

    console = console or Screen()
    poor = result.poor_year.measures
    kind = "synthetic years" if result.synthetic else "years"
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {result.years} {kind}")
    console.print(_spread_table(result))
    console.print(
        f"Poor year ({result.poor_name}): pump hours {poor.pump_hours:.0f}; {poor.hours_met_share:.1%} of the wanted "
        f"hours met; longest stop {poor.longest_stop_h:.0f} h; {poor.days_without_running} days without running."
    )
    for sentence in filter(None, (rank(result), poor_no_poorer(result), result.convergence.in_words())):
        console.print(sentence)
    print_coarse(result.scenario, console)
    print_written(written, console)
