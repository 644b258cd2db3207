"""The devices in physical order, and time from one event to the next.

Between two events every input is constant. A step takes the currents at its middle and is exact for the polarisation
of the battery; a step in which the controller, the protection circuit or the pump would change its mind is cut at
that moment by bisection. This module alone composes the devices; it works on the records of :mod:`sim.plant.records`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.compiled import compiled, fused
from sim.devices import battery, controller, panel, pump
from sim.plant.records import (
    CHARGING,
    DAYLIGHT,
    DIRECT,
    FAULT,
    FLOATING,
    LOW_VOLTAGE,
    MPPT,
    OVERLOAD,
    OVERLOAD_HOLD_S,
    PROTECTION,
    PROTECTION_HOLD_S,
    REBULK_HOLD_S,
    RESTART_HOLD_S,
    RUNNING,
    SCHEDULE,
    SEASONAL,
    STALLED,
)

LONGEST_STEP_S = 3600.0
SHORTEST_STEP_S = 1.0
NEAR_V = 1e-5  # Newton's method ends when it moves the bus by less
CROSSING_S = 0.25  # a crossing is located to this
LARGEST_CHARGE_STEP = 0.02  # share of the capacity that one step may move
LARGEST_END_STEP = 0.25  # share of what is left to full or to empty that one step may move
LARGEST_MISS = 2e-4  # share of the capacity by which the two ends of a step may disagree

# What may change somebody's mind, as bits.
THRESHOLD, LOW, HIGH, HELD, TAIL, REBULK, STALL, OVER = 1, 2, 4, 8, 16, 32, 64, 128


class Circuit(NamedTuple):
    """The circuit at one moment, V and A; the battery's current is positive into it."""

    bus_v: float
    battery_v: float
    battery_a: float
    panel_a: float
    pump_a: float
    own_a: float
    spare_a: float  # what the panel could have given at this voltage and was not asked for
    pump_v: float
    regulated: bool
    refused: bool  # charge was offered and the protection circuit did not take it


class Side(NamedTuple):
    """What the bus carries at one voltage: panel, pump and their balance, with the balance's slope in A/V."""

    panel_a: float
    pump_a: float
    pump_v: float
    net_a: float
    slope_a_v: float


class Ohms(NamedTuple):
    """The battery's path from its inner voltage to the bus at one moment, Ω."""

    charging: float
    discharging: float
    lead: float


@fused
def panel_draw(lane, sky, clean, bus_v):  # type: ignore[no-untyped-def]
    """The panel's current into the bus, by the kind of controller, within its limit."""
    tracked = panel.Draw(0.0, 0.0)
    if lane.tracking == MPPT and sky.v_mp_v > bus_v:
        power = panel.tracked_power_w(sky.p_mp_w * clean, sky.v_mp_v, lane.panel_loop_ohm) * lane.efficiency
        tracked = panel.tracked_current(bus_v, power)
    else:
        loop_ohm = lane.panel_loop_ohm * clean  # a dirty panel is a smaller one: I/clean through clean·R
        given = panel.direct_current(bus_v, sky.current_a, sky.first_v, sky.step_v, loop_ohm, lane.series_drop_v)
        tracked = panel.Draw(given.current_a * clean, given.slope_a_v * clean)
    if tracked.current_a > lane.max_charge_a:
        return panel.Draw(lane.max_charge_a, 0.0)
    return tracked


@fused
def pump_draw(lane, turning, source_v, source_ohm):  # type: ignore[no-untyped-def]
    """The pump's current from a source voltage behind a resistance, beside its own cable."""
    if not turning:
        return pump.PumpDraw(0.0, 0.0, source_v)
    loop_ohm = lane.pump_loop_ohm + source_ohm
    if lane.pump_direct == DIRECT:
        return pump.direct(source_v, lane.pump_w, lane.pump_at_v, loop_ohm)
    return pump.regulated(source_v, lane.pump_w, loop_ohm, 0.8 * lane.pump_min_v)


