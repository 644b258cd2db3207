"""What to buy."""

from __future__ import annotations

import argparse
from dataclasses import replace

from sim.commands.shared import (
    Command,
    finish,
    report_arguments,
    scenario_argument,
    scenario_of,
    scheduler_argument,
)


def _arguments(command: argparse.ArgumentParser) -> None:
    scenario_argument(command)
    report_arguments(command, "the folder for the report and the scenario that it finds")
    scheduler_argument(command)
    command.add_argument(
        "--met", type=float, default=0.95, metavar="SHARE", help="share of the wanted hours to be met in a year (0.95)"
    )
    command.add_argument(
        "--of-years", type=float, default=0.9, metavar="SHARE", help="share of the years in which that is kept (0.9)"
    )
    command.add_argument("--years", type=int, default=50, metavar="N", help="synthetic years to search in (50)")
    command.add_argument("--seed", type=int, metavar="N", help="of the years (the scenario's, or 1)")


def _does(asked: argparse.Namespace) -> None:
    """Find what to buy and how to run it, write the report and the scenario that it makes, print the answer."""
    scenario = scenario_of(asked, "size")
    from sim.cluster import handed_to
    from sim.page.made import made_text
    from sim.report.size import size_report
    from sim.screen import shown_progress
    from sim.studies.designs import designs_in
    from sim.studies.size import study_size
    from sim.terminal.size import print_size

    with handed_to(asked.scheduler), shown_progress("simulating") as progress:
        shares = (asked.met, asked.of_years)
        first = replace(designs_in(asked.scenario)[0], scenario=scenario)
        result = study_size(first, shares, asked.years, asked.seed, progress)
    files = {}
    if result.chosen:
        made = f"{scenario.name}-size.toml"
        files[made] = made_text(scenario, result.changes, asked.out, "sunrill size")
        result = result.as_written(str(asked.out / made))
    files[f"{scenario.name}-size.html"] = size_report(result)
    finish(asked, result, files, print_size, scenario)


COMMAND = Command(
    60,
    "size",
    "find what to buy and how to run it: the cheapest design that keeps the need in most years (HTML, TOML)",
    _arguments,
    _does,
)
