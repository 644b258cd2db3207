"""A panel's single-diode curve, followed along the voltage of its diode, in which it has a closed form.

I(u) = I_L − I_0·(e^(u/a) − 1) − u/R_sh at the terminals' voltage V(u) = u − I(u)·R_s; u is the voltage across the
diode: Bishop 1988, Solar Cells 25, 73–89.
"""

import math
from typing import NamedTuple

from sim.compiled import compiled, fused

STEPS = 60  # at most; it takes one to four
CLOSE = 1e-7  # of a step of Newton's method against the thermal voltage: what the next one would change is rounding
CLOSE_CUBIC = 3e-5  # the same where an error shrinks to its third power


class Curve(NamedTuple):
    """An hour's light and dark current, A; series resistance, Ω; shunt conductance, S; and 1/(n·N_s·V_th), 1/V."""

    light_a: float
    dark_a: float
    series_ohm: float
    shunt_s: float
    per_v: float


class Place(NamedTuple):
    """A place on a curve: the diode's voltage, the current, and u's first and second derivative by the terminals' V."""

    diode_v: float
    current_a: float
    rise: float
    turn_per_v: float


class Flow(NamedTuple):
    """A current, its slope and the bend of that against the voltage of the diode: A, A/V and A/V²."""

    current_a: float
    slope_a_v: float
    bend_a_v2: float


@fused
def flow_at(curve, diode_v):  # type: ignore[no-untyped-def]
    """The current at a voltage of the diode.

    >>> flow_at(Curve(5.0, 0.0, 0.5, 0.01, 1.0), 10.0)
    Flow(current_a=4.9, slope_a_v=-0.01, bend_a_v2=-0.0)
    """
    grown_a = curve.dark_a * math.exp(diode_v * curve.per_v)
    steep = grown_a * curve.per_v
    current = curve.light_a + curve.dark_a - grown_a - diode_v * curve.shunt_s
    return Flow(current, -steep - curve.shunt_s, -steep * curve.per_v)


@fused
def place_at(curve, voltage_v, start_v):  # type: ignore[no-untyped-def]
    """The place at a voltage of the terminals, by Chebyshev's method from some voltage of the diode.

    u −= f/f'·(1 + L/2) with L = f·f''/f'² and f(u) = u − I(u)·R_s − V; L is kept within ±1, far from the answer.

    >>> place_at(Curve(5.0, 0.0, 0.5, 0.0, 1.0), 7.5, 20.0)
    Place(diode_v=10.0, current_a=5.0, rise=1.0, turn_per_v=-0.0)
    """
    u = start_v
    for _ in range(STEPS):
        flow = flow_at(curve, u)
        steep = 1.0 - curve.series_ohm * flow.slope_a_v
        rise = 1.0 / steep
        turn = curve.series_ohm * flow.bend_a_v2 * rise * rise
        first = (u - flow.current_a * curve.series_ohm - voltage_v) * rise
        step = first * (1.0 - 0.5 * min(max(first * turn * steep, -1.0), 1.0))
        u -= step
        if abs(step) * curve.per_v < CLOSE_CUBIC:
            break
    return Place(u, flow.current_a - step * (flow.slope_a_v - 0.5 * step * flow.bend_a_v2), rise, turn * rise)


@compiled
def open_circuit_v(curve):  # type: ignore[no-untyped-def]
    """The voltage without current, by Newton's method from that without a shunt, a·ln(1 + I_L/I_0).

    >>> round(open_circuit_v(Curve(1.0, 1.0, 0.5, 0.0, 1.0)), 6)  # ln 2
    0.693147
    """
    u = math.log1p(curve.light_a / curve.dark_a) / curve.per_v
    for _ in range(STEPS):
        flow = flow_at(curve, u)
        step = flow.current_a / flow.slope_a_v
        u -= step
        if abs(step) * curve.per_v < CLOSE:
            break
    return u


@compiled
def best_diode_v(curve, open_v):  # type: ignore[no-untyped-def]
    """The diode's voltage at maximum power, where d(V·I)/du = 0, by Newton's method between bounds that close in.

    >>> round(best_diode_v(Curve(5.0, 0.0, 0.0, 0.1, 1.0), 50.0), 9)  # a straight line: half of it
    25.0
    """
    low, high, u = 0.0, open_v, 0.85 * open_v
    for _ in range(STEPS):
        current, slope, bend = flow_at(curve, u)
        voltage, rise = u - current * curve.series_ohm, 1.0 - curve.series_ohm * slope
        growth = rise * current + voltage * slope
        low, high = (u, high) if growth > 0.0 else (low, u)
        step = growth / (2.0 * rise * slope + bend * (voltage - curve.series_ohm * current))
        u = u - step if low <= u - step <= high else 0.5 * (low + high)
        if abs(step) * curve.per_v < CLOSE:
            break
    return u