@fused
def side_at(lane, sky, clean, turning, bus_v):  # type: ignore[no-untyped-def]
    """Everything but the battery, in the light, at one bus voltage."""
    drawn = pump_draw(lane, turning, bus_v, 0.0)
    given = panel_draw(lane, sky, clean, bus_v)
    net = given.current_a - drawn.current_a - lane.own_a
    return Side(given.current_a, drawn.current_a, drawn.pump_v, net, given.slope_a_v - drawn.slope_a_v)


@fused
def ohms_at(lane, sky, soc):  # type: ignore[no-untyped-def]
    """The battery's resistances at a charge and temperature, leads included."""
    base = battery.ohmic_ohm(soc, lane.r0_ohm * sky.ohm_factor, lane.r0_rise)
    charging = battery.charging_ohm(soc, base, lane.acceptance_ohm)
    discharging = battery.discharging_ohm(soc, base, lane.scale * sky.exhaustion_ohm)
    return Ohms(charging + lane.lead_ohm, discharging + lane.lead_ohm, lane.lead_ohm)


@fused
def inner_voltage(lane, soc, v1_v, side):  # type: ignore[no-untyped-def]
    """Rest voltage plus hysteresis and polarisation, V."""
    return lane.blocks * battery.rest_voltage(soc, lane.rest_v) + lane.hysteresis_v * side + v1_v


@compiled
def charge_blocked(lane, state, sky):  # type: ignore[no-untyped-def]
    """Whether the protection circuit takes no charge: tripped at the top, or a cell too cold."""
    return state.high_open == 1 or sky.cell_c < lane.coldest_charge_c


@compiled
def panel_only_voltage(lane, sky, clean, turning, low_v, high_v):  # type: ignore[no-untyped-def]
    """Bus voltage where the panel just carries the load and the battery takes nothing, by bisection."""
    for _ in range(40):
        middle = 0.5 * (low_v + high_v)
        if side_at(lane, sky, clean, turning, middle).net_a > 0.0:
            low_v = middle
        else:
            high_v = middle
    return low_v


@fused
def dark_circuit(lane, turning, inner_v, ohms):  # type: ignore[no-untyped-def]
    """The circuit without the panel: the battery's own resistance is just more cable, so the pump's law solves it."""
    open_v = inner_v - lane.own_a * ohms.discharging
    drawn = pump_draw(lane, turning, open_v, ohms.discharging)
    bus_v = open_v - drawn.current_a * ohms.discharging
    battery_a = -drawn.current_a - lane.own_a
    battery_v = bus_v - battery_a * ohms.lead
    return Circuit(bus_v, battery_v, battery_a, 0.0, drawn.current_a, lane.own_a, 0.0, drawn.pump_v, False, False)


@fused
def free_circuit(lane, sky, clean, turning, inner_v, ohms, start_v):  # type: ignore[no-untyped-def]
    """The circuit in the light where nothing regulates, by Newton's method on U = inner + R·I(U)."""
    bus_v = start_v
    side = side_at(lane, sky, clean, turning, bus_v)
    for _ in range(40):
        ohm = ohms.charging if side.net_a > 0.0 else ohms.discharging
        move = (inner_v + ohm * side.net_a - bus_v) / (1.0 - min(ohm * side.slope_a_v, 0.5))
        bus_v += move
        if abs(move) < NEAR_V:
            break
        side = side_at(lane, sky, clean, turning, bus_v)
    battery_v = bus_v - side.net_a * ohms.lead
    return Circuit(bus_v, battery_v, side.net_a, side.panel_a, side.pump_a, lane.own_a, 0.0, side.pump_v, False, False)


@compiled
def shut_off_circuit(lane, sky, clean, turning, inner_v, ohms):  # type: ignore[no-untyped-def]
    """The circuit in the light with the panel held back altogether."""
    at = dark_circuit(lane, turning, inner_v, ohms)
    spare_a = panel_draw(lane, sky, clean, at.bus_v).current_a
    return Circuit(
        at.bus_v, at.battery_v, at.battery_a, 0.0, at.pump_a, at.own_a, spare_a, at.pump_v, at.regulated, at.refused
    )


