"""What can be bought and set: arrays, batteries, and ways to run them; what each costs, and the scenario it makes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import product
from typing import Any, NamedTuple

import numpy as np

from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.catalogue.controllers import tracks
from sim.checks.energy import quiet_gap_v
from sim.errors import InputError
from sim.figures.wiring import charge_a
from sim.scenario import Scenario
from sim.scenario.size import BATTERIES_AH, Size
from sim.studies.clock import windows_of
from sim.studies.designs import Design

SAME_WATTS = 1.02  # arrays that are no larger than a smaller one by this are left out
OFFS = 4  # disconnect voltages that are tried over the chemistry's range, each with
ONS = 2  # reconnect voltages: the nearest that is quiet, and one half way to the highest
AMP_DIGITS = 3


class Array(NamedTuple):
    """Panels of one label."""

    panel_w: float
    panels: int

    @property
    def watts(self) -> float:
        """Their rated power, W."""
        return self.panel_w * self.panels


class Setting(NamedTuple):
    """How the pump is switched: by voltage alone, by daylight or by the clock, and the pair of load voltages."""

    load_mode: str
    load_windows: tuple[tuple[str, str], ...]
    load_disconnect_v: float
    load_reconnect_v: float


class Way(NamedTuple):
    """What money hardly buys: a tilt, a kind of controller, a setting."""

    tilt_deg: float
    controller: str
    setting: Setting


class Offer(NamedTuple):
    """A design that could be built."""

    array: Array
    battery_ah: float
    way: Way


@dataclass(frozen=True)
class Shop:
    """What a scenario may become: ``design`` is what it is."""

    design: Design
    coldest_c: float
    best_tilts_deg: tuple[float, ...] = ()

    @property
    def scenario(self) -> Scenario:
        """The scenario as it is."""
        return self.design.scenario

    @property
    def size(self) -> Size:
        """What may vary."""
        return self.scenario.size or Size()

    def _open(self, part: str) -> bool:
        return part not in self.size.fixed

    @cached_property
    def arrays(self) -> tuple[Array, ...]:
        """Every array that may be bought, from small to large; of equals the one of fewer panels."""
        panel = self.scenario.panel
        if not self._open("panel"):
            return (Array(panel.power_w, panel.count),)
        counts = [count for count in self.size.panels if count % panel.series == 0] or [panel.series]
        every = sorted(
            (Array(*one) for one in product(self.size.panel_w, counts)), key=lambda it: (it.watts, it.panels)
        )
        return tuple(apart(every))

    @property
    def batteries_ah(self) -> tuple[float, ...]:
        """Every capacity that may be bought, from small to large."""
        if not self._open("battery"):
            return (self.scenario.battery.capacity_ah,)
        return tuple(map(float, self.size.battery_ah or BATTERIES_AH))

    @property
    def tilts_deg(self) -> tuple[float, ...]:
        """Those of the table, or the present tilt and the best ones for the light."""
        own = self.scenario.panel.tilt_deg
        if not self._open("tilt"):
            return (own,)
        return self.size.tilt_deg or tuple(dict.fromkeys((own, *self.best_tilts_deg)))

    @property
    def controllers(self) -> tuple[str, ...]:
        """The kinds of controller, the cheaper first."""
        kinds = self.size.controller if self._open("controller") else (self.scenario.controller.kind,)
        return tuple(sorted(kinds, reverse=True))

    def largest(self, battery_ah: float, controller: str) -> int:
        """The place of the largest array whose current at full sun a battery bears; -1 where even the smallest is more.

        Any is where neither panel nor battery may vary.
        """
        if not (self._open("panel") or self._open("battery")):
            return len(self.arrays) - 1
        most_a = cell(self.scenario.battery.chemistry).most_charge_rate * battery_ah
        borne = [k for k, array in enumerate(self.arrays) if self._charge_a(array, controller) <= most_a]
        return max(borne, default=-1)

    def _charge_a(self, array: Array, controller: str) -> float:
        """What an array charges with at full sun, A; no more than the current that is written of the controller."""
        panel = self.scenario.panel
        times = array.watts / (panel.power_w * panel.count)
        larger = {"power_w": panel.power_w * times, "imp_a": panel.imp_a * times}
        made = charge_a(self.scenario.but(panel=larger, controller={"kind": controller}))
        written = self.design.data.get("controller", {}).get("max_charge_a")
        return made if written is None else min(made, written)

    @cached_property
    def settings(self) -> tuple[Setting, ...]:
        """The setting as it is, then every other that may be tried."""
        control = self.scenario.controller
        own = Setting(control.load_mode, control.load_windows, control.load_disconnect_v, control.load_reconnect_v)
        pairs = self._pairs((own.load_disconnect_v, own.load_reconnect_v))
        made = (Setting(mode, windows, *pair) for (mode, windows), pair in product(self._loads(own), pairs))
        return tuple(dict.fromkeys((own, *made)))

    def _loads(self, own: Setting) -> list[tuple[str, tuple[tuple[str, str], ...]]]:
        """The ways to let the load run: mode and windows."""
        if not self._open("load"):
            return [(own.load_mode, own.load_windows)]
        modes = self.size.load_mode
        clocked = [("clock", (window,)) for window in self._windows()] if "clock" in modes else []
        return [*((mode, ()) for mode in modes if mode != "clock"), *clocked]

    def _windows(self) -> tuple[tuple[str, str], ...]:
        return self.size.load_windows or windows_of(self.scenario)

    def _pairs(self, own: tuple[float, float]) -> list[tuple[float, float]]:
        if not self._open("pair"):
            return [own]
        tried = self.size.pairs or quiet_pairs(self.scenario, self.coldest_c)
        return list(dict.fromkeys((own, *tried)))

    @cached_property
    def by_weight(self) -> bool:
        """Whether prices are lacking, so that weights stand in for them."""
        cost = self.scenario.cost
        return cost.panel_per_w is None or cost.battery_per_ah is None

    def price(self, offer: Offer) -> float:
        """What an offer costs, panels, battery, controller and mounting; by weights where prices are lacking."""
        cost, size, tracked = self.scenario.cost, self.size, tracks(offer.way.controller)
        if self.by_weight:
            per_ah = size.weight_per_ah * self.scenario.battery.nominal_v / 12.0
            goods = size.weight_per_w * offer.array.watts + per_ah * offer.battery_ah
            return goods + size.weight_tracker * tracked
        goods = (cost.panel_per_w or 0.0) * offer.array.watts + (cost.battery_per_ah or 0.0) * offer.battery_ah
        tilted = offer.way.tilt_deg != self.scenario.panel.tilt_deg
        return goods + (cost.controller or 0.0) * tracked + (cost.mounting or 0.0) * tilted

    def changes(self, offer: Offer) -> dict[str, Any]:
        """What an offer changes in the scenario, by its keys."""
        panel, battery, setting = self.scenario.panel, self.scenario.battery, offer.way.setting
        times = offer.array.panel_w / panel.power_w
        amps = {f"panel.{key}": round(getattr(panel, key) * times, AMP_DIGITS) for key in ("imp_a", "isc_a")}
        measured = battery.resistance_mohm
        times_ah = battery.capacity_ah / offer.battery_ah
        return {
            "panel.power_w": offer.array.panel_w,
            **(amps if times != 1.0 else {}),
            "panel.count": offer.array.panels,
            "panel.tilt_deg": offer.way.tilt_deg,
            "battery.capacity_ah": offer.battery_ah,
            **({"battery.resistance_mohm": round(measured * times_ah, AMP_DIGITS)} if measured else {}),
            "controller.kind": offer.way.controller,
            "controller.load_mode": setting.load_mode,
            "controller.load_windows": [list(window) for window in setting.load_windows],
            "controller.load_disconnect_v": setting.load_disconnect_v,
            "controller.load_reconnect_v": setting.load_reconnect_v,
        }

    def built(self, offer: Offer) -> Scenario:
        """The scenario that an offer makes; InputError where its rules forbid it."""
        return self.design.changed("sized", self.changes(offer)).scenario

    def can_be(self, offer: Offer) -> bool:
        """Whether the scenario's rules allow an offer."""
        try:
            self.built(offer)
        except InputError:
            return False
        return True


