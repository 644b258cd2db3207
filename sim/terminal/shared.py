"""Lines that several results end or begin with."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.units import told
from sim.words import printable

if TYPE_CHECKING:
    from sim.checks.finding import Finding
    from sim.scenario import Scenario
    from sim.weather.weather import Doubt

_STYLE = {"warning": "bold red", "caution": "yellow", "note": "dim"}


def print_coarse(scenario: Scenario, console: Console) -> None:
    """Say how coarse the weather is that the figures above rest on, where it is."""
    if scenario.weather.coarse:
        console.print(f"[bold yellow]weather[/]: {escape(told(scenario.weather.coarse))}")


def print_doubts(console: Console, doubts: Iterable[Doubt]) -> None:
    """What looks wrong about the weather, before anything that rests on it."""
    for doubt in doubts:
        console.print(f"[bold red]doubtful weather[/] ({doubt.id}): {escape(told(doubt.message))}")


def print_findings(console: Console, findings: Iterable[Finding]) -> None:
    """What the checks found, in the reader's units."""
    for finding in findings:
        console.print(f"[{_STYLE[finding.level]}]{finding.level}[/]: {escape(told(finding.message))}")


def print_written(paths: Sequence[Path], console: Console) -> None:
    """Where the files are."""
    for path in paths:
        console.print(f"written: {escape(printable(str(path)))}", soft_wrap=True)
