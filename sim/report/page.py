"""What the report says, as typed values with every number already in words: the templates only place them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.catalogue.cells import cell
from sim.report import figures
from sim.report.figures import Figure, Table
from sim.report.settings import Group, settings_of
from sim.report.wiring import WiringPart, wiring_part
from sim.report.words import hours, moment, number, percent, span

if TYPE_CHECKING:
    from sim.causes import Stop
    from sim.checks import Finding
    from sim.measures import Measures
    from sim.weather import Weather
    from sim.year import YearResult

RUNS_AT_LEAST_H = 1.0 / 60.0  # a day with less is a day without running
SAME_MOMENT_H = 1e-9
FORESEEABLE_YEARS = 50.0  # a longer life is only said to be longer


@dataclass(frozen=True)
class Fact:
    """A figure with what it means, and a remark."""

    name: str
    value: str
    remark: str = ""


@dataclass(frozen=True)
class Found:
    """A finding in words."""

    level: str
    message: str
    value: str
    limit: str
    source: str


@dataclass(frozen=True)
class Headline:
    """The answer in a sentence, and the figures that belong to it."""

    promise: str
    facts: tuple[Fact, ...]


@dataclass(frozen=True)
class Page:
    """The whole report."""

    title: str
    place: str
    headline: Headline
    findings: tuple[Found, ...]
    months: Figure
    map: Figure
    charge: Figure
    fortnight: Figure
    causes: Figure
    energy: Figure
    yields: Table
    balance: str
    cycles: Figure
    stress: Table
    life_basis: str
    wiring: WiringPart
    settings: tuple[Group, ...]
    source: str
    licence: str
    notes: tuple[str, ...]
    weather: Table


def longest_stretch(stops: tuple[Stop, ...]) -> tuple[float, float] | None:
    """The longest time without running, hours since the year began: stops that follow without a run are one stretch.

    >>> from sim.causes import Stop
    >>> night, frost = Stop(5.0, 9.0, "night", 0.1, 12.2), Stop(9.0, 20.0, "protection circuit", 0.1, 12.0)
    >>> longest_stretch((night, frost, Stop(30.0, 42.0, "night", 0.1, 12.2)))
    (5.0, 20.0)
    """
    stretches: list[tuple[float, float]] = []
    for stop in stops:
        follows = stretches and stop.from_h - stretches[-1][1] <= SAME_MOMENT_H
        begun = stretches.pop()[0] if follows else stop.from_h
        stretches.append((begun, stop.to_h))
    return max(stretches, key=lambda stretch: stretch[1] - stretch[0], default=None)


def page_of(result: YearResult) -> Page:
    """The page of a simulated year."""
    scenario, weather, year = result.scenario, result.weather, result.measures
    return Page(
        title=scenario.title,
        place=place_of(weather),
        headline=Headline(_promise(result), (*_need_facts(result), *_battery_facts(result))),
        findings=tuple(map(_found, result.findings)),
        months=figures.months_figure(result),
        map=figures.map_figure(result),
        charge=figures.charge_figure(result),
        fortnight=figures.fortnight_figure(result),
        causes=figures.causes_figure(result),
        energy=figures.energy_figure(result),
        yields=_yields(year),
        balance=_balance(year),
        cycles=figures.cycles_figure(result),
        stress=_stress(year),
        life_basis=_life_basis(result),
        wiring=wiring_part(result),
        settings=settings_of(scenario, weather),
        source=weather.source,
        licence=weather.licence,
        notes=weather.notes,
        weather=_weather(year),
    )


def place_of(weather: Weather) -> str:
    """Where a weather was recorded and the year that it is dated to."""
    north = f"{abs(weather.latitude_deg):.2f}° {'N' if weather.latitude_deg >= 0 else 'S'}"
    east = f"{abs(weather.longitude_deg):.2f}° {'E' if weather.longitude_deg >= 0 else 'W'}"
    return f"{north}, {east}, {weather.elevation_m:.0f} m; weather dated {weather.index[0].year}"


def _promise(result: YearResult) -> str:
    """Hours a day in the best and the worst month, in a sentence."""
    run = figures.hours_a_day(result.measures)
    best, worst = figures.best_and_worst(result)
    if number(run.max()) == number(run.min()):
        return f"Expect the pump to run about {number(run.max())} hours a day in every month."
    return (
        f"Expect the pump to run about {number(run.max())} hours a day in {best} and about {number(run.min())} hours a "
        f"day in {worst}."
    )


def _need_facts(result: YearResult) -> tuple[Fact, ...]:
    year, need = result.measures, result.scenario.need
    unserved = year.hours_wanted - float(year.met_by_day.sum())
    between = f"wanted between {need.between[0]} and {need.between[1]}"
    idle = int((year.pump_hours_by_day < RUNS_AT_LEAST_H).sum())
    return (
        Fact(
            "Share of wanted hours met",
            percent(year.hours_met_share),
            f"{hours(unserved)} of {hours(year.hours_wanted)} not served; {between}",
        ),
        Fact("Longest expected stop", hours(year.longest_stop_h), _when(result)),
        Fact("Days without running", f"{idle}", f"of {len(year.pump_hours_by_day)}; less than a minute counts as none"),
        Fact("Pump hours in the year", hours(year.pump_hours), f"{year.starts:,} starts"),
    )


def _battery_facts(result: YearResult) -> tuple[Fact, ...]:
    stress = result.measures.battery.stress
    return (Fact("Expected battery life", years(stress.life_years), "the sooner of cycles and calendar"),)


def years(life: tuple[float, float]) -> str:
    """A range of years of life in words.

    >>> years((7.6, 12.2)), years((60.0, 90.0))
    ('8–12 years', 'more than 50 years')
    """
    if life[0] > FORESEEABLE_YEARS:
        return f"more than {FORESEEABLE_YEARS:g} years"
    return span(round(life[0]), round(life[1]), "years")


def _when(result: YearResult) -> str:
    stretch = longest_stretch(result.measures.stops)
    if stretch is None:
        return "the pump never stood"
    begun, ended = (moment(result.weather.index, hour) for hour in stretch)
    return f"from {begun} to {ended}; {result.scenario.need.longest_stop_h:g} h is the longest allowed"


def _found(finding: Finding) -> Found:
    return Found(finding.level, finding.message, f"{finding.value:.4g}", f"{finding.limit:.4g}", finding.source)


def _yields(year: Measures) -> Table:
    """Yields by IEC 61724-1: energies over the rated power, and their ratio."""
    energy = year.energy
    rated_kw = energy.in_plane / year.in_plane_kwh_m2 / 1000.0 if year.in_plane_kwh_m2 else 0.0
    array, final = ((wh / 1000.0 / rated_kw if rated_kw else 0.0) for wh in (energy.panel, energy.pump))
    ratio = energy.pump / energy.in_plane if energy.in_plane else 0.0
    return Table(
        ("IEC 61724-1", "Value", "Meaning"),
        (
            ("Reference yield", f"{year.in_plane_kwh_m2:,.0f} h", "in-plane irradiation over 1 kW/m²"),
            ("Array yield", f"{array:,.0f} kWh/kW", "array energy over the rated power"),
            ("Final yield", f"{final:,.0f} kWh/kW", "pump energy over the rated power"),
            ("Performance ratio", f"{ratio:.2f}", "final yield over reference yield"),
        ),
    )


def _balance(year: Measures) -> str:
    """What the books are out by."""
    share = abs(year.energy.balance_error) / year.energy.panel if year.energy.panel else 0.0
    return f"{abs(year.energy.balance_error):.1e} Wh, {share:.1e} of the array energy"


def _stress(year: Measures) -> Table:
    battery, stress = year.battery, year.battery.stress
    return Table(
        ("Battery", "Value"),
        (
            ("Equivalent full cycles in the year", number(stress.equivalent_full_cycles)),
            ("Lowest charge", percent(battery.min_soc)),
            ("Mean charge", percent(battery.mean_soc)),
            ("Hours below 20 % charge", number(battery.hours_below_20_percent)),
            ("Hours above 95 % charge", number(battery.hours_above_95_percent)),
            ("Hours in which charge was refused, mostly for frost", number(battery.charge_refused_hours)),
            ("Coldest battery temperature", f"{battery.coldest_c:.1f} °C".replace("-", "−")),
            ("Lowest and highest battery voltage", f"{battery.lowest_v:.2f} V, {battery.highest_v:.2f} V"),
            ("Life by cycles alone", years(stress.cycle_life_years)),
            ("Life by calendar alone", years(stress.calendar_life_years)),
        ),
    )


def _life_basis(result: YearResult) -> str:
    """On what the battery's life rests."""
    chemistry = cell(result.scenario.battery.chemistry)
    return (
        f"Cycles are counted by rainflow (ASTM E1049-85) and added by Miner's rule against "
        f"{span(*chemistry.cycles_at_full_depth, 'full cycles')}; calendar life of "
        f"{span(*chemistry.calendar_years_25c, 'years')} at 25 °C halves for every "
        f"{chemistry.ageing_doubles_per_c:g} °C above it. These are data-sheet and trade figures, so the range is wide."
    )


def _weather(year: Measures) -> Table:
    return Table(
        ("Weather of the year", "Value"),
        (
            ("On the level", f"{year.ghi_kwh_m2:,.0f} kWh/m²"),
            ("In the plane of the array, past the shades", f"{year.in_plane_kwh_m2:,.0f} kWh/m²"),
            ("Mean air temperature", f"{year.temp_mean_c:.1f} °C".replace("-", "−")),
            ("Lowest air temperature", f"{year.temp_min_c:.1f} °C".replace("-", "−")),
        ),
    )
