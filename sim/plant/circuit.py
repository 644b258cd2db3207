"""The devices in physical order: voltages and currents of the whole system at one moment.

This module alone composes the devices; it works on the records of :mod:`sim.plant.records`.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from sim.compiled import compiled, fused
from sim.devices import battery, controller, panel, pump
from sim.plant.records import DIRECT, FLOATING, MPPT

NEAR_V = 1e-5  # Newton's method ends when it moves the bus by less
MOST_TURNS = 40  # of Newton's method and of bisection
STEEPEST = 0.5  # of the battery's line against the rest of the circuit, so that Newton's method does not leap
RESISTOR_SHARE = 0.8  # of its lowest voltage, below which a regulated pump is taken as a resistor
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
    """What a circuit is solved for: the lane, its sky, the share of light that dirt leaves, and the battery."""

    lane: Any
    sky: Any
    clean: float
    turning: bool
    inner_v: float
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
    net = given.current_a - drawn.current_a - case.lane.own_a
    return Side(given.current_a, drawn.current_a, drawn.pump_v, net, given.slope_a_v - drawn.slope_a_v)


@fused
def ohms_at(lane, sky, soc):  # type: ignore[no-untyped-def]
    """The battery's resistances at a charge and temperature, leads included."""
    base = battery.ohmic_ohm(soc, lane.r0_ohm * sky.ohm_factor, lane.r0_rise)
    charging = battery.charging_ohm(soc, base, lane.acceptance_ohm)
    discharging = battery.discharging_ohm(soc, base, lane.scale * sky.exhaustion_ohm)
    return Ohms(charging + lane.lead_ohm, discharging + lane.lead_ohm, lane.lead_ohm)


@fused
def inner_voltage(lane, at):  # type: ignore[no-untyped-def]
    """Rest voltage plus hysteresis and polarisation, V."""
    return lane.blocks * battery.rest_voltage(at.soc, lane.rest_v) + lane.hysteresis_v * at.side + at.v1_v


@compiled
def charge_blocked(lane, state, sky):  # type: ignore[no-untyped-def]
    """Whether the protection circuit takes no charge: tripped at the top, or a cell too cold."""
    return state.high_open == 1 or sky.cell_c < lane.coldest_charge_c


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
def dark_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit without the panel: the battery's own resistance is just more cable, so the pump's law solves it."""
    lane, ohms = case.lane, case.ohms
    open_v = case.inner_v - lane.own_a * ohms.discharging
    drawn = pump_draw(lane, case.turning, open_v, ohms.discharging)
    bus_v = open_v - drawn.current_a * ohms.discharging
    battery_a = -drawn.current_a - lane.own_a
    battery_v = bus_v - battery_a * ohms.lead
    return Circuit(bus_v, battery_v, battery_a, 0.0, drawn.current_a, lane.own_a, 0.0, drawn.pump_v, False, False)


@fused
def free_circuit(case, start_v):  # type: ignore[no-untyped-def]
    """The circuit in the light where nothing regulates, by Newton's method on U = inner + R·I(U)."""
    own_a, ohms, bus_v = case.lane.own_a, case.ohms, start_v
    side = side_at(case, bus_v)
    for _ in range(MOST_TURNS):
        ohm = ohms.charging if side.net_a > 0.0 else ohms.discharging
        move = (case.inner_v + ohm * side.net_a - bus_v) / (1.0 - min(ohm * side.slope_a_v, STEEPEST))
        bus_v += move
        if abs(move) < NEAR_V:
            break
        side = side_at(case, bus_v)
    battery_v = bus_v - side.net_a * ohms.lead
    return Circuit(bus_v, battery_v, side.net_a, side.panel_a, side.pump_a, own_a, 0.0, side.pump_v, False, False)


