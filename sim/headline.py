"""The year in a few lines for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape
from rich.table import Table

if TYPE_CHECKING:
    from sim.year import YearResult

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_STYLE = {"warning": "bold red", "caution": "yellow", "note": "dim"}


def _days(result: YearResult) -> list[int]:
    days = result.measures.months[::24]
    return [int((days == month).sum()) for month in range(1, 13)]


def _monthly(result: YearResult) -> Table:
    table = Table(title="Expected pump hours a day", title_justify="left", box=None, padding=(0, 1, 0, 0))
    for month in MONTHS:
        table.add_column(month, justify="right")
    hours = result.measures.pump_hours_by_month
    table.add_row(*(f"{total / days:.1f}" for total, days in zip(hours, _days(result), strict=True)))
    return table


def _aged(result: YearResult) -> Table:
    table = Table(title="Year after year with a fading battery", title_justify="left", box=None, padding=(0, 2, 0, 0))
    for heading in ("year", "capacity Ah", "pump hours", "wanted hours met"):
        table.add_column(heading, justify="right")
    for year in result.aged:
        table.add_row(
            str(year.year), f"{year.capacity_ah:.0f}", f"{year.pump_hours:.0f}", f"{year.hours_met_share:.1%}"
        )
    return table


def print_year(result: YearResult, console: Console | None = None) -> None:
    """Print the headline of a year, the findings, and where report and log are."""
    console = console or Console()
    year = result.measures
    low, high = year.battery.stress.life_years
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]")
    console.print(
        f"Pump hours {year.pump_hours:.0f} in the year; {year.hours_met_share:.1%} of the wanted hours met; "
        f"{year.starts} starts; longest stop {year.longest_stop_h:.0f} h."
    )
    console.print(
        f"Lowest charge {year.battery.min_soc:.0%}; {year.battery.stress.equivalent_full_cycles:.0f} equivalent full "
        f"cycles; expected battery life {low:.0f} to {high:.0f} years."
    )
    console.print(_monthly(result))
    if result.aged:
        console.print(_aged(result))
    for finding in result.findings:
        console.print(f"[{_STYLE[finding.level]}]{finding.level}[/]: {escape(finding.message)}")
    for path in (result.report_path, result.log_path):
        if path:
            console.print(f"written: {path}", soft_wrap=True)
