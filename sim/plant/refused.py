"""The circuit while the battery takes no charge: the panel carries the load, in pulses or at a held voltage."""

from __future__ import annotations

from sim.compiled import compiled, fused
from sim.plant.bus import Circuit, dark_circuit, pump_draw, pushed, side_at
from sim.plant.records import HOLDS

NEAR_V = 1e-5  # a search ends when it moves by less
MOST_TURNS = 40


@compiled
def narrowed(low_v, high_v, at_v, net_a, slope_a_v):  # type: ignore[no-untyped-def]
    """A bracket of the voltage at which a falling net current is none, narrowed by one look, and where to look next.

    Newton's step, or the middle where that would leave the bracket.

    >>> narrowed(10.0, 20.0, 15.0, -4.0, -2.0), narrowed(10.0, 20.0, 15.0, 4.0, 0.5)
    ((10.0, 15.0, 13.0), (15.0, 20.0, 17.5))
    """
    if net_a > 0.0:
        low_v = at_v
    else:
        high_v = at_v
    next_v = at_v - net_a / slope_a_v if slope_a_v < 0.0 else low_v
    return low_v, high_v, next_v if low_v < next_v < high_v else 0.5 * (low_v + high_v)


@compiled
def panel_only_voltage(case, low_v, high_v):  # type: ignore[no-untyped-def]
    """Bus voltage where the panel just carries the load and the battery takes nothing, between two voltages."""
    at_v = high_v
    for _ in range(MOST_TURNS):
        given, drawn, before_v = pushed(case, at_v), pump_draw(case.lane, case.turning, at_v, 0.0), at_v
        net_a, slope = given.current_a - drawn.current_a - case.own_a, given.slope_a_v - drawn.slope_a_v
        low_v, high_v, at_v = narrowed(low_v, high_v, at_v, net_a, slope)
        if abs(at_v - before_v) < NEAR_V:
            break
    return at_v


@fused
def alone_circuit(case, bus_v, side, peak_v, refused):  # type: ignore[no-untyped-def]
    """The circuit while the panel carries the load alone and the battery has no part in it, with peaks or none."""
    own_a, given = case.own_a, side.pump_a + case.own_a
    spare = max(side.panel_a - given, 0.0)
    return Circuit(
        bus_v, case.inner_v, 0.0, given, side.pump_a, own_a, spare, side.pump_v, refused, refused, peak_v, 1.0
    )


@fused
def peak_voltage(state, case, set_v):  # type: ignore[no-untyped-def]
    """Where the panel's push meets the load above the set voltage, V: sought once an hour for either state of the pump.

    Nothing that it follows from changes within an hour.
    """
    k = 1 if case.turning else 0
    if state.peaks_v[k] == 0.0:
        state.peaks_v[k] = panel_only_voltage(case, set_v, max(case.sky.open_v - case.lane.series_drop_v, set_v))
    return max(state.peaks_v[k], set_v)


@fused
def pulsing_circuit(state, case, set_v, at_set):  # type: ignore[no-untyped-def]
    """The circuit at a controller that holds the mean of its bus by pulses.

    While the panel is on, nothing takes its current but the load, and the bus goes up to where they meet; while it is
    off, the battery carries the load if it can. Where it gives nothing, capacitors fill the gaps.
    """
    high_v = peak_voltage(state, case, set_v)
    if not case.cut and set_v < high_v:
        at = dark_circuit(case)
        if at.bus_v < set_v:
            return helped_circuit(case, set_v, at_set, high_v, at)
    return alone_circuit(case, set_v, at_set, high_v, True)


@fused
def helped_circuit(case, set_v, at_set, high_v, at):  # type: ignore[no-untyped-def]
    """The circuit with the battery's circuit ``at`` in the gaps between pulses up to ``high_v``.

    Currents of pump and panel are powers over the mean voltage, so that the books close.
    """
    own_a, share = case.own_a, (high_v - set_v) / (high_v - at.bus_v)
    high_a = pump_draw(case.lane, case.turning, high_v, 0.0).current_a
    pump_a = ((1.0 - share) * high_v * high_a + share * at.bus_v * at.pump_a) / set_v
    given = (1.0 - share) * high_v * (high_a + own_a) / set_v
    spare, battery_a = max(at_set.panel_a - given, 0.0), share * at.battery_a
    return Circuit(
        set_v, at.battery_v, battery_a, given, pump_a, own_a, spare, at_set.pump_v, True, True, high_v, share
    )


@fused
def refused_circuit(state, case, set_v, at_set, floor_v):  # type: ignore[no-untyped-def]
    """The circuit when the panel could charge and the battery does not take it: the panel carries the load."""
    if at_set.net_a < 0.0:
        bus_v = panel_only_voltage(case, floor_v, set_v)
        return alone_circuit(case, bus_v, side_at(case, bus_v), bus_v, True)
    if case.lane.on_refusal == HOLDS:
        return alone_circuit(case, set_v, at_set, set_v, True)
    return pulsing_circuit(state, case, set_v, at_set)
