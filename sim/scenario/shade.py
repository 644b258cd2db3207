"""What shades the panel, as people can state it: by angles or by size and distance, by the clock, by foliage."""

import math
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, Strict, ValidationInfo, field_validator

from sim.calendar import window_s
from sim.catalogue.foliage import foliage, leafy_share
from sim.scenario.fields import Clock, Day, Section, Share, Strings, between, field, listed, monthly, one_of, twelve

_LEAF_ON, _LEAF_OFF = "04-15", "11-01"  # of a broadleaf tree in a temperate climate; common practice, no source
_HEIGHT = "a number from 0 to 90, or height_m and distance_m in its place"
Month = Annotated[int, Field(ge=1, le=12)]


def _whole_sky(by_clock: float) -> Any:
    """A default for a shade that is stated by the clock; one stated by its direction has none."""
    return lambda before: by_clock if before.get("from_time") else None


def _elevation_deg(before: dict[str, Any]) -> float | None:
    """The angle at which the top is seen: atan(height / distance); 90° for a shade by the clock.

    >>> round(_elevation_deg({"height_m": 6.0, "distance_m": 4.0}), 2)
    56.31
    """
    if before.get("from_time"):
        return 90.0
    height_m, distance_m = before.get("height_m"), before.get("distance_m")
    return math.degrees(math.atan(height_m / distance_m)) if height_m is not None and distance_m else None


def _let_through(before: dict[str, Any]) -> tuple[float, ...]:
    """(12,) what a crown lets through by month, the mean over the month's days; a shade without leaves is a wall."""
    if not before.get("foliage") or not {"leaf_on", "leaf_off"} <= before.keys():
        return (0.0,) * 12
    crown = foliage()[before["foliage"]]
    leafy = leafy_share(before["leaf_on"], before["leaf_off"])
    return tuple(share * crown.leaf_on + (1.0 - share) * crown.leaf_off for share in leafy)


def _masked(shares: tuple[float, ...], before: dict[str, Any]) -> tuple[float, ...]:
    """(12,) shares by month, 1 where the shade is not there."""
    return tuple(share if month in before.get("months", ()) else 1.0 for month, share in enumerate(shares, 1))


def _paired(second: Any, first: Any, name: str) -> None:
    """ValueError unless there are both of two values or none."""
    if (first is None) != (second is None):
        raise ValueError(f"a value together with {name}, or neither")


# What an angle is where another key says it already.
_DERIVED: dict[str, dict[str, Any]] = {
    "from_azimuth_deg": {"from_time": _whole_sky(0.0)},
    "to_azimuth_deg": {"from_time": _whole_sky(360.0)},
    "below_elevation_deg": {"from_time": _elevation_deg, "height_m": _elevation_deg},
}