@fused
def held_circuit(lane, sky, clean, turning, inner_v, ohms, set_v, side):  # type: ignore[no-untyped-def]
    """The circuit with the bus held at the set voltage: the battery takes what it needs, the panel gives the rest."""
    over = set_v - inner_v
    need = over / (ohms.charging if over > 0.0 else ohms.discharging)
    given = need + side.pump_a + lane.own_a
    if given < 0.0:  # even without the panel the bus stays above the set voltage
        return shut_off_circuit(lane, sky, clean, turning, inner_v, ohms)
    spare = side.panel_a - given
    battery_v = set_v - need * ohms.lead
    return Circuit(set_v, battery_v, need, given, side.pump_a, lane.own_a, spare, side.pump_v, True, False)


@compiled
def spare_panel(lane, sky, clean, turning, inner_v, side):  # type: ignore[no-untyped-def]
    """Whether the panel has more than the load takes, at the set voltage or at the battery's own."""
    return side.net_a >= 0.0 or side_at(lane, sky, clean, turning, inner_v).net_a > 0.0


@compiled
def refused_circuit(lane, sky, clean, turning, inner_v, set_v, side):  # type: ignore[no-untyped-def]
    """The circuit when the panel could charge and the battery does not take it: the panel carries the load alone."""
    bus_v = set_v
    if side.net_a < 0.0:
        bus_v = panel_only_voltage(lane, sky, clean, turning, inner_v, set_v)
        side = side_at(lane, sky, clean, turning, bus_v)
    given = side.pump_a + lane.own_a
    spare = max(side.panel_a - given, 0.0)
    return Circuit(bus_v, inner_v, 0.0, given, side.pump_a, lane.own_a, spare, side.pump_v, True, True)


@compiled
def dead_circuit(inner_v):  # type: ignore[no-untyped-def]
    """Battery switched off by its protection circuit and no sun: the bus is dead, the controller too."""
    return Circuit(0.0, inner_v, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, False)


@compiled
def batteryless_circuit(lane, sky, clean, inner_v, set_v):  # type: ignore[no-untyped-def]
    """The circuit with the battery cut off altogether: by day the panel holds the bus for the controller alone."""
    side = side_at(lane, sky, clean, False, set_v)
    if sky.lit == 0 or side.net_a < 0.0:
        return dead_circuit(inner_v)
    return Circuit(set_v, inner_v, 0.0, lane.own_a, 0.0, lane.own_a, side.net_a, set_v, True, True)


@fused
def circuit(lane, inputs, state, sky, soc, v1_v, side, turning):  # type: ignore[no-untyped-def]
    """Voltages and currents of the whole system at one moment."""
    inner_v = inner_voltage(lane, soc, v1_v, side)
    ohms = ohms_at(lane, sky, soc)
    if inputs.battery_faults > 0:
        return batteryless_circuit(lane, sky, inputs.clean, inner_v, lane.float_v)
    if sky.lit == 0:
        return dead_circuit(inner_v) if state.low_open == 1 else dark_circuit(lane, turning, inner_v, ohms)
    clean = inputs.clean
    charge_v = lane.equalise_v if inputs.equalise == 1 else lane.absorption_v
    set_v = controller.set_voltage(state.stage == FLOATING, charge_v, lane.float_v, sky.set_shift_v)
    at_set = side_at(lane, sky, clean, turning, set_v)
    if charge_blocked(lane, state, sky) and set_v > inner_v and spare_panel(lane, sky, clean, turning, inner_v, at_set):
        return refused_circuit(lane, sky, clean, turning, inner_v, set_v, at_set)
    if inner_v + (ohms.charging if inner_v < set_v else ohms.discharging) * at_set.net_a >= set_v:
        return held_circuit(lane, sky, clean, turning, inner_v, ohms, set_v, at_set)
    if state.low_open == 1 and side_at(lane, sky, clean, turning, inner_v).net_a <= 0.0:
        return dead_circuit(inner_v)
    return free_circuit(lane, sky, clean, turning, inner_v, ohms, max(state.bus_v, 0.5 * inner_v))


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
    """Whether the pump stalls for want of voltage, or has enough to start again."""
    if state.stalled == 1:
        return now.bus_v >= lane.pump_start_v
    return turning and now.pump_v < lane.pump_min_v


