"""The command line: arguments in, exit codes out. 0 is done, 2 is wrong input (one message), 1 is a defect."""

from __future__ import annotations

import argparse
import io
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import InputError

if TYPE_CHECKING:
    from sim.studies.weather import WeatherResult

DONE, WRONG_INPUT, INTERRUPTED = 0, 2, 130
POOR_OF = 100  # synthetic years, of which a tenth are poorer than the poor year
CAUTIONS = (
    "Cautions: extra-low voltage still drives a current that starts fires, so fuse at the battery; never charge lithium"
    " below 0 C; local codes and licensed practice decide. Results are planning information."
)


class _Version(argparse.Action):
    """Look the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from importlib.metadata import PackageNotFoundError, version

        try:
            number = version("sunrill")
        except PackageNotFoundError:
            number = "(not installed)"
        print(f"sunrill {number}")
        parser.exit(DONE)


def parser() -> argparse.ArgumentParser:
    """Every command with its arguments."""
    root = argparse.ArgumentParser(
        prog="sunrill",
        description="What a small off-grid solar system does for a garden pond's pump, hour by hour over a year.",
        epilog=CAUTIONS,
    )
    root.add_argument("--version", action=_Version, nargs=0, help="print the version and stop")
    commands = root.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, add in _ARGUMENTS.items():
        add(commands.add_parser(name, help=_HELP[name], description=_HELP[name] + ".", epilog=CAUTIONS))
    return root


def _scenario_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("scenario", type=Path, metavar="SCENARIO", help='the system as a TOML file; see "sunrill new"')


def _out_argument(command: argparse.ArgumentParser, words: str) -> None:
    command.add_argument("--out", type=Path, default=Path("reports"), metavar="DIR", help=words)


def _json_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", metavar="PATH", help="write the results as JSON too; - prints them and nothing else")


def _new_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("path", type=Path, metavar="PATH", help="the file to write, for instance pond.toml")
    command.add_argument("--force", action="store_true", help="replace the file if there is one")


def _years(text: str) -> int:
    """How many years in a row."""
    if not (text.isdecimal() and 1 <= int(text) <= 50):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 50")
    return int(text)


def _year_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for report and log (reports)")
    _json_argument(command)
    command.add_argument(
        "--years", type=_years, default=1, metavar="N", help="years in a row with a battery that fades, 1 to 50 (1)"
    )
    command.add_argument("--no-log", action="store_true", help="write no hourly log")
    command.add_argument(
        "--poor-year", action="store_true", help=f"show a poor year beside it, out of {POOR_OF} synthetic ones"
    )
    command.add_argument(
        "--measured", type=Path, metavar="CSV", help="a log from site (time, voltage_v, ...) to hold against the year"
    )
    command.add_argument("--pdf", action="store_true", help="print the report to PDF too; needs Chromium")
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the paper of --pdf (a4)")


def _pairs_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for the report")
    _json_argument(command)
    command.add_argument("--step", type=float, metavar="V", help="from one voltage to the next (0.1 V for each 12 V)")
    for name in ("disconnect", "reconnect"):
        command.add_argument(
            f"--{name}", type=float, nargs=2, metavar=("LOWEST", "HIGHEST"), help=f"{name} voltages to try, V"
        )


def _compare_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "scenarios", type=Path, nargs="+", metavar="SCENARIO", help="one with [[alternative]] tables, or several files"
    )
    _out_argument(command, "the folder for the report")
    _json_argument(command)


def _spread_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for the reports")
    _json_argument(command)
    command.add_argument("--years", type=int, default=200, metavar="N", help="how many synthetic years (200)")
    command.add_argument(
        "--seed",
        type=int,
        metavar="N",
        help="the first year's seed, the others count on from it (the scenario's, or 1)",
    )
    command.add_argument(
        "--recorded", action="store_true", help="run the calendar years of the weather data as they are, none made up"
    )


def _reading_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    command.add_argument("--volts", type=float, required=True, metavar="V", help="read at the controller's terminals")
    command.add_argument("--pump", choices=("on", "off"), default="off", help="whether the pump ran then (off)")
    command.add_argument("--amps", type=float, metavar="A", help="the pump's current then, if it was measured")
    command.add_argument("--charging", type=float, default=0.0, metavar="A", help="the panel's current then (0)")
    command.add_argument("--volts-off", type=float, metavar="V", help="a second reading, shortly before, pump off")
    _json_argument(command)


def _weather_arguments(command: argparse.ArgumentParser) -> None:
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
    _out_argument(command, "the folder to write to")
    _json_argument(command)


def new(arguments: argparse.Namespace) -> None:
    """Write a commented scenario to edit."""
    from sim.catalogue import template
    from sim.files import write_text

    path: Path = arguments.path
    if path.exists() and not arguments.force:
        raise InputError(str(path), "", None, "a name that is not taken yet; --force replaces the file")
    write_text(path, template())
    print(f"{path} is written. Edit it, then run: sunrill year {path}")


def year(arguments: argparse.Namespace) -> None:
    """Simulate a year, write report and log, print the headline."""
    from sim.scenario import load

    scenario = load(arguments.scenario)
    _check_places(arguments)
    from sim.browser import check_browser, print_pdf
    from sim.files import check_readable

    if arguments.pdf:
        check_browser()
    if arguments.measured:
        check_readable(arguments.measured)
    from sim.year import run_year

    poor_of = POOR_OF if arguments.poor_year else 0
    told = {"log": not arguments.no_log, "years": arguments.years, "poor_of": poor_of}
    result = run_year(scenario, arguments.out, **told, measured=arguments.measured)
    if arguments.pdf and result.report_path:
        print_pdf(result.report_path.read_text("utf-8"), result.report_path.with_suffix(".pdf"), arguments.paper)
    _hand_over(result.as_json(), arguments.json)
    if arguments.json != "-":
        from sim.headline import print_year

        print_year(result)
        if arguments.pdf and result.report_path:
            print(f"written: {result.report_path.with_suffix('.pdf')}")


def pairs(arguments: argparse.Namespace) -> None:
    """Study the pairs of load voltages, write the report, print the recommended one."""
    from sim.scenario import load

    scenario = load(arguments.scenario)
    _check_places(arguments)
    from sim.headline import print_pairs, shown_progress
    from sim.studies.pairs import run_pairs

    ranges = {
        name: tuple(given) if (given := getattr(arguments, name)) else None for name in ("disconnect", "reconnect")
    }
    with shown_progress("simulating") as progress:
        result = run_pairs(scenario, arguments.out, step_v=arguments.step, progress=progress, **ranges)
    _hand_over(result.as_json(), arguments.json)
    if arguments.json != "-":
        print_pairs(result)


def compare(arguments: argparse.Namespace) -> None:
    """Compare designs, write the report, print the differences and the next step that gives the most."""
    from sim.scenario import load

    for path in arguments.scenarios:
        load(path)
    _check_places(arguments)
    from sim.headline import print_compare, shown_progress
    from sim.studies.compare import run_compare

    with shown_progress("simulating") as progress:
        result = run_compare(arguments.scenarios, arguments.out, progress)
    _hand_over(result.as_json(), arguments.json)
    if arguments.json != "-":
        print_compare(result)


def spread(arguments: argparse.Namespace) -> None:
    """Run the design through many years, write the reports, print what differs between years."""
    from sim.scenario import load

    scenario = load(arguments.scenario)
    _check_places(arguments)
    from sim.headline import print_spread, shown_progress
    from sim.studies.spread import recorded_years, run_spread

    own = {"weathers": recorded_years(scenario)} if arguments.recorded else {}
    with shown_progress("simulating") as progress:
        result = run_spread(
            scenario, arguments.out, years=arguments.years, seed=arguments.seed, progress=progress, **own
        )
    _hand_over(result.as_json(), arguments.json)
    if arguments.json != "-":
        print_spread(result)


def reading(arguments: argparse.Namespace) -> None:
    """Say what a voltage that was read on site can mean."""
    from sim.scenario import load

    scenario = load(arguments.scenario)
    _check_places(arguments)
    from sim.headline import print_reading
    from sim.reading import read_voltage

    on = arguments.pump == "on"
    found = read_voltage(scenario, arguments.volts, on, arguments.amps, arguments.volts_off, arguments.charging)
    _hand_over(found.as_json(), arguments.json)
    if arguments.json != "-":
        print_reading(found)


def weather(arguments: argparse.Namespace) -> None:
    """Check a weather file, fetch weather of a place or show its climate; write a report, print what it says."""
    _check_weather_asked(arguments)
    _check_places(arguments)
    result = (_looked_at if arguments.file else _fetched if arguments.year else _climate)(arguments)
    _hand_over(result.as_json(), arguments.json)
    if arguments.monthly and arguments.json != "-":
        from sim.weather.monthly import monthly_toml

        said = f"# {result.coarse}\n" if result.coarse else ""
        sys.stdout.write(said + monthly_toml(result.poorest.weather))
    elif arguments.json != "-":
        from sim.headline import print_weather

        print_weather(result)


def _check_weather_asked(arguments: argparse.Namespace) -> None:
    """A file, or coordinates, perhaps with years to fetch; a height only for the climate."""
    given = {name for name in ("latitude", "longitude", "year", "elevation") if getattr(arguments, name) is not None}
    if given if arguments.file else not {"latitude", "longitude"} <= given:
        raise InputError("sunrill weather", "", None, "a FILE, or --latitude and --longitude, with --year to fetch")
    if {"year", "elevation"} <= given:
        raise InputError("sunrill weather", "--elevation", arguments.elevation, "nothing beside --year")


def _climate(arguments: argparse.Namespace) -> WeatherResult:
    from sim.studies.weather import climate_of
    from sim.weather.fetch import Place

    place = Place.at(arguments.latitude, arguments.longitude, arguments.utc_offset)
    return climate_of(place, arguments.elevation, arguments.out)


def _looked_at(arguments: argparse.Namespace) -> WeatherResult:
    from sim.scenario import load

    scenario = load(arguments.file) if arguments.file.suffix == ".toml" else None
    from sim.studies.weather import look_at

    return look_at(arguments.file, arguments.out, scenario)


def _fetched(arguments: argparse.Namespace) -> WeatherResult:
    from sim.headline import shown_progress
    from sim.studies.weather import fetch
    from sim.weather.fetch import Place, check_year

    for year in arguments.year:
        check_year(year)
    place = Place.at(arguments.latitude, arguments.longitude, arguments.utc_offset, max(arguments.year))
    with shown_progress("fetching") as told:
        return fetch(place, sorted(set(arguments.year)), arguments.out, told=told)


def _check_places(arguments: argparse.Namespace) -> None:
    """Complain about a place that cannot be written to before the work, not after it."""
    from sim.files import check_file, check_folder

    if "out" in arguments:
        check_folder(arguments.out)
    if arguments.json not in (None, "-"):
        check_file(Path(arguments.json))


def _hand_over(results: dict[str, Any], to: str | None) -> None:
    """Write results as JSON to a file, to standard output, or nowhere."""
    import json

    from sim.files import write_text

    text = json.dumps(results, indent=2, allow_nan=False) + "\n"
    if to == "-":
        sys.stdout.write(text)
    elif to is not None:
        write_text(Path(to), text)


_HELP = {
    "new": "write a commented scenario to edit",
    "year": "simulate a year, print the headline, write a report (HTML) and an hourly log (CSV)",
    "pairs": "find the pair of load voltages to set: every pair through the year, with a report (HTML)",
    "compare": "compare designs on the same year and rank the next steps, with a report (HTML)",
    "spread": "run the design through many synthetic years: usual years, poor years, with reports (HTML)",
    "reading": "say what a voltage read on site can mean, and what its sag says about leads and terminals",
    "weather": "check a weather file, fetch weather of a place or show its climate, with a report (HTML)",
}
_ARGUMENTS: dict[str, Callable[[argparse.ArgumentParser], None]] = {
    "new": _new_arguments,
    "year": _year_arguments,
    "pairs": _pairs_arguments,
    "compare": _compare_arguments,
    "spread": _spread_arguments,
    "reading": _reading_arguments,
    "weather": _weather_arguments,
}
_HANDLERS: dict[str, Callable[[argparse.Namespace], None]] = {
    "new": new,
    "year": year,
    "pairs": pairs,
    "compare": compare,
    "spread": spread,
    "reading": reading,
    "weather": weather,
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code."""
    _accept_any_text(sys.stdout)
    arguments = parser().parse_args(argv)
    try:
        _HANDLERS[arguments.command](arguments)
    except InputError as wrong:
        print("".join(sign if sign.isprintable() else " " for sign in str(wrong)), file=sys.stderr)
        return WRONG_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    return DONE


def _accept_any_text(stream: object) -> None:
    """Let a terminal that lacks a sign show a substitute instead of failing."""
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="replace")
