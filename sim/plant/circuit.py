"""The devices in physical order: voltages and currents of the whole system at one moment.

This module alone composes the devices; it works on the records of :mod:`sim.plant.records`.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from sim.compiled import compiled, fused
from sim.devices import battery, controller, panel, pump
from sim.plant.records import CURVE_NODES, DIRECT, FLOATING, HOLDS, MPPT

NEAR_V = 1e-5  # Newton's method ends when it moves the bus by less
MOST_TURNS = 40  # of Newton's method and of bisection
STEEPEST = 0.5  # of the battery's line against the rest of the circuit, so that Newton's method does not leap
RESISTOR_SHARE = 0.8  # of its lowest voltage, below which a regulated pump is taken as a resistor
LOWEST_SHARE, HIGHEST_SHARE = 0.05, 2.0  # of the inner voltage, between which the bus is sought by bisection
LOWEST_START_SHARE = 0.5  # of the inner voltage, where the search for the bus begins at the lowest


class Charge(NamedTuple):
    """The inner state of a battery: charge 0…1, polarisation in V, and side of the hysteresis −1…1."""

    soc: float
    v1_v: float
    side: float


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
    peak_v: float  # of the bus; above its mean where it pulses
    share: float  # of the time in which the battery carries its current; 1 unless the bus pulses


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


class Case(NamedTuple):
    """What a circuit is solved for: the lane, its sky, the share of light that dirt leaves, and the battery.

    A protection circuit that blocks one way lets the other through a diode: it takes charge from ``up_v`` on, and gives
    below ``down_v``.
    """

    lane: Any
    sky: Any
    clean: float
    turning: bool
    own_a: float  # of the controller, and of the battery's heater
    inner_v: float
    up_v: float
    down_v: float
    blocked: bool  # takes no charge
    cut: bool  # gives none
    ohms: Ohms


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
    return pump.regulated(source_v, lane.pump_w, loop_ohm, RESISTOR_SHARE * lane.pump_min_v)


@fused
def side_at(case, bus_v):  # type: ignore[no-untyped-def]
    """Everything but the battery, in the light, at one bus voltage."""
    drawn = pump_draw(case.lane, case.turning, bus_v, 0.0)
    given = panel_draw(case.lane, case.sky, case.clean, bus_v)
    net = given.current_a - drawn.current_a - case.own_a
    return Side(given.current_a, drawn.current_a, drawn.pump_v, net, given.slope_a_v - drawn.slope_a_v)


@fused
def ohms_at(lane, sky, soc):  # type: ignore[no-untyped-def]
    """The battery's resistances at a charge and temperature, leads included."""
    base = battery.ohmic_ohm(soc, lane.r0_ohm * sky.ohm_factor, lane.r0_rise)
    charging = battery.charging_ohm(soc, base, lane.acceptance_ohm)
    discharging = battery.discharging_ohm(soc, base, lane.exhaustion_ohm, lane.scale * sky.cold_ohm)
    return Ohms(charging + lane.lead_ohm, discharging + lane.lead_ohm, lane.lead_ohm)


@fused
def inner_voltage(lane, at):  # type: ignore[no-untyped-def]
    """Rest voltage plus hysteresis and polarisation, V."""
    return lane.blocks * battery.rest_voltage(at.soc, lane.rest_v) + lane.hysteresis_v * at.side + at.v1_v


@compiled
def charge_blocked(lane, state, sky):  # type: ignore[no-untyped-def]
    """Whether the protection circuit takes no charge: tripped at the top, or a cell too cold, or not yet warm again."""
    if sky.cell_c < lane.coldest_charge_c or state.high_open == 1:
        return True
    return state.frozen == 1 and sky.cell_c < lane.charge_release_c


@compiled
def blocked_v(plant, sky, battery_a):  # type: ignore[no-untyped-def]
    """What is lost across a protection circuit that blocks the other way, V, with the sign of the current."""
    if battery_a < 0.0 and charge_blocked(plant.lane, plant.state, sky):
        return -plant.lane.blocked_drop_v
    return plant.lane.blocked_drop_v if battery_a > 0.0 and plant.state.low_open == 1 else 0.0


