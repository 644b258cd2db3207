"""What frost does to a reading: a lithium pack's protection circuit then takes no charge.

It still gives, through a diode, so that the battery reads lower in the dark than it stands; and with light on the panel
the bus goes where panel and controller take it, which says nothing of the charge but that the battery is not above it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sim.catalogue.cells import cell
from sim.plant.lanes import released_at_c
from sim.units import Quantity, Sentence, sentence

if TYPE_CHECKING:
    from sim.scenario import Scenario

Locked = Literal["no", "perhaps", "yes"]
BATTERY_C = (25.0, 0.0)  # temperatures between which a battery is taken that nobody measured; our own default
FROST_C = (4.0, -20.0)  # the same of one that frost has locked: near empty, the cold alone takes tenths of a volt
# Of the diode's drop that is left at the controller's own current; by its curve, 60 mV a decade (derived):
LEAST_DROP_SHARE = 2.0 / 3.0

PERHAPS = (
    "This battery may still take no charge after frost, and then reads up to {drop} lower than it stands; with light "
    "on the panel the voltage may be the panel's. The band holds both."
)
PANELS = (
    "Frost keeps this battery from charging, and the panel carries the bus: the voltage is not the battery's. Read "
    "again in the dark."
)
DIODES = (
    "Frost keeps this battery from charging: in the dark it reads up to {drop} lower than it stands. With light on the "
    "panel the voltage would not be the battery's; tell the panel's current then."
)
NOT_TOLD = (
    "A battery below {cold} takes no charge, nor until it has {free} again: the voltage would then mean {low} to "
    "{high} in the dark, and with light on the panel nothing. Tell its temperature if it may be so cold."
)


@dataclass(frozen=True)
class Warmth:
    """The temperatures between which a battery is taken, °C, and what it loses across its lock while it gives, V.

    ``by_panel`` is whether the panel may hold the bus: it gives current, of which a locked battery takes none.
    """

    at_c: tuple[float, ...]
    locked: Locked = "no"
    least_drop_v: float = 0.0
    most_drop_v: float = 0.0
    by_panel: bool = False


def lock_at(scenario: Scenario, battery_c: float) -> Locked:
    """Whether frost has locked the charge at a temperature; until it is warm enough it may still be locked."""
    battery = scenario.battery
    if battery_c < cell(battery.chemistry).coldest_charge_c:
        return "yes"
    return "perhaps" if battery_c < released_at_c(battery) else "no"


def warmth_of(scenario: Scenario, battery_c: float | None, charging_a: float) -> Warmth:
    """The battery at a temperature that was read, or at any usual one and not locked."""
    if battery_c is None:
        return Warmth(BATTERY_C)
    return _behind(scenario, (battery_c,), lock_at(scenario, battery_c), charging_a)


def _behind(scenario: Scenario, at_c: tuple[float, ...], locked: Locked, charging_a: float) -> Warmth:
    if locked == "no":
        return Warmth(at_c)
    most_v = cell(scenario.battery.chemistry).blocked_drop_v
    return Warmth(at_c, locked, LEAST_DROP_SHARE * most_v if locked == "yes" else 0.0, most_v, charging_a > 0.0)


def locked_warmth(scenario: Scenario, charging_a: float) -> Warmth | None:
    """A battery that frost has locked, or None where it cannot: no lock, or a place that is kept above it."""
    battery = scenario.battery
    kept_c = battery.place_min_c if battery.place_min_c is not None else -273.0
    if kept_c >= cell(battery.chemistry).coldest_charge_c:
        return None
    return _behind(scenario, FROST_C, "yes", charging_a)


def frost_notes(scenario: Scenario, warmth: Warmth, if_locked: tuple[float, float] | None) -> list[Sentence]:
    """What a reader must know of frost; ``if_locked`` is the band of a battery that it has locked, if that may be."""
    if warmth.locked == "perhaps":
        return [sentence(PERHAPS, drop=f"{warmth.most_drop_v:.1f} V")]
    if warmth.locked == "yes":
        return [sentence(PANELS) if warmth.by_panel else sentence(DIODES, drop=f"{warmth.most_drop_v:.1f} V")]
    if if_locked is None:
        return []
    cold, free = cell(scenario.battery.chemistry).coldest_charge_c, released_at_c(scenario.battery)
    low, high = (f"{share:.0%}" for share in if_locked)
    return [sentence(NOT_TOLD, cold=Quantity(cold, "c", "g"), free=Quantity(free, "c", "g"), low=low, high=high)]
