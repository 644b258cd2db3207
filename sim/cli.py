"""The command line: arguments in, exit codes out. 0 is done, 2 is wrong input (one message), 1 is a defect."""

import argparse
import errno
import gc
import io
import os
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any, NamedTuple, get_args

from sim import commands
from sim.commands import POOR_OF
from sim.errors import InputError
from sim.language import Language
from sim.studies.diagnose_symptom import Symptom
from sim.units import System

DONE, WRONG_INPUT, INTERRUPTED, UNHEARD = 0, 2, 130, 141
SPEECHLESS = (errno.EPIPE, errno.ENOSPC, errno.EIO, errno.EBADF)
OBJECTS_BETWEEN_COLLECTIONS = 200_000  # a command lives for seconds: looking for cycles took a tenth of them
CAUTIONS = (
    "Cautions: extra-low voltage still drives a current that starts fires, so fuse at the battery; never charge lithium"
    " below 0 C; local codes and licensed practice decide. Results are planning information."
)


class _Version(argparse.Action):
    """Look the version up only when it is asked for."""

    def __call__(self, parser: argparse.ArgumentParser, *_: Any) -> None:
        from sim.studies.about import version

        print(f"sunrill {version()}")
        parser.exit(DONE)


def parser() -> argparse.ArgumentParser:
    """Every command with its arguments."""
    root = argparse.ArgumentParser(
        prog="sunrill",
        description="What a small off-grid solar system does for a garden pond's pump, hour by hour over a year.",
        epilog=CAUTIONS,
    )
    root.add_argument("--version", action=_Version, nargs=0, help="print the version and stop")
    rows = root.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for row in COMMANDS:
        one = rows.add_parser(row.name, help=row.says, description=row.says + ".", epilog=CAUTIONS)
        row.arguments(one)
        one.set_defaults(does=row.does)
    return root


def _scenario_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("scenario", type=Path, metavar="SCENARIO", help='the system as a TOML file; see "sunrill new"')


def _out_argument(command: argparse.ArgumentParser, words: str) -> None:
    command.add_argument("--out", type=Path, default=Path("reports"), metavar="DIR", help=words)
    command.add_argument("--force", action="store_true", help="replace a report of another title")


def _json_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", metavar="PATH", help="write the results as JSON too; - prints them and nothing else")


def _units_argument(command: argparse.ArgumentParser, words: str = "units to read in (the scenario's)") -> None:
    command.add_argument("--units", choices=get_args(System), help=words)


def _new_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("path", type=Path, metavar="PATH", help="the file to write, for instance pond.toml")
    command.add_argument("--force", action="store_true", help="replace the file if there is one")
    _units_argument(command, "units of the comments and the reports; the values stay SI (metric)")


def _years(text: str) -> int:
    """How many years in a row."""
    if not (text.isdecimal() and 1 <= int(text) <= 50):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 50")
    return int(text)


def _year_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for report and log (reports)")
    _json_argument(command)
    _units_argument(command)
    command.add_argument(
        "--language",
        choices=get_args(Language),
        help="language of the client's page, findings, commissioning sheet and cautions (the scenario's)",
    )
    command.add_argument(
        "--years", type=_years, default=1, metavar="N", help="years in a row with a battery that fades, 1 to 50 (1)"
    )
    command.add_argument("--no-log", action="store_true", help="write no hourly log")
    command.add_argument(
        "--poor-year", action="store_true", help=f"show a poor year beside it, out of {POOR_OF} synthetic ones"
    )
    command.add_argument(
        "--recorded",
        action="store_true",
        help="take the poor year from the calendar years of the weather data, as it was",
    )
    command.add_argument(
        "--measured", type=Path, metavar="CSV", help="a log from site (time, voltage_v, ...) to hold against the year"
    )
    command.add_argument("--pdf", action="store_true", help="print the report to PDF too; needs Chromium")
    command.add_argument("--pdf-page-one", action="store_true", help="print the client's page alone to PDF")
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the paper of --pdf (a4)")


