"""Twelve monthly means instead of a weather file."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import Field, Strict

from sim.scenario.fields import Section, field, whole


def twelve_of(low: float, high: float, says: str) -> Any:
    """Twelve numbers, from January to December."""
    allowed = f"twelve numbers from {low:g} to {high:g}, January to December"
    return field(..., allowed, says, min_length=12, max_length=12)


Irradiation = Annotated[float, Field(ge=0.0, le=15.0)]
Air = Annotated[float, Field(ge=-90.0, le=60.0)]


class Monthly(Section):
    """Monthly means from which a year of hours is made: the same seed makes the same year."""

    daily_ghi_kwh_m2: Annotated[tuple[Irradiation, ...], Strict(False)] = twelve_of(0, 15, says="on the level, a day")
    temp_air_c: Annotated[tuple[Air, ...], Strict(False)] = twelve_of(-90, 60, says="air")
    seed: int = whole(0, 2**63 - 1, 1)
