"""Scenarios to lanes: the one place where a scenario's words become the numbers the kernel works with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sim.catalogue.cables import conductor
from sim.catalogue.cells import Cell, cell
from sim.devices.battery import stored_wh as stored
from sim.devices.cable import loop_ohm
from sim.plant.causes import RUNNING
from sim.plant.records import (
    ALWAYS,
    CHARGING,
    CUTS_LOAD,
    DAYLIGHT,
    DIRECT,
    HOLDS,
    PLANT,
    PULSES,
    REGULATED,
    REST_NODES,
    TRACKING,
)

if TYPE_CHECKING:
    from sim.scenario import Cable, Scenario
    from sim.scenario.models import Battery, Pump

HOURS_A_MONTH = 730.0
BLOCK_AH = 100.0  # of the catalogue's blocks
CELLS_A_BLOCK = 6.0  # that a controller counts in 12 V: cells of 2 V, whatever the battery is
FIRST_GUESS_SOC = 0.8  # of a year that settles, before its own end is known
READ_V = (  # of LANE, what the controller holds against the voltage that it reads
    "off_v",
    "on_v",
    "absorption_v",
    "float_v",
    "equalise_v",
    "recharge_below_v",
)
_LOAD_MODE = {"always": ALWAYS, "daylight": DAYLIGHT, "clock": ALWAYS, "after-dusk": ALWAYS}
_ON_REFUSAL = {"pulses": PULSES, "holds": HOLDS, "cuts-load": CUTS_LOAD}
_SUPPLY = {"regulated": REGULATED, "direct": DIRECT}


def cable_ohm(cable: Cable) -> float:
    """Resistance of a run, both conductors with contacts, Ω."""
    return loop_ohm(cable.length_m, conductor(cable.area_mm2, cable.awg).ohm_per_km, cable.extra_mohm)


def pump_path_ohm(pump: Pump) -> float:
    """Resistance between controller and pump, the extension lead in series if there is one, Ω."""
    return cable_ohm(pump.cable) + (cable_ohm(pump.extension) if pump.extension else 0.0)


def rest_curve(chemistry: Cell) -> tuple[np.ndarray, np.ndarray]:
    """Rest voltage of a block at 0, 1 … 100 % and its integral over charge (trapezoids, exact for straight pieces)."""
    percent = np.linspace(0.0, 100.0, REST_NODES)
    rest_v = np.interp(percent, chemistry.rest_percent, chemistry.rest_v)
    area = np.concatenate(([0.0], np.cumsum(0.5 * (rest_v[1:] + rest_v[:-1])) / (REST_NODES - 1)))
    return rest_v, area


def stored_wh(lane: np.void, soc: float, v1_v: float) -> float:
    """Energy in the battery of a lane of LANE, Wh."""
    rest, size_ah = (lane["rest_v"], lane["rest_area_v"]), lane["capacity_ah"] * lane["blocks"]
    return float(stored(soc, v1_v, rest, size_ah, lane["tau_s"] / lane["r1_ohm"]))


def released_at_c(battery: Battery) -> float:
    """From where on a pack that frost has locked takes charge again, °C."""
    written = battery.charge_release_c
    return cell(battery.chemistry).charge_release_c if written is None else written


def new_mohm(battery: Battery) -> float:
    """What a new battery of its chemistry and size has under a load that lasts, R0 + R1 at 25 °C, mΩ."""
    chemistry = cell(battery.chemistry)
    return (chemistry.r0_mohm + chemistry.r1_mohm) * battery.nominal_v / 12.0 * size_factor(battery.capacity_ah)


def size_factor(capacity_ah: float) -> float:
    """Resistance of a battery against that of one of 100 Ah.

    From there up 100/Ah, as of batteries side by side. Down from there √(100/Ah): small ones have thinner plates and
    the same links and switches, and sheets of 25 Ah lithium and 40 Ah AGM show half of what 100/Ah gives, or little
    more, even where the direct-current value is taken for twice that at 1 kHz; common practice, no source.

    >>> size_factor(200.0), size_factor(25.0)
    (0.5, 2.0)
    """
    return min(BLOCK_AH / capacity_ah, math.sqrt(BLOCK_AH / capacity_ah))


def resistance_mohm(battery: Battery) -> float:
    """R0 + R1 as it was measured, or that of a new battery, mΩ."""
    return new_mohm(battery) if battery.resistance_mohm is None else battery.resistance_mohm


def _panel_fields(scenario: Scenario) -> dict[str, float]:
    control, panel = scenario.controller, scenario.panel
    tracked = control.tracks
    return {
        "tracking": TRACKING[control.kind],
        "panel_loop_ohm": cable_ohm(panel.cable),
        "series_drop_v": 0.0 if tracked else control.series_drop_v,
        "efficiency": control.efficiency if tracked else 1.0,
        "max_charge_a": control.max_charge_a,
    }


def _controller_fields(scenario: Scenario) -> dict[str, float]:
    control = scenario.controller
    fields = {
        "max_load_a": control.max_load_a,
        "own_a": control.own_current_a,
        "absorption_v": control.absorption_v,
        "float_v": control.float_v,
        "recharge_below_v": control.recharge_below_v,
        "set_shift_v_per_c": control.compensation_mv_c / 1000.0 * CELLS_A_BLOCK * scenario.battery.nominal_v / 12.0,
        "equalise_v": max(control.equalise_v, control.absorption_v),
        "equalise_s": control.equalise_h * 3600.0,
        "absorption_s": control.absorption_h * 3600.0,
        "charge_ends_a": control.charge_ends_a,
        "off_v": control.load_disconnect_v,
        "on_v": control.load_reconnect_v,
        "off_delay_s": control.disconnect_delay_s,
        "on_delay_s": control.reconnect_delay_s,
        "load_mode": _LOAD_MODE[control.load_mode],
        "on_refusal": _ON_REFUSAL[control.on_refusal],
    }
    return fields | {name: fields[name] - control.reading_error_v for name in READ_V}


def _battery_fields(scenario: Scenario) -> dict[str, float]:
    battery, chemistry = scenario.battery, cell(scenario.battery.chemistry)
    blocks = battery.nominal_v / 12.0
    scale = blocks * BLOCK_AH / battery.capacity_ah / 1000.0
    size = blocks * size_factor(battery.capacity_ah) / 1000.0
    measured = resistance_mohm(battery) / new_mohm(battery)
    return {
        "capacity_ah": battery.capacity_ah,
        "blocks": blocks,
        "r0_ohm": chemistry.r0_mohm * size * measured,
        "r0_rise": chemistry.r0_rise,
        "hysteresis_v": chemistry.hysteresis_mv / 1000.0 * blocks,
        "hysteresis_rate": chemistry.hysteresis_per_charge,
        "r1_ohm": chemistry.r1_mohm * size * measured,
        "tau_s": chemistry.tau_s,
        "acceptance_ohm": chemistry.acceptance_mohm * scale,
        "exhaustion_ohm": chemistry.exhaustion_mohm * scale,
        "scale": blocks * BLOCK_AH / battery.capacity_ah,
        "coulombic": chemistry.coulombic_efficiency,
        "self_discharge_a": chemistry.self_discharge_percent_month / 100.0 * battery.capacity_ah / HOURS_A_MONTH,
        "lead_ohm": cable_ohm(battery.cable),
    }


def _protection_fields(scenario: Scenario) -> dict[str, float]:
    chemistry, blocks = cell(scenario.battery.chemistry), scenario.battery.nominal_v / 12.0
    return {
        "protect_low_v": chemistry.protect_low_v * blocks,
        "protect_low_recover_v": chemistry.protect_low_recover_v * blocks,
        "protect_high_v": chemistry.protect_high_v * blocks,
        "protect_high_recover_v": chemistry.protect_high_recover_v * blocks,
        "coldest_charge_c": chemistry.coldest_charge_c,
        "charge_release_c": released_at_c(scenario.battery),
        "blocked_drop_v": chemistry.blocked_drop_v,
        "early_soc": chemistry.early_soc,
    }


def _pump_fields(scenario: Scenario) -> dict[str, float]:
    pump, path_ohm = scenario.pump, pump_path_ohm(scenario.pump)
    return {
        "pump_direct": _SUPPLY[pump.supply],
        "pump_w": pump.power_w,
        "pump_at_v": pump.at_v,
        "pump_min_v": pump.min_v,
        "pump_start_v": pump.start_v + pump.start_current_factor * pump.power_w / pump.at_v * path_ohm,
        "pump_loop_ohm": path_ohm,
    }


_GROUPS = (_panel_fields, _controller_fields, _battery_fields, _protection_fields, _pump_fields)


def lanes_from(scenarios: Sequence[Scenario], places: Sequence[int]) -> np.ndarray:
    """(lanes,) of PLANT at the start of the year, one a scenario, with the row of the sky table it reads."""
    distinct = {id(scenario): scenario for scenario in scenarios}
    row = {key: k for k, key in enumerate(distinct)}
    made = np.empty(len(distinct), PLANT)
    for k, scenario in enumerate(distinct.values()):
        made[k] = _lane(scenario)[0]
    plant = made[[row[id(one)] for one in scenarios]]
    plant["lane"]["place"] = places
    return plant


def _lane(scenario: Scenario) -> np.ndarray:
    """(1,) of PLANT: a single design, at the first row of the sky table."""
    plant = np.zeros(1, PLANT)
    for group in _GROUPS:
        for name, value in group(scenario).items():
            plant["lane"][name] = value
    plant["lane"]["rest_v"], plant["lane"]["rest_area_v"] = rest_curve(cell(scenario.battery.chemistry))
    asked = scenario.battery.initial_soc
    _start(plant, FIRST_GUESS_SOC if asked is None else asked)
    return plant


def _start(plant: np.ndarray, soc: float) -> None:
    """The first moment of the year: pump running, load switch on, nothing counted yet."""
    state, totals = plant["state"], plant["totals"]
    state["soc"] = totals["soc"] = soc
    state["bus_v"] = 13.0 * plant["lane"]["blocks"]
    state["latched"] = 1
    state["stage"] = CHARGING
    state["open_s"] = state["stalled_s"] = state["tripped_s"] = 1e9
    state["cause"] = RUNNING
    totals["shortest_run_s"] = np.inf
    for name in ("scheduled", "in_window", "fresh", "clean"):
        plant["inputs"][name] = 1
