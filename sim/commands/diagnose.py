"""What is wrong with it."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import get_args

from sim.commands.shared import (
    Command,
    finish,
    report_arguments,
    scenario_argument,
    scenario_of,
)
from sim.studies.diagnose_symptom import Symptom


def _arguments(command: argparse.ArgumentParser) -> None:
    scenario_argument(command)
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
    report_arguments(command, "the folder for the report")


def _does(asked: argparse.Namespace) -> None:
    """Weigh what may be wrong against what was seen, write the report, print the verdict."""
    scenario = scenario_of(asked, "diagnosis")
    from sim.files import check_readable

    if asked.log:
        check_readable(asked.log)
    from sim.report.diagnose import diagnosis_report
    from sim.screen import shown_progress
    from sim.studies.diagnose import moment_of, study_diagnose
    from sim.studies.diagnose_hand import Hand
    from sim.terminal.diagnose import print_diagnosis

    seen = (asked.volts_on, asked.volts_off, asked.amps, asked.charging)
    hand = Hand(*seen, moment_of(asked.at), asked.symptom)
    with shown_progress("weighing") as progress:
        result = study_diagnose(scenario, hand, asked.log, progress)
    finish(asked, result, {f"{scenario.name}-diagnosis.html": diagnosis_report(result)}, print_diagnosis, scenario)


COMMAND = Command(
    90,
    "diagnose",
    "find what is wrong with a system that runs badly, from readings, a log or a complaint, with a report (HTML)",
    _arguments,
    _does,
)
