"""The pump's electrical side, asked at the controller's load terminals; the cable to the pump is between.

A *regulated* pump holds its power; a *direct* one follows the affinity laws (flow ∝ V, head ∝ V², power ∝ V³).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from sim.compiled import compiled


class PumpDraw(NamedTuple):
    """Current in A, its slope against the bus voltage in A/V, and the voltage left at the pump in V."""

    current_a: float
    slope_a_v: float
    pump_v: float


@compiled
def regulated(bus_v, power_w, loop_ohm, lowest_v):  # type: ignore[no-untyped-def]
    """Constant power P behind a cable R: I = 2P/(U + √(U² − 4RP)), at most the U/2R that the cable lets through.

    Below ``lowest_v`` the current falls with the bus, as a resistor's: the pump has stalled long before.

    >>> draw = regulated(12.0, 24.0, 0.0, 6.0)
    >>> draw.current_a, round(draw.pump_v, 6)
    (2.0, 12.0)
    >>> draw = regulated(12.0, 24.0, 0.5, 6.0)
    >>> round(draw.current_a * draw.pump_v, 9)
    24.0
    >>> regulated(3.0, 24.0, 0.0, 6.0).current_a, regulated(12.0, 240.0, 1.0, 6.0).current_a
    (2.0, 6.0)
    """
    asked_v = max(bus_v, lowest_v)
    squared = asked_v * asked_v - 4.0 * loop_ohm * power_w
    if squared > 1e-6:
        root = math.sqrt(squared)
        current = 2.0 * power_w / (asked_v + root)
        slope = -current / root
    else:
        current = asked_v / (2.0 * loop_ohm)
        slope = 1.0 / (2.0 * loop_ohm)
    if bus_v < lowest_v:
        slope = current / lowest_v
        current = slope * max(bus_v, 0.0)
    return PumpDraw(current, slope, bus_v - current * loop_ohm)


@compiled
def direct(bus_v, power_w, at_v, loop_ohm):  # type: ignore[no-untyped-def]
    """Affinity laws: I = P/V_r·(V/V_r)² at the pump's voltage V, which is the bus less the cable's drop.

    Source: affinity laws, Crane TP-410 worked example 7.33 (power with the cube of speed).

    >>> round(direct(14.4, 12.0, 12.0, 0.0).current_a * 14.4 / 12.0, 4)
    1.728
    """
    a = power_w / at_v**3
    if bus_v <= 0.0:
        return PumpDraw(0.0, 0.0, 0.0)
    root = math.sqrt(1.0 + 4.0 * a * loop_ohm * bus_v)
    pump_v = 2.0 * bus_v / (1.0 + root)
    return PumpDraw(a * pump_v * pump_v, 2.0 * a * pump_v / root, pump_v)
