"""The local page."""

from __future__ import annotations

import argparse
from pathlib import Path

from sim.commands.shared import Command


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument("scenario", type=Path, nargs="?", metavar="SCENARIO", help="the system to open at once")
    command.add_argument(
        "--folder", type=Path, metavar="DIR", help="the only folder that the page reads and writes (the scenario's)"
    )
    command.add_argument("--port", type=int, default=0, metavar="N", help="where to listen; 0 takes a free port (0)")
    command.add_argument("--no-browser", action="store_true", help="print the address and open no browser")
    command.add_argument(
        "--shortcut", action="store_true", help="write a file into the folder that starts the page at a double click"
    )


def _does(asked: argparse.Namespace) -> None:
    """Serve the local page, or write what starts it."""
    folder = asked.folder or (asked.scenario.parent if asked.scenario else Path("."))
    if asked.shortcut:
        from sim.page.shortcut import write_shortcuts

        for path in write_shortcuts(folder):
            print(f"written: {path}")
        return
    from sim.page.server import serve

    serve(asked.scenario, folder, asked.port, not asked.no_browser)


COMMAND = Command(
    110, "page", "open the local page: describe a system, see its year at once, study and save it", _arguments, _does
)
