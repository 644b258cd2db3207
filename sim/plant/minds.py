"""Who would change their mind about something, and when they may: controller, protection circuit, load switch, pump.

A mind is a bit; what it waits for is a timer in the state.
"""

from __future__ import annotations

from sim.compiled import compiled, fused
from sim.devices import controller
from sim.plant.causes import FAULT, LOW_VOLTAGE, OVERLOAD, OVERVOLTAGE, PROTECTION, RUNNING, SCHEDULE, SEASONAL, STALLED
from sim.plant.records import (
    CHARGING,
    CUTS_LOAD,
    DAYLIGHT,
    FLOATING,
    OVERLOAD_HOLD_S,
    PROTECTION_HOLD_S,
    RECHARGE_HOLD_S,
    RESTART_HOLD_S,
)

SHORTEST_STEP_S = 1.0
LIFTED_SOC = 0.4  # a restart by a charging battery below this is one that charging lifted; a choice

# What may change somebody's mind, as bits.
THRESHOLD, LOW, HIGH, HELD, TAIL, RECHARGE, STALL, OVER, SURGE, DEAD = 1, 2, 4, 8, 16, 32, 64, 128, 256, 512


@compiled
def low_trip(lane, state, now):  # type: ignore[no-untyped-def]
    """Whether the protection circuit wants to change its refusal of discharge."""
    if state.low_open == 1:
        return now.battery_v >= lane.protect_low_recover_v
    return now.battery_v <= lane.protect_low_v and now.battery_a < 0.0


@compiled
def high_trip(lane, state, now):  # type: ignore[no-untyped-def]
    """Whether the protection circuit wants to change its refusal of charge."""
    if state.high_open == 1:
        return now.battery_v <= lane.protect_high_recover_v
    return now.battery_v >= lane.protect_high_v and now.battery_a > 0.0


@compiled
def pump_trip(lane, state, now, turning):  # type: ignore[no-untyped-def]
    """Whether the pump stalls for want of voltage, or has enough to start again; nobody stalls on a dead bus."""
    if state.stalled == 1:
        return now.bus_v >= lane.pump_start_v
    return turning and now.bus_v > 0.0 and now.pump_v < lane.pump_min_v


@compiled
def surge_trip(lane, state, now):  # type: ignore[no-untyped-def]
    """Whether the controller cuts the load because its bus pulses high, or lets it run as that is over."""
    if state.surged == 1:
        return not now.refused
    return lane.on_refusal == CUTS_LOAD and now.peak_v > now.bus_v


@fused
def charge_minds(lane, state, now):  # type: ignore[no-untyped-def]
    """What the charge's stage waits for, as bits."""
    bits = 0
    if state.stage == CHARGING and now.regulated and not now.refused:
        bits |= HELD
        if now.battery_a < lane.charge_ends_a:
            bits |= TAIL
    if state.stage == FLOATING and now.bus_v <= lane.recharge_below_v:
        bits |= RECHARGE
    return bits


@fused
def minds(plant, now, turning):  # type: ignore[no-untyped-def]
    """Who would change their mind about something at this moment, as bits; nobody while the battery is cut off."""
    lane, state = plant.lane, plant.state
    if plant.inputs.battery_faults > 0:
        return 0
    bits = charge_minds(lane, state, now)
    if controller.past_threshold(state.latched == 1, now.bus_v, lane.off_v, lane.on_v):
        bits |= THRESHOLD if now.bus_v > 0.0 else THRESHOLD | DEAD
    if low_trip(lane, state, now):
        bits |= LOW
    if high_trip(lane, state, now):
        bits |= HIGH
    if pump_trip(lane, state, now, turning):
        bits |= STALL
    if state.tripped == 1 or now.pump_a > lane.max_load_a:
        bits |= OVER
    if surge_trip(lane, state, now):
        bits |= SURGE
    return bits


