"""The year in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.calendar import MONTHS
from sim.screen import Screen, table
from sim.terminal.shared import print_coarse, print_doubts, print_findings, print_written
from sim.units import Quantity
from sim.words import years

if TYPE_CHECKING:
    from rich.table import Table

    from sim.figures.measures import Measures
    from sim.studies.result import YearResult


def _monthly(result: YearResult) -> Table:
    run = [f"{hours:.1f}" for hours in result.measures.hours_a_day]
    return table(MONTHS, [run], "Expected pump hours a day", 1)


def _aged(result: YearResult) -> Table:
    head = ("year", "capacity Ah", "pump hours", "wanted hours met")
    rows = (
        (str(year.year), f"{year.capacity_ah:.0f}", f"{year.pump_hours:.0f}", f"{year.hours_met_share:.1%}")
        for year in result.aged
    )
    return table(head, rows, "Year after year with a fading battery")


def print_year(result: YearResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the headline of a year, the findings, and where report and log are."""
    console = console or Screen()
    year = result.measures
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]")
    print_doubts(console, result.weather.doubts)
    console.print(
        f"Pump hours {year.pump_hours:.0f} in the year; {year.hours_met_share:.1%} of the wanted hours met; "
        f"{year.starts} starts; {_longest(year)}."
    )
    console.print(
        f"Lowest charge {year.battery.min_soc:.0%}; {year.battery.stress.equivalent_full_cycles:.0f} equivalent full "
        f"cycles; expected battery life {years(year.battery.stress.life_years)}."
    )
    if year.water:
        flow = Quantity(year.water.pipework.point.flow_lph, "lph", ".0f")
        moved, turnovers = Quantity(year.water.litres / 1000.0, "m3", ".0f"), year.water.turnovers_per_day
        console.print(f"Water: {flow}, {moved} in the year; {turnovers:.1f} turnovers a day.")
    console.print(_monthly(result))
    print_coarse(result.scenario, console)
    if result.aged:
        console.print(_aged(result))
        console.print(" ".join(result.years_said))
    if result.measured:
        console.print("Against the log from site:")
        for line in result.measured.in_words():
            console.print(f"- {escape(line)}")
    _print_nights(result, console)
    print_findings(console, result.findings)
    console.print(f"[dim]{len(result.passed)} checks passed; the report lists them with their margins.[/dim]")
    console.print(f"[dim]{_year_caution()}[/dim]")
    print_written(written, console)


def _year_caution() -> str:
    """What nobody should touch a system without knowing, in a line."""
    return (
        f"Caution: fuse at the battery, isolate before work, never charge lithium below {Quantity(0.0, 'c', 'g')}; "
        "local codes decide. Planning information, no guarantee and no life-support alarm."
    )


def _longest(year: Measures) -> str:
    """The longest stop that is not planned, and what timer and season plan where that is longer."""
    from sim.figures.causes import longest_unplanned

    begun, ended = longest_unplanned(year.stops) or (0.0, 0.0)
    said = f"longest stop {ended - begun:.0f} h"
    planned = year.longest_stop_h > ended - begun + 0.5
    return f"{said}, beside planned ones of up to {year.longest_stop_h:.0f} h" if planned else said


def _print_nights(result: YearResult, console: Console) -> None:
    """The share of nights without a stop, and how long the battery bridges."""
    from sim.figures.nights import full_share

    full = full_share(result.measures.nights, range(1, 13))
    said = "" if full is None else f"Nights without a stop: {full:.0%}. "
    days = result.sunless.days if result.sunless else None
    bridged = "" if days is None else f"Without sun, from full, {days:.1f} days until it stops."
    if said or bridged:
        console.print(f"{said}{bridged}".strip())