@compiled
def panel_only_voltage(case, low_v, high_v):  # type: ignore[no-untyped-def]
    """Bus voltage where the panel just carries the load and the battery takes nothing, by bisection."""
    for _ in range(MOST_TURNS):
        middle = 0.5 * (low_v + high_v)
        if side_at(case, middle).net_a > 0.0:
            low_v = middle
        else:
            high_v = middle
    return low_v


@fused
def taken(case, bus_v):  # type: ignore[no-untyped-def]
    """What the battery takes at a voltage of the bus, A; negative where it gives."""
    if bus_v > case.up_v:
        return 0.0 if case.blocked else (bus_v - case.up_v) / case.ohms.charging
    if bus_v < case.down_v:
        return 0.0 if case.cut else (bus_v - case.down_v) / case.ohms.discharging
    return 0.0


@fused
def dark_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit without the panel: the battery's own resistance is just more cable, so the pump's law solves it."""
    own_a, ohms = case.own_a, case.ohms
    open_v = case.down_v - own_a * ohms.discharging
    drawn = pump_draw(case.lane, case.turning, open_v, ohms.discharging)
    bus_v = open_v - drawn.current_a * ohms.discharging
    battery_a = -drawn.current_a - own_a
    battery_v = bus_v - battery_a * ohms.lead + (case.inner_v - case.down_v)
    return Circuit(
        bus_v, battery_v, battery_a, 0.0, drawn.current_a, own_a, 0.0, drawn.pump_v, False, False, bus_v, 1.0
    )


@fused
def charges_at(case, net_a):  # type: ignore[no-untyped-def]
    """Whether the battery is on its charging path: where it is shut one way, it has the other only."""
    return case.cut or (net_a > 0.0 and not case.blocked)


@compiled
def halved_voltage(case):  # type: ignore[no-untyped-def]
    """Bus voltage where nothing regulates, by bisection: for an all but empty battery, from which Newton leaps away."""
    low_v, high_v = LOWEST_SHARE * case.inner_v, case.down_v if case.blocked else HIGHEST_SHARE * case.inner_v
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
def alone_circuit(case, bus_v, refused):  # type: ignore[no-untyped-def]
    """The circuit at a voltage where the panel carries the load alone and the battery has no part in it."""
    side, own_a = side_at(case, bus_v), case.own_a
    given = side.pump_a + own_a
    spare = max(side.panel_a - given, 0.0)
    return Circuit(
        bus_v, case.inner_v, 0.0, given, side.pump_a, own_a, spare, side.pump_v, refused, refused, bus_v, 1.0
    )


@compiled
def pushed_a(case, bus_v):  # type: ignore[no-untyped-def]
    """What the panel pushes into a bus that nobody holds, A: its curve, and past its last node a chord to zero."""
    sky, drop_v = case.sky, case.lane.series_drop_v
    last_v, open_v = sky.first_v + (CURVE_NODES - 1) * sky.step_v - drop_v, sky.open_v - drop_v
    given_a = panel_draw(case.lane, sky, case.clean, min(bus_v, last_v)).current_a
    return given_a if bus_v <= last_v else given_a * max(open_v - bus_v, 0.0) / max(open_v - last_v, NEAR_V)


@compiled
def peak_voltage(case, set_v):  # type: ignore[no-untyped-def]
    """Where the panel's push meets the load above the set voltage, V."""
    low_v, high_v = set_v, max(case.sky.open_v, set_v)
    for _ in range(MOST_TURNS):
        middle = 0.5 * (low_v + high_v)
        if pushed_a(case, middle) > pump_draw(case.lane, case.turning, middle, 0.0).current_a + case.own_a:
            low_v = middle
        else:
            high_v = middle
    return low_v