@fused
def standing_cause(plant, sky):  # type: ignore[no-untyped-def]
    """Why the pump does not turn, or RUNNING."""
    inputs, state = plant.inputs, plant.state
    faulty = inputs.load_faults + inputs.battery_faults > 0
    if state.low_open == 1 and not faulty and (sky.lit == 0 or state.latched == 0 or state.stalled == 1):
        return PROTECTION  # in the light the panel may carry the load alone
    if inputs.seasonal == 1:
        return SEASONAL
    if inputs.scheduled == 0 or (plant.lane.load_mode == DAYLIGHT and sky.lit == 0):
        return SCHEDULE
    if faulty:
        return FAULT
    if state.tripped == 1:
        return OVERLOAD
    if state.surged == 1:
        return OVERVOLTAGE
    if state.latched == 0:
        return LOW_VOLTAGE
    return STALLED if state.stalled == 1 else RUNNING


@fused
def cause_now(plant, sky, now):  # type: ignore[no-untyped-def]
    """Why the pump does not turn, or RUNNING; a pump that would start with too little voltage stalls at once."""
    cause, state = standing_cause(plant, sky), plant.state
    if cause == RUNNING and state.cause != RUNNING and now.bus_v < plant.lane.pump_start_v:
        state.stalled, state.stalled_s = 1, 0.0
        return STALLED
    return cause


@compiled
def first_second_s(state):  # type: ignore[no-untyped-def]
    """What is left of the first second of a run, in which nothing trips: every start is a run that can be seen."""
    if state.cause != RUNNING:
        return 0.0
    return max(SHORTEST_STEP_S - (state.now_s - state.changed_s), 0.0)


@compiled
def protection_wait_s(state, bits):  # type: ignore[no-untyped-def]
    """How long the protection circuit still waits before it changes: a moment to trip, longer to come back."""
    coming_back = (bits & LOW and state.low_open == 1) or (bits & HIGH and state.high_open == 1)
    if coming_back:
        return max(PROTECTION_HOLD_S - state.open_s, 0.0)
    return max(SHORTEST_STEP_S - state.open_s, first_second_s(state))


@compiled
def stall_wait_s(state):  # type: ignore[no-untyped-def]
    """How long the pump still waits before it stalls or tries again."""
    return max(RESTART_HOLD_S - state.stalled_s, first_second_s(state))


@compiled
def overload_wait_s(state):  # type: ignore[no-untyped-def]
    """How long the load switch still waits before it trips on current, or comes back."""
    hold_s = OVERLOAD_HOLD_S if state.tripped == 1 else SHORTEST_STEP_S
    return max(hold_s - state.tripped_s, first_second_s(state))


@compiled
def hold_s(lane, inputs):  # type: ignore[no-untyped-def]
    """How long the charge's voltage is held at most."""
    return lane.equalise_s if inputs.equalise == 1 else lane.absorption_s


@compiled
def threshold_wait_s(lane, state, bits):  # type: ignore[no-untyped-def]
    """How long the bus must still be past the threshold that is active now; a dead controller lets go at once."""
    if bits & DEAD:
        return first_second_s(state)
    return max(lane.off_delay_s if state.latched == 1 else lane.on_delay_s, SHORTEST_STEP_S) - state.held_s


@compiled
def settle_protection(state, bits):  # type: ignore[no-untyped-def]
    """The protection circuit trips or comes back."""
    if not bits & (LOW | HIGH) or protection_wait_s(state, bits) > 0.0:
        return False
    if bits & LOW:
        state.low_open = 1 - state.low_open
    else:
        state.high_open = 1 - state.high_open
    state.open_s = 0.0
    return True


@compiled
def settle_charging(plant, bits):  # type: ignore[no-untyped-def]
    """Absorption ends by time or by its last current, equalisation by time; float ends when the bus stays low."""
    inputs, state = plant.inputs, plant.state
    tailed = bits & TAIL and inputs.equalise == 0
    if bits & HELD and (state.absorbed_s >= hold_s(plant.lane, inputs) or tailed):
        inputs.equalise = 0
        state.stage = FLOATING
        state.recharge_s = 0.0
        return True
    if bits & RECHARGE and state.recharge_s >= RECHARGE_HOLD_S:
        state.stage = CHARGING
        state.absorbed_s = 0.0
        return True
    return False


