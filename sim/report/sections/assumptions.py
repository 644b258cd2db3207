"""What the figures rest on: assumptions, and the weather with its source and licence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report.figures import Table
from sim.report.section import Section

if TYPE_CHECKING:
    from sim.figures.measures import Measures
    from sim.studies.result import YearResult


@dataclass(frozen=True)
class Basis:
    """Where the weather is from and what it was like, and whether the water was simulated."""

    source: str
    licence: str
    notes: tuple[str, ...]
    weather: Table
    water: bool
    rain: bool
    humidity: bool


def section(result: YearResult) -> Section:
    """Assumptions and weather."""
    weather = result.weather
    basis = Basis(
        weather.source,
        weather.licence,
        weather.notes,
        _weather(result.measures),
        water=result.measures.water is not None,
        rain=weather.rain is not None,
        humidity=weather.dew_point is not None,
    )
    return Section("assumptions", "Assumptions and weather", "assumptions", basis)


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
