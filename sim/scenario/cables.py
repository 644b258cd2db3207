"""Runs of cable as frozen values: length, the conductor by area or by American wire gauge, contacts, fuse."""

from typing import Any

from pydantic import ValidationInfo, field_validator

from sim.catalogue.cables import gauge_area_mm2, gauges
from sim.scenario.fields import Section, above, between, field, listed

_GAUGES = f"an American wire gauge: {listed(gauges())}; 0 is 1/0"


def _area(default_mm2: float) -> Any:
    """The area of one conductor; without it the gauge's, if one is given."""
    default = lambda before: default_mm2 if before["awg"] is None else gauge_area_mm2(before["awg"])  # noqa: E731
    return between(0.25, 120, default, says="area of one conductor")


class Cable(Section):
    """A run of two conductors: one-way length, area of one conductor or its gauge, and contacts with fuse."""

    length_m: float = between(0, 500, 5.0, says="length, one way")
    awg: int | None = field(None, _GAUGES, says="American wire gauge", unset="given by its area")
    area_mm2: float = _area(4.0)
    extra_mohm: float = between(0, 1000, 0.0, says="contacts and fuse")

    @field_validator("awg")
    @classmethod
    def _is_in_catalogue(cls, awg: int | None) -> int | None:
        if awg is not None and awg not in gauges():
            raise ValueError(_GAUGES)
        return awg

    @field_validator("area_mm2")
    @classmethod
    def _is_alone(cls, area_mm2: float, info: ValidationInfo) -> float:
        awg = info.data.get("awg")
        if awg is not None and area_mm2 != gauge_area_mm2(awg):
            raise ValueError(f"nothing beside awg ({awg}): the area or the gauge, not both")
        return area_mm2


class BatteryCable(Cable):
    """From battery to controller: short, with a fuse in it."""

    length_m: float = between(0, 500, 1.0, says="length, one way")
    extra_mohm: float = between(0, 1000, 3.0, says="contacts and fuse")
    fuse_a: float | None = between(0, 1000, None, says="fuse", unset="not stated")
    fuse_distance_cm: float | None = between(0, 1000, None, says="fuse, from the + pole", unset="not stated")
    fuse_breaks_a: float | None = above(0, 1e6, None, says="fuse, breaking capacity", unset="not stated")


class PumpCable(Cable):
    """From controller to pump: the pump's own thinner lead."""

    area_mm2: float = _area(2.5)
    fuse_a: float | None = between(0, 1000, None, says="fuse", unset="not stated")


class Extension(Cable):
    """A lead between the controller and the pump's own cable."""

    area_mm2: float = _area(2.5)
