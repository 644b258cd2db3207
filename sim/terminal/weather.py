"""A place's weather in a few lines."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.calendar import MONTHS
from sim.screen import Screen, table
from sim.terminal.shared import print_doubts, print_written
from sim.units import Quantity, converted, sign, told

if TYPE_CHECKING:
    from rich.table import Table

    from sim.studies.weather import WeatherResult


def _weather_months(result: WeatherResult) -> Table:
    year = result.poorest
    rows = (
        ("kWh/m2 a day", year.daily_kwh_m2, ".1f"),
        ("kWh/m2", year.ghi_kwh_m2, ".0f"),
        ("sunshine h", year.sunshine_h, ".0f"),
        (f"mean {sign('c')}", converted(year.mean_c, "c"), ".0f"),
        (f"lowest {sign('c')}", converted(year.lowest_c, "c"), ".0f"),
    )
    told = ((name, *(f"{value:{form}}" for value in values)) for name, values, form in rows)
    return table(("", *MONTHS), told, apart=1)


def print_weather(result: WeatherResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what weather holds, whether it can be trusted, and where report and fetched years are."""
    console = console or Screen()
    shown = result.poorest
    weather, several = shown.weather, len(result.years) > 1
    console.print(f"[bold]{escape(weather.source)}[/bold]")
    print_doubts(console, result.doubts)
    for year in result.years if several else ():
        console.print(f"{year.weather.index[0].year}: {year.ghi_kwh_m2.sum():.0f} kWh/m2 on the level")
    if several:
        console.print(f"The year with the least light, {weather.index[0].year}:")
    console.print(_weather_months(result))
    console.print(
        f"Light {shown.ghi_kwh_m2.sum():.0f} kWh/m2 in the year on the level; darkest five days {shown.darkest_days}; "
        f"coldest {Quantity(weather.temp_air.min(), 'c', '.1f')}, {shown.coldest_at}."
    )
    late = "late" if shown.clock_min > 0 else "early"
    console.print(
        f"Clock {abs(shown.clock_min):.0f} minutes {late} against the sun; beam and diffuse make "
        f"{shown.closure:.0%} of the global light."
    )
    if result.coarse:
        console.print(f"[bold yellow]weather[/]: {escape(told(result.coarse))}")
    notes = tuple(note for note in weather.notes if note != result.coarse)
    for note in notes or ("Nothing had to be repaired.",):
        console.print(f"[dim]{escape(told(note))}[/dim]")
    print_written(written, console)
