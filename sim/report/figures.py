"""Each chart with its words, its legend and the table behind it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTHS
from sim.figures.series import by_day, by_month
from sim.report import charts
from sim.report.charts import Bar
from sim.report.ink import ALARM, WATER
from sim.weather.sun import sun_positions
from sim.words import day, hours, kwh, number, percent

if TYPE_CHECKING:
    from sim.figures.measures import Energy, Measures
    from sim.studies.result import YearResult

DEPTHS = np.linspace(0.0, 1.0, 11)
SPELL_DAYS = 14


@dataclass(frozen=True)
class Table:
    """A table: its headings, and rows whose first cell names the row."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Key:
    """A legend's entry: the style of its mark, and what it stands for."""

    mark: str
    words: str


@dataclass(frozen=True)
class Figure:
    """A chart in a page."""

    svg: str
    caption: str
    legend: tuple[Key, ...]
    table: Table


def days_by_month(year: Measures) -> np.ndarray:
    """(12,) days in each month of the year."""
    return by_month(np.ones(len(year.pump_hours_by_day)), year.months[::24])


def hours_a_day(year: Measures) -> np.ndarray:
    """(12,) the pump's mean hours a day, month by month."""
    return np.asarray(year.pump_hours_by_month / days_by_month(year))


def best_and_worst(result: YearResult) -> tuple[str, str]:
    """The names of the months in which the pump runs most and least hours a day."""
    run, index = hours_a_day(result.measures), result.weather.index
    best, worst = (index[result.measures.months == k + 1][0].month_name() for k in (run.argmax(), run.argmin()))
    return best, worst


def months_figure(result: YearResult) -> Figure:
    """Hours a day by month against those that are wanted."""
    year = result.measures
    days, run = days_by_month(year), hours_a_day(year)
    met = by_month(year.met_by_day, year.months[::24]) / days
    wanted = by_month(year.wanted_by_day, year.months[::24]) / days
    best, worst = best_and_worst(result)
    said = f"From {number(run.min())} hours a day in {worst} to {number(run.max())} hours a day in {best}."
    columns = zip(MONTHS, run, wanted, met, year.met_share_by_month, strict=True)
    return Figure(
        charts.months(met, run, wanted, "Expected pump hours a day by month", said),
        said,
        (
            Key("water", "wanted hours that are met"),
            Key("outline", "all hours the pump runs"),
            Key("line", "hours wanted"),
        ),
        Table(
            ("Month", "Runs, h a day", "Wanted, h a day", "Met, h a day", "Share of wanted hours met"),
            tuple((month, f"{a:.1f}", f"{b:.1f}", f"{c:.1f}", percent(share)) for month, a, b, c, share in columns),
        ),
    )


def map_figure(result: YearResult) -> Figure:
    """When in the day and the year the pump runs."""
    year = result.measures
    run, zenith = by_day(year.run_h), by_day(sun_positions(result.weather).apparent_zenith_deg)
    months = year.months[::24]
    said = "Every column is a day, every row an hour; the fuller the colour, the more of the hour the pump runs."
    mean = [run[months == month].mean(axis=0) for month in range(1, 13)]
    rows = ((name, *(f"{share * 100.0:.0f}" for share in shares)) for name, shares in zip(MONTHS, mean, strict=True))
    return Figure(
        charts.year_map(run, zenith, months, "When the pump runs, day by day and hour by hour", said),
        said,
        (Key("water", "pump runs"), Key("outline", "pump stands"), Key("sun", "sunrise and sunset, flat horizon")),
        Table(("Mean share of the hour, %", *(f"{hour:02d}" for hour in range(24))), tuple(rows)),
    )


