"""The light behind a log: the scenario's weather where it is of the log's year, else what the log tells of it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from sim.calendar import HOUR_S
from sim.scenario import Scenario
from sim.studies.diagnose_trials import Days, Ran, plain, run_trials
from sim.studies.measured_log import Readings

RUNS, FEWEST_DARK = 0.97, 5  # share of an interval in which a pump just runs, and readings that tell its current
USUAL_V = 13.2  # of a battery of 12 V that is being charged
NOON_SHARE = 0.15  # by which a clear noon of one fortnight differs from that of another; our own default
NEAR_FULL_V = 0.15  # below the controller's voltages, for each 12 V: a battery that is charged that high is full
CLEAR = 98.0  # percentile of a fortnight's current that stands for a clear noon
AROUND_H = 15 * 24  # to either side of the log, in which the scenario's own clear noons are looked for
SHIFTS_S = np.arange(-12.0, 12.01, 1.0 / 6.0) * HOUR_S  # of a clock that is looked for
LEAST_SHIFT_S, BETTER = 1500.0, 0.05  # a clock is corrected that is off by more, if the likeness gains so much
GRID_S = 600.0


@dataclass(frozen=True)
class Light:
    """The sky that trials run under, and what the log's own currents say of the panel, where they made it."""

    sky: np.ndarray
    share: float | None  # of the panel's current that the scenario expects at a clear noon
    known: bool  # whether weather or currents tell what the sun gave
    held: bool = False  # whether the controller held a full battery's current down, so that the share is the least


def panel_current(sky: np.ndarray, readings: Readings) -> np.ndarray | None:
    """(n,) the panel's current that a log tells, A, if it does: by itself, or by the battery's and the pump's state,
    whose current is then that which the battery gives in the dark.
    """
    given = readings.panel_a
    if given is None and readings.current_a is not None and readings.pump is not None:
        dark = sky["lit"][(readings.at_s // HOUR_S).astype(int)] == 0
        alone_a = -readings.current_a[dark & (readings.pump > RUNS) & np.isfinite(readings.current_a)]
        if len(alone_a) >= FEWEST_DARK:
            given = readings.current_a + readings.pump * np.median(alone_a)
    return None if given is None else np.maximum(np.nan_to_num(given), 0.0)


def from_log(sky: np.ndarray, readings: Readings, own_a: np.ndarray) -> Light:
    """A sky (hours,) of SKY whose panel gives the current that was logged, at any voltage.

    Hours without readings have what their time of day has on the mean. ``own_a`` (hours,) is what the scenario's panel
    gives in its own weather.
    """
    given = panel_current(sky, readings)
    if given is None:
        return Light(sky, None, False)
    hour = (readings.at_s // HOUR_S).astype(int)
    sums, counts = (np.bincount(hour, what, len(sky))[: len(sky)] for what in (given, np.ones(len(given))))
    by_clock = np.array([sums[h::24].sum() / max(counts[h::24].sum(), 1.0) for h in range(24)])
    amps = np.where(counts > 0, sums / np.maximum(counts, 1.0), np.resize(by_clock, len(sky)))
    amps = np.where(sky["lit"] == 1, amps, 0.0)  # an ammeter's noise by night is no daylight for the controller
    made = sky.copy()
    made["current_a"] = amps[:, np.newaxis]
    made["v_mp_v"], made["p_mp_w"] = 0.0, amps * 13.0
    around = slice(max(hour[0] - AROUND_H, 0), hour[-1] + AROUND_H)
    expected = float(np.percentile(own_a[around], CLEAR))
    seen = float(np.percentile(amps[np.unique(hour)], CLEAR))
    return Light(made, seen / expected if expected > 0.0 else None, True)


def light_of(scenario: Scenario, sky: np.ndarray, readings: Readings, known: bool) -> Light:
    """The light of a log in weather (hours,) of SKY that is ``known`` to be its own, or else its own as it tells it."""
    if known:
        return Light(sky, None, True)
    control, near_v = scenario.controller, NEAR_FULL_V * scenario.battery.nominal_v / 12.0
    full_v = min(control.float_v, control.absorption_v) - near_v
    held = bool(np.percentile(readings.voltage_v, CLEAR) > full_v)
    return replace(from_log(sky, readings, own_current(scenario, sky)), held=held)


def own_current(scenario: Scenario, sky: np.ndarray) -> np.ndarray:
    """(hours,) the current of the scenario's panel into a battery at a usual voltage, A."""
    control, bus_v = scenario.controller, USUAL_V * scenario.battery.nominal_v / 12.0
    amps = _direct_current(sky, bus_v + (0.0 if control.tracks else control.series_drop_v))
    if control.tracks:
        amps = np.where(sky["v_mp_v"] > bus_v, sky["p_mp_w"] * control.efficiency / bus_v, amps)
    return np.where(sky["lit"] == 1, np.minimum(amps, control.max_charge_a), 0.0)


def _direct_current(sky: np.ndarray, panel_v: float) -> np.ndarray:
    """(hours,) the panel's current at a voltage of its own, A."""
    place = (panel_v - sky["first_v"]) / sky["step_v"]
    node = np.clip(place.astype(int), 0, sky["current_a"].shape[1] - 2)
    low, high = (np.take_along_axis(sky["current_a"], (node + k)[:, np.newaxis], 1)[:, 0] for k in (0, 1))
    return np.asarray(np.maximum(low + (high - low) * (place - node), 0.0))


def clock_error_s(days: Days, readings: Readings) -> float:
    """By how much the log's clock is ahead of the weather's, s; 0 where that is too little to tell.

    The shift at which the log's voltage is most like the simulated one, of the system as it is or with faults that
    move its day as a wrong clock does.
    """
    grid_s = np.arange(days.between_s[0] + GRID_S, days.between_s[1], GRID_S)
    ran = run_trials(replace(days, at_s=grid_s), _of_other_days(len(days.designs)))
    alike = np.array([_likeness(grid_s, ran, readings, shift) for shift in SHIFTS_S])
    best, own = int(alike.argmax()), float(alike[np.abs(SHIFTS_S).argmin()])
    found = float(SHIFTS_S[best])
    return found if abs(found) > LEAST_SHIFT_S and alike[best] > own + BETTER else 0.0


def _of_other_days(designs: int) -> np.ndarray:
    """(k,) of TRIAL: as it is, less light, shade before and after noon, a larger pump, a small battery, each timer."""
    trials = plain(6 + designs)
    trials["light"][1], trials["pump"][4], trials["capacity"][5] = 0.5, 2.0, 0.3
    trials["light"][2:4] = 0.2
    trials["shade_to_h"][2], trials["shade_from_h"][3] = 12.0, 12.0
    trials["timer"][6:] = np.arange(designs)
    return trials


def _likeness(grid_s: np.ndarray, ran: Ran, readings: Readings, shift_s: float) -> float:
    """How alike log and simulation are if the log's clock is so much ahead: the best of the correlations."""
    at_s = readings.at_s - shift_s
    inside = (at_s > grid_s[0]) & (at_s < grid_s[-1])
    log = readings.voltage_v[inside]
    return max(
        float(np.corrcoef(log, np.interp(at_s[inside], grid_s, lane))[0, 1]) if inside.sum() > 10 else 0.0
        for lane in ran.volts.T
    )
