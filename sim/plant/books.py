"""The books of a lane: what a step adds to its totals, and the list of the pump's starts and stops.

Energies are booked from the currents of a step's middle; the year's balance compares them with the stored energy.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.compiled import compiled, fused
from sim.devices import battery
from sim.plant.bus import Charge, Circuit, ohms_at, tracks
from sim.plant.causes import FAULT, LOW_VOLTAGE, OVERLOAD, OVERVOLTAGE, PROTECTION, RUNNING, SCHEDULE, STALLED
from sim.plant.circuit import blocked_v
from sim.plant.records import FLOATING

HOUR_S = 3600.0
NEARLY_EMPTY, NEARLY_FULL = 0.2, 0.95  # charge below and above which hours are counted
SAME_SOC = 1e-9  # charges closer than this are one


class Trial(NamedTuple):
    """What a step would do: the circuit and the battery at its middle and at its end."""

    middle: Circuit
    halfway: Charge
    end: Circuit
    after: Charge
    decay: float  # what it leaves of the polarisation


class Passage(NamedTuple):
    """The battery over a step: mean voltages of its parts, its resistance, and the heat of its polarisation in Ws."""

    rest_v: float
    turned_v: float
    v1_v: float
    blocked_v: float
    ohm: float
    lead_ohm: float
    v1_heat_ws: float


@compiled
def list_event(state, event, cause, now):  # type: ignore[no-untyped-def]
    """Write down a change of what the pump does."""
    event.at_s = state.now_s
    event.cause = cause
    event.soc = state.soc
    event.bus_v = state.bus_v if state.now_s > 0.0 else now.bus_v
    event.battery_a = now.battery_a
    event.refused = now.refused


@compiled
def count_change(state, totals, cause):  # type: ignore[no-untyped-def]
    """Count a start, and keep the longest stop and the shortest run."""
    was_running = state.cause == RUNNING
    lasted, first = state.now_s - state.changed_s, state.changed_s == 0.0
    if cause == RUNNING:
        totals.starts += 1.0
        totals.longest_stop_s = max(totals.longest_stop_s, lasted + (state.stood_s if first else 0.0))
    elif was_running and lasted > 0.0:
        totals.shortest_run_s = min(totals.shortest_run_s, lasted + (state.ran_s if first else 0.0))
    if cause == RUNNING or was_running:
        state.changed_s = state.now_s


@compiled
def note_pump(plant, events, cause, now):  # type: ignore[no-untyped-def]
    """Record a start or a stop of the pump, or a new cause of the same stop."""
    state = plant.state
    if cause == state.cause:
        return
    count_change(state, plant.totals, cause)
    state.cause = cause
    if state.events < events.shape[0]:
        list_event(state, events[state.events], cause, now)
    state.events += 1


@fused
def mean_rest_voltage(lane, soc_from, soc_to):  # type: ignore[no-untyped-def]
    """Mean rest voltage of a block on the way from one charge to another, V."""
    moved = soc_to - soc_from
    if abs(moved) < SAME_SOC:
        return battery.rest_voltage(0.5 * (soc_from + soc_to), lane.rest_v)
    gained = battery.rest_area(soc_to, lane.rest_v, lane.rest_area_v)
    return (gained - battery.rest_area(soc_from, lane.rest_v, lane.rest_area_v)) / moved


@fused
def book_cause(cause, totals, dt):  # type: ignore[no-untyped-def]
    """Add a step's seconds to what the pump did."""
    if cause == RUNNING:
        totals.run_s += dt
    elif cause == SCHEDULE:
        totals.schedule_s += dt
    elif cause == LOW_VOLTAGE:
        totals.low_voltage_s += dt
    elif cause == PROTECTION:
        totals.protection_s += dt
    elif cause == STALLED:
        totals.stalled_s += dt
    elif cause == FAULT:
        totals.fault_s += dt
    elif cause == OVERLOAD:
        totals.overload_s += dt
    elif cause == OVERVOLTAGE:
        totals.overvoltage_s += dt
    else:
        totals.seasonal_s += dt