def charge_figure(result: YearResult) -> Figure:
    """The battery's daily band of charge."""
    year = result.measures
    low, high, months = year.soc_low_by_day, year.soc_high_by_day, year.months[::24]
    said = (
        f"Each day's lowest and highest charge as simulated; the lowest of the year is "
        f"{percent(year.battery.min_soc)}, the mean {percent(year.battery.mean_soc)}."
    )
    chosen = [months == month for month in range(1, 13)]
    rows = (
        (name, *map(percent, (low[k].min(), low[k].mean(), high[k].mean(), high[k].max())))
        for name, k in zip(MONTHS, chosen, strict=True)
    )
    return Figure(
        charts.charge(low, high, months, "The battery's charge through the year, daily lowest to highest", said),
        said,
        (Key("water", "lowest to highest charge of the day"), Key("dash", "20 %")),
        Table(("Month", "Lowest", "Mean of daily lowest", "Mean of daily highest", "Highest"), tuple(rows)),
    )


def worst_spell(year: Measures) -> int:
    """The first day of the fortnight with the most wanted hours not served; of equals, that with the lowest charge."""
    window = np.ones(SPELL_DAYS)
    missed = np.convolve(year.wanted_by_day - year.met_by_day, window, "valid").round(6)
    stored = np.convolve(year.soc_low_by_day, window, "valid")
    return int(np.lexsort((stored, -missed))[0])


def _spell(result: YearResult, first: int) -> charts.Fortnight:
    log, index = result.log, result.weather.index
    part = slice(first * 24, (first + SPELL_DAYS) * 24)
    names = ("bus_low_v", "bus_high_v", "bus_v", "soc_low", "soc_high", "panel_wh")
    low_v, high_v, end_v, soc_low, soc_high, panel_w = (log.per_interval(name)[part] for name in names)
    fixed = log.lanes["lane"][0]
    labels = tuple(f"{index[k * 24].day} {MONTHS[index[k * 24].month - 1]}" for k in range(first, first + SPELL_DAYS))
    return charts.Fortnight(
        first, labels, low_v, high_v, end_v, float(fixed["off_v"]), float(fixed["on_v"]),
        soc_low, soc_high, panel_w, result.measures.run_h[part],
    )  # fmt: skip


def _spell_row(year: Measures, spell: charts.Fortnight, place: int) -> tuple[str, ...]:
    """A day of the fortnight."""
    part, whole = slice(place * 24, place * 24 + 24), spell.from_day + place
    return (
        spell.labels[place],
        f"{year.wanted_by_day[whole]:.1f}",
        f"{year.met_by_day[whole]:.1f}",
        f"{year.pump_hours_by_day[whole]:.1f}",
        f"{spell.low_v[part].min():.2f}–{spell.high_v[part].max():.2f}",
        f"{spell.soc_low[part].min() * 100:.0f}–{spell.soc_high[part].max() * 100:.0f}",
        f"{spell.panel_w[part].sum():.0f}",
    )


def _chosen(year: Measures, part: slice) -> str:
    """Why this fortnight is shown."""
    met, wanted = year.met_by_day[part].sum(), year.wanted_by_day[part].sum()
    if wanted - met < 1e-6:
        return "no wanted hour is missed in the year, so these are the fourteen days with the lowest charge"
    return f"the fourteen days with the most wanted hours not served, {number(met)} of {number(wanted)} h met"


def fortnight_figure(result: YearResult) -> Figure:
    """The worst fortnight, hour by hour."""
    year, index = result.measures, result.weather.index
    first = worst_spell(year)
    spell, part = _spell(result, first), slice(first, first + SPELL_DAYS)
    said = f"{day(index, first)} to {day(index, first + SPELL_DAYS - 1)}: {_chosen(year, part)}."
    if spell.low_v.min() < charts.LOWEST_DRAWN * spell.off_v:
        said += " Where the voltage drops out of the picture, the battery's protection circuit has cut it off."
    head = ("Day", "Wanted, h", "Met, h", "Runs, h", "Voltage, V", "Charge, %", "Panel, Wh")
    return Figure(
        charts.fortnight(spell, "The worst fortnight hour by hour", said),
        said,
        (
            Key("band", "lowest to highest voltage within the hour"),
            Key("ink", "voltage at the end of the hour"),
            Key("dash", "the two thresholds, as the controller acts on them"),
        ),
        Table(head, tuple(_spell_row(year, spell, place) for place in range(SPELL_DAYS))),
    )


