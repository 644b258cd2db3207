"""The devices in physical order: voltages and currents of the whole system at one moment.

It works on the records of :mod:`sim.plant.records`.
"""

from __future__ import annotations

from sim.compiled import compiled, fused
from sim.devices import controller
from sim.plant.bus import Case, Circuit, dark_circuit, inner_voltage, moved_side, ohms_at, panel_draw, side_at, taken
from sim.plant.records import FLOATING
from sim.plant.refused import alone_circuit, panel_only_voltage, refused_circuit

NEAR_V = 1e-5  # Newton's method ends when it moves the bus by less
LAST_MOVE_V = 1e-3  # a last step of Newton's method is no longer; what it misses goes with its square
MOST_TURNS = 40  # of Newton's method and of bisection
STEEPEST = 0.5  # of the battery's line against the rest of the circuit, so that Newton's method does not leap
HIGHEST_SHARE = 2.0  # of the inner voltage, below which the bus is sought by bisection
NEARLY_NOTHING_V = 1e-6  # the lowest that a bus breaks down to; a tracker knows no current at nothing
LOWEST_START_SHARE = 0.5  # of the inner voltage, where the search for the bus begins at the lowest


@fused
def charge_blocked(state):  # type: ignore[no-untyped-def]
    """Whether the protection circuit takes no charge: tripped at the top, or locked for cold."""
    return state.high_open == 1 or state.frozen == 1


@compiled
def blocked_v(plant, battery_a):  # type: ignore[no-untyped-def]
    """What is lost across a protection circuit that blocks the other way, V, with the sign of the current."""
    if battery_a < 0.0 and charge_blocked(plant.state):
        return -plant.lane.blocked_drop_v
    return plant.lane.blocked_drop_v if battery_a > 0.0 and plant.state.low_open == 1 else 0.0


@fused
def charges_at(case, net_a):  # type: ignore[no-untyped-def]
    """Whether the battery is on its charging path: where it is shut one way, it has the other only."""
    return case.cut or (net_a > 0.0 and not case.blocked)


@compiled
def halved_voltage(case):  # type: ignore[no-untyped-def]
    """Bus voltage where nothing regulates, by bisection: for an all but empty battery, from which Newton leaps away."""
    low_v, high_v = NEARLY_NOTHING_V, case.down_v if case.blocked else HIGHEST_SHARE * case.inner_v
    for _ in range(MOST_TURNS):
        middle = 0.5 * (low_v + high_v)
        if side_at(case, middle).net_a > taken(case, middle):
            low_v = middle
        else:
            high_v = middle
    return low_v


@fused
def free_voltage(case, start_v):  # type: ignore[no-untyped-def]
    """Bus voltage where nothing regulates and what the bus carries, by Newton's method on U = inner + R·I(U)."""
    ohms, bus_v = case.ohms, start_v
    side = side_at(case, bus_v)
    for _ in range(MOST_TURNS):
        charges = charges_at(case, side.net_a)
        ohm, path_v = (ohms.charging, case.up_v) if charges else (ohms.discharging, case.down_v)
        move = (path_v + ohm * side.net_a - bus_v) / (1.0 - min(ohm * side.slope_a_v, STEEPEST))
        bus_v += move
        if bus_v <= 0.0:
            break
        last = moved_side(side, move, case.lane.pump_loop_ohm)
        if abs(move) < LAST_MOVE_V and last.panel_a >= 0.0:
            return bus_v, last
        if abs(move) < NEAR_V:
            return bus_v, side
        side = side_at(case, bus_v)
    bus_v = halved_voltage(case)
    return bus_v, side_at(case, bus_v)


@fused
def free_circuit(case, start_v):  # type: ignore[no-untyped-def]
    """The circuit in the light where nothing regulates."""
    bus_v, side = free_voltage(case, start_v)
    own_a, net_a = case.own_a, side.net_a
    path_v = case.up_v if charges_at(case, net_a) else case.down_v
    battery_v = bus_v - net_a * case.ohms.lead + (case.inner_v - path_v)
    return Circuit(
        bus_v, battery_v, net_a, side.panel_a, side.pump_a, own_a, 0.0, side.pump_v, False, False, bus_v, 1.0
    )


