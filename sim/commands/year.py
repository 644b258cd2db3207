"""A year of the scenario."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from sim.commands.shared import (
    STANDARD_OUTPUT,
    Command,
    finish,
    report_arguments,
    scenario_argument,
    scenario_of,
)
from sim.language import Language

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.weather import Weather

POOR_OF = 100  # synthetic years, of which a tenth are poorer than the poor year


def _years(text: str) -> int:
    """How many years in a row."""
    if not (text.isdecimal() and 1 <= int(text) <= 50):
        raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from 1 to 50")
    return int(text)


def _arguments(command: argparse.ArgumentParser) -> None:
    scenario_argument(command)
    report_arguments(command, "the folder for report and log (reports)")
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
        "--recorded", action="store_true", help="take the poor year from the years of the weather data, as it was"
    )
    command.add_argument(
        "--measured", type=Path, metavar="CSV", help="a log from site (time, voltage_v, ...) to hold against the year"
    )
    command.add_argument("--pdf", action="store_true", help="print the report to PDF too; needs Chromium")
    command.add_argument("--pdf-page-one", action="store_true", help="print the client's page alone to PDF")
    command.add_argument("--paper", choices=("a4", "letter"), default="a4", help="the paper of --pdf (a4)")


def _does(asked: argparse.Namespace) -> None:
    """Simulate a year, write report and log, print the headline."""
    scenario = scenario_of(asked, "year")
    from sim.browser import check_browser
    from sim.files import check_readable

    if asked.pdf or asked.pdf_page_one:
        check_browser()
    if asked.measured:
        check_readable(asked.measured)
    from sim.figures.hourly import as_csv
    from sim.report.render import year_report
    from sim.studies import ledger
    from sim.studies.yearly import study_year
    from sim.terminal.year import print_year

    recorded = _recorded(scenario) if asked.recorded else None
    result = study_year(scenario, asked.years, POOR_OF if asked.poor_year else 0, asked.measured, recorded)
    report = year_report(result)
    files = {f"{scenario.name}-year.html": report}
    if not asked.no_log:
        files[f"{scenario.name}-year.csv"] = as_csv(result.hourly())
        stops, index = result.measures.stops, result.weather.index
        files[f"{scenario.name}-ledger.csv"] = ledger.as_csv(stops, index, scenario.care, scenario.battery)
    finish(asked, result, files, print_year, scenario)
    if asked.pdf:
        _print_pdf(asked, asked.out / f"{scenario.name}-year.pdf", report)
    if asked.pdf_page_one:
        from sim.report.render import client_report

        _print_pdf(asked, asked.out / f"{scenario.name}-client.pdf", client_report(result))


def _recorded(scenario: Scenario) -> tuple[Weather, ...]:
    """The years of the weather data."""
    from sim.studies.spread import recorded_years

    return recorded_years(scenario)


def _print_pdf(asked: argparse.Namespace, pdf: Path, report: str) -> None:
    """A report on paper beside the others."""
    from sim.browser import print_pdf

    print_pdf(report, pdf, asked.paper)
    if asked.json != STANDARD_OUTPUT:
        print(f"written: {pdf}")


COMMAND = Command(
    20, "year", "simulate a year, print the headline, write a report (HTML) and an hourly log (CSV)", _arguments, _does
)