@fused
def minds(lane, inputs, state, now, turning):  # type: ignore[no-untyped-def]
    """Who would change their mind about something at this moment, as bits; nobody while the battery is cut off."""
    bits = 0
    if inputs.battery_faults > 0:
        return bits
    if controller.past_threshold(state.latched == 1, now.bus_v, lane.off_v, lane.on_v):
        bits |= THRESHOLD
    if low_trip(lane, state, now):
        bits |= LOW
    if high_trip(lane, state, now):
        bits |= HIGH
    if state.stage == CHARGING and now.regulated and not now.refused:
        bits |= HELD
        if now.battery_a < lane.tail_a:
            bits |= TAIL
    if state.stage == FLOATING and now.bus_v <= lane.rebulk_v:
        bits |= REBULK
    if pump_trip(lane, state, now, turning):
        bits |= STALL
    if state.tripped == 1 or now.pump_a > lane.max_load_a:
        bits |= OVER
    return bits


@compiled
def standing_cause(lane, inputs, state, sky):  # type: ignore[no-untyped-def]
    """Why the pump does not turn, or RUNNING."""
    faulty = inputs.load_faults + inputs.battery_faults > 0
    if state.low_open == 1 and not faulty:
        return PROTECTION
    if inputs.seasonal == 1:
        return SEASONAL
    if inputs.scheduled == 0 or (lane.load_mode == DAYLIGHT and sky.lit == 0):
        return SCHEDULE
    if faulty:
        return FAULT
    if state.tripped == 1:
        return OVERLOAD
    if state.latched == 0:
        return LOW_VOLTAGE
    return STALLED if state.stalled == 1 else RUNNING


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
def hold_s(lane, inputs):  # type: ignore[no-untyped-def]
    """How long the charge's voltage is held at most."""
    return lane.equalise_s if inputs.equalise == 1 else lane.absorption_s


@compiled
def settle_charging(lane, inputs, state, bits):  # type: ignore[no-untyped-def]
    """Absorption ends by time or by tail current, equalisation by time; float ends when the bus stays low."""
    tailed = bits & TAIL and inputs.equalise == 0
    if bits & HELD and (state.absorbed_s >= hold_s(lane, inputs) or tailed):
        inputs.equalise = 0
        state.stage = FLOATING
        state.rebulk_s = 0.0
        return True
    if bits & REBULK and state.rebulk_s >= REBULK_HOLD_S:
        state.stage = CHARGING
        state.absorbed_s = 0.0
        return True
    return False


@compiled
def settle_load(lane, state, now, bits, totals):  # type: ignore[no-untyped-def]
    """The controller's voltage switch, when its delay is over."""
    delay = lane.off_delay_s if state.latched == 1 else lane.on_delay_s
    if not bits & THRESHOLD or state.held_s < max(delay, SHORTEST_STEP_S):
        return False
    state.held_s = 0.0
    state.latched = 1 - state.latched
    if state.latched == 0:
        totals.disconnects += 1.0
        totals.early_disconnects += 1.0 if state.soc > lane.early_soc else 0.0
    else:
        totals.reconnects += 1.0
        totals.lifted_reconnects += 1.0 if state.soc < 0.4 and now.battery_a > 0.0 else 0.0
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
def overload_wait_s(state):  # type: ignore[no-untyped-def]
    """How long the load switch still waits before it trips on current, or comes back."""
    hold_s = OVERLOAD_HOLD_S if state.tripped == 1 else SHORTEST_STEP_S
    return max(hold_s - state.tripped_s, first_second_s(state))


