"""The worst fortnight, hour by hour."""

from dataclasses import dataclass

import numpy as np
from matplotlib.axes import Axes

from sim.calendar import MONTHS
from sim.figures.measures import Measures
from sim.report.blocks import Figure, Key, Table
from sim.report.ink import ALARM, GRID, INK, SUN, WATER, heading, inked, sheet, steps, svg
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.words import day, number

DAYS = 14
LOWEST_DRAWN = 0.85  # of the disconnect voltage: where a protection circuit is open there is none to draw
ROWS = ("voltage at the controller, V", "simulated charge, %", "panel power, W", "pump, minutes in the hour")
LEGEND = (
    Key("band", "lowest to highest voltage within the hour"),
    Key("ink", "voltage at the end of the hour"),
    Key("dash", "the two thresholds, as the controller acts on them"),
)


@dataclass(frozen=True)
class Fortnight:
    """Hour by hour, each (hours,): voltages at the controller's terminals, charge 0…1, panel W, pump 0…1."""

    from_day: int
    labels: tuple[str, ...]
    off_v: float
    on_v: float
    run_h: np.ndarray
    low_v: np.ndarray
    high_v: np.ndarray
    end_v: np.ndarray
    soc_low: np.ndarray
    soc_high: np.ndarray
    panel_w: np.ndarray


def section(result: YearResult) -> Section:
    """The worst fourteen days."""
    year, index = result.measures, result.weather.index
    first = worst_spell(year)
    spell = _spell(result, first)
    said = f"{day(index, first)} to {day(index, first + DAYS - 1)}: {_chosen(year, slice(first, first + DAYS))}."
    if spell.low_v.min() < LOWEST_DRAWN * spell.off_v:
        said += " Where the voltage drops out of the picture, the battery's protection circuit has cut it off."
    head = ("Day", "Wanted, h", "Met, h", "Runs, h", "Voltage, V", "Charge, %", "Panel, Wh")
    table = Table(head, tuple(_row(year, spell, place) for place in range(DAYS)))
    return Section("fortnight", "The worst fortnight", (Figure(_drawn(spell, said), said, LEGEND, table),))


def worst_spell(year: Measures) -> int:
    """The first day of the fortnight with the most wanted hours not served; of equals, that with the lowest charge."""
    window = np.ones(DAYS)
    missed = np.convolve(year.wanted_by_day - year.met_by_day, window, "valid").round(6)
    stored = np.convolve(year.soc_low_by_day, window, "valid")
    return int(np.lexsort((stored, -missed))[0])


def _spell(result: YearResult, first: int) -> Fortnight:
    index, part = result.weather.index, slice(first * 24, (first + DAYS) * 24)
    names = ("bus_low_v", "bus_high_v", "bus_v", "soc_low", "soc_high", "panel_wh")
    series = (result.log.per_interval(name)[part] for name in names)
    fixed = result.log.lanes["lane"][0]
    labels = tuple(f"{index[k * 24].day} {MONTHS[index[k * 24].month - 1]}" for k in range(first, first + DAYS))
    run_h = result.measures.run_h[part]
    return Fortnight(first, labels, float(fixed["off_v"]), float(fixed["on_v"]), run_h, *series)


def _row(year: Measures, spell: Fortnight, place: int) -> tuple[str, ...]:
    """A day of the fortnight."""
    part, whole = slice(place * 24, place * 24 + 24), spell.from_day + place
    hours = (series[whole] for series in (year.wanted_by_day, year.met_by_day, year.pump_hours_by_day))
    return (
        spell.labels[place],
        *(f"{value:.1f}" for value in hours),
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


def _drawn(spell: Fortnight, said: str) -> str:
    """Voltage with both thresholds, charge, panel power and pump, one above the other."""
    with inked():
        figure, rows = sheet(700.0, (1.9, 1.0, 1.0, 1.0))
        edges = np.arange(len(spell.low_v) + 1)
        _voltage(rows[0], spell, edges)
        steps(rows[1], spell.soc_high * 100.0, spell.soc_low * 100.0, color=WATER)
        rows[1].plot(edges[1:], spell.soc_high * 100.0, color=WATER, linewidth=1.4)
        steps(rows[2], spell.panel_w, color=SUN)
        steps(rows[3], spell.run_h * 60.0, color=WATER)
        _scales(rows, spell)
        for axes, text in zip(rows, ROWS, strict=True):
            heading(axes, text)
            axes.set_xlim(0, edges[-1])
            upright = axes.get_xaxis_transform()
            axes.vlines(edges[24:-1:24], 0.0, 1.0, colors=GRID, linewidth=0.8, zorder=0, transform=upright)
        rows[-1].set_xticks(np.arange(12, edges[-1], 48), spell.labels[::2])
        return svg(figure, "fortnight", "The worst fortnight hour by hour", said)


def _scales(rows: tuple[Axes, ...], spell: Fortnight) -> None:
    """The upright axes of charge, panel and pump."""
    rows[1].set_ylim(0, max(10.0, float(spell.soc_high.max()) * 115.0))
    rows[2].set_ylim(0, max(1.0, float(spell.panel_w.max()) * 1.1))
    for axes in rows[1:3]:
        axes.locator_params(axis="y", nbins=4)
    rows[3].set(ylim=(0, 62), yticks=[0, 30, 60])


def _voltage(axes: Axes, spell: Fortnight, edges: np.ndarray) -> None:
    """The band within each hour, the line at its end, and the two thresholds by name."""
    steps(axes, spell.high_v, spell.low_v, color=WATER, alpha=0.35)
    axes.plot(edges[1:], spell.end_v, color=INK, linewidth=1.2)
    low = max(min(float(spell.low_v.min()), spell.off_v), LOWEST_DRAWN * spell.off_v)
    high = max(float(spell.high_v.max()), spell.on_v)
    axes.set_ylim(low - 0.2 * (high - low), high + 0.12 * (high - low))
    axes.locator_params(axis="y", nbins=5)
    for volts, name, dashes, above in ((spell.on_v, "reconnect", (6, 3), 4), (spell.off_v, "disconnect", (2, 2), -14)):
        axes.axhline(volts, color=ALARM, linewidth=1.4, linestyle=(0, dashes))
        axes.annotate(
            f"{name} {volts:.4g} V", (1.0, volts), (-2, above), ("axes fraction", "data"),
            textcoords="offset points", ha="right", color=ALARM,
        )  # fmt: skip
