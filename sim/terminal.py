"""The year in a few lines for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.console import Console
from rich.markup import escape

from sim.calendar import MONTHS
from sim.screen import Screen, table
from sim.screen import shown_progress as shown_progress  # the commands find it here beside the words
from sim.studies.diagnose_symptom import CAUTIONS
from sim.units import Quantity, converted, sign, told
from sim.words import printable, years

if TYPE_CHECKING:
    from rich.table import Table

    from sim.checks.finding import Finding
    from sim.figures.measures import Measures
    from sim.scenario import Scenario
    from sim.studies.compare import CompareResult, Row
    from sim.studies.diagnose import Diagnosis
    from sim.studies.grid import GridResult
    from sim.studies.pairs import Pair, PairsResult
    from sim.studies.reading import Reading, Sag
    from sim.studies.result import YearResult
    from sim.studies.sites import Sites
    from sim.studies.size import SizeResult
    from sim.studies.spread import SpreadResult
    from sim.studies.weather import WeatherResult
    from sim.weather.weather import Doubt

MOST_SITES, WORST_SITES, REASONS = 20, 3, 2  # of a list, of those with reasons, and how many of these
READING_CAUTION = (
    "Caution: measure with insulated probes and never bridge battery poles; a reading is an estimate of charge, not a "
    "safety check."
)
_STYLE = {"warning": "bold red", "caution": "yellow", "note": "dim"}


def _print_coarse(scenario: Scenario, console: Console) -> None:
    """Say how coarse the weather is that the figures above rest on, where it is."""
    if scenario.weather.coarse:
        console.print(f"[bold yellow]weather[/]: {escape(told(scenario.weather.coarse))}")


def _monthly(result: YearResult) -> Table:
    run = [f"{hours:.1f}" for hours in result.measures.hours_a_day]
    return table(MONTHS, [run], "Expected pump hours a day", 1)


def _aged(result: YearResult) -> Table:
    head = ("year", "capacity Ah", "pump hours", "wanted hours met")
    rows = (
        (str(year.year), f"{year.capacity_ah:.0f}", f"{year.pump_hours:.0f}", f"{year.hours_met_share:.1%}")
        for year in result.aged
    )
    return table(head, rows, "Year after year with a fading battery")


def _print_doubts(console: Console, doubts: Iterable[Doubt]) -> None:
    """What looks wrong about the weather, before anything that rests on it."""
    for doubt in doubts:
        console.print(f"[bold red]doubtful weather[/] ({doubt.id}): {escape(told(doubt.message))}")


def _print_findings(console: Console, findings: Iterable[Finding]) -> None:
    """What the checks found, in the reader's units."""
    for finding in findings:
        console.print(f"[{_STYLE[finding.level]}]{finding.level}[/]: {escape(told(finding.message))}")


