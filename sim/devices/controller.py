"""The charge controller's decisions, from what it can see: the voltage at its own terminals and the currents there."""

from __future__ import annotations

from sim.compiled import compiled

SET_AT_C = 25.0  # the battery's temperature at which the set voltages hold as they are


@compiled
def past_threshold(latched, bus_v, off_v, on_v):  # type: ignore[no-untyped-def]
    """Whether the bus is past the threshold that is active now: disconnect while the load is on, else reconnect.

    >>> past_threshold(True, 12.1, 12.2, 13.1), past_threshold(False, 12.9, 12.2, 13.1)
    (True, False)
    """
    return bus_v <= off_v if latched else bus_v >= on_v


@compiled
def set_voltage(floating, charge_v, float_v, shift_v):  # type: ignore[no-untyped-def]
    """The bus voltage that charging may not exceed now, V: the charge's own or float, with the temperature shift.

    >>> set_voltage(False, 14.4, 13.6, -0.1)
    14.3
    """
    return (float_v if floating else charge_v) + shift_v
