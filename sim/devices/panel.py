"""The panel as its controller meets it: a current at a voltage."""

from __future__ import annotations

from typing import NamedTuple

from sim.compiled import compiled


class Draw(NamedTuple):
    """A current in A and its slope against the voltage at which it was asked, in A/V."""

    current_a: float
    slope_a_v: float


@compiled
def direct_current(bus_v, current_a, first_v, step_v, loop_ohm, drop_v):  # type: ignore[no-untyped-def]
    """Current of a direct-coupled array into a bus: I where I = I_pv(bus_v + I·loop_ohm + drop_v).

    ``current_a`` (m,) holds the array's current at ``first_v + k·step_v``. Seen from the bus each node k lies at
    U_k = V_k − I_k·loop_ohm − drop_v, which rises with k, so the piecewise-linear curve is solved exactly.

    >>> import numpy as np
    >>> round(direct_current(13.0, np.array([5.0, 4.0, 0.0]), 12.0, 2.0, 0.0, 0.0).current_a, 6)
    4.5
    """
    last = current_a.shape[0] - 2
    k = int((bus_v + drop_v - first_v) / step_v)
    k = min(max(k, 0), last)
    low_v = first_v + k * step_v - current_a[k] * loop_ohm - drop_v
    high_v = first_v + (k + 1) * step_v - current_a[k + 1] * loop_ohm - drop_v
    while high_v <= bus_v and k < last:
        k += 1
        low_v = high_v
        high_v = first_v + (k + 1) * step_v - current_a[k + 1] * loop_ohm - drop_v
    slope = (current_a[k + 1] - current_a[k]) / (high_v - low_v)
    current = current_a[k] + slope * (bus_v - low_v)
    if current <= 0.0:
        return Draw(0.0, 0.0)
    return Draw(current, slope)


@compiled
def tracked_power_w(p_mp_w, v_mp_v, loop_ohm):  # type: ignore[no-untyped-def]
    """Maximum power less what the panel cable turns into heat, W: V·I − I²·R at I = P/V.

    Through a cable that would take more than half of it the tracker draws no more than V/2R, which gives V²/4R.

    >>> tracked_power_w(100.0, 20.0, 0.1), tracked_power_w(100.0, 20.0, 10.0)
    (97.5, 10.0)
    """
    if v_mp_v <= 0.0:
        return 0.0
    current = p_mp_w / v_mp_v
    if 2.0 * current * loop_ohm > v_mp_v:
        current = v_mp_v / (2.0 * loop_ohm)
    return current * (v_mp_v - current * loop_ohm)


@compiled
def tracked_current(bus_v, power_w):  # type: ignore[no-untyped-def]
    """Current of a maximum-power tracker into a bus: I = P/V.

    >>> tracked_current(12.5, 100.0)
    Draw(current_a=8.0, slope_a_v=-0.64)
    """
    current = power_w / bus_v
    return Draw(current, -current / bus_v)