def _pairs_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for the report")
    _json_argument(command)
    _units_argument(command)
    _scheduler_argument(command)
    command.add_argument("--step", type=float, metavar="V", help="from one voltage to the next (0.1 V for each 12 V)")
    command.add_argument(
        "--years", type=int, default=0, metavar="N", help="run the best pairs through N synthetic years too (none)"
    )
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
    _units_argument(command)


def _spread_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for the reports")
    _json_argument(command)
    _units_argument(command)
    _scheduler_argument(command)
    command.add_argument("--years", type=int, default=200, metavar="N", help="how many synthetic years (200)")
    command.add_argument(
        "--seed",
        type=int,
        metavar="N",
        help="the seed that the years are made from (the scenario's, or 1)",
    )
    command.add_argument(
        "--recorded", action="store_true", help="run the calendar years of the weather data as they are, none made up"
    )


def _size_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    _out_argument(command, "the folder for the report and the scenario that it finds")
    _json_argument(command)
    _units_argument(command)
    _scheduler_argument(command)
    command.add_argument(
        "--met", type=float, default=0.95, metavar="SHARE", help="share of the wanted hours to be met in a year (0.95)"
    )
    command.add_argument(
        "--of-years", type=float, default=0.9, metavar="SHARE", help="share of the years in which that is kept (0.9)"
    )
    command.add_argument("--years", type=int, default=50, metavar="N", help="synthetic years to search in (50)")
    command.add_argument("--seed", type=int, metavar="N", help="of the years (the scenario's, or 1)")


def _sites_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "places", type=Path, nargs="+", metavar="FOLDER", help="folders of scenarios, or scenarios as TOML files"
    )
    _out_argument(command, "the folder for all reports")
    _json_argument(command)
    _units_argument(command, "units to read in (each scenario's)")
    _scheduler_argument(command)
    command.add_argument("--continue", dest="go_on", action="store_true", help="keep what is done and unchanged")
    command.add_argument("--log", action="store_true", help="write each site's hourly log too")
    command.add_argument(
        "--grid",
        type=float,
        nargs=5,
        metavar=("LAT0", "LAT1", "LON0", "LON1", "STEP"),
        help="instead: one design over a region, in the world climate, as maps (HTML, CSV); degrees",
    )


def _scheduler_argument(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="a Dask cluster to work on, such as tcp://host:8786, or local:N for N processes; needs sunrill[cluster]",
    )


def _reading_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    command.add_argument("--volts", type=float, required=True, metavar="V", help="read at the controller's terminals")
    command.add_argument("--pump", choices=("on", "off"), default="off", help="whether the pump ran then (off)")
    command.add_argument("--amps", type=float, metavar="A", help="the pump's current then, if it was measured")
    command.add_argument("--charging", type=float, default=0.0, metavar="A", help="the panel's current then (0)")
    command.add_argument("--volts-off", type=float, metavar="V", help="a second reading, shortly before, pump off")
    _json_argument(command)
    _units_argument(command)


def _diagnose_arguments(command: argparse.ArgumentParser) -> None:
    _scenario_argument(command)
    for name, words in (
        ("volts-on", "read at the controller's battery terminals while the pump runs"),
        ("volts-off", "the same, shortly before, with the pump off"),
    ):
        command.add_argument(f"--{name}", type=float, metavar="V", help=words)
    command.add_argument("--amps", type=float, metavar="A", help="the pump's current")
    command.add_argument("--charging", type=float, metavar="A", help="the panel's current")
    command.add_argument("--at", metavar="MOMENT", help='when that was read, such as "2026-06-03 14:00"')
    command.add_argument("--log", type=Path, metavar="FILE", help="a log from site, as the logger wrote it")
    command.add_argument("--symptom", choices=get_args(Symptom), help="what is complained of")
    _out_argument(command, "the folder for the report")
    _json_argument(command)
    _units_argument(command)


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
    _units_argument(command, "units to read in (the scenario's, or metric)")


