"""What hangs on the bus: panel and pump by the voltage there, and the battery's path to it.

This module alone composes the devices; :mod:`sim.plant.circuit` finds the voltage at which they agree.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from sim.compiled import compiled, fused
from sim.devices import battery, panel, pump
from sim.plant.records import CURVE_NODES, DIRECT, MPPT

LEAST_CHORD_V = 1e-5  # a panel's last node this near to its open circuit is as good as there
RESISTOR_SHARE = 0.8  # of its lowest voltage, below which a regulated pump is taken as a resistor


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
    """What the bus carries at one voltage: panel, pump and their balance, with the slopes of panel and balance, A/V."""

    panel_a: float
    pump_a: float
    pump_v: float
    net_a: float
    slope_a_v: float
    panel_slope_a_v: float


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
def tracks(lane, sky, bus_v):  # type: ignore[no-untyped-def]
    """Whether the controller holds the panel at its best voltage, which must be above the bus's."""
    return lane.tracking == MPPT and sky.v_mp_v > bus_v


@fused
def panel_draw(lane, sky, clean, bus_v):  # type: ignore[no-untyped-def]
    """The panel's current into the bus, by the kind of controller, within its limit."""
    tracked = panel.Draw(0.0, 0.0)
    if tracks(lane, sky, bus_v):
        power = panel.tracked_power_w(sky.p_mp_w * clean, sky.v_mp_v, lane.panel_loop_ohm) * lane.efficiency
        tracked = panel.tracked_current(bus_v, power)
    else:
        loop_ohm = lane.panel_loop_ohm * clean  # a dirty panel is a smaller one: I/clean through clean·R
        given = panel.direct_current(bus_v, sky.current_a, sky.first_v, sky.step_v, loop_ohm, lane.series_drop_v)
        tracked = panel.Draw(given.current_a * clean, given.slope_a_v * clean)
    if tracked.current_a > lane.max_charge_a:
        return panel.Draw(lane.max_charge_a, 0.0)
    return tracked


@compiled
def pushed(case, bus_v):  # type: ignore[no-untyped-def]
    """What the panel pushes into a bus that nobody holds, with its slope: past its last node a chord to zero."""
    sky, drop_v = case.sky, case.lane.series_drop_v
    last_v, open_v = sky.first_v + (CURVE_NODES - 1) * sky.step_v - drop_v, sky.open_v - drop_v
    if bus_v <= last_v or open_v - last_v < LEAST_CHORD_V:
        return panel_draw(case.lane, sky, case.clean, bus_v)
    slope = -panel_draw(case.lane, sky, case.clean, last_v).current_a / (open_v - last_v)
    return panel.Draw(max(slope * (bus_v - open_v), 0.0), slope)


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
    slope = given.slope_a_v - drawn.slope_a_v
    return Side(given.current_a, drawn.current_a, drawn.pump_v, net, slope, given.slope_a_v)


@fused
def moved_side(side, move_v, loop_ohm):  # type: ignore[no-untyped-def]
    """The same a little further, along straight lines."""
    panel_slope = side.panel_slope_a_v
    pump_move = (panel_slope - side.slope_a_v) * move_v
    panel_a, pump_a = side.panel_a + panel_slope * move_v, side.pump_a + pump_move
    pump_v = side.pump_v + move_v - pump_move * loop_ohm
    return Side(panel_a, pump_a, pump_v, side.net_a + side.slope_a_v * move_v, side.slope_a_v, panel_slope)


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
