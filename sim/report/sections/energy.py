"""Where the energy went."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report import figures
from sim.report.figures import Figure, Table
from sim.report.section import Section

if TYPE_CHECKING:
    from sim.figures.measures import Measures
    from sim.studies.result import YearResult


@dataclass(frozen=True)
class Books:
    """The way from the panel to the pump, the standard's yields, and what the books are out by."""

    steps: Figure
    yields: Table
    balance: str


def section(result: YearResult) -> Section:
    """Where the energy went."""
    books = Books(figures.energy_figure(result), yields(result.measures), _balance(result.measures))
    return Section("energy", "Where the energy went", "energy", books)


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


def _balance(year: Measures) -> str:
    """What the books are out by."""
    share = abs(year.energy.balance_error) / year.energy.panel if year.energy.panel else 0.0
    return f"{abs(year.energy.balance_error):.1e} Wh, {share:.1e} of the array energy"
