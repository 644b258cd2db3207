"""The battery: its charge through the year, what the year does to it, and year after year."""

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.catalogue.cells import cell
from sim.figures.measures import HOT_C, Measures
from sim.report import charts
from sim.report.blocks import Figure, Key, Table, Words, by_month, tabled
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.studies.sunless import DARK_DAYS
from sim.units import Quantity
from sim.words import number, percent, span, years

DEPTHS = np.linspace(0.0, 1.0, 11)


def charge(result: YearResult) -> Section:
    """The daily band of charge."""
    year = result.measures
    low, high, months = year.soc_low_by_day, year.soc_high_by_day, year.months[::24]
    said = (
        f"Each day's lowest and highest charge as simulated; the lowest of the year is "
        f"{percent(year.battery.min_soc)}, the mean {percent(year.battery.mean_soc)}."
    )
    words = ("The battery's charge through the year, daily lowest to highest", said)
    band = np.array([low, high]) * 100.0
    drawn = charts.daily_band("charge", "simulated charge, %", band, months, (20.0, 0.0, 102.0), words)
    keys = (Key("water", "lowest to highest charge of the day"), Key("dash", "20 %"))
    shown = Figure(drawn, said, keys, _charge_by_month(low, high, months))
    return Section("charge", "The battery through the year", (shown, *without_sun(result)))


def without_sun(result: YearResult) -> tuple[Words, ...]:
    """How long a full battery lasts without sun, and the longest time that was short of it."""
    found, days = result.sunless, result.measures.longest_deficit_days
    if found is None:
        return ()
    begun = f"From full on 1 {MONTH_NAMES[found.month - 1]}, the worst month, and without any sun"
    lasts = (
        f"{begun} the pump runs {number(found.ran_h)} h until the battery lets it stop, after {found.days:.1f} days."
        if found.days
        else f"{begun} it never stops for want of charge in {DARK_DAYS} days; it runs {number(found.ran_h)} h in them."
    )
    deficit = f"The longest time in which every day lacks some of its wanted hours is {days} days"
    return (Words(f"{lasts} {deficit}, not counting what timer and season plan."),)


def _charge_by_month(low: np.ndarray, high: np.ndarray, months: np.ndarray) -> Table:
    lows, highs = ([days[months == month] for month in range(1, 13)] for days in (low, high))
    return by_month(
        ("Lowest", map(np.min, lows), percent),
        ("Mean of daily lowest", map(np.mean, lows), percent),
        ("Mean of daily highest", map(np.mean, highs), percent),
        ("Highest", map(np.max, highs), percent),
    )


def stress(result: YearResult) -> Section:
    """What the year does to the battery."""
    part = (cycles_figure(result), _stress(result.measures), Words(_life_basis(result), "small"))
    return Section("stress", "What the year does to the battery", part)


def cycles_figure(result: YearResult) -> Figure:
    """How deep the battery's cycles go."""
    found = result.measures.battery.stress
    depth, count = np.array(found.cycles).reshape(-1, 2).T
    counts = np.histogram(depth, DEPTHS, weights=count)[0]
    said = (
        f"{number(counts.sum())} cycles counted, {number(found.equivalent_full_cycles)} equivalent full cycles; the "
        f"deepest spans {percent(depth.max(initial=0.0))} of the capacity."
    )
    words = ("cycles in the year", "depth of the cycle, % of capacity")
    drawn = charts.histogram("cycles", counts, DEPTHS * 100.0, words, ("Battery cycles by depth", said))
    names = (f"{a * 100:.0f}–{b * 100:.0f} %" for a, b in zip(DEPTHS[:-1], DEPTHS[1:], strict=True))
    return Figure(drawn, said, (), tabled("Depth", names, ("Cycles", counts, "g")))


def fading(result: YearResult) -> Section | None:
    """Year after year with a battery that fades; nothing if only one year was asked for."""
    if not result.aged:
        return None
    table = tabled(
        "Year",
        (str(year.year) for year in result.aged),
        ("Capacity, Ah", (year.capacity_ah for year in result.aged), number),
        ("Pump hours", (year.pump_hours for year in result.aged), number),
        ("Wanted hours met", (year.hours_met_share for year in result.aged), percent),
    )
    said = " ".join(result.years_said)
    basis = (
        f"{said} The same weather every year; capacity falls in a straight line to 80 %, and resistance doubles, by "
        "the end of its life."
    )
    return Section("fading", "Year after year with a fading battery", (table, Words(basis, "small")))


def _stress(year: Measures) -> Table:
    battery, found = year.battery, year.battery.stress
    return Table(
        ("Battery", "Value"),
        (
            ("Equivalent full cycles in the year", number(found.equivalent_full_cycles)),
            ("Lowest charge", percent(battery.min_soc)),
            ("Mean charge", percent(battery.mean_soc)),
            ("Hours below 20 % charge", number(battery.hours_below_20_percent)),
            ("Hours above 95 % charge", number(battery.hours_above_95_percent)),
            ("Hours in which charge was refused, mostly for frost", number(battery.charge_refused_hours)),
            (f"Hours of a hot battery, above {Quantity(HOT_C, 'c', 'g')}", number(battery.hot_hours)),
            ("Coldest battery temperature", str(Quantity(battery.coldest_c, "c", ".1f"))),
            ("Lowest and highest battery voltage", f"{battery.lowest_v:.2f} V, {battery.highest_v:.2f} V"),
            ("Life by cycles alone", years(found.cycle_life_years)),
            ("Life by calendar alone", years(found.calendar_life_years)),
            ("Life by both together", years(found.life_years)),
            ("Wear of a cycle for want of full charges, against none", f"{found.sulphation:.3g} times"),
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
        f"{span(*chemistry.calendar_years_25c, 'years')} at {Quantity(25.0, 'c', 'g')} halves for every "
        f"{Quantity(chemistry.ageing_doubles_per_c, 'gain_c', 'g')} above it; both wears add up.{sulphation} These are "
        "data-sheet and trade figures, so the range is wide."
    )