@compiled
def settle_overload(state, bits):  # type: ignore[no-untyped-def]
    """The load switch opens on too much current, and tries again after a while."""
    if not bits & OVER or overload_wait_s(state) > 0.0:
        return False
    state.tripped = 1 - state.tripped
    state.tripped_s = 0.0
    return True


@compiled
def settle(lane, inputs, state, now, bits, totals):  # type: ignore[no-untyped-def]
    """Let one of them change its mind; True if one did."""
    if settle_protection(state, bits):
        return True
    if settle_charging(lane, inputs, state, bits):
        return True
    if settle_load(lane, state, now, bits, totals):
        return True
    if settle_overload(state, bits):
        return True
    return settle_pump(state, bits)


@compiled
def note_pump(state, totals, events, cause, now):  # type: ignore[no-untyped-def]
    """Record a start or a stop of the pump, or a new cause of the same stop."""
    if cause == state.cause:
        return
    was_running = state.cause == RUNNING
    lasted = state.now_s - state.changed_s
    if cause == RUNNING:
        totals.starts += 1.0
        totals.longest_stop_s = max(totals.longest_stop_s, lasted)
    elif was_running and lasted > 0.0:
        totals.shortest_run_s = min(totals.shortest_run_s, lasted)
    if cause == RUNNING or was_running:
        state.changed_s = state.now_s
    state.cause = cause
    if state.events < events.shape[0]:
        row = events[state.events]
        row.at_s = state.now_s
        row.cause = cause
        row.soc = state.soc
        row.bus_v = state.bus_v if state.now_s > 0.0 else now.bus_v
        row.battery_a = now.battery_a
        row.refused = now.refused
    state.events += 1


@compiled
def timer_limit(lane, inputs, state, bits, dt):  # type: ignore[no-untyped-def]
    """No step longer than what is left of a running timer."""
    if bits & THRESHOLD:
        delay = lane.off_delay_s if state.latched == 1 else lane.on_delay_s
        dt = min(dt, max(delay, SHORTEST_STEP_S) - state.held_s)
    if bits & HELD:
        dt = min(dt, hold_s(lane, inputs) - state.absorbed_s)
    if bits & REBULK:
        dt = min(dt, REBULK_HOLD_S - state.rebulk_s)
    if bits & (LOW | HIGH):
        dt = min(dt, protection_wait_s(state, bits))
    if bits & OVER:
        dt = min(dt, overload_wait_s(state))
    if bits & STALL:
        dt = min(dt, stall_wait_s(state))
    return dt


@compiled
def charge_limit(lane, soc, current_a, dt):  # type: ignore[no-untyped-def]
    """No step that moves too much charge, nor too large a share of what is left to full or to empty."""
    room = 1.0 - soc if current_a > 0.0 else soc
    share = min(LARGEST_CHARGE_STEP, LARGEST_END_STEP * max(room, 1e-3))
    most = share * lane.capacity_ah * 3600.0
    return dt if abs(current_a) * dt <= most else most / abs(current_a)


class Trial(NamedTuple):
    """What a step would do: its middle, its end, and the battery's state there."""

    middle: Circuit
    middle_soc: float
    middle_side: float
    end: Circuit
    soc: float
    v1_v: float
    side: float


@compiled
def moved_share(lane, current_a, dt):  # type: ignore[no-untyped-def]
    """The share of the capacity that a current moves in a time, with efficiency and self-discharge."""
    rate = battery.charge_rate(current_a, lane.coulombic, lane.self_discharge_a)
    return rate * dt / (lane.capacity_ah * 3600.0)


