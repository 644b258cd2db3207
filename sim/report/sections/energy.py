"""Where the energy went, month by month."""

from collections.abc import Callable

import numpy as np

from sim.calendar import MONTHS
from sim.figures.measures import Energy, Measures
from sim.report import charts
from sim.report.blocks import Figure, Heading, Key, Table, Words, tabled
from sim.report.charts import Strokes
from sim.report.ink import ALARM, INK, MUTED, SUN, WATER
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.words import kwh, percent

# Where it goes, from the ground up: words, how it is drawn, its mark, its part of the books.
PIECES: tuple[tuple[str, tuple[str, str], str, Callable[[Energy], float]], ...] = (
    ("to the pump", (WATER, "full"), "water", lambda it: it.pump),
    ("lost in cables, controller and battery", (ALARM, "full"), "alarm",
     lambda it: it.cable_loss + it.controller_loss + it.battery_loss),
    ("the controller's own consumption, and a heater's", (INK, "full"), "inked",
     lambda it: it.own_consumption + it.heater),
    ("off the panel's best voltage", (SUN, "full"), "sunny", lambda it: it.off_maximum_power),
    ("not harvested: battery full or too cold", (MUTED, "hatched"), "hatched", lambda it: it.not_harvested),
)  # fmt: skip
COLUMNS: tuple[tuple[str, Callable[[Energy], float]], ...] = (
    ("In the plane at the rating", lambda it: it.in_plane),
    ("Possible from the panel", lambda it: it.panel_possible),
    ("To the pump", lambda it: it.pump),
    ("Cables", lambda it: it.cable_loss),
    ("Controller", lambda it: it.controller_loss),
    ("Battery", lambda it: it.battery_loss),
    ("Own consumption", lambda it: it.own_consumption),
    ("Heater of the battery", lambda it: it.heater),
    ("Off the best voltage", lambda it: it.off_maximum_power),
    ("Not harvested", lambda it: it.not_harvested),
    ("Into the battery", lambda it: it.stored_change),
)


def section(result: YearResult) -> Section:
    """Where the energy went."""
    error_wh, array_wh = abs(result.measures.energy.balance_error), result.measures.energy.panel
    share = error_wh / array_wh if array_wh else 0.0
    books = Words(f"Balance error: {error_wh:.1e} Wh, {share:.1e} of the array energy.", "small")
    return Section(
        "energy", "Where the energy went", (energy_figure(result), *_dirt(result), yields(result.measures), books)
    )


def _dirt(result: YearResult) -> tuple[object, ...]:
    """What dirt would cost."""
    if not result.dirt:
        return ()
    said = (
        f"Against a clean panel, through the same year with a constant film of dirt; the scenario's own film takes "
        f"{percent(result.scenario.panel.soiling)}."
    )
    table = tabled(
        "Light lost to dirt",
        (percent(one.share) for one in result.dirt),
        ("Wanted hours lost", (one.met_h for one in result.dirt), ".0f"),
        ("Pump hours lost", (one.pump_h for one in result.dirt), ".0f"),
    )
    return Heading("What dirt costs"), Words(said), table


def energy_figure(result: YearResult) -> Figure:
    """Twelve months of what the panel could give, each by where it went."""
    energy, months = result.measures.energy, result.measures.energy_months
    said = (
        f"Of {kwh(energy.panel_possible)} kWh that the panel could have given in the year, {kwh(energy.pump)} kWh "
        f"reached the pump and {kwh(energy.not_harvested)} kWh were not harvested; "
        f"{kwh(energy.off_maximum_power)} kWh were lost off the panel's best voltage. Heat, low light, glass, dirt and "
        f"ageing had taken {kwh(energy.in_plane - energy.panel_possible)} kWh of the {kwh(energy.in_plane)} kWh in "
        "the plane at the panel's rating before. Where bar and stroke part, the battery gave or kept the difference."
    )
    layers = ((np.array([of(it) for it in months]) / 1000.0, *drawn) for _, drawn, _, of in PIECES)
    possible = Strokes(np.array([it.panel_possible for it in months]) / 1000.0, INK, 0.86)
    words = ("Where the energy went, month by month", said)
    drawn = charts.months("energy", "kWh in the month", charts.stacked(*layers), (possible,), words)
    keys = (*(Key(mark, words) for words, _, mark, _ in PIECES), Key("ink", "what the panel could have given"))
    columns = ((f"{name}, kWh", [of(it) for it in (*months, energy)], kwh) for name, of in COLUMNS)
    return Figure(drawn, said, keys, tabled("Month", (*MONTHS, "Year"), *columns))


def yields(year: Measures) -> Table:
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