@compiled
def settle_load(plant, now, bits):  # type: ignore[no-untyped-def]
    """The controller's voltage switch, when its delay is over."""
    lane, state, totals = plant.lane, plant.state, plant.totals
    if not bits & THRESHOLD or threshold_wait_s(lane, state, bits) > 0.0:
        return False
    state.held_s = 0.0
    state.latched = 1 - state.latched
    if state.latched == 0:
        totals.disconnects += 1.0
        totals.early_disconnects += 1.0 if state.soc > lane.early_soc else 0.0
    else:
        totals.reconnects += 1.0
        totals.lifted_reconnects += 1.0 if state.soc < LIFTED_SOC and now.battery_a > 0.0 else 0.0
        totals.refused_reconnects += 1.0 if now.refused else 0.0
    return True


@compiled
def settle_pump(state, bits):  # type: ignore[no-untyped-def]
    """A pump below its lowest voltage stalls, and tries again after a while."""
    if not bits & STALL or stall_wait_s(state) > 0.0:
        return False
    state.stalled = 1 - state.stalled
    state.stalled_s = 0.0
    return True


@compiled
def settle_overload(state, bits):  # type: ignore[no-untyped-def]
    """The load switch opens on too much current, and tries again after a while."""
    if not bits & OVER or overload_wait_s(state) > 0.0:
        return False
    state.tripped = 1 - state.tripped
    state.tripped_s = 0.0
    return True


@compiled
def settle_surge(state, bits):  # type: ignore[no-untyped-def]
    """The load switch opens on a bus that pulses high, not in a run's first second, and closes when that is over."""
    if not bits & SURGE or first_second_s(state) > 0.0:
        return False
    state.surged = 1 - state.surged
    return True


@compiled
def settle(plant, now, bits):  # type: ignore[no-untyped-def]
    """Let one of them change its mind; True if one did."""
    if settle_protection(plant.state, bits):
        return True
    if settle_charging(plant, bits):
        return True
    if settle_load(plant, now, bits):
        return True
    if settle_overload(plant.state, bits) or settle_surge(plant.state, bits):
        return True
    return settle_pump(plant.state, bits)


@fused
def timer_limit(plant, bits, dt):  # type: ignore[no-untyped-def]
    """No step longer than what is left of a running timer."""
    state = plant.state
    if bits & THRESHOLD:
        dt = min(dt, threshold_wait_s(plant.lane, state, bits))
    if bits & HELD:
        dt = min(dt, hold_s(plant.lane, plant.inputs) - state.absorbed_s)
    if bits & RECHARGE:
        dt = min(dt, RECHARGE_HOLD_S - state.recharge_s)
    if bits & (LOW | HIGH):
        dt = min(dt, protection_wait_s(state, bits))
    if bits & OVER:
        dt = min(dt, overload_wait_s(state))
    if bits & STALL:
        dt = min(dt, stall_wait_s(state))
    if bits & SURGE:
        dt = min(dt, first_second_s(state))
    return dt


@fused
def run_timers(state, bits, dt):  # type: ignore[no-untyped-def]
    """Let the timers that the bits keep running go on, and reset the others."""
    state.held_s = state.held_s + dt if bits & THRESHOLD else 0.0
    state.absorbed_s += dt if bits & HELD else 0.0
    state.recharge_s = state.recharge_s + dt if bits & RECHARGE else 0.0
    state.open_s += dt
    state.stalled_s += dt
    state.tripped_s += dt


@compiled
def wake(state, sky):  # type: ignore[no-untyped-def]
    """At the first light the controller begins a new charge."""
    if sky.lit == 1 and state.lit == 0:
        state.stage = CHARGING
        state.absorbed_s = 0.0
    state.lit = sky.lit


@compiled
def feel_cold(lane, state, sky):  # type: ignore[no-untyped-def]
    """The protection circuit locks the charge in frost, and lets it in again some degrees above."""
    if sky.cell_c < lane.coldest_charge_c:
        state.frozen = 1
    elif sky.cell_c >= lane.charge_release_c:
        state.frozen = 0
