"""The battery: its charge through the year, the worst fortnight, and what the year does to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.catalogue.cells import cell
from sim.report import figures
from sim.report.figures import Figure, Table
from sim.report.section import Section
from sim.words import number, percent, span, years

if TYPE_CHECKING:
    from sim.figures.measures import Measures
    from sim.studies.result import YearResult


@dataclass(frozen=True)
class Wear:
    """Cycles, the figures of the battery's year, and on what its life rests."""

    cycles: Figure
    stress: Table
    life_basis: str


@dataclass(frozen=True)
class Fading:
    """Year after year, and when the battery is replaced."""

    years: Table
    said: str


def charge(result: YearResult) -> Section:
    """The daily band of charge."""
    return Section("charge", "The battery through the year", "chart", figures.charge_figure(result))


def worst_fortnight(result: YearResult) -> Section:
    """The worst fourteen days, hour by hour."""
    return Section("fortnight", "The worst fortnight", "chart", figures.fortnight_figure(result))


def stress(result: YearResult) -> Section:
    """What the year does to the battery."""
    wear = Wear(figures.cycles_figure(result), _stress(result.measures), _life_basis(result))
    return Section("stress", "What the year does to the battery", "stress", wear)


def fading(result: YearResult) -> Section | None:
    """Year after year with a battery that fades; nothing if only one year was asked for."""
    if not result.aged:
        return None
    rows = tuple(
        (str(year.year), number(year.capacity_ah), number(year.pump_hours), percent(year.hours_met_share))
        for year in result.aged
    )
    said = " ".join(result.years_said)
    faded = Fading(Table(("Year", "Capacity, Ah", "Pump hours", "Wanted hours met"), rows), said)
    return Section("fading", "Year after year with a fading battery", "fading", faded)


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
            ("Life by both together", years(stress.life_years)),
            ("Wear of a cycle for want of full charges, against none", f"{stress.sulphation:.3g} times"),
        ),
    )


def _life_basis(result: YearResult) -> str:
    """On what the battery's life rests."""
    chemistry = cell(result.scenario.battery.chemistry)
    sulphation = (
        ""
        if chemistry.lithium
        else " A cycle of lead-acid wears more the longer the last full charge is past, the lower the charge was since "
        "then and the smaller the current (Schiffer et al., J. Power Sources 168, 2007)."
    )
    return (
        f"Cycles are counted by rainflow (ASTM E1049-85) and added by Miner's rule against "
        f"{span(*chemistry.cycles_at_full_depth, 'full cycles')}; calendar life of "
        f"{span(*chemistry.calendar_years_25c, 'years')} at 25 °C halves for every "
        f"{chemistry.ageing_doubles_per_c:g} °C above it; both wears add up.{sulphation} These are data-sheet and "
        "trade figures, so the range is wide."
    )