def print_year(result: YearResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the headline of a year, the findings, and where report and log are."""
    console = console or Screen()
    year = result.measures
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]")
    _print_doubts(console, result.weather.doubts)
    console.print(
        f"Pump hours {year.pump_hours:.0f} in the year; {year.hours_met_share:.1%} of the wanted hours met; "
        f"{year.starts} starts; {_longest(year)}."
    )
    console.print(
        f"Lowest charge {year.battery.min_soc:.0%}; {year.battery.stress.equivalent_full_cycles:.0f} equivalent full "
        f"cycles; expected battery life {years(year.battery.stress.life_years)}."
    )
    if year.water:
        flow = Quantity(year.water.pipework.point.flow_lph, "lph", ".0f")
        moved, turnovers = Quantity(year.water.litres / 1000.0, "m3", ".0f"), year.water.turnovers_per_day
        console.print(f"Water: {flow}, {moved} in the year; {turnovers:.1f} turnovers a day.")
    console.print(_monthly(result))
    _print_coarse(result.scenario, console)
    if result.aged:
        console.print(_aged(result))
        console.print(" ".join(result.years_said))
    if result.measured:
        console.print("Against the log from site:")
        for line in result.measured.in_words():
            console.print(f"- {escape(line)}")
    _print_nights(result, console)
    _print_findings(console, result.findings)
    console.print(f"[dim]{len(result.passed)} checks passed; the report lists them with their margins.[/dim]")
    console.print(f"[dim]{_year_caution()}[/dim]")
    _print_written(written, console)


def _year_caution() -> str:
    """What nobody should touch a system without knowing, in a line."""
    return (
        f"Caution: fuse at the battery, isolate before work, never charge lithium below {Quantity(0.0, 'c', 'g')}; "
        "local codes decide. Planning information, no guarantee and no life-support alarm."
    )


def _longest(year: Measures) -> str:
    """The longest stop that is not planned, and what timer and season plan where that is longer."""
    from sim.figures.causes import longest_unplanned

    begun, ended = longest_unplanned(year.stops) or (0.0, 0.0)
    said = f"longest stop {ended - begun:.0f} h"
    planned = year.longest_stop_h > ended - begun + 0.5
    return f"{said}, beside planned ones of up to {year.longest_stop_h:.0f} h" if planned else said


def _print_nights(result: YearResult, console: Console) -> None:
    """The share of nights without a stop, and how long the battery bridges."""
    from sim.figures.nights import full_share

    full = full_share(result.measures.nights, range(1, 13))
    said = "" if full is None else f"Nights without a stop: {full:.0%}. "
    days = result.sunless.days if result.sunless else None
    bridged = "" if days is None else f"Without sun, from full, {days:.1f} days until it stops."
    if said or bridged:
        console.print(f"{said}{bridged}".strip())


def _print_written(paths: Sequence[Path], console: Console) -> None:
    for path in paths:
        console.print(f"written: {escape(printable(str(path)))}", soft_wrap=True)


def _pair_row(name: str, pair: Pair) -> tuple[str, ...]:
    return (
        name,
        f"{pair.load_disconnect_v:.2f} / {pair.load_reconnect_v:.2f}",
        f"{pair.pump_hours:.0f}",
        f"{pair.hours_met_share:.1%}",
        str(pair.starts),
        f"{pair.min_soc:.0%}",
        f"{pair.longest_stop_h:.0f}",
        "yes" if pair.steady else "no",
    )


def _pair_table(result: PairsResult) -> Table:
    head = ("", "off / on V", "pump hours", "wanted met", "starts", "lowest", "longest stop h", "steady")
    return table(head, (_pair_row("present", result.present), _pair_row("recommended", result.recommended)))


def print_pairs(result: PairsResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the recommended pair beside the present one, the reasons, the changes and where the report is."""
    console = console or Screen()
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(result.pairs)} pairs of load voltages")
    console.print(_pair_table(result))
    for sentence in result.reasons:
        console.print(f"- {escape(sentence)}")
    console.print(f"Against the present pair: {escape('; '.join(result.changes))}")
    _print_coarse(result.scenario, console)
    _print_written(written, console)


def _design_row(row: Row) -> tuple[str, ...]:
    year, found = row.run.measures, row.gain
    return (
        escape(row.name),
        f"{year.pump_hours:.0f}",
        f"{year.hours_met_share:.1%}",
        f"{MONTHS[year.worst_month - 1]} {year.met_share_by_month[year.worst_month - 1]:.0%}",
        f"{found.met_worst_month_h:+.0f}",
        f"{found.met_h:+.0f}",
        f"{found.pump_h:+.0f}",
    )


def _design_table(result: CompareResult) -> Table:
    month = MONTHS[result.first.measures.worst_month - 1]
    head = ("", "pump hours", "wanted met", "worst month", f"wanted h in {month}", "wanted h", "pump h")
    return table(head, map(_design_row, result.designs))


