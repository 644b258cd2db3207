"""The command line: arguments in, exit codes out. 0 is done, 2 is wrong input (one message), 1 is a defect."""

import argparse
import errno
import gc
import io
import os
import sys
from collections.abc import Sequence
from contextlib import suppress
from typing import Any

from sim.commands import COMMANDS
from sim.errors import InputError

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
