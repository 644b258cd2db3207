"""A log from site against the simulated year: where they differ, and what explains it."""

from datetime import datetime, timedelta

import numpy as np

from sim.calendar import DAY_S
from sim.report.blocks import Figure, Key, Table, Words, tabled, words
from sim.report.ink import ALARM, INK, MUTED, heading, inked, sheet, svg
from sim.report.section import Section
from sim.studies.measured_result import Measured
from sim.studies.result import YearResult

DRAWN = 1500  # readings at most, evenly chosen
BASIS = Words(
    "The pump is switched as the log says where it says so. A resistance far above the scenario's points to a loose "
    "terminal, a thin lead or an old battery before it points to anything else; a panel factor far below one to "
    "dirt or shade. A voltage alone cannot tell a tired battery from a bad contact: measure across each joint under "
    "load.",
    "small",
)


def section(result: YearResult) -> Section | None:
    """The log that was held against the year, if one was."""
    if result.measured is None:
        return None
    found = result.measured
    overlay = _overlay(found, result.weather.index[0].year)
    fitted = (_fitted(found),) if found.resistance_mohm else ()
    return Section("measured", "Against the log from site", (*words(found.in_words()), overlay, *fitted, BASIS))


def _overlay(found: Measured, year: int) -> Figure:
    """Measured, simulated and fitted voltage over the days of the log."""
    volts = np.array([found.readings.voltage_v, found.simulated_v, found.fitted_v])
    days = found.readings.at_s / DAY_S
    said = (
        f"{len(days):,} readings; the simulation is off by {found.rms_before_v:.3f} V as the scenario is, by "
        f"{found.rms_after_v:.3f} V with resistance, panel and first charge as fitted (root of the mean square)."
    )
    legend = (Key("dot", "measured"), Key("dash", "simulated as it is"), Key("ink", "simulated as fitted"))
    return Figure(drawn(days, volts, year, said), said, legend, by_day(days, volts, year))


def _date(day: int, year: int) -> str:
    return f"{datetime(year, 1, 1) + timedelta(days=day):%d %b}"


def drawn(days: np.ndarray, volts: np.ndarray, year: int, said: str) -> str:
    """Measured, simulated and fitted voltage, (3, n), over (n,) days since the year began."""
    some = slice(None, None, max(len(days) // DRAWN, 1))
    x, (measured, as_it_is, fitted) = days[some], volts[:, some]
    with inked():
        figure, axes = sheet(280.0)
        axes.plot(x, measured, color=MUTED, linestyle="none", marker="o", markersize=2.0)
        axes.plot(x, as_it_is, color=ALARM, linewidth=1.0, linestyle=(0, (4, 2)))
        axes.plot(x, fitted, color=INK, linewidth=1.0)
        ticks = np.unique(np.linspace(np.floor(x[0]), np.floor(x[-1]), 6).astype(int))
        axes.set_xticks(ticks, [_date(int(day), year) for day in ticks])
        axes.set_xlim(x[0], x[-1])
        heading(axes, "voltage at the controller, V")
        return svg(figure, "measured-overlay", "Voltage as measured and as simulated", said)


def by_day(days: np.ndarray, volts: np.ndarray, year: int) -> Table:
    """Each day's mean voltages."""
    day = np.floor(days).astype(int)
    found = np.unique(day)
    heads = ("Measured, V", "Simulated, V", "Fitted, V")
    columns = ((head, [volts[k, day == one].mean() for one in found], ".2f") for k, head in enumerate(heads))
    return tabled("Day", (_date(int(one), year) for one in found), *columns)


def _fitted(found: Measured) -> Table:
    every = (
        ("Battery and its connections, mΩ", found.expected_mohm, found.resistance_mohm, 1.0, ".1f"),
        ("Panel current against the scenario's, %", 1.0, found.panel_factor, 100.0, ".1f"),
        ("Charge when the log begins, %", None, found.start_soc, 100.0, ".0f"),
        ("The meter's offset, mV", 0.0, found.offset_v, 1000.0, ".0f"),
    )
    rows = [(name, own, it, k, form) for name, own, it, k, form in every if it]
    return tabled(
        "What was fitted",
        (name for name, *_ in rows),
        ("Scenario", ("from the year" if own is None else f"{own * k:{form}}" for _, own, _, k, form in rows), str),
        ("Log", (f"{it.value * k:{form}}" for _, _, it, k, form in rows), str),
        ("Standard error", (f"{it.error * k:.2f}" for _, _, it, k, _ in rows), str),
    )
