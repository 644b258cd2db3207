"""Designs and next steps in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.calendar import MONTHS
from sim.screen import Screen, table
from sim.terminal.shared import print_coarse, print_written

if TYPE_CHECKING:
    from rich.table import Table

    from sim.studies.compare import CompareResult, Row


def _design_row(row: Row) -> tuple[str, ...]:
    year, found = row.run.measures, row.gain
    return (
        escape(row.name),
        f"{year.pump_hours:.0f}",
        f"{year.hours_met_share:.1%}",
        f"{MONTHS[year.worst_month - 1]} {year.met_share_by_month[year.worst_month - 1]:.0%}",
        f"{found.met_worst_month_h:+.0f}",
        f"{found.met_h:+.0f}",
        f"{found.pump_h:+.0f}",
    )


def _design_table(result: CompareResult) -> Table:
    month = MONTHS[result.first.measures.worst_month - 1]
    head = ("", "pump hours", "wanted met", "worst month", f"wanted h in {month}", "wanted h", "pump h")
    return table(head, map(_design_row, result.designs))


def print_compare(result: CompareResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the designs with their differences to the first, the best next steps, and where the report is."""
    console = console or Screen()
    console.print(f"[bold]{escape(result.first.design.scenario.title)}[/bold]: the last columns are against the first")
    console.print(_design_table(result))
    print_coarse(result.first.design.scenario, console)
    console.print("Next steps that gain most, wanted hours in the worst month / in the year:")
    for step in result.steps[:5]:
        console.print(f"- {step.change.name}: {step.gain.met_worst_month_h:+.0f} / {step.gain.met_h:+.0f} h")
    _print_by_money(result, console)
    print_written(written, console)


def _print_by_money(result: CompareResult, console: Console) -> None:
    """The steps that gain most for their money, where prices are known."""
    unit = result.first.design.scenario.cost.currency or "unit of money"
    priced = [step for step in result.by_money if step.money.met_hours_per_unit is not None]
    for step in priced[:3]:
        each = step.money.met_hours_per_unit
        console.print(f"- for its money: {step.change.name}, {each:.3g} wanted h a year for each {unit} a year")