@compiled
def shut_off_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit in the light with the panel held back altogether."""
    at = dark_circuit(case)
    spare_a = panel_draw(case.lane, case.sky, case.clean, at.bus_v).current_a
    return Circuit(
        at.bus_v, at.battery_v, at.battery_a, 0.0, at.pump_a, at.own_a, spare_a, at.pump_v, False, False, at.bus_v, 1.0
    )


@fused
def held_circuit(case, set_v, side):  # type: ignore[no-untyped-def]
    """The circuit with the bus held at the set voltage: the battery takes what it needs, the panel gives the rest."""
    own_a, need = case.own_a, taken(case, set_v)
    given = need + side.pump_a + own_a
    if given < 0.0:  # even without the panel the bus stays above the set voltage
        return shut_off_circuit(case)
    path_v = case.up_v if need > 0.0 else case.down_v if need < 0.0 else case.inner_v
    battery_v = set_v - need * case.ohms.lead + (case.inner_v - path_v) if need != 0.0 else case.inner_v
    spare_a = side.panel_a - given
    return Circuit(set_v, battery_v, need, given, side.pump_a, own_a, spare_a, side.pump_v, True, False, set_v, 1.0)


@compiled
def dead_circuit(inner_v):  # type: ignore[no-untyped-def]
    """Battery switched off by its protection circuit and no sun: the bus is dead, the controller too."""
    return Circuit(0.0, inner_v, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, False, 0.0, 1.0)


@compiled
def batteryless_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit with the battery cut off altogether: by day the panel holds the bus for the controller alone."""
    lane, set_v = case.lane, case.lane.float_v
    given = panel_draw(lane, case.sky, case.clean, set_v)
    spare_a = given.current_a - lane.own_a
    if case.sky.lit == 0 or spare_a < 0.0:
        return dead_circuit(case.inner_v)
    own_a = lane.own_a
    return Circuit(set_v, case.inner_v, 0.0, own_a, 0.0, own_a, spare_a, set_v, True, True, set_v, 1.0)


@fused
def set_voltage(plant, sky):  # type: ignore[no-untyped-def]
    """The bus voltage that charging may not exceed now, V."""
    lane = plant.lane
    charge_v = lane.equalise_v if plant.inputs.equalise == 1 else lane.absorption_v
    shift_v = lane.set_shift_v_per_c * (sky.cell_c - controller.SET_AT_C)
    return controller.set_voltage(plant.state.stage == FLOATING, charge_v, lane.float_v, shift_v)


@fused
def lit_circuit(plant, case):  # type: ignore[no-untyped-def]
    """Voltages and currents in the light: refused, held, without the battery, or free."""
    set_v, start_v = set_voltage(plant, case.sky), max(plant.state.bus_v, LOWEST_START_SHARE * case.inner_v)
    if start_v < set_v and not (case.blocked or case.cut):  # as a rule it is free then, and that is soon found out
        free = free_circuit(case, start_v)
        if free.bus_v < set_v:
            return free
    at_set = side_at(case, set_v)
    floor_v = case.lane.pump_min_v if case.cut else case.down_v  # where the battery would come in, or the pump stalls
    if case.blocked and set_v > floor_v and (at_set.net_a >= 0.0 or side_at(case, floor_v).net_a > 0.0):
        return refused_circuit(plant.state, case, set_v, at_set, floor_v)
    if at_set.net_a >= taken(case, set_v):
        return held_circuit(case, set_v, at_set)
    if case.cut and (case.blocked or side_at(case, case.up_v).net_a <= 0.0):
        if case.blocked or side_at(case, floor_v).net_a <= 0.0:
            return dead_circuit(case.inner_v)
        bus_v = panel_only_voltage(case, floor_v, case.up_v)
        return alone_circuit(case, bus_v, side_at(case, bus_v), bus_v, False)
    return free_circuit(case, start_v)


@fused
def own_draw(lane, sky, clean, down_v, ohms):  # type: ignore[no-untyped-def]
    """What the controller and the battery's heater draw, A: no more than comes to a bus that has broken down.

    A battery that is all but empty in the cold gives next to nothing; a constant current would pull it below zero.
    """
    own_a = lane.own_a + sky.heater_a
    if own_a * ohms.discharging <= down_v:
        return own_a
    given_a = panel_draw(lane, sky, clean, NEARLY_NOTHING_V).current_a if sky.lit == 1 else 0.0
    return min(own_a, down_v / ohms.discharging + given_a)


@compiled
def circuit(plant, sky, at, turning):  # type: ignore[no-untyped-def]
    """Voltages and currents of the whole system at one moment: a record of PLANT under one of SKY."""
    lane, state = plant.lane, plant.state
    inner_v, ohms = inner_voltage(lane, at), ohms_at(lane, sky, at.soc)
    blocked, cut = charge_blocked(state), state.low_open == 1
    up_v = inner_v + (lane.blocked_drop_v if cut else 0.0)
    down_v = inner_v - (lane.blocked_drop_v if blocked else 0.0)
    own_a = own_draw(lane, sky, plant.inputs.clean, down_v, ohms)
    case = Case(lane, sky, plant.inputs.clean, turning, own_a, inner_v, up_v, down_v, blocked, cut, ohms)
    if plant.inputs.battery_faults > 0:
        return batteryless_circuit(case)
    if sky.lit == 0:
        return dead_circuit(inner_v) if cut else dark_circuit(case)
    return lit_circuit(plant, case)