@compiled
def pulsing_circuit(case, set_v, at_set):  # type: ignore[no-untyped-def]
    """The circuit at a controller that holds the mean of its bus by pulses.

    While the panel is on, nothing takes its current but the load, and the bus goes up to where they meet; while it is
    off, the battery carries the load if it can. Currents of pump and panel are powers over the mean voltage, so that
    the books close; where the battery gives nothing, capacitors fill the gaps.
    """
    high_v, own_a, at = peak_voltage(case, set_v), case.own_a, dark_circuit(case)
    calm = alone_circuit(case, set_v, True)
    battery_v, battery_a, panel_a, pump_a, share = case.inner_v, 0.0, calm.panel_a, calm.pump_a, 1.0
    if not case.cut and at.bus_v < set_v < high_v:
        share, high_a = (
            (high_v - set_v) / (high_v - at.bus_v),
            pump_draw(case.lane, case.turning, high_v, 0.0).current_a,
        )
        pump_a = ((1.0 - share) * high_v * high_a + share * at.bus_v * at.pump_a) / set_v
        battery_v, battery_a, panel_a = (
            at.battery_v,
            share * at.battery_a,
            (1.0 - share) * high_v * (high_a + own_a) / set_v,
        )
    spare_a, pump_v = max(at_set.panel_a - panel_a, 0.0), calm.pump_v
    return Circuit(set_v, battery_v, battery_a, panel_a, pump_a, own_a, spare_a, pump_v, True, True, high_v, share)


@compiled
def refused_circuit(case, set_v, at_set, floor_v):  # type: ignore[no-untyped-def]
    """The circuit when the panel could charge and the battery does not take it: the panel carries the load."""
    if at_set.net_a < 0.0:
        return alone_circuit(case, panel_only_voltage(case, floor_v, set_v), True)
    return alone_circuit(case, set_v, True) if case.lane.on_refusal == HOLDS else pulsing_circuit(case, set_v, at_set)


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
    return controller.set_voltage(plant.state.stage == FLOATING, charge_v, lane.float_v, sky.set_shift_v)


@fused
def lit_circuit(plant, case):  # type: ignore[no-untyped-def]
    """Voltages and currents in the light: refused, held, without the battery, or free."""
    set_v = set_voltage(plant, case.sky)
    at_set = side_at(case, set_v)
    floor_v = case.lane.pump_min_v if case.cut else case.down_v  # where the battery would come in, or the pump stalls
    carried = at_set.net_a >= 0.0 or side_at(case, floor_v).net_a > 0.0
    if case.blocked and set_v > floor_v and carried:
        return refused_circuit(case, set_v, at_set, floor_v)
    if at_set.net_a >= taken(case, set_v):
        return held_circuit(case, set_v, at_set)
    if case.cut and (case.blocked or side_at(case, case.up_v).net_a <= 0.0):
        if case.blocked or side_at(case, floor_v).net_a <= 0.0:
            return dead_circuit(case.inner_v)
        return alone_circuit(case, panel_only_voltage(case, floor_v, case.up_v), False)
    return free_circuit(case, max(plant.state.bus_v, LOWEST_START_SHARE * case.inner_v))


@fused
def circuit(plant, sky, at, turning):  # type: ignore[no-untyped-def]
    """Voltages and currents of the whole system at one moment: a record of PLANT under one of SKY."""
    lane, state = plant.lane, plant.state
    inner_v, ohms = inner_voltage(lane, at), ohms_at(lane, sky, at.soc)
    blocked, cut = charge_blocked(lane, state, sky), state.low_open == 1
    up_v = inner_v + (lane.blocked_drop_v if cut else 0.0)
    down_v = inner_v - (lane.blocked_drop_v if blocked else 0.0)
    own_a = lane.own_a + sky.heater_a
    case = Case(lane, sky, plant.inputs.clean, turning, own_a, inner_v, up_v, down_v, blocked, cut, ohms)
    if plant.inputs.battery_faults > 0:
        return batteryless_circuit(case)
    if sky.lit == 0:
        return dead_circuit(inner_v) if cut else dark_circuit(case)
    return lit_circuit(plant, case)