def apart(arrays: list[Array]) -> list[Array]:
    """Of arrays in rising order those that differ.

    >>> apart([Array(100.0, 1), Array(50.0, 2), Array(101.0, 1), Array(60.0, 2)])
    [Array(panel_w=100.0, panels=1), Array(panel_w=60.0, panels=2)]
    """
    kept: list[Array] = []
    for one in arrays:
        if not kept or one.watts > SAME_WATTS * kept[-1].watts:
            kept.append(one)
    return kept


def quiet_pairs(scenario: Scenario, coldest_c: float) -> list[tuple[float, float]]:
    """Pairs over the chemistry's range that are so far apart that no check complains of it, in V."""
    study, blocks = chemistries()[scenario.battery.chemistry]["study"], scenario.battery.nominal_v / 12.0
    step, gap_v = 0.1 * blocks, quiet_gap_v(scenario, coldest_c)
    highest_v = min(study["reconnect_max_v"] * blocks, scenario.controller.absorption_v - step)
    lowest_v = study["reconnect_min_v"] * blocks
    pairs = []
    for off_v in np.linspace(study["disconnect_min_v"], study["disconnect_max_v"], OFFS) * blocks:
        off_v = step * round(off_v / step)
        nearest_v = step * np.ceil(max(off_v + gap_v, lowest_v) / step - 1e-9)
        for on_v in np.linspace(nearest_v, highest_v, ONS + 1)[:ONS]:
            if on_v <= highest_v:
                pairs.append((round(float(off_v), 2), round(float(step * round(on_v / step)), 2)))
    return pairs