@compiled
def trial(lane, inputs, state, sky, turning, current_a, dt):  # type: ignore[no-untyped-def]
    """Take a step of ``dt`` seconds with the current at its middle."""
    r1_ohm = lane.r1_ohm * sky.ohm_factor
    half = battery.decay_over(0.5 * dt, lane.tau_s * sky.ohm_factor)
    moved = moved_share(lane, current_a, 0.5 * dt)
    middle_soc = state.soc + moved
    middle_v1 = battery.polarisation_after(state.v1_v, current_a, r1_ohm, half)
    middle_side = battery.hysteresis_after(state.side, moved, lane.hysteresis_rate)
    middle = circuit(lane, inputs, state, sky, middle_soc, middle_v1, middle_side, turning)
    moved = moved_share(lane, middle.battery_a, dt)
    soc = min(max(state.soc + moved, 0.0), 1.0)
    v1_v = battery.polarisation_after(state.v1_v, middle.battery_a, r1_ohm, half * half)
    side = battery.hysteresis_after(state.side, moved, lane.hysteresis_rate)
    end = circuit(lane, inputs, state, sky, soc, v1_v, side, turning)
    return Trial(middle, middle_soc, middle_side, end, soc, v1_v, side)


@compiled
def turned_a(now, done):  # type: ignore[no-untyped-def]
    """How far the battery's current strays in a step, A; near full it may be the same at both ends and not between."""
    from_start = abs(done.end.battery_a - now.battery_a)
    return max(from_start, 2.0 * abs(done.middle.battery_a - now.battery_a))


@compiled
def step_to_event(lane, inputs, state, sky, turning, now, bits, longest):  # type: ignore[no-untyped-def]
    """The longest step that is fine enough and ends no later than the next change of mind, with its length."""
    dt = charge_limit(lane, state.soc, now.battery_a, timer_limit(lane, inputs, state, bits, longest))
    dt = max(dt, min(1e-3, longest))
    done = trial(lane, inputs, state, sky, turning, now.battery_a, dt)
    while turned_a(now, done) * dt > LARGEST_MISS * lane.capacity_ah * 3600.0 and dt > 5.0:
        dt *= 0.5
        done = trial(lane, inputs, state, sky, turning, now.battery_a, dt)
    if minds(lane, inputs, state, done.end, turning) == bits:
        return done, dt
    same, other = 0.0, dt
    while other - same > CROSSING_S:
        dt = 0.5 * (same + other)
        done = trial(lane, inputs, state, sky, turning, now.battery_a, dt)
        if minds(lane, inputs, state, done.end, turning) == bits:
            same = dt
        else:
            other = dt
    return trial(lane, inputs, state, sky, turning, now.battery_a, other), other


@compiled
def run_timers(state, bits, dt):  # type: ignore[no-untyped-def]
    """Let the timers that the bits keep running go on, and reset the others."""
    state.held_s = state.held_s + dt if bits & THRESHOLD else 0.0
    state.absorbed_s += dt if bits & HELD else 0.0
    state.rebulk_s = state.rebulk_s + dt if bits & REBULK else 0.0
    state.open_s += dt
    state.stalled_s += dt
    state.tripped_s += dt


@compiled
def mean_rest_voltage(lane, soc_from, soc_to):  # type: ignore[no-untyped-def]
    """Mean rest voltage of a block on the way from one charge to another, V."""
    moved = soc_to - soc_from
    if abs(moved) < 1e-9:
        return battery.rest_voltage(0.5 * (soc_from + soc_to), lane.rest_v)
    gained = battery.rest_area(soc_to, lane.rest_v, lane.rest_area_v)
    return (gained - battery.rest_area(soc_from, lane.rest_v, lane.rest_area_v)) / moved


@compiled
def book_times(lane, inputs, state, now, totals, dt):  # type: ignore[no-untyped-def]
    """Add a step's seconds to the states they were spent in."""
    if state.cause == RUNNING:
        totals.run_s += dt
        totals.window_run_s += dt if inputs.in_window == 1 else 0.0
    elif state.cause == SCHEDULE:
        totals.schedule_s += dt
    elif state.cause == LOW_VOLTAGE:
        totals.low_voltage_s += dt
    elif state.cause == PROTECTION:
        totals.protection_s += dt
    elif state.cause == STALLED:
        totals.stalled_s += dt
    elif state.cause == FAULT:
        totals.fault_s += dt
    elif state.cause == OVERLOAD:
        totals.overload_s += dt
    else:
        totals.seasonal_s += dt
    totals.refused_s += dt if now.refused and inputs.battery_faults == 0 else 0.0
    totals.below_20_s += dt if state.soc < 0.2 else 0.0
    totals.above_95_s += dt if state.soc > 0.95 else 0.0


