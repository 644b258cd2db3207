"""Ways to control the load, compared on the same year."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.calendar import HOUR_S
from sim.catalogue import chemistries
from sim.figures.lanes import full_cycles, longest_stop_h, lowest_soc, met_by_day, met_share
from sim.figures.planned import wanted_by_day
from sim.plant.log import Log
from sim.plant.run import run, total
from sim.scenario import Scenario
from sim.studies.clock import windows_of
from sim.words import percent

TIMED = "clock + voltage"
WORTH_A_WORD = 0.01  # of the wanted hours
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
    """The scenario with each of the ways; "only" sets the load voltages as low as the chemistry allows."""
    blocks = scenario.battery.nominal_v / 12.0
    lowest_v = chemistries()[scenario.battery.chemistry]["limits"]["threshold_min_v"] * blocks
    low = {"load_disconnect_v": lowest_v, "load_reconnect_v": lowest_v + OUT_OF_THE_WAY_V * blocks}

    def with_control(**changes: Any) -> Scenario:
        return scenario.but(controller={"load_windows": (), **changes})

    return {
        "voltage only": with_control(load_mode="always"),
        "daylight only": with_control(load_mode="daylight", **low),
        "clock only": with_control(load_mode="clock", load_windows=(scenario.need.between,), **low),
        "daylight + voltage": with_control(load_mode="daylight"),
        **{
            f"{TIMED}, {start} to {end}": with_control(load_mode="clock", load_windows=((start, end),))
            for start, end in windows_of(scenario)
        },
    }


def with_best_timer(found: Sequence[Control]) -> tuple[Control, ...]:
    """The ways without all but the best of those that set the timer beside the pair; of equals the first."""
    best = max((one for one in found if one.name.startswith(TIMED)), key=lambda one: one.hours_met_share, default=None)
    return tuple(one for one in found if one is best or not one.name.startswith(TIMED))


def timer_in_words(found: Sequence[Control], most_met: float) -> str:
    """That the timer does more than any pair, where it meets a point more than the pair that meets most."""
    best = max((one for one in found if one.name.startswith(TIMED)), key=lambda one: one.hours_met_share, default=None)
    if best is None or best.hours_met_share < most_met + WORTH_A_WORD:
        return ""
    window = best.name.partition(", ")[2]
    return (
        f"The timer does more than any pair, and costs nothing: by the clock from {window} and with the present "
        f"voltages {percent(best.hours_met_share)} of the wanted hours are met, {percent(most_met)} with the pair that "
        "meets most. Set the timer first, then run this study again."
    )


def controls(scenario: Scenario, sky: np.ndarray, months: np.ndarray) -> tuple[tuple[Control, ...], Log]:
    """All ways through the same year, and their hourly log, the first lane by voltage only."""
    designs = ways(scenario)
    lanes = run(list(designs.values()), sky[np.newaxis])
    wanted = wanted_by_day(scenario, months)
    found = (_control(log, lane, name, sky["lit"], wanted) for (log, lane), name in zip(lanes, designs, strict=True))
    return with_best_timer(tuple(found)), lanes[0][0]


def _control(log: Log, lane: int, name: str, lit: np.ndarray, wanted: np.ndarray) -> Control:
    return Control(
        name=name,
        pump_hours=total(log, "run_s", lane) / 3600.0,
        hours_met_share=met_share(met_by_day(log, wanted)[lane].sum(), wanted.sum()),
        window_hours=total(log, "window_run_s", lane) / 3600.0,
        night_hours=float(log.per_interval("run_s", lane)[lit == 0].sum()) / 3600.0,
        starts=int(total(log, "starts", lane)),
        equivalent_full_cycles=float(full_cycles(log)[lane]),
        min_soc=float(lowest_soc(log)[lane]),
        longest_stop_h=float(longest_stop_h(log)[lane]),
    )


def charging_a(log: Log) -> float:
    """The median current into the battery over the hours that charge it throughout, A; 0 if there are none.

    Hours in which the voltage is already held are left out: the battery then takes only what it wants.
    """
    net_a = log.per_interval("charge_ah") - log.per_interval("discharge_ah")
    charging = net_a[(log.per_interval("bulk_s") > 0.99 * HOUR_S) & (net_a > 0.0)]
    return float(np.median(charging)) if len(charging) else 0.0