def _page_arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("scenario", type=Path, nargs="?", metavar="SCENARIO", help="the system to open at once")
    command.add_argument(
        "--folder", type=Path, metavar="DIR", help="the only folder that the page reads and writes (the scenario's)"
    )
    command.add_argument("--port", type=int, default=0, metavar="N", help="where to listen; 0 takes a free port (0)")
    command.add_argument("--no-browser", action="store_true", help="print the address and open no browser")
    command.add_argument(
        "--shortcut", action="store_true", help="write a file into the folder that starts the page at a double click"
    )


class Command(NamedTuple):
    """A row of the table of commands."""

    name: str
    says: str
    arguments: Callable[[argparse.ArgumentParser], None]
    does: Callable[[argparse.Namespace], int | None]


COMMANDS = (
    Command("new", "write a commented scenario to edit", _new_arguments, commands.new),
    Command(
        "year",
        "simulate a year, print the headline, write a report (HTML) and an hourly log (CSV)",
        _year_arguments,
        commands.year,
    ),
    Command(
        "pairs",
        "find the pair of load voltages to set: every pair through the year, with a report (HTML)",
        _pairs_arguments,
        commands.pairs,
    ),
    Command(
        "compare",
        "compare designs on the same year and rank the next steps, with a report (HTML)",
        _compare_arguments,
        commands.compare,
    ),
    Command(
        "spread",
        "run the design through many synthetic years: usual years, poor years, with reports (HTML)",
        _spread_arguments,
        commands.spread,
    ),
    Command(
        "size",
        "find what to buy and how to run it: the cheapest design that keeps the need in most years (HTML, TOML)",
        _size_arguments,
        commands.size,
    ),
    Command(
        "sites",
        "take every scenario of folders through a typical and a poor year: all reports, one list by worry (HTML, CSV)",
        _sites_arguments,
        commands.sites,
    ),
    Command(
        "reading",
        "say what a voltage read on site can mean, and what its sag says about leads and terminals",
        _reading_arguments,
        commands.reading,
    ),
    Command(
        "diagnose",
        "find what is wrong with a system that runs badly, from readings, a log or a complaint, with a report (HTML)",
        _diagnose_arguments,
        commands.diagnose,
    ),
    Command(
        "weather",
        "check a weather file, fetch weather of a place or show its climate, with a report (HTML)",
        _weather_arguments,
        commands.weather,
    ),
    Command(
        "page",
        "open the local page: describe a system, see its year at once, study and save it",
        _page_arguments,
        commands.page,
    ),
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code."""
    _accept_any_text(sys.stdout)
    gc.set_threshold(OBJECTS_BETWEEN_COLLECTIONS)
    try:
        return _obey(argv)
    except OSError as failure:
        if failure.errno not in SPEECHLESS or failure.filename is not None:
            raise
        return _speechless(failure)


def _obey(argv: Sequence[str] | None) -> int:
    """Do what is asked; whatever was said has left the program then, or OSError."""
    try:
        arguments = parser().parse_args(argv)
        return arguments.does(arguments) or DONE
    except InputError as wrong:
        print(wrong, file=sys.stderr)
        return WRONG_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    finally:
        if sys.stdout:  # None where it was closed from the start
            sys.stdout.flush()


def _speechless(failure: OSError) -> int:
    """Standard output takes no more: a reader who has left has read enough, else it is told."""
    with suppress(OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if failure.errno == errno.EPIPE:
        return UNHEARD
    print(InputError("standard output", "", None, f"a place that takes it ({failure.strerror})"), file=sys.stderr)
    return WRONG_INPUT


def _accept_any_text(stream: object) -> None:
    """Let a terminal that lacks a sign show a substitute instead of failing."""
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(errors="replace")
