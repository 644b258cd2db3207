"""Many sites, or one design over a region."""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from pathlib import Path

from sim.commands.shared import (
    STANDARD_OUTPUT,
    Command,
    check_places,
    finish,
    hand_over,
    read_in,
    report_arguments,
    scenario_of,
    scheduler_argument,
)
from sim.errors import InputError

WRONG = 2  # the exit code where some of many scenarios are wrong


def _arguments(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "places", type=Path, nargs="+", metavar="FOLDER", help="folders of scenarios, or scenarios as TOML files"
    )
    report_arguments(command, "the folder for all reports", "units to read in (each scenario's)")
    scheduler_argument(command)
    command.add_argument("--continue", dest="go_on", action="store_true", help="keep what is done and unchanged")
    command.add_argument("--log", action="store_true", help="write each site's hourly log too")
    command.add_argument(
        "--grid",
        type=float,
        nargs=5,
        metavar=("LAT0", "LAT1", "LON0", "LON1", "STEP"),
        help="instead: one design over a region, in the world climate, as maps (HTML, CSV); degrees",
    )


def _does(asked: argparse.Namespace) -> int:
    """Take many scenarios through their years, write all reports and a list of them; 2 if some are wrong."""
    if asked.grid:
        _grid(asked)
        return 0
    check_places(asked)
    from sim import cluster, hands
    from sim.files import write_text
    from sim.report.site_pages import Pages
    from sim.report.sites import as_csv, sites_report
    from sim.report.sites_folder import Folder, run_sites
    from sim.screen import shown_progress
    from sim.studies.about import about
    from sim.studies.sites import Reader, places_in
    from sim.terminal.sites import print_sites

    places, folder = places_in(asked.places, asked.out), Folder(asked.out, asked.force, asked.go_on)
    reader = Reader({"units": asked.units} if asked.units else {}, " ".join(cluster.mark()) + f" {asked.log}")
    work = Pages(asked.log, asked.units or "metric")
    with (
        hands.working(hands.Processes(max(min(hands.cores(), len(places)), 1))),
        cluster.handed_to(asked.scheduler),
        shown_progress("simulating sites") as progress,
    ):
        found = run_sites(places, reader, folder, work, progress)
    for name, text in {"sites.html": sites_report(found), "sites.csv": as_csv(found)}.items():
        write_text(asked.out / name, text)
        folder.written.append(asked.out / name)
    if asked.json:
        head = about("sites", None, f"{len(places)} sites", "each its own")
        hand_over({"about": head} | found.as_json(), asked.json)
    if asked.json != STANDARD_OUTPUT:
        print_sites(found, [asked.out / "sites.html", asked.out / "sites.csv"])
    for row in found.wrong:
        print(row["error"], file=sys.stderr)
    return WRONG if found.wrong else 0


def _grid(asked: argparse.Namespace) -> None:
    """Take one design over a region, write the maps."""
    if len(asked.places) != 1:
        raise InputError("sunrill sites", "--grid", len(asked.places), "one scenario")
    asked.scenario = asked.places[0]
    scenario = scenario_of(asked, "grid")
    from sim import cluster, hands
    from sim.report.grid import as_csv, grid_report
    from sim.scenario import read_toml
    from sim.screen import shown_progress
    from sim.studies.grid import region_of, study_grid
    from sim.terminal.grid import print_grid

    region = region_of(str(scenario.path), asked.grid)
    with (
        hands.working(hands.Processes()),
        cluster.handed_to(asked.scheduler),
        shown_progress("simulating places") as progress,
    ):
        result = study_grid(read_toml(scenario.path), scenario.path, region, progress)
    result = replace(result, scenario=read_in(asked, result.scenario))
    files = {f"{scenario.name}-grid.html": grid_report(result), f"{scenario.name}-grid.csv": as_csv(result)}
    finish(asked, result, files, print_grid, result.scenario)


COMMAND = Command(
    70,
    "sites",
    "take every scenario of folders through a typical and a poor year: all reports, one list by worry (HTML, CSV)",
    _arguments,
    _does,
)