@fused
def book_times(plant, now, dt):  # type: ignore[no-untyped-def]
    """Add a step's seconds to the states they were spent in."""
    inputs, state, totals = plant.inputs, plant.state, plant.totals
    book_cause(state.cause, totals, dt)
    totals.window_run_s += dt if state.cause == RUNNING and inputs.in_window == 1 else 0.0
    totals.refused_s += dt if now.refused and inputs.battery_faults == 0 else 0.0
    totals.below_20_s += dt if state.soc < NEARLY_EMPTY else 0.0
    totals.above_95_s += dt if state.soc > NEARLY_FULL else 0.0


@fused
def book_stage(plant, now, dt):  # type: ignore[no-untyped-def]
    """Add a step's seconds in the light to the charge stage."""
    totals = plant.totals
    if plant.state.stage == FLOATING:
        totals.float_s += dt
    elif now.regulated and not now.refused:
        totals.absorption_s += dt
    else:
        totals.bulk_s += dt


@fused
def cable_and_panel_wh(lane, sky, now, out_wh, hours):  # type: ignore[no-untyped-def]
    """Heat of the panel's cable, and what comes out of that cable, Wh."""
    if tracks(lane, sky, now.bus_v):
        tracked = out_wh / lane.efficiency
        at_v = max(sky.v_mp_v, 1e-9)
        return (tracked / hours / at_v) ** 2 * lane.panel_loop_ohm * hours, tracked
    cable = now.panel_a**2 * lane.panel_loop_ohm * hours
    return cable, out_wh + now.panel_a * lane.series_drop_v * hours


@fused
def book_panel(plant, sky, now, out, hours):  # type: ignore[no-untyped-def]
    """Energies between the panel's cells and the bus, to which ``out`` Wh come."""
    totals = plant.totals
    totals.possible_wh += sky.p_mp_w * plant.inputs.clean * hours
    share = now.spare_a / (now.panel_a + now.spare_a) if now.spare_a > 0.0 else 0.0
    cable, tracked = cable_and_panel_wh(plant.lane, sky, now, out, hours)
    totals.controller_wh += tracked - out
    totals.panel_cable_wh += cable
    totals.panel_wh += tracked + cable
    totals.spare_wh += (tracked + cable) * share / (1.0 - share) if share < 1.0 else now.spare_a * now.bus_v * hours


@fused
def passage(plant, sky, done, dt):  # type: ignore[no-untyped-def]
    """The battery over a step, with the current of its middle."""
    lane, state, current = plant.lane, plant.state, done.middle.battery_a
    r1_ohm, tau_s = lane.r1_ohm * sky.ohm_factor, lane.tau_s * sky.ohm_factor
    decay = done.decay
    ohms = ohms_at(lane, sky, done.halfway.soc)
    return Passage(
        lane.blocks * mean_rest_voltage(lane, state.soc, done.after.soc),
        lane.hysteresis_v * done.halfway.side,
        battery.polarisation_mean(state.v1_v, current, r1_ohm, decay, dt, tau_s),
        blocked_v(plant, current),
        (ohms.charging if current > 0.0 else ohms.discharging) - ohms.lead,
        ohms.lead,
        battery.polarisation_heat_ws(state.v1_v, current, r1_ohm, decay, dt, tau_s),
    )


@fused
def book_battery(plant, done, way, hours):  # type: ignore[no-untyped-def]
    """The battery's heat and that of its leads; returns the mean bus voltage while the battery carries current."""
    totals, now = plant.totals, done.middle
    current = now.battery_a
    while_on_a = current / now.share
    stored_wh = way.rest_v * (done.after.soc - plant.state.soc) * plant.lane.capacity_ah
    heat = current * while_on_a * way.ohm * hours + current * way.blocked_v * hours
    heat += way.v1_heat_ws / HOUR_S
    totals.battery_loss_wh += heat + (way.rest_v + way.turned_v) * current * hours - stored_wh
    totals.lead_wh += current * while_on_a * way.lead_ohm * hours
    return way.rest_v + way.turned_v + way.v1_v + while_on_a * (way.ohm + way.lead_ohm) + way.blocked_v


