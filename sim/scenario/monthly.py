"""Twelve monthly means instead of a weather file."""

from typing import Annotated, Any

from pydantic import Field, Strict

from sim.scenario.fields import REQUIRED, Section, field, whole
from sim.units import sentence


def twelve_of(low: float, high: float, default: Any = REQUIRED, **words: str) -> Any:
    """Twelve numbers, from January to December."""
    allowed = f"twelve numbers from {low:g} to {high:g}, January to December"
    return field(default, allowed, **words, min_length=12, max_length=12)


Irradiation = Annotated[float, Field(ge=0.0, le=15.0)]
Coefficient = Annotated[float, Field(ge=0.0, le=0.5)]
Air = Annotated[float, Field(ge=-90.0, le=60.0)]


class Monthly(Section):
    """Monthly means from which a year of hours is made: the same seed makes the same year.

    ``year_to_year`` is by what each month's light varies over many years: its standard deviation over its mean.
    """

    daily_ghi_kwh_m2: Annotated[tuple[Irradiation, ...], Strict(False)] = twelve_of(0, 15, says="on the level, a day")
    temp_air_c: Annotated[tuple[Air, ...], Strict(False)] = twelve_of(-90, 60, says="air")
    year_to_year: Annotated[tuple[Coefficient, ...] | None, Strict(False)] = twelve_of(
        0, 0.5, None, says="light from year to year, deviation over mean", unset="as is usual at such a place"
    )
    seed: int = whole(0, 2**63 - 1, 1)

    @property
    def coarse(self) -> str:
        """How coarse the means are, in words; empty where the user stands for them."""
        return ""


class WorldMeans(Monthly):
    """Twelve means that nobody wrote: the world climate of the site's coordinates."""

    height_is_known: bool

    @property
    def coarse(self) -> str:
        """What the world climate says of itself, and of a height that had to be guessed."""
        from sim.catalogue.world import COARSE, GUESSED_HEIGHT

        return COARSE if self.height_is_known else sentence("{coarse} {height}", coarse=COARSE, height=GUESSED_HEIGHT)
