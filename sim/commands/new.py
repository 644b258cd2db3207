"""Write a scenario to edit."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from sim.commands.shared import Command, units_argument
from sim.errors import InputError


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("path", type=Path, metavar="PATH", help="the file to write, for instance pond.toml")
    command.add_argument("--force", action="store_true", help="replace the file if there is one")
    units_argument(command, "units of the comments and the reports; the values stay SI (metric)")


def _does(asked: argparse.Namespace) -> None:
    """Write a commented scenario to edit."""
    from sim.catalogue.commented import commented
    from sim.files import write_text

    path: Path = asked.path
    if os.path.lexists(path) and not asked.force:
        raise InputError(str(path), "", None, "a name that is not taken yet; --force replaces the file")
    write_text(path, commented(asked.units or "metric"))
    print(f"{path} is written. Edit it, then run: sunrill year {path}")


COMMAND = Command(10, "new", "write a commented scenario to edit", _arguments, _does)
