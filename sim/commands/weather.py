"""Weather to look at, to fetch or of a place."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sim.commands.shared import Command, check_places, finish, report_arguments
from sim.errors import InputError

if TYPE_CHECKING:
    from sim.studies.weather import WeatherResult


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "file", type=Path, nargs="?", metavar="FILE", help="a weather file, or a scenario that says how to read one"
    )
    for name, words in (("latitude", "degrees, north +"), ("longitude", "degrees, east +")):
        command.add_argument(f"--{name}", type=float, metavar="DEG", help=f"of a place: {words}")
    command.add_argument(
        "--year", type=int, nargs="+", metavar="YEAR", help="calendar years to fetch; without it the world climate"
    )
    command.add_argument(
        "--elevation",
        type=float,
        metavar="M",
        help="height above the sea, for the world climate (the land's usual one)",
    )
    command.add_argument(
        "--monthly", action="store_true", help="print place and monthly means as tables of a scenario instead"
    )
    command.add_argument(
        "--utc-offset", type=float, metavar="H", help="the place's clock, hours ahead of UTC (its standard time)"
    )
    report_arguments(command, "the folder to write to", "units to read in (the scenario's, or metric)")


def _does(asked: argparse.Namespace) -> None:
    """Check a weather file, fetch weather of a place or show its climate; write a report, print what it says."""
    _check_weather_asked(asked)
    check_places(asked)
    result = (_looked_at if asked.file else _fetched if asked.year else _climate)(asked)
    asked.units = asked.units or "metric"
    from sim.report.weather import weather_report
    from sim.terminal.weather import print_weather

    files = {f"{result.name}-weather.html": weather_report(result, asked.units)}
    finish(asked, result, files, _means if asked.monthly else print_weather)


def _means(result: WeatherResult, _: list[Path]) -> None:
    """Place and monthly means as tables of a scenario."""
    from sim.weather.monthly import monthly_toml

    said = f"# {result.coarse}\n" if result.coarse else ""
    sys.stdout.write(said + monthly_toml(result.poorest.weather))


def _check_weather_asked(asked: argparse.Namespace) -> None:
    """A file, or coordinates, perhaps with years to fetch; a height only for the climate."""
    given = {name for name in ("latitude", "longitude", "year", "elevation") if getattr(asked, name) is not None}
    if given if asked.file else not {"latitude", "longitude"} <= given:
        raise InputError("sunrill weather", "", None, "a FILE, or --latitude and --longitude, with --year to fetch")
    if {"year", "elevation"} <= given:
        raise InputError("sunrill weather", "--elevation", asked.elevation, "nothing beside --year")


def _climate(asked: argparse.Namespace) -> WeatherResult:
    from sim.studies.weather import climate_of
    from sim.weather.fetch import Place

    return climate_of(Place.at(asked.latitude, asked.longitude, asked.utc_offset), asked.elevation)


def _looked_at(asked: argparse.Namespace) -> WeatherResult:
    from sim.scenario import load

    scenario = load(asked.file) if asked.file.suffix == ".toml" else None
    asked.units = asked.units or (scenario.report.units if scenario else "metric")
    from sim.studies.weather import look_at

    return look_at(asked.file, scenario)


def _fetched(asked: argparse.Namespace) -> WeatherResult:
    from sim.screen import shown_progress
    from sim.studies.weather import fetch
    from sim.weather.fetch import Place, check_year

    for number in asked.year:
        check_year(number)
    place = Place.at(asked.latitude, asked.longitude, asked.utc_offset, max(asked.year))
    with shown_progress("fetching") as told:
        return fetch(place, sorted(set(asked.year)), asked.out, told=told)


COMMAND = Command(
    100,
    "weather",
    "check a weather file, fetch weather of a place or show its climate, with a report (HTML)",
    _arguments,
    _does,
)
