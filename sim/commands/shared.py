"""What commands share: their arguments, the scenario that they take, and how they end."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, get_args

from sim.units import System, in_units

if TYPE_CHECKING:
    import argparse

    from sim.scenario import Scenario

STANDARD_OUTPUT = "-"
OWN_UNITS = "units to read in (the scenario's)"


class Command(NamedTuple):
    """A command: its place among the others, its name, what it is for, its arguments, and what it does with them."""

    place: int
    name: str
    says: str
    arguments: Callable[[argparse.ArgumentParser], None]
    does: Callable[[argparse.Namespace], int | None]


def scenario_argument(command: argparse.ArgumentParser) -> None:
    """The scenario to take."""
    command.add_argument("scenario", type=Path, metavar="SCENARIO", help='the system as a TOML file; see "sunrill new"')


def json_argument(command: argparse.ArgumentParser) -> None:
    """Where the results go as JSON."""
    command.add_argument("--json", metavar="PATH", help="write the results as JSON too; - prints them and nothing else")


def units_argument(command: argparse.ArgumentParser, words: str = OWN_UNITS) -> None:
    """The units to read in."""
    command.add_argument("--units", choices=get_args(System), help=words)


def report_arguments(command: argparse.ArgumentParser, words: str, units: str = OWN_UNITS) -> None:
    """The folder for what is written, whether other reports there may be replaced, JSON, and the units to read in."""
    command.add_argument("--out", type=Path, default=Path("reports"), metavar="DIR", help=words)
    command.add_argument("--force", action="store_true", help="replace a report of another title")
    json_argument(command)
    units_argument(command, units)


def scheduler_argument(command: argparse.ArgumentParser) -> None:
    """Whose hands do the work."""
    command.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="a Dask cluster to work on, such as tcp://host:8786, or local:N for N processes; needs sunrill[cluster]",
    )


def scenario_of(asked: argparse.Namespace, *reports: str) -> Scenario:
    """The scenario of a command; complains now about places that cannot be written to, not after the work."""
    from sim.scenario import load

    scenario = read_in(asked, load(asked.scenario))
    check_places(asked, *(f"{scenario.name}-{kind}.html" for kind in reports), title=scenario.title)
    check_weather(scenario)
    return scenario


def check_weather(*scenarios: Scenario) -> None:
    """Raise InputError now, before anything that costs is imported, if a weather file is not there."""
    from sim.scenario.weather import existing

    for scenario in scenarios:
        for key, name in scenario.weather.named_files.items():
            existing(scenario.path, key, name)


def read_in(asked: argparse.Namespace, scenario: Scenario) -> Scenario:
    """The scenario, its reports in the units and the language that were asked for, if any were."""
    given = {key: value for key in ("units", "language") if (value := getattr(asked, key, None))}
    return scenario.but(report=given) if given else scenario


def check_places(asked: argparse.Namespace, *reports: str, title: str = "") -> None:
    """Raise InputError now if something could not be written, or would replace the report of another system."""
    from sim.files import check_file, check_folder, check_title

    if "out" in asked:
        check_folder(asked.out)
    for name in reports if not getattr(asked, "force", True) else ():
        check_title(asked.out / name, title)
    if asked.json not in (None, STANDARD_OUTPUT):
        check_file(Path(asked.json))


def finish(
    asked: argparse.Namespace,
    result: Any,
    files: Mapping[str, str],
    say: Callable[[Any, list[Path]], None],
    scenario: Scenario | None = None,
) -> None:
    """Write what a study came to: reports into the folder, JSON where it is asked for, words to the terminal."""
    from sim.files import write_text

    paths = [asked.out / name for name in files]
    for path, text in zip(paths, files.values(), strict=True):
        write_text(path, text)
    if asked.json:
        hand_over({"about": _about(asked.command, result, scenario)} | result.as_json(), asked.json)
    if asked.json != STANDARD_OUTPUT:
        with in_units(scenario.report.units if scenario else asked.units):
            say(result, paths)


def _about(command: str, result: Any, scenario: Scenario | None) -> dict[str, Any]:
    """The head of a document; weather that was looked at by itself has its own words and no scenario."""
    from sim.studies.about import about, weather_in_words

    if scenario is None:
        return about(command, None, result.name, result.poorest.weather.source)
    return about(command, scenario.path, scenario.title, weather_in_words(scenario))


def hand_over(results: dict[str, Any], to: str) -> None:
    """Write results as JSON to a file or to standard output."""
    from sim.files import write_text

    text = json.dumps(results, indent=2, allow_nan=False) + "\n"
    if to == STANDARD_OUTPUT:
        sys.stdout.write(text)
    else:
        write_text(Path(to), text)