@fused
def panel_out_wh(now, bus_v, on_battery_v, hours):  # type: ignore[no-untyped-def]
    """What the panel gives to the bus; where that pulses, what the load takes less what the battery gives."""
    if now.share == 1.0:
        return now.panel_a * bus_v * hours
    return (now.own_a + now.pump_a) * bus_v * hours + now.battery_a * on_battery_v * hours


@fused
def book_load(plant, now, bus_v, hours):  # type: ignore[no-untyped-def]
    """What the controller itself, the battery's heater, the pump's cable and the pump take."""
    totals = plant.totals
    own_a = min(now.own_a, plant.lane.own_a)
    totals.own_wh += own_a * bus_v * hours
    totals.heater_wh += (now.own_a - own_a) * bus_v * hours
    cable = now.pump_a * now.pump_a * plant.lane.pump_loop_ohm * hours
    totals.pump_cable_wh += cable
    totals.pump_wh += now.pump_a * bus_v * hours - cable


@compiled
def begin_extremes(plant):  # type: ignore[no-untyped-def]
    """Forget the extremes that have been read."""
    totals = plant.totals
    totals.soc_low = totals.bus_low_v = totals.battery_low_v = math.inf
    totals.soc_high = totals.bus_high_v = totals.battery_high_v = totals.panel_high_a = totals.pump_high_v = -math.inf
    totals.longest_stop_s, totals.shortest_run_s = 0.0, math.inf
    plant.inputs.fresh = 0


@fused
def book_extremes(totals, at):  # type: ignore[no-untyped-def]
    """Keep the extremes of a circuit that was met."""
    totals.bus_low_v = min(totals.bus_low_v, at.bus_v)
    totals.bus_high_v = max(totals.bus_high_v, at.bus_v)
    totals.battery_low_v = min(totals.battery_low_v, at.battery_v)
    totals.battery_high_v = max(totals.battery_high_v, at.battery_v)
    totals.panel_high_a = max(totals.panel_high_a, at.panel_a)
    if at.pump_a > 0.0:
        totals.pump_high_v = max(totals.pump_high_v, at.peak_v)


@fused
def book_charge(plant, done, dt):  # type: ignore[no-untyped-def]
    """The battery's charge over a step, and what went in or out."""
    totals, soc = plant.totals, done.after.soc
    totals.soc_s += 0.5 * (plant.state.soc + soc) * dt
    totals.soc_low = min(totals.soc_low, soc)
    totals.soc_high = max(totals.soc_high, soc)
    moved = done.middle.battery_a * dt / HOUR_S
    if moved > 0.0:
        totals.charge_ah += moved
    else:
        totals.discharge_ah -= moved


@fused
def book(plant, sky, done, dt):  # type: ignore[no-untyped-def]
    """Enter a step in the totals."""
    now, hours = done.middle, dt / HOUR_S
    book_times(plant, now, dt)
    on_battery_v = book_battery(plant, done, passage(plant, sky, done, dt), hours)
    bus_v = now.bus_v if now.battery_a == 0.0 or now.share < 1.0 else on_battery_v
    book_load(plant, now, bus_v, hours)
    if sky.lit == 1:
        book_stage(plant, now, dt)
        book_panel(plant, sky, now, panel_out_wh(now, bus_v, on_battery_v, hours), hours)
    book_extremes(plant.totals, now)
    book_extremes(plant.totals, done.end)
    book_charge(plant, done, dt)


@compiled
def read_moment(plant, now):  # type: ignore[no-untyped-def]
    """Leave what can be read at this moment."""
    state, totals = plant.state, plant.totals
    totals.soc = state.soc
    totals.v1_v = state.v1_v
    totals.bus_v = now.bus_v
    totals.battery_v = now.battery_v
    totals.battery_a = now.battery_a
