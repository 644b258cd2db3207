"""What each command does: load, study, write, say. Nothing that costs is imported before it is needed."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import InputError
from sim.units import in_units

if TYPE_CHECKING:
    import argparse

    from sim.scenario import Scenario
    from sim.studies.weather import WeatherResult

POOR_OF = 100  # synthetic years, of which a tenth are poorer than the poor year
STANDARD_OUTPUT = "-"
WRONG = 2  # the exit code where some of many scenarios are wrong


def new(asked: argparse.Namespace) -> None:
    """Write a commented scenario to edit."""
    from sim.catalogue.commented import commented
    from sim.files import write_text

    path: Path = asked.path
    if os.path.lexists(path) and not asked.force:
        raise InputError(str(path), "", None, "a name that is not taken yet; --force replaces the file")
    write_text(path, commented(asked.units or "metric"))
    print(f"{path} is written. Edit it, then run: sunrill year {path}")


def year(asked: argparse.Namespace) -> None:
    """Simulate a year, write report and log, print the headline."""
    scenario = _scenario(asked, "year")
    from sim.browser import check_browser
    from sim.files import check_readable

    if asked.pdf or asked.pdf_page_one:
        check_browser()
    if asked.measured:
        check_readable(asked.measured)
    from sim.figures.hourly import as_csv
    from sim.report.render import year_report
    from sim.studies import ledger
    from sim.studies.spread import recorded_years
    from sim.studies.yearly import study_year
    from sim.terminal import print_year

    recorded = recorded_years(scenario) if asked.recorded else None
    result = study_year(scenario, asked.years, POOR_OF if asked.poor_year else 0, asked.measured, recorded)
    report = year_report(result)
    files = {f"{scenario.name}-year.html": report}
    if not asked.no_log:
        files[f"{scenario.name}-year.csv"] = as_csv(result.hourly())
        stops, index = result.measures.stops, result.weather.index
        files[f"{scenario.name}-ledger.csv"] = ledger.as_csv(stops, index, scenario.care, scenario.battery)
    _finish(asked, result, files, print_year, scenario)
    if asked.pdf:
        _print_pdf(asked, asked.out / f"{scenario.name}-year.pdf", report)
    if asked.pdf_page_one:
        from sim.report.render import client_report

        _print_pdf(asked, asked.out / f"{scenario.name}-client.pdf", client_report(result))


def _print_pdf(asked: argparse.Namespace, pdf: Path, report: str) -> None:
    """A report on paper beside the others."""
    from sim.browser import print_pdf

    print_pdf(report, pdf, asked.paper)
    if asked.json != STANDARD_OUTPUT:
        print(f"written: {pdf}")


def pairs(asked: argparse.Namespace) -> None:
    """Study the pairs of load voltages, write the report, print the recommended one."""
    scenario = _scenario(asked, "pairs")
    from sim.cluster import handed_to
    from sim.report.pairs import pairs_report
    from sim.studies.pairs import study_pairs
    from sim.terminal import print_pairs, shown_progress

    with handed_to(asked.scheduler), shown_progress("simulating") as progress:
        result = study_pairs(
            scenario, asked.step, _range(asked.disconnect), _range(asked.reconnect), progress, asked.years
        )
    _finish(asked, result, {f"{scenario.name}-pairs.html": pairs_report(result)}, print_pairs, scenario)


def _range(given: list[float] | None) -> tuple[float, float] | None:
    return (given[0], given[1]) if given else None


def compare(asked: argparse.Namespace) -> None:
    """Compare designs, write the report, print the differences and the next step that gives the most."""
    from sim.scenario import load

    first, *others = [load(path) for path in asked.scenarios]
    _check_places(asked, f"{first.name}-compare.html", title=first.title)
    _check_weather(first, *others)
    from sim.report.compare import compare_report
    from sim.studies.compare import study_compare
    from sim.studies.designs import designs_of
    from sim.terminal import print_compare, shown_progress

    with shown_progress("simulating") as progress:
        own, *alternatives = designs_of(asked.scenarios)
        read = replace(own, scenario=_read_in(asked, own.scenario))
        result = study_compare([read, *alternatives], progress)
    _finish(asked, result, {f"{first.name}-compare.html": compare_report(result)}, print_compare, read.scenario)


def spread(asked: argparse.Namespace) -> None:
    """Run the design through many years, write the reports, print what differs between years."""
    scenario = _scenario(asked, "spread", "poor-year")
    from sim.cluster import handed_to
    from sim.report.spread import poor_year_report, spread_report
    from sim.studies.spread import recorded_years, study_spread
    from sim.terminal import print_spread, shown_progress

    recorded = recorded_years(scenario) if asked.recorded else None
    with handed_to(asked.scheduler), shown_progress("simulating") as progress:
        result = study_spread(scenario, asked.years, asked.seed, recorded, progress)
    files = {
        f"{scenario.name}-spread.html": spread_report(result),
        f"{scenario.name}-poor-year.html": poor_year_report(result),
    }
    _finish(asked, result, files, print_spread, scenario)


def size(asked: argparse.Namespace) -> None:
    """Find what to buy and how to run it, write the report and the scenario that it makes, print the answer."""
    scenario = _scenario(asked, "size")
    from sim.cluster import handed_to
    from sim.page.made import made_text
    from sim.report.size import size_report
    from sim.studies.designs import designs_in
    from sim.studies.size import study_size
    from sim.terminal import print_size, shown_progress

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
    _finish(asked, result, files, print_size, scenario)


def _grid(asked: argparse.Namespace) -> None:
    """Take one design over a region, write the maps."""
    if len(asked.places) != 1:
        raise InputError("sunrill sites", "--grid", len(asked.places), "one scenario")
    asked.scenario = asked.places[0]
    scenario = _scenario(asked, "grid")
    from sim import cluster, hands
    from sim.report.grid import as_csv, grid_report
    from sim.scenario import read_toml
    from sim.studies.grid import region_of, study_grid
    from sim.terminal import print_grid, shown_progress

    region = region_of(str(scenario.path), asked.grid)
    with (
        hands.working(hands.Processes()),
        cluster.handed_to(asked.scheduler),
        shown_progress("simulating places") as progress,
    ):
        result = study_grid(read_toml(scenario.path), scenario.path, region, progress)
    result = replace(result, scenario=_read_in(asked, result.scenario))
    files = {f"{scenario.name}-grid.html": grid_report(result), f"{scenario.name}-grid.csv": as_csv(result)}
    _finish(asked, result, files, print_grid, result.scenario)


def sites(asked: argparse.Namespace) -> int:
    """Take many scenarios through their years, write all reports and a list of them; 2 if some are wrong."""
    if asked.grid:
        _grid(asked)
        return 0
    _check_places(asked)
    from sim import cluster, hands
    from sim.files import write_text
    from sim.report.site_pages import Pages
    from sim.report.sites import as_csv, sites_report
    from sim.report.sites_folder import Folder, run_sites
    from sim.studies.about import about
    from sim.studies.sites import Reader, places_in
    from sim.terminal import print_sites, shown_progress

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
        _hand_over({"about": head} | found.as_json(), asked.json)
    if asked.json != STANDARD_OUTPUT:
        print_sites(found, [asked.out / "sites.html", asked.out / "sites.csv"])
    for row in found.wrong:
        print(row["error"], file=sys.stderr)
    return WRONG if found.wrong else 0


def reading(asked: argparse.Namespace) -> None:
    """Say what a voltage that was read on site can mean."""
    scenario = _scenario(asked)
    from sim.studies.reading import read_voltage
    from sim.terminal import print_reading

    found = read_voltage(scenario, asked.volts, asked.pump == "on", asked.amps, asked.volts_off, asked.charging)
    _finish(asked, found, {}, print_reading, scenario)


def diagnose(asked: argparse.Namespace) -> None:
    """Weigh what may be wrong against what was seen, write the report, print the verdict."""
    scenario = _scenario(asked, "diagnosis")
    from sim.files import check_readable

    if asked.log:
        check_readable(asked.log)
    from sim.report.diagnose import diagnosis_report
    from sim.studies.diagnose import moment_of, study_diagnose
    from sim.studies.diagnose_hand import Hand
    from sim.terminal import print_diagnosis, shown_progress

    seen = (asked.volts_on, asked.volts_off, asked.amps, asked.charging)
    hand = Hand(*seen, moment_of(asked.at), asked.symptom)
    with shown_progress("weighing") as progress:
        result = study_diagnose(scenario, hand, asked.log, progress)
    _finish(asked, result, {f"{scenario.name}-diagnosis.html": diagnosis_report(result)}, print_diagnosis, scenario)


def weather(asked: argparse.Namespace) -> None:
    """Check a weather file, fetch weather of a place or show its climate; write a report, print what it says."""
    _check_weather_asked(asked)
    _check_places(asked)
    result = (_looked_at if asked.file else _fetched if asked.year else _climate)(asked)
    asked.units = asked.units or "metric"
    from sim.report.weather import weather_report
    from sim.terminal import print_weather

    files = {f"{result.name}-weather.html": weather_report(result, asked.units)}
    _finish(asked, result, files, _means if asked.monthly else print_weather)


def page(asked: argparse.Namespace) -> None:
    """Serve the local page, or write what starts it."""
    folder = asked.folder or (asked.scenario.parent if asked.scenario else Path("."))
    if asked.shortcut:
        from sim.page.shortcut import write_shortcuts

        for path in write_shortcuts(folder):
            print(f"written: {path}")
        return
    from sim.page.server import serve

    serve(asked.scenario, folder, asked.port, not asked.no_browser)


def _means(result: WeatherResult, _: list[Path]) -> None:
    """Place and monthly means as tables of a scenario."""
    from sim.weather.monthly import monthly_toml

    said = f"# {result.coarse}\n" if result.coarse else ""
    sys.stdout.write(said + monthly_toml(result.poorest.weather))


def _check_weather_asked(asked: argparse.Namespace) -> None:
    """A file, or coordinates, perhaps with years to fetch; a height only for the climate."""
    given = {name for name in ("latitude", "longitude", "year", "elevation") if getattr(asked, name) is not None}
    if given if asked.file else not {"latitude", "longitude"} <= given:
        raise InputError("sunrill weather", "", None, "a FILE, or --latitude and --longitude, with --year to fetch")
    if {"year", "elevation"} <= given:
        raise InputError("sunrill weather", "--elevation", asked.elevation, "nothing beside --year")


def _climate(asked: argparse.Namespace) -> WeatherResult:
    from sim.studies.weather import climate_of
    from sim.weather.fetch import Place

    return climate_of(Place.at(asked.latitude, asked.longitude, asked.utc_offset), asked.elevation)


def _looked_at(asked: argparse.Namespace) -> WeatherResult:
    from sim.scenario import load

    scenario = load(asked.file) if asked.file.suffix == ".toml" else None
    asked.units = asked.units or (scenario.report.units if scenario else "metric")
    from sim.studies.weather import look_at

    return look_at(asked.file, scenario)


def _fetched(asked: argparse.Namespace) -> WeatherResult:
    from sim.studies.weather import fetch
    from sim.terminal import shown_progress
    from sim.weather.fetch import Place, check_year

    for number in asked.year:
        check_year(number)
    place = Place.at(asked.latitude, asked.longitude, asked.utc_offset, max(asked.year))
    with shown_progress("fetching") as told:
        return fetch(place, sorted(set(asked.year)), asked.out, told=told)


def _scenario(asked: argparse.Namespace, *reports: str) -> Scenario:
    """The scenario of a command; complains now about places that cannot be written to, not after the work."""
    from sim.scenario import load

    scenario = _read_in(asked, load(asked.scenario))
    _check_places(asked, *(f"{scenario.name}-{kind}.html" for kind in reports), title=scenario.title)
    _check_weather(scenario)
    return scenario


def _check_weather(*scenarios: Scenario) -> None:
    """Raise InputError now, before anything that costs is imported, if a weather file is not there."""
    from sim.scenario.weather import existing

    for scenario in scenarios:
        for key, name in scenario.weather.named_files.items():
            existing(scenario.path, key, name)


def _read_in(asked: argparse.Namespace, scenario: Scenario) -> Scenario:
    """The scenario, its reports in the units and the language that were asked for, if any were."""
    given = {key: value for key in ("units", "language") if (value := getattr(asked, key, None))}
    return scenario.but(report=given) if given else scenario


def _check_places(asked: argparse.Namespace, *reports: str, title: str = "") -> None:
    """Raise InputError now if something could not be written, or would replace the report of another system."""
    from sim.files import check_file, check_folder, check_title

    if "out" in asked:
        check_folder(asked.out)
    for name in reports if not getattr(asked, "force", True) else ():
        check_title(asked.out / name, title)
    if asked.json not in (None, STANDARD_OUTPUT):
        check_file(Path(asked.json))


def _finish(
    asked: argparse.Namespace,
    result: Any,
    files: Mapping[str, str],
    say: Callable[[Any, list[Path]], None],
    scenario: Scenario | None = None,
) -> None:
    """Write what a study came to: reports into the folder, JSON where it is asked for, words to the terminal."""
    from sim.files import write_text

    paths = [asked.out / name for name in files]
    for path, text in zip(paths, files.values(), strict=True):
        write_text(path, text)
    if asked.json:
        _hand_over({"about": _about(asked.command, result, scenario)} | result.as_json(), asked.json)
    if asked.json != STANDARD_OUTPUT:
        with in_units(scenario.report.units if scenario else asked.units):
            say(result, paths)


def _about(command: str, result: Any, scenario: Scenario | None) -> dict[str, Any]:
    """The head of a document; weather that was looked at by itself has its own words and no scenario."""
    from sim.studies.about import about, weather_in_words

    if scenario is None:
        return about(command, None, result.name, result.poorest.weather.source)
    return about(command, scenario.path, scenario.title, weather_in_words(scenario))


def _hand_over(results: dict[str, Any], to: str) -> None:
    """Write results as JSON to a file or to standard output."""
    from sim.files import write_text

    text = json.dumps(results, indent=2, allow_nan=False) + "\n"
    if to == STANDARD_OUTPUT:
        sys.stdout.write(text)
    else:
        write_text(Path(to), text)