class Shade(Section):
    """A tree or a wall: from one azimuth clockwise to another, below an elevation, with what it lets through.

    Its top may be given by ``height_m`` above the panel and ``distance_m``. A shade that was seen and not measured is
    given by the clock, ``from_time`` to ``to_time``, in place of its direction; it takes the beam only. ``months``
    are those in which it is there. Its shadow covers the whole panel, or ``cell_strings`` of its strings of cells.
    """

    months: Annotated[tuple[Month, ...], Strict(False)] = field(
        tuple(range(1, 13)), "whole numbers from 1 (January) to 12, each once: [5, 6, 7, 8, 9]", min_length=1
    )
    from_time: Clock | None = field(None, 'a time of day as "HH:MM"')
    to_time: Clock | None = field(None, 'a time of day as "HH:MM"', validate_default=True)
    from_azimuth_deg: float = field(_whole_sky(0.0), "a number from 0 to 360", ge=0, le=360, validate_default=True)
    to_azimuth_deg: float = field(_whole_sky(360.0), "a number from 0 to 360", ge=0, le=360, validate_default=True)
    height_m: float | None = between(0, 200, None)
    distance_m: float | None = field(None, "a number above 0, up to 1000", gt=0, le=1000, validate_default=True)
    below_elevation_deg: float = field(_elevation_deg, _HEIGHT, ge=0, le=90, validate_default=True)
    foliage: str | None = field(None, listed(foliage()))
    leaf_on: Day = field(_LEAF_ON, 'a day of the year as "MM-DD"')
    leaf_off: Day = field(_LEAF_OFF, 'a day of the year as "MM-DD"')
    transmittance: Annotated[tuple[Share, ...], Strict(False), BeforeValidator(twelve)] = monthly(
        0, 1, _let_through, validate_default=True
    )
    trimmed_transmittance: Annotated[tuple[Share, ...], Strict(False), BeforeValidator(twelve)] | None = field(
        None, "a number from 0 to 1, or twelve of them, one a month", min_length=12, max_length=12
    )
    cell_strings: Strings | Literal["all"] = field("all", 'a whole number from 0 to 3, or "all"')

    @field_validator("months")
    @classmethod
    def _are_different(cls, months: tuple[int, ...]) -> tuple[int, ...]:
        if len(set(months)) < len(months):
            raise ValueError("whole numbers from 1 (January) to 12, each once")
        return months

    @field_validator("to_time")
    @classmethod
    def _lasts(cls, end: str | None, info: ValidationInfo) -> str | None:
        start = info.data.get("from_time")
        if end == start is not None:
            raise ValueError(f'a time of day other than from_time ("{start}")')
        _paired(end, start, "from_time")
        return end

    @field_validator("from_azimuth_deg", "to_azimuth_deg", "below_elevation_deg")
    @classmethod
    def _is_alone(cls, angle_deg: float, info: ValidationInfo) -> float:
        for other, derived in _DERIVED[str(info.field_name)].items():
            if info.data.get(other) is not None and angle_deg != derived(info.data):
                raise ValueError(f"nothing beside {other}, which says it already")
        return angle_deg

    @field_validator("to_azimuth_deg")
    @classmethod
    def _has_width(cls, end_deg: float, info: ValidationInfo) -> float:
        if end_deg == info.data.get("from_azimuth_deg"):
            raise ValueError(f"a number from 0 to 360 other than from_azimuth_deg ({end_deg:g})")
        return end_deg

    @field_validator("distance_m")
    @classmethod
    def _is_a_pair(cls, distance_m: float | None, info: ValidationInfo) -> float | None:
        _paired(distance_m, info.data.get("height_m"), "height_m")
        return distance_m

    @field_validator("foliage")
    @classmethod
    def _is_in_catalogue(cls, name: str | None) -> str | None:
        return name if name is None else one_of(foliage(), name)

    @field_validator("leaf_on", "leaf_off")
    @classmethod
    def _has_leaves(cls, day: str, info: ValidationInfo) -> str:
        if info.data.get("foliage") is None and day not in (_LEAF_ON, _LEAF_OFF):
            raise ValueError("nothing without foliage")
        return day

    @field_validator("transmittance")
    @classmethod
    def _only_in_its_months(cls, shares: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        crown = _masked(_let_through(info.data), info.data)
        if info.data.get("foliage") is not None and _masked(shares, info.data) != crown:
            raise ValueError("nothing beside foliage, which says it already")
        return _masked(shares, info.data)

    @field_validator("trimmed_transmittance")
    @classmethod
    def _also_only_in_its_months(cls, shares: tuple[float, ...] | None, info: ValidationInfo) -> Any:
        return shares and _masked(shares, info.data)

    @property
    def window_s(self) -> tuple[float, float] | None:
        """Start and end in seconds from midnight of a shade that is stated by the clock."""
        return window_s((self.from_time, self.to_time)) if self.from_time and self.to_time else None

    @property
    def is_foliage(self) -> bool:
        """Whether it can be trimmed: a crown, which lets a part of the light through, and no wall."""
        return self.foliage is not None or any(0.0 < share < 1.0 for share in self.transmittance)
