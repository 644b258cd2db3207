"""The battery as an equivalent circuit: V = U_rest(charge) + I·R + v1, dv1/dt = (I·R1 − v1)/τ, I positive into it.

Close to full it accepts ever less, close to empty it gives ever less: a resistance that grows as 1/(what is left).
"""

from __future__ import annotations

import math

from sim.compiled import compiled

LEAST_COLD_ROOM = 0.01  # the same for what the cold adds
LEAST_ROOM = 1e-4  # the share of charge below which the resistance at the ends grows no further


@compiled
def rest_voltage(soc, rest_v):  # type: ignore[no-untyped-def]
    """Rest voltage in V at a charge of 0…1, linear between the ``rest_v`` (m,) nodes at 0, 1/(m−1) … 1.

    >>> import numpy as np
    >>> float(rest_voltage(0.25, np.array([12.0, 13.0, 14.0])))
    12.5
    """
    last = rest_v.shape[0] - 1
    x = min(max(soc, 0.0), 1.0) * last
    k = min(int(x), last - 1)
    return rest_v[k] + (x - k) * (rest_v[k + 1] - rest_v[k])


@compiled
def rest_area(soc, rest_v, rest_area_v):  # type: ignore[no-untyped-def]
    """∫ U_rest d(charge) from empty in V; times the capacity in Ah it is the stored energy in Wh.

    >>> import numpy as np
    >>> float(rest_area(0.5, np.array([12.0, 13.0, 14.0]), np.array([0.0, 6.25, 13.0])))
    6.25
    """
    last = rest_v.shape[0] - 1
    x = min(max(soc, 0.0), 1.0) * last
    k = min(int(x), last - 1)
    f = x - k
    return rest_area_v[k] + (f * rest_v[k] + 0.5 * f * f * (rest_v[k + 1] - rest_v[k])) / last


@compiled
def charging_ohm(soc, base_ohm, acceptance_ohm):  # type: ignore[no-untyped-def]
    """Resistance while charging: R0 + A/(1 − soc), so that at a held voltage the current decays exponentially.

    >>> charging_ohm(0.5, 0.01, 0.001)
    0.012
    """
    return base_ohm + acceptance_ohm / max(1.0 - soc, LEAST_ROOM)


@compiled
def discharging_ohm(soc, base_ohm, exhaustion_ohm, cold_ohm):  # type: ignore[no-untyped-def]
    """Resistance while discharging: R0 + A/soc + C/soc³: the voltage breaks down towards empty, sooner at high current.

    C is what the cold adds; its steep law leaves a battery at half charge nearly as it is.

    >>> discharging_ohm(0.5, 0.01, 0.001, 0.001)
    0.02
    """
    return base_ohm + exhaustion_ohm / max(soc, LEAST_ROOM) + cold_ohm / max(soc, LEAST_COLD_ROOM) ** 3


@compiled
def ohmic_ohm(soc, full_ohm, rise):  # type: ignore[no-untyped-def]
    """R0 at a charge: grows by the share ``rise`` from full to empty.

    >>> ohmic_ohm(0.5, 0.006, 1.0)
    0.009
    """
    return full_ohm * (1.0 + rise * (1.0 - soc))


@compiled
def hysteresis_after(side, moved, rate):  # type: ignore[no-untyped-def]
    """The state of the hysteresis (−1 … 1) after a share ``moved`` of the capacity, positive when charging.

    One-state model dh/dq = k·(sign q − h) (Plett, Battery Management Systems vol. 1, 2015, ch. 2.7, from memory).

    >>> hysteresis_after(-1.0, 1.0, 40.0), hysteresis_after(0.3, 0.0, 40.0)
    (1.0, 0.3)
    """
    goal = 1.0 if moved > 0.0 else -1.0
    return goal + (side - goal) * math.exp(-rate * abs(moved))


@compiled
def polarisation_after(v1_v, current_a, r1_ohm, decay):  # type: ignore[no-untyped-def]
    """v1 after a time at constant current, exact; ``decay`` is e^(−dt/τ).

    >>> polarisation_after(0.0, 10.0, 0.01, 0.0)
    0.1
    """
    return current_a * r1_ohm + (v1_v - current_a * r1_ohm) * decay


@compiled
def stored_wh(soc, v1_v, rest, size_ah, c1_farad):  # type: ignore[no-untyped-def]
    """Energy in a battery, Wh: the integral of the rest voltage, and the polarisation's own ½·C1·v1².

    ``rest`` are ``rest_v`` and ``rest_area_v`` of a block, ``size_ah`` its capacity times the blocks in series.

    >>> import numpy as np
    >>> float(stored_wh(0.5, 0.1, (np.array([12.0, 13.0, 14.0]), np.array([0.0, 6.25, 13.0])), 100.0, 7200.0))
    625.01
    """
    return rest_area(soc, rest[0], rest[1]) * size_ah + 0.5 * c1_farad * v1_v * v1_v / 3600.0


@compiled
def polarisation_mean(v1_v, current_a, r1_ohm, decay, dt_s, tau_s):  # type: ignore[no-untyped-def]
    """Mean of v1 over a time at constant current, exact.

    >>> polarisation_mean(0.1, 10.0, 0.01, 0.5, 60.0, 120.0)
    0.1
    """
    settled = current_a * r1_ohm
    return settled + (v1_v - settled) * (1.0 - decay) * tau_s / dt_s


@compiled
def polarisation_heat_ws(v1_v, current_a, r1_ohm, decay, dt_s, tau_s):  # type: ignore[no-untyped-def]
    """Heat in R1 over a time at constant current, ∫ v1²/R1 dt in Ws, exact.

    >>> polarisation_heat_ws(0.1, 10.0, 0.01, 0.5, 60.0, 120.0)
    60.0
    """
    if r1_ohm <= 0.0:
        return 0.0
    settled = current_a * r1_ohm
    rest = v1_v - settled
    once = 2.0 * settled * rest * tau_s * (1.0 - decay)
    twice = rest * rest * 0.5 * tau_s * (1.0 - decay * decay)
    return (settled * settled * dt_s + once + twice) / r1_ohm


@compiled
def charge_rate(current_a, coulombic, self_discharge_a):  # type: ignore[no-untyped-def]
    """Rate at which stored charge changes, A: charging multiplied by the coulombic efficiency, less self-discharge.

    >>> charge_rate(10.0, 0.9, 0.5)
    8.5
    """
    kept = current_a * coulombic if current_a > 0.0 else current_a
    return kept - self_discharge_a


@compiled
def decay_over(dt_s, tau_s):  # type: ignore[no-untyped-def]
    """e^(−dt/τ).

    >>> decay_over(0.0, 120.0)
    1.0
    """
    return math.exp(-dt_s / tau_s)