@compiled
def book_stage(state, sky, now, totals, dt):  # type: ignore[no-untyped-def]
    """Add a step's seconds to the charge stage, while there is light."""
    if sky.lit == 0:
        return
    if state.stage == FLOATING:
        totals.float_s += dt
    elif now.regulated and not now.refused:
        totals.absorption_s += dt
    else:
        totals.bulk_s += dt


@compiled
def book_panel(lane, sky, clean, now, bus_v, hours, totals):  # type: ignore[no-untyped-def]
    """Energies between the panel's cells and the bus."""
    totals.possible_wh += sky.p_mp_w * clean * hours
    out = now.panel_a * bus_v * hours
    share = now.spare_a / (now.panel_a + now.spare_a) if now.spare_a > 0.0 else 0.0
    if lane.tracking == MPPT and sky.v_mp_v > now.bus_v:
        tracked = out / lane.efficiency
        at_v = max(sky.v_mp_v, 1e-9)
        cable = (tracked / hours / at_v) ** 2 * lane.panel_loop_ohm * hours
        totals.controller_wh += tracked - out
    else:
        cable = now.panel_a**2 * lane.panel_loop_ohm * hours
        tracked = out + now.panel_a * lane.series_drop_v * hours
        totals.controller_wh += tracked - out
    totals.panel_cable_wh += cable
    totals.panel_wh += tracked + cable
    totals.spare_wh += (tracked + cable) * share / (1.0 - share) if share < 1.0 else now.spare_a * bus_v * hours


@compiled
def book_energies(lane, state, sky, done, now, dt, totals):  # type: ignore[no-untyped-def]
    """Energies from the bus on, with the currents of the step's middle; returns the step's mean bus voltage."""
    hours = dt / 3600.0
    current = now.battery_a
    r1_ohm, tau_s = lane.r1_ohm * sky.ohm_factor, lane.tau_s * sky.ohm_factor
    decay = battery.decay_over(dt, tau_s)
    ohms = ohms_at(lane, sky, done.middle_soc)
    series = (ohms.charging if current > 0.0 else ohms.discharging) - ohms.lead
    rest_v = lane.blocks * mean_rest_voltage(lane, state.soc, done.soc)
    v1_mean = battery.polarisation_mean(state.v1_v, current, r1_ohm, decay, dt, tau_s)
    turned_v = lane.hysteresis_v * done.middle_side
    battery_v = rest_v + turned_v + v1_mean + current * series
    bus_v = battery_v + current * ohms.lead
    if now.refused or now.bus_v == 0.0:
        bus_v = now.bus_v
    stored_wh = rest_v * (done.soc - state.soc) * lane.capacity_ah
    heat = current * current * series * hours
    heat += battery.polarisation_heat_ws(state.v1_v, current, r1_ohm, decay, dt, tau_s) / 3600.0
    totals.battery_loss_wh += heat + (rest_v + turned_v) * current * hours - stored_wh
    totals.lead_wh += current * current * ohms.lead * hours
    totals.own_wh += now.own_a * bus_v * hours
    cable = now.pump_a * now.pump_a * lane.pump_loop_ohm * hours
    totals.pump_cable_wh += cable
    totals.pump_wh += now.pump_a * bus_v * hours - cable
    return bus_v


@compiled
def begin_extremes(inputs, totals):  # type: ignore[no-untyped-def]
    """Forget the extremes that have been read."""
    totals.soc_low = totals.bus_low_v = totals.battery_low_v = math.inf
    totals.soc_high = totals.bus_high_v = totals.battery_high_v = totals.panel_high_a = -math.inf
    inputs.fresh = 0