@compiled
def shut_off_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit in the light with the panel held back altogether."""
    at = dark_circuit(case)
    spare_a = panel_draw(case.lane, case.sky, case.clean, at.bus_v).current_a
    return Circuit(
        at.bus_v, at.battery_v, at.battery_a, 0.0, at.pump_a, at.own_a, spare_a, at.pump_v, at.regulated, at.refused
    )


@fused
def held_circuit(case, set_v, side):  # type: ignore[no-untyped-def]
    """The circuit with the bus held at the set voltage: the battery takes what it needs, the panel gives the rest."""
    own_a, ohms = case.lane.own_a, case.ohms
    over = set_v - case.inner_v
    need = over / (ohms.charging if over > 0.0 else ohms.discharging)
    given = need + side.pump_a + own_a
    if given < 0.0:  # even without the panel the bus stays above the set voltage
        return shut_off_circuit(case)
    battery_v = set_v - need * ohms.lead
    spare_a = side.panel_a - given
    return Circuit(set_v, battery_v, need, given, side.pump_a, own_a, spare_a, side.pump_v, True, False)


@compiled
def spare_panel(case, side):  # type: ignore[no-untyped-def]
    """Whether the panel has more than the load takes, at the set voltage or at the battery's own."""
    return side.net_a >= 0.0 or side_at(case, case.inner_v).net_a > 0.0


@compiled
def refused_circuit(case, set_v, side):  # type: ignore[no-untyped-def]
    """The circuit when the panel could charge and the battery does not take it: the panel carries the load alone."""
    bus_v, own_a = set_v, case.lane.own_a
    if side.net_a < 0.0:
        bus_v = panel_only_voltage(case, case.inner_v, set_v)
        side = side_at(case, bus_v)
    given = side.pump_a + own_a
    spare = max(side.panel_a - given, 0.0)
    return Circuit(bus_v, case.inner_v, 0.0, given, side.pump_a, own_a, spare, side.pump_v, True, True)


@compiled
def dead_circuit(inner_v):  # type: ignore[no-untyped-def]
    """Battery switched off by its protection circuit and no sun: the bus is dead, the controller too."""
    return Circuit(0.0, inner_v, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, False, False)


@compiled
def batteryless_circuit(case):  # type: ignore[no-untyped-def]
    """The circuit with the battery cut off altogether: by day the panel holds the bus for the controller alone."""
    lane, set_v = case.lane, case.lane.float_v
    given = panel_draw(lane, case.sky, case.clean, set_v)
    spare_a = given.current_a - lane.own_a
    if case.sky.lit == 0 or spare_a < 0.0:
        return dead_circuit(case.inner_v)
    return Circuit(set_v, case.inner_v, 0.0, lane.own_a, 0.0, lane.own_a, spare_a, set_v, True, True)


@fused
def set_voltage(plant, sky):  # type: ignore[no-untyped-def]
    """The bus voltage that charging may not exceed now, V."""
    lane = plant.lane
    charge_v = lane.equalise_v if plant.inputs.equalise == 1 else lane.absorption_v
    return controller.set_voltage(plant.state.stage == FLOATING, charge_v, lane.float_v, sky.set_shift_v)


@fused
def lit_circuit(plant, case):  # type: ignore[no-untyped-def]
    """Voltages and currents in the light: refused, held or free."""
    state, inner_v, ohms = plant.state, case.inner_v, case.ohms
    set_v = set_voltage(plant, case.sky)
    at_set = side_at(case, set_v)
    if charge_blocked(case.lane, state, case.sky) and set_v > inner_v and spare_panel(case, at_set):
        return refused_circuit(case, set_v, at_set)
    if inner_v + (ohms.charging if inner_v < set_v else ohms.discharging) * at_set.net_a >= set_v:
        return held_circuit(case, set_v, at_set)
    if state.low_open == 1 and side_at(case, inner_v).net_a <= 0.0:
        return dead_circuit(inner_v)
    return free_circuit(case, max(state.bus_v, LOWEST_START_SHARE * inner_v))


@fused
def circuit(plant, sky, at, turning):  # type: ignore[no-untyped-def]
    """Voltages and currents of the whole system at one moment: a record of PLANT under one of SKY."""
    lane, inputs = plant.lane, plant.inputs
    case = Case(lane, sky, inputs.clean, turning, inner_voltage(lane, at), ohms_at(lane, sky, at.soc))
    if inputs.battery_faults > 0:
        return batteryless_circuit(case)
    if sky.lit == 0:
        return dead_circuit(case.inner_v) if plant.state.low_open == 1 else dark_circuit(case)
    return lit_circuit(plant, case)
