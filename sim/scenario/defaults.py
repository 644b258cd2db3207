"""What a section takes when the file leaves it out and another section decides it."""

import math
from collections.abc import Mapping
from typing import Any

from sim.catalogue import chemistries
from sim.catalogue.controllers import tracks
from sim.scenario.fields import Section
from sim.scenario.models import Battery, Panel, Pump

_RATINGS_A = (10, 15, 20, 30, 40, 60, 80, 100)  # usual sizes of controllers
_CHARGE_FACTOR = 1.25  # of the array's short-circuit current: bright edges of clouds; common practice, no source
_LOAD_FACTOR = 2.0  # of the pump's rated current; common practice, no source
_TAIL_SHARE = 0.02  # of the capacity in an hour; common practice, no source


def blocks(battery: Battery) -> float:
    """How many 12 V batteries in series the figures of the catalogue are multiplied by."""
    return battery.nominal_v / 12.0


def array_isc_a(panel: Panel) -> float:
    """Short-circuit current of all strings side by side, A."""
    return panel.isc_a * panel.count / panel.series


def rated_a(pump: Pump) -> float:
    """The pump's current at its rated voltage, A."""
    return pump.power_w / pump.at_v


def rating_a(current_a: float) -> float:
    """The next usual rating of a controller, A; beyond the usual ones the next ten.

    >>> rating_a(7.4), rating_a(30.0), rating_a(101.0)
    (10.0, 30.0, 110.0)
    """
    beyond = math.ceil(current_a / 10.0) * 10
    return float(next((rating for rating in _RATINGS_A if rating >= current_a), beyond))


def full_charge_a(kind: Any, battery: Battery, panel: Panel) -> float:
    """What a controller must be made for, A: the power over the battery's voltage for a tracker, else 1.25·Isc."""
    if tracks(kind):
        return panel.power_w * panel.count / battery.nominal_v
    return _CHARGE_FACTOR * array_isc_a(panel)


def for_controller(given: Mapping[str, Any], battery: Battery, panel: Panel, pump: Pump) -> dict[str, Any]:
    """Settings that suit the battery's chemistry and voltage, ratings that suit kind, panel and pump."""
    chemistry = chemistries()[battery.chemistry]
    return {name: volts * blocks(battery) for name, volts in chemistry["controller"].items()} | {
        "equalise_every_days": chemistry["equalise_every_days"],
        "compensation_mv_c": chemistry["cell"]["set_shift_mv_per_c"],
        "charge_ends_a": _TAIL_SHARE * battery.capacity_ah,
        "max_charge_a": rating_a(full_charge_a(given.get("kind"), battery, panel)),
        "max_load_a": rating_a(_LOAD_FACTOR * rated_a(pump)),
    }


ORDER = (
    *("site", "weather", "battery", "panel", "pump", "controller"),
    *("need", "care", "cost", "water", "size", "report", "log"),
)
FILLS: dict[str, tuple[Any, tuple[str, ...]]] = {
    "pump": (lambda given, battery: {"at_v": float(battery.nominal_v)}, ("battery",)),
    "controller": (for_controller, ("battery", "panel", "pump")),
}
OPTIONAL = {"water", "size", "log"}  # sections that a scenario may do without altogether


def defaults_of(name: str, read: dict[str, Section], given: Mapping[str, Any]) -> dict[str, Any]:
    """What a section takes from the ones that were read before it, and from what is ``given`` of itself."""
    fill, sources = FILLS.get(name, (lambda given: {}, ()))
    filled: dict[str, Any] = fill(given, *(read[source] for source in sources))
    return filled