@compiled
def book_extremes(totals, at):  # type: ignore[no-untyped-def]
    """Keep the extremes of a circuit that was met."""
    totals.bus_low_v = min(totals.bus_low_v, at.bus_v)
    totals.bus_high_v = max(totals.bus_high_v, at.bus_v)
    totals.battery_low_v = min(totals.battery_low_v, at.battery_v)
    totals.battery_high_v = max(totals.battery_high_v, at.battery_v)
    totals.panel_high_a = max(totals.panel_high_a, at.panel_a)


@compiled
def book(lane, inputs, state, sky, done, dt, totals):  # type: ignore[no-untyped-def]
    """Enter a step in the totals."""
    now = done.middle
    book_times(lane, inputs, state, now, totals, dt)
    book_stage(state, sky, now, totals, dt)
    bus_v = book_energies(lane, state, sky, done, now, dt, totals)
    if sky.lit == 1:
        book_panel(lane, sky, inputs.clean, now, bus_v, dt / 3600.0, totals)
    book_extremes(totals, done.end)
    totals.soc_s += 0.5 * (state.soc + done.soc) * dt
    totals.soc_low = min(totals.soc_low, done.soc)
    totals.soc_high = max(totals.soc_high, done.soc)
    moved = now.battery_a * dt / 3600.0
    if moved > 0.0:
        totals.charge_ah += moved
    else:
        totals.discharge_ah -= moved


@compiled
def wake(state, sky):  # type: ignore[no-untyped-def]
    """At the first light the controller begins a new charge."""
    if sky.lit == 1 and state.lit == 0:
        state.stage = CHARGING
        state.absorbed_s = 0.0
    state.lit = sky.lit


@compiled
def advance_lane(plant, sky, events, until_s):  # type: ignore[no-untyped-def]
    """Carry one lane to ``until_s`` under constant inputs."""
    lane, inputs, state, totals = plant.lane, plant.inputs, plant.state, plant.totals
    if inputs.fresh == 1:
        begin_extremes(inputs, totals)
    wake(state, sky)
    fresh = False
    turning = state.cause == RUNNING
    now = circuit(lane, inputs, state, sky, state.soc, state.v1_v, state.side, turning)
    while state.now_s < until_s:
        cause = standing_cause(lane, inputs, state, sky)
        if cause == RUNNING and state.cause != RUNNING and now.bus_v < lane.pump_start_v:
            state.stalled, state.stalled_s = 1, 0.0
            cause = STALLED
        turning = cause == RUNNING
        if not fresh:
            now = circuit(lane, inputs, state, sky, state.soc, state.v1_v, state.side, turning)
        note_pump(state, totals, events, cause, now)
        bits = minds(lane, inputs, state, now, turning)
        if settle(lane, inputs, state, now, bits, totals):
            fresh = False
            continue
        longest = min(LONGEST_STEP_S, until_s - state.now_s)
        done, dt = step_to_event(lane, inputs, state, sky, turning, now, bits, longest)
        book(lane, inputs, state, sky, done, dt, totals)
        run_timers(state, bits, dt)
        state.soc = done.soc
        state.v1_v = done.v1_v
        state.side = done.side
        state.now_s = state.now_s + dt if dt < until_s - state.now_s else until_s
        now = done.end
        state.bus_v = now.bus_v
        fresh = True
    settle(
        lane, inputs, state, now, minds(lane, inputs, state, now, turning), totals
    )  # what falls due just now, before inputs change
    totals.soc = state.soc
    totals.v1_v = state.v1_v
    totals.bus_v = now.bus_v
    totals.battery_v = now.battery_v
    totals.battery_a = now.battery_a


@compiled
def advance(plant, sky, events, hour, until_s):  # type: ignore[no-untyped-def]
    """Carry every lane to ``until_s``.

    ``plant`` (lanes,) of PLANT, ``sky`` (places, hours) of SKY with ``hour`` its present column, ``events``
    (lanes, capacity) of EVENT. Inputs must have been constant since the last call.
    """
    for k in range(plant.shape[0]):
        one = plant[k]
        advance_lane(one, sky[one.lane.place, hour], events[k], until_s)
