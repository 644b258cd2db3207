"""Designs side by side."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from sim.commands.shared import (
    Command,
    check_places,
    check_weather,
    finish,
    read_in,
    report_arguments,
)


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "scenarios", type=Path, nargs="+", metavar="SCENARIO", help="one with [[alternative]] tables, or several files"
    )
    report_arguments(command, "the folder for the report")


def _does(asked: argparse.Namespace) -> None:
    """Compare designs, write the report, print the differences and the next step that gives the most."""
    from sim.scenario import load

    first, *others = [load(path) for path in asked.scenarios]
    check_places(asked, f"{first.name}-compare.html", title=first.title)
    check_weather(first, *others)
    from sim.report.compare import compare_report
    from sim.screen import shown_progress
    from sim.studies.compare import study_compare
    from sim.studies.designs import designs_of
    from sim.terminal.compare import print_compare

    with shown_progress("simulating") as progress:
        own, *alternatives = designs_of(asked.scenarios)
        read = replace(own, scenario=read_in(asked, own.scenario))
        result = study_compare([read, *alternatives], progress)
    finish(asked, result, {f"{first.name}-compare.html": compare_report(result)}, print_compare, read.scenario)


COMMAND = Command(
    40, "compare", "compare designs on the same year and rank the next steps, with a report (HTML)", _arguments, _does
)
