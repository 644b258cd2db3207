"""Many years of one design."""

from __future__ import annotations

import argparse

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
    report_arguments(command, "the folder for the reports")
    scheduler_argument(command)
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


def _does(asked: argparse.Namespace) -> None:
    """Run the design through many years, write the reports, print what differs between years."""
    scenario = scenario_of(asked, "spread", "poor-year")
    from sim.cluster import handed_to
    from sim.report.spread import poor_year_report, spread_report
    from sim.screen import shown_progress
    from sim.studies.spread import recorded_years, study_spread
    from sim.terminal.spread import print_spread

    recorded = recorded_years(scenario) if asked.recorded else None
    with handed_to(asked.scheduler), shown_progress("simulating") as progress:
        result = study_spread(scenario, asked.years, asked.seed, recorded, progress)
    files = {
        f"{scenario.name}-spread.html": spread_report(result),
        f"{scenario.name}-poor-year.html": poor_year_report(result),
    }
    finish(asked, result, files, print_spread, scenario)


COMMAND = Command(
    50,
    "spread",
    "run the design through many synthetic years: usual years, poor years, with reports (HTML)",
    _arguments,
    _does,
)
