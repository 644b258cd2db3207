"""What the water does when the pump starts and stops: in transit, draining back, siphoning, standing still."""

import math
from collections.abc import Iterable, Sequence

import numpy as np

from sim.figures.causes import Stop, whole_stretches
from sim.figures.water.pipes import LPH
from sim.scenario.water import Outlet, Water

FRANCIS = 1.84  # m^½/s, of a sharp crest without end contractions (from memory)
NIGHT_H = (0.0, 6.0)
CHECK_VALVE = "check-valve"
PLACES = ("main", "header", "branch")


def crest_head_m(flow_lph: float, width_m: float) -> float:
    """Height of water over a crest, m: (Q/(1.84·b))^(2/3), Francis.

    >>> round(1000.0 * crest_head_m(1490.0, 0.1), 1)
    17.2
    """
    return float((flow_lph * LPH / (FRANCIS * width_m)) ** (2.0 / 3.0))


def pipe_l(water: Water, where: Sequence[str] = PLACES) -> float:
    """What all pipes of some places hold, litres."""
    pipes = (pipe for pipe in water.pipe if pipe.where in where)
    return sum(250.0 * math.pi * (pipe.diameter_mm / 1000.0) ** 2 * pipe.length_m for pipe in pipes)


def checked_places(water: Water) -> set[str]:
    """The places that a check valve keeps full at a stop; one in the main line keeps all."""
    places: set[str] = {fitting.where for fitting in water.fittings if fitting.kind == CHECK_VALVE}
    return set(PLACES) if "main" in places else places


def held_l(water: Water) -> float:
    """What check valves keep in the pipes at a stop, litres."""
    return pipe_l(water, sorted(checked_places(water)))


def held_back(water: Water) -> bool:
    """Whether a check valve stands between the outlet and the pump, so that nothing siphons back."""
    return "header" in checked_places(water)


def transit_l(water: Water, header_lph: float) -> float:
    """Water that is under way while the pump runs, litres: in the pipes and over the stream's steps.

    Over each step of a stream stands the height that its flow needs over a crest, and so over the whole bed.
    """
    stream = water.stream
    if header_lph <= 0.0:
        return 0.0
    bed_l = 1000.0 * stream.length_m * stream.width_m * crest_head_m(header_lph, stream.width_m) if stream else 0.0
    return pipe_l(water) + bed_l


def siphon_l(outlet: Outlet) -> float:
    """What runs back out of the upper pool through a submerged outlet until air gets in, litres.

    The level falls to the outlet or to the vent hole, whichever is higher.
    """
    if outlet.kind == "air-break":
        return 0.0
    vent_m = outlet.depth_m if outlet.vent_depth_m is None else outlet.vent_depth_m
    return 1000.0 * outlet.pool_area_m2 * min(outlet.depth_m, vent_m)


def longest_at_night(stops: Iterable[Stop], days: int) -> np.ndarray:
    """(days,) hours of the longest stop between midnight and six, as far as it lies there; the year is a ring."""
    begun, ended = whole_stretches(stops).T
    first = (begun // 24.0).astype(int)
    count = (ended // 24.0).astype(int) + 1 - first
    one = np.repeat(np.arange(len(begun)), count)
    day = first[one] + np.arange(len(one)) - np.repeat(np.cumsum(count) - count, count)
    inside = np.minimum(ended[one], 24.0 * day + NIGHT_H[1]) - np.maximum(begun[one], 24.0 * day + NIGHT_H[0])
    longest = np.zeros(days)
    np.maximum.at(longest, day % days, inside)
    return longest


def longest_without_h(fed: np.ndarray) -> float:
    """The longest run of hours in which nothing came, from (hours,) of litres.

    >>> longest_without_h(np.array([0.0, 0.0, 5.0, 0.0]))
    2.0
    """
    marks = np.flatnonzero(np.concatenate(([True], fed > 0.0, [True])))
    return float(np.diff(marks).max() - 1)
