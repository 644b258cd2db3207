"""Ways to control the load, compared on the same year."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sim.catalogue import chemistries
from sim.plant.engine import HOUR_S, Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.log import Log
from sim.plant.people import processes
from sim.plant.records import RUNNING

if TYPE_CHECKING:
    from sim.scenario import Scenario

OUT_OF_THE_WAY_V = 0.1  # between thresholds that are set as low as they go, for each 12 V; our own default


@dataclass(frozen=True)
class Control:
    """One way to control the load; ``window_hours`` ran in the wanted time of day, ``night_hours`` without light."""

    name: str
    pump_hours: float
    hours_met_share: float
    window_hours: float
    night_hours: float
    starts: int
    equivalent_full_cycles: float
    min_soc: float
    longest_stop_h: float


def ways(scenario: Scenario) -> dict[str, Scenario]:
    """The scenario with each of the four ways; "only" sets the load voltages as low as the chemistry allows."""
    blocks = scenario.battery.nominal_v / 12.0
    lowest_v = chemistries()[scenario.battery.chemistry]["limits"]["threshold_min_v"] * blocks
    low = {"load_disconnect_v": lowest_v, "load_reconnect_v": lowest_v + OUT_OF_THE_WAY_V * blocks}

    def with_control(**changes: Any) -> Scenario:
        control = scenario.controller.model_copy(update={"load_windows": (), **changes})
        return scenario.model_copy(update={"controller": control})

    return {
        "voltage only": with_control(load_mode="always"),
        "daylight only": with_control(load_mode="daylight", **low),
        "clock only": with_control(load_mode="clock", load_windows=(scenario.need.between,), **low),
        "daylight + voltage": with_control(load_mode="daylight"),
    }


def controls(scenario: Scenario, sky: np.ndarray, months: np.ndarray) -> tuple[tuple[Control, ...], Log]:
    """Four ways through the same year, and their hourly log, the first lane by voltage only."""
    designs = ways(scenario)
    plant = Plant(lanes_from(list(designs.values()), places=[0] * len(designs)), sky[np.newaxis])
    log = simulate(plant, processes(plant, list(designs.values())), HOUR_S)
    wanted = np.asarray(scenario.need.hours_per_day)[months - 1]
    return tuple(_control(log, lane, name, sky["lit"], wanted) for lane, name in enumerate(designs)), log


def _control(log: Log, lane: int, name: str, lit: np.ndarray, wanted: np.ndarray) -> Control:
    last, state = log.totals[-1, lane], log.lanes["state"][lane]
    met = np.minimum(log.per_interval("window_run_s", lane).reshape(-1, 24).sum(axis=1) / 3600.0, wanted)
    standing_s = 0.0 if state["cause"] == RUNNING else log.at_s[-1] - state["changed_s"]
    return Control(
        name=name,
        pump_hours=float(last["run_s"]) / 3600.0,
        hours_met_share=float(met.sum() / wanted.sum()) if wanted.sum() > 0.0 else 1.0,
        window_hours=float(last["window_run_s"]) / 3600.0,
        night_hours=float(log.per_interval("run_s", lane)[lit == 0].sum()) / 3600.0,
        starts=int(last["starts"]),
        equivalent_full_cycles=float(last["discharge_ah"] / log.lanes["lane"]["capacity_ah"][lane]),
        min_soc=float(min(log.per_interval("soc_low", lane).min(), log.totals["soc"][0, lane])),
        longest_stop_h=float(max(last["longest_stop_s"], standing_s)) / 3600.0,
    )


def charging_a(log: Log) -> float:
    """The median current into the battery over the hours that charge it throughout, A; 0 if there are none.

    Hours in which the voltage is already held are left out: the battery then takes only what it wants.
    """
    net_a = log.per_interval("charge_ah") - log.per_interval("discharge_ah")
    charging = net_a[(log.per_interval("bulk_s") > 0.99 * HOUR_S) & (net_a > 0.0)]
    return float(np.median(charging)) if len(charging) else 0.0
