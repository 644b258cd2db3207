"""The water of a scenario: pond, pipes, fittings, branch, filter, basin, stream and outlet.

Everything has a default, but a pond is only simulated where the file has a [water] section and the pump a curve.
"""

from collections.abc import Callable
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Strict, ValidationInfo, field_validator

from sim.catalogue.pipework import fittings, inside_mm, roughness_mm, valves
from sim.scenario.fields import Section, above, between, field, listed, one_of, whole

Where = Literal["main", "header", "branch"]
Curve = tuple[Annotated[tuple[float, float], Strict(False)], ...]

CURVE_WORDS = "two or more points [[flow_lph, head_m], …] from the least flow to the most, the head falling"
_MEAN_DEPTH_M = 0.5  # of a pond whose surface is not given; our own default
_BORE_MM = 25.0  # of a pipe of which nothing is said; our own default
_LARGEST = 1e6  # l/h or m of a curve
_TURNOVERS = {True: 12.0, False: 4.0}  # a day; with fish every two hours by trade advice, without our own default


def _named(names: Callable[[], dict[str, Any]]) -> AfterValidator:
    """One of the catalogue's names."""
    return AfterValidator(lambda name: one_of(names(), name))


Size = Annotated[str, _named(inside_mm)]
Material = Annotated[str, _named(roughness_mm)]
Kind = Annotated[str, _named(fittings)]
Valve = Annotated[str, _named(valves)]


def checked_curve(curve: Curve) -> Curve:
    """The curve itself if a pump can have it; ValueError says what is wrong.

    >>> checked_curve(((0.0, 2.0), (1000.0, 0.5)))
    ((0.0, 2.0), (1000.0, 0.5))
    """
    if len(curve) < 2:
        raise ValueError(f"{CURVE_WORDS}; here is only {len(curve)}")
    if min(min(point) for point in curve) < 0.0:
        raise ValueError(f"{CURVE_WORDS}; nothing in it may be negative")
    if max(max(point) for point in curve) > _LARGEST:
        raise ValueError(f"{CURVE_WORDS}; nothing in it may be above {_LARGEST:g}")
    for (flow, head), (next_flow, next_head) in pairwise(curve):
        if next_flow <= flow:
            raise ValueError(f"{CURVE_WORDS}; {next_flow:g} l/h does not follow {flow:g} l/h")
        if next_head >= head:
            raise ValueError(f"{CURVE_WORDS}; from {flow:g} to {next_flow:g} l/h it does not fall")
    return curve


def _bore_mm(size: str | None) -> float:
    """The bore of a trade size, or the usual one, mm."""
    return _BORE_MM if size is None else inside_mm()[size]


class Pipe(Section):
    """A length of pipe: in the main before the tee, or after it in the header or the branch."""

    where: Where = "main"
    size: Size | None = field(None, listed(inside_mm()), says="trade size", unset="given by its bore")
    diameter_mm: float = between(4, 500, lambda before: _bore_mm(before["size"]))
    length_m: float = between(0, 1000, 3.0)
    material: Material = field("smooth-plastic", listed(roughness_mm()))
    roughness_mm: float = between(0, 3, lambda before: roughness_mm()[before["material"]])

    @field_validator("diameter_mm")
    @classmethod
    def _is_alone(cls, diameter_mm: float, info: ValidationInfo) -> float:
        size = info.data.get("size")
        if size is not None and diameter_mm != _bore_mm(size):
            raise ValueError(f'nothing beside size ("{size}"): the bore or the trade size, not both')
        return diameter_mm


class Fitting(Section):
    """Fittings of one kind, in the first pipe of their place."""

    kind: Kind = field(..., listed(fittings()), says="kind of fitting")
    where: Where = "main"
    count: int = whole(1, 100, 1)
    loss_coefficient: float = between(0, 10000, lambda before: fittings()[before["kind"]])


class Branch(Section):
    """The side line behind the tee, with its valve; it lifts as high as the header unless it says otherwise."""

    valve: Valve = field("ball", listed(valves()))
    opening_percent: float = between(0, 100, 100.0, says="opening of the valve")
    static_head_m: float | None = between(0, 100, None, says="lift", unset="as the header's")
    target_lph: float | None = above(0, 1e6, None, says="flow that is wanted", unset="none")


class Filter(Section):
    """The filter in the header: its resistance as a head at a flow, its largest flow, and how long it may stand."""

    head_m: float = between(0, 50, 0.2, says="head lost …")
    at_flow_lph: float = above(0, 1e6, 1000.0, says="… at this flow")
    max_flow_lph: float | None = above(0, 1e6, None, says="largest flow", unset="not given")
    note_after_h: float = above(0, 8784, 2.0)
    warning_after_h: float = above(0, 8784, 6.0)
    flush_after_h: float = above(0, 8784, 24.0)


class Basin(Section):
    """The basin the pump stands in, which takes what runs back."""

    area_m2: float = above(0, 1e5, 1.0)
    depth_m: float = above(0, 50, 0.4)
    freeboard_m: float = between(0, 10, 0.1)
    water_l: float = above(0, 1e8, lambda before: 1000.0 * before["area_m2"] * before["depth_m"])


class Stream(Section):
    """The bed the header's water runs back in."""

    length_m: float = between(0, 1000, 3.0)
    width_m: float = above(0, 100, 0.2)
    spillway_width_m: float | None = above(0, 100, None, says="width of a waterfall's lip", unset="no waterfall")


class Outlet(Section):
    """Where the header ends: in the air, or under water in a pool that can siphon back."""

    kind: Literal["air-break", "submerged"] = field("air-break", says="kind of outlet")
    depth_m: float = between(0, 10, 0.05)
    vent_depth_m: float | None = between(0, 10, None, unset="no vent")
    pool_area_m2: float = above(0, 1e4, 0.5)


class Water(Section):
    """Pond, pipework and what lives in it."""

    pond_volume_l: float = above(0, 1e8, 1000.0)
    pond_area_m2: float = above(0, 1e6, lambda before: before["pond_volume_l"] / 1000.0 / _MEAN_DEPTH_M)
    static_head_m: float = between(0, 100, 0.5, says="lift")
    pipe_water_c: float = between(0, 40, 15.0, says="water in the pipes, for friction")
    fish: bool = field(False, "true or false")
    turnovers_per_day: float = between(0, 1000, lambda before: _TURNOVERS[before["fish"]])
    cold_limit_c: float = between(0, 20, 4.5, says="limit of cold water")
    warm_limit_c: float = between(0, 40, 20.0, says="limit of warm water for fish")
    sun_share: float = between(0, 1, 1.0)
    wind_share: float = between(0, 1, 1.0)
    observed_loss_mm_per_day: float | None = between(0, 1000, None, unset="none")
    pipe: Annotated[tuple[Pipe, ...], Strict(False)] = field((Pipe(),), "tables headed [[water.pipe]], one a length")
    fittings: Annotated[tuple[Fitting, ...], Strict(False)] = field(
        (), "tables headed [[water.fittings]], one a kind and place"
    )
    branch: Branch | None = field(None, says="Water: branch")
    filter: Filter | None = field(None, says="Water: filter")
    basin: Basin | None = field(None, says="Water: basin")
    stream: Stream | None = field(None, says="Water: stream")
    outlet: Outlet = field(Outlet(), says="Water: outlet")
