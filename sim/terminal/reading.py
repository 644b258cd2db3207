"""What a reading means in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.screen import Screen
from sim.units import told

if TYPE_CHECKING:
    from sim.studies.reading import Reading, Sag

READING_CAUTION = (
    "Caution: measure with insulated probes and never bridge battery poles; a reading is an estimate of charge, not a "
    "safety check."
)


def print_reading(reading: Reading, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the band of charge that a voltage can mean, and what a sag says."""
    console = console or Screen()
    rest = f"about {reading.rest_v:.2f} V at rest ({reading.rest_low_v:.2f} to {reading.rest_high_v:.2f} V)"
    console.print(
        f"{reading.volts:g} V with the pump {'on' if reading.pump_on else 'off'} and {reading.current_a:+.2f} A into "
        f"the battery: {'it says nothing of its rest' if reading.by_panel else rest}."
    )
    console.print(
        f"[bold]Charge between {reading.soc_low:.0%} and {reading.soc_high:.0%}[/bold]: reading \u00b1"
        f"{reading.reading_error_v:g} V, history of the battery \u00b1{reading.hysteresis_v:g} V, temperature."
    )
    if reading.sag:
        _print_sag(reading.sag, console)
    for note in reading.notes:
        console.print(f"[dim]{escape(told(note))}[/dim]")
    console.print(f"[dim]{READING_CAUTION}[/dim]")


def _print_sag(sag: Sag, console: Console) -> None:
    origin = "worked out for this pump" if sag.amps_assumed else "measured"
    console.print(
        f"Sag {sag.sag_v:.2f} V at {sag.amps:.2f} A ({origin}): {sag.total_mohm:.0f} m\u03a9 in all. The battery can "
        f"explain {sag.battery_share_low:.0%} to {sag.battery_share_high:.0%} of it; leads and terminals have "
        f"{sag.leads_low_mohm:.0f} to {sag.leads_high_mohm:.0f} m\u03a9, {sag.leads_normal_mohm:.0f} would be normal."
    )
    if sag.warning:
        console.print(f"[bold red]warning[/]: {escape(sag.warning)}")
