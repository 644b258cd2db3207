"""The pairs of load voltages."""

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
    report_arguments(command, "the folder for the report")
    scheduler_argument(command)
    command.add_argument("--step", type=float, metavar="V", help="from one voltage to the next (0.1 V for each 12 V)")
    command.add_argument(
        "--years", type=int, default=0, metavar="N", help="run the best pairs through N synthetic years too (none)"
    )
    for name in ("disconnect", "reconnect"):
        command.add_argument(
            f"--{name}", type=float, nargs=2, metavar=("LOWEST", "HIGHEST"), help=f"{name} voltages to try, V"
        )


def _does(asked: argparse.Namespace) -> None:
    """Study the pairs of load voltages, write the report, print the recommended one."""
    scenario = scenario_of(asked, "pairs")
    from sim.cluster import handed_to
    from sim.report.pairs import pairs_report
    from sim.screen import shown_progress
    from sim.studies.pairs import study_pairs
    from sim.terminal.pairs import print_pairs

    with handed_to(asked.scheduler), shown_progress("simulating") as progress:
        result = study_pairs(
            scenario, asked.step, _range(asked.disconnect), _range(asked.reconnect), progress, asked.years
        )
    finish(asked, result, {f"{scenario.name}-pairs.html": pairs_report(result)}, print_pairs, scenario)


def _range(given: list[float] | None) -> tuple[float, float] | None:
    return (given[0], given[1]) if given else None


COMMAND = Command(
    30,
    "pairs",
    "find the pair of load voltages to set: every pair through the year, with a report (HTML)",
    _arguments,
    _does,
)