def print_compare(result: CompareResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the designs with their differences to the first, the best next steps, and where the report is."""
    console = console or Screen()
    console.print(f"[bold]{escape(result.first.design.scenario.title)}[/bold]: the last columns are against the first")
    console.print(_design_table(result))
    _print_coarse(result.first.design.scenario, console)
    console.print("Next steps that gain most, wanted hours in the worst month / in the year:")
    for step in result.steps[:5]:
        console.print(f"- {step.change.name}: {step.gain.met_worst_month_h:+.0f} / {step.gain.met_h:+.0f} h")
    _print_by_money(result, console)
    _print_written(written, console)


def _print_by_money(result: CompareResult, console: Console) -> None:
    """The steps that gain most for their money, where prices are known."""
    unit = result.first.design.scenario.cost.currency or "unit of money"
    priced = [step for step in result.by_money if step.money.met_hours_per_unit is not None]
    for step in priced[:3]:
        each = step.money.met_hours_per_unit
        console.print(f"- for its money: {step.change.name}, {each:.3g} wanted h a year for each {unit} a year")


_SPREAD = (
    ("pump hours", "hours", "pump_hours", "{:.0f}"),
    ("wanted hours met", "hours_met_share", "hours_met_share", "{:.1%}"),
    ("longest stop, h", "longest_stop_h", "longest_stop_h", "{:.0f}"),
    ("days without running", "idle_days", "days_without_running", "{:.0f}"),
)


def _spread_table(result: SpreadResult) -> Table:
    typical = result.typical.measures
    rows = (
        (words, *(form.format(value) for value in (*vars(result.quantiles(name)).values(), getattr(typical, own))))
        for words, name, own, form in _SPREAD
    )
    return table(("of a year", "P10", "P50", "P90", "typical"), rows)


def print_spread(result: SpreadResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what a tenth, a half and nine tenths of the years stay below, the poor year and where the reports are."""
    from sim.report.standing import poor_no_poorer, rank

    console = console or Screen()
    poor = result.poor_year.measures
    kind = "synthetic years" if result.synthetic else "years"
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {result.years} {kind}")
    console.print(_spread_table(result))
    console.print(
        f"Poor year ({result.poor_name}): pump hours {poor.pump_hours:.0f}; {poor.hours_met_share:.1%} of the wanted "
        f"hours met; longest stop {poor.longest_stop_h:.0f} h; {poor.days_without_running} days without running."
    )
    for sentence in filter(None, (rank(result), poor_no_poorer(result), result.convergence.in_words())):
        console.print(sentence)
    _print_coarse(result.scenario, console)
    _print_written(written, console)


def print_size(result: SizeResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what to buy and how to run it, what one size less would cost, and where report and scenario are."""
    from sim.report.size_words import answer, fresh_sentence, less_sentences

    console = console or Screen()
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(result.designs)} designs judged")
    for sentence in (answer(result), fresh_sentence(result), *less_sentences(result)):
        console.print(escape(sentence))
    _print_findings(console, result.year.findings)
    _print_coarse(result.scenario, console)
    _print_written(written, console)


def print_reading(reading: Reading, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the band of charge that a voltage can mean, and what a sag says."""
    console = console or Screen()
    rest = f"about {reading.rest_v:.2f} V at rest ({reading.rest_low_v:.2f} to {reading.rest_high_v:.2f} V)"
    console.print(
        f"{reading.volts:g} V with the pump {'on' if reading.pump_on else 'off'} and {reading.current_a:+.2f} A into "
        f"the battery: {'it says nothing of its rest' if reading.by_panel else rest}."
    )
    console.print(
        f"[bold]Charge between {reading.soc_low:.0%} and {reading.soc_high:.0%}[/bold]: reading \u00b1"
        f"{reading.reading_error_v:g} V, history of the battery \u00b1{reading.hysteresis_v:g} V, temperature."
    )
    if reading.sag:
        _print_sag(reading.sag, console)
    for note in reading.notes:
        console.print(f"[dim]{escape(told(note))}[/dim]")
    console.print(f"[dim]{READING_CAUTION}[/dim]")


def _print_sag(sag: Sag, console: Console) -> None:
    origin = "worked out for this pump" if sag.amps_assumed else "measured"
    console.print(
        f"Sag {sag.sag_v:.2f} V at {sag.amps:.2f} A ({origin}): {sag.total_mohm:.0f} m\u03a9 in all. The battery can "
        f"explain {sag.battery_share_low:.0%} to {sag.battery_share_high:.0%} of it; leads and terminals have "
        f"{sag.leads_low_mohm:.0f} to {sag.leads_high_mohm:.0f} m\u03a9, {sag.leads_normal_mohm:.0f} would be normal."
    )
    if sag.warning:
        console.print(f"[bold red]warning[/]: {escape(sag.warning)}")


def print_diagnosis(found: Diagnosis, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what is wrong, how sure that is, what to change and what to measure next."""
    console = console or Screen()
    console.print(f"[bold]{escape(found.scenario.title)}[/bold]")
    console.print(f"[bold]{escape(found.in_words)}[/bold]")
    for cause in found.likely:
        console.print(f"{cause.probability:4.0%}  {cause.id}: {escape(cause.evidence)}")
        console.print(f"      {escape(cause.change)}")
    if found.next:
        console.print(f"[bold]Measure next[/]. {escape(found.next.words)}")
    for note in found.notes:
        console.print(f"[dim]{escape(note)}[/dim]")
    for caution in CAUTIONS:
        console.print(f"[yellow]caution[/]: {escape(told(caution))}")
    _print_written(written, console)


def _weather_months(result: WeatherResult) -> Table:
    year = result.poorest
    rows = (
        ("kWh/m2 a day", year.daily_kwh_m2, ".1f"),
        ("kWh/m2", year.ghi_kwh_m2, ".0f"),
        ("sunshine h", year.sunshine_h, ".0f"),
        (f"mean {sign('c')}", converted(year.mean_c, "c"), ".0f"),
        (f"lowest {sign('c')}", converted(year.lowest_c, "c"), ".0f"),
    )
    told = ((name, *(f"{value:{form}}" for value in values)) for name, values, form in rows)
    return table(("", *MONTHS), told, apart=1)


def print_sites(sites: Sites, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print the most worrying sites and why, how many are well or wrong, and where the list is."""
    console = console or Screen()
    head = ("", "wanted met", "poor year", "longest stop h", "lowest", "worry")
    rows = (
        (
            escape(printable(row["name"])),
            f"{row['hours_met_share']:.1%}",
            f"{row['poor_year']['hours_met_share']:.1%}",
            f"{row['longest_stop_h']:.0f}",
            f"{row['min_soc']:.0%}",
            f"{row['worry']:.2f}",
        )
        for row in sites.simulated[:MOST_SITES]
    )
    console.print(table(head, rows))
    for row in (one for one in sites.simulated[:WORST_SITES] if one["why"]):
        console.print(f"{escape(printable(row['name']))}: {escape(printable(' '.join(row['why'][:REASONS])))}")
    if len(sites.simulated) > MOST_SITES:
        console.print(f"[dim]and {len(sites.simulated) - MOST_SITES} more[/dim]")
    console.print(f"{len(sites.simulated)} sites simulated, {len(sites.wrong)} wrong.")
    _print_written(written, console)


def print_grid(result: GridResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print how much of a region a design is enough for, and where the maps are."""
    console = console or Screen()
    shares = sorted(one.worst_month_met for one in result.places)
    console.print(f"[bold]{escape(result.scenario.title)}[/bold]: {len(shares)} places on land")
    if shares:
        console.print(f"In the worst month {shares[0]:.0%} to {shares[-1]:.0%} of the wanted hours are met.")
    _print_written(written, console)


def print_weather(result: WeatherResult, written: Sequence[Path] = (), console: Console | None = None) -> None:
    """Print what weather holds, whether it can be trusted, and where report and fetched years are."""
    console = console or Screen()
    shown = result.poorest
    weather, several = shown.weather, len(result.years) > 1
    console.print(f"[bold]{escape(weather.source)}[/bold]")
    _print_doubts(console, result.doubts)
    for year in result.years if several else ():
        console.print(f"{year.weather.index[0].year}: {year.ghi_kwh_m2.sum():.0f} kWh/m2 on the level")
    if several:
        console.print(f"The year with the least light, {weather.index[0].year}:")
    console.print(_weather_months(result))
    console.print(
        f"Light {shown.ghi_kwh_m2.sum():.0f} kWh/m2 in the year on the level; darkest five days {shown.darkest_days}; "
        f"coldest {Quantity(weather.temp_air.min(), 'c', '.1f')}, {shown.coldest_at}."
    )
    late = "late" if shown.clock_min > 0 else "early"
    console.print(
        f"Clock {abs(shown.clock_min):.0f} minutes {late} against the sun; beam and diffuse make "
        f"{shown.closure:.0%} of the global light."
    )
    if result.coarse:
        console.print(f"[bold yellow]weather[/]: {escape(told(result.coarse))}")
    notes = tuple(note for note in weather.notes if note != result.coarse)
    for note in notes or ("Nothing had to be repaired.",):
        console.print(f"[dim]{escape(told(note))}[/dim]")
    _print_written(written, console)