def causes_figure(result: YearResult) -> Figure:
    """Hours of standing by cause."""
    by_cause = result.measures.stops_by_cause
    total, year_h = sum(by_cause.values()), len(result.measures.run_h)
    shown = {cause: value for cause, value in by_cause.items() if value > 0.0}
    items = [Bar(f"{cause}: {hours(value)}", 0.0, value) for cause, value in (shown or {"no stop": 0.0}).items()]
    said = f"The pump stands {hours(total)} of the year's {hours(year_h)}; each stop has one cause."
    rows = [(cause, number(value), percent(value / total if total else 0.0)) for cause, value in by_cause.items()]
    rows.append(("all stops", number(total), percent(1.0 if total else 0.0)))
    table = Table(("Cause", "Hours", "Share of standing"), tuple(rows))
    return Figure(charts.bars("causes", items, "Why the pump stood, hours in the year", said), said, (), table)


def energy_steps(energy: Energy) -> tuple[tuple[str, float, str], ...]:
    """From the panel's rating to the pump: label, Wh, and kind: level, loss or use. A stored gain counts as use."""
    return (
        ("in-plane at rated efficiency", energy.in_plane, "level"),
        ("heat, low light, glass, dirt, ageing", energy.in_plane - energy.panel_possible, "loss"),
        ("possible from the panel", energy.panel_possible, "level"),
        ("not harvested (battery full or too cold)", energy.not_harvested, "loss"),
        ("off maximum power", energy.off_maximum_power, "loss"),
        ("array energy", energy.panel, "level"),
        ("cables", energy.cable_loss, "loss"),
        ("controller losses", energy.controller_loss, "loss"),
        ("battery losses", energy.battery_loss, "loss"),
        ("controller's own consumption", energy.own_consumption, "loss"),
        *((("battery's heater", energy.heater, "loss"),) if energy.heater else ()),
        ("change of what the battery stores", energy.stored_change, "loss"),
        ("pump", energy.pump, "level"),
    )


_INKS = {"level": WATER, "loss": ALARM}


def energy_figure(result: YearResult) -> Figure:
    """Where the energy went."""
    energy = result.measures.energy
    left, items, rows = energy.in_plane, [], []
    for label, wh, kind in energy_steps(energy):
        left -= wh if kind == "loss" else 0.0
        items.append(Bar(f"{label}: {kwh(wh)} kWh", *((left, wh) if kind == "loss" else (0.0, wh)), _INKS[kind]))
        rows.append((label, kwh(wh), percent(wh / energy.in_plane if energy.in_plane else 0.0).replace("-", "−")))
    said = (
        f"Of {kwh(energy.in_plane)} kWh in the plane at rated efficiency, {kwh(energy.panel)} kWh left the panel and "
        f"{kwh(energy.pump)} kWh reached the pump."
    )
    return Figure(
        charts.bars("energy", items, "Where the energy went, kWh in the year", said),
        said,
        (
            Key("water", "bars from the left edge: what is there"),
            Key("alarm", "bars further right: what is lost or stored"),
        ),
        Table(("Step", "kWh", "Share of in-plane"), tuple(rows)),
    )


def cycles_figure(result: YearResult) -> Figure:
    """How deep the battery's cycles go."""
    stress = result.measures.battery.stress
    depth, count = np.array(stress.cycles).reshape(-1, 2).T
    counts = np.histogram(depth, DEPTHS, weights=count)[0]
    said = (
        f"{number(counts.sum())} cycles counted, {number(stress.equivalent_full_cycles)} equivalent full cycles; the "
        f"deepest spans {percent(depth.max(initial=0.0))} of the capacity."
    )
    rows = zip(DEPTHS[:-1], DEPTHS[1:], counts, strict=True)
    return Figure(
        charts.cycles(counts, DEPTHS, "Battery cycles by depth", said),
        said,
        (),
        Table(("Depth", "Cycles"), tuple((f"{a * 100:.0f}–{b * 100:.0f} %", f"{n:g}") for a, b, n in rows)),
    )
