"""The hard way: the same system integrated second by second, written independently of the kernel.

It shares the kernel's parameters and the hour's I(V) tables and nothing else: no event search, no midpoint, no exact
exponentials, its own circuit solution (plain bisection of the bus voltage), Euler steps of one second.
"""

from __future__ import annotations

from typing import NamedTuple

import numba
import numpy as np


class Year(NamedTuple):
    """What the second-by-second run counted."""

    run_h: float
    starts: float
    disconnects: float
    protection_h: float
    final_soc: float
    charge_ah: float


_jit = numba.njit(nogil=True, error_model="numpy")  # kept in memory only


@_jit
def _rest(lane, soc):  # type: ignore[no-untyped-def]
    at = soc * 100.0
    k = min(int(at), 99)
    return lane.blocks * ((k + 1 - at) * lane.rest_v[k] + (at - k) * lane.rest_v[k + 1])


@_jit
def _panel(lane, sky, bus):  # type: ignore[no-untyped-def]
    """Panel current into the bus; for a direct panel the cable's drop is found by repeated substitution."""
    if sky.lit == 0:
        return 0.0
    if lane.tracking == 1 and sky.v_mp_v > bus:
        full = sky.p_mp_w - (sky.p_mp_w / sky.v_mp_v) ** 2 * lane.panel_loop_ohm
        return min(full * lane.efficiency / bus, lane.max_charge_a)
    given = 0.0
    for _ in range(8):
        at = (bus + given * lane.panel_loop_ohm + lane.series_drop_v - sky.first_v) / sky.step_v
        k = min(max(int(np.floor(at)), 0), sky.current_a.shape[0] - 2)
        found = max(sky.current_a[k] + (at - k) * (sky.current_a[k + 1] - sky.current_a[k]), 0.0)
        if abs(found - given) < 1e-7:
            break
        given = found
    return min(given, lane.max_charge_a)


@_jit
def _pump(lane, bus):  # type: ignore[no-untyped-def]
    """Pump current; the cable's drop is found by repeated substitution."""
    v = bus
    current = 0.0
    for _ in range(40):
        if lane.pump_direct == 1:
            current = lane.pump_w / lane.pump_at_v * (v / lane.pump_at_v) ** 2
        else:
            current = lane.pump_w / max(v, 0.5 * lane.pump_min_v)
        at_pump = bus - current * lane.pump_loop_ohm
        if abs(at_pump - v) < 1e-7:
            break
        v = at_pump
    return current


@_jit
def _load(lane, on, bus):  # type: ignore[no-untyped-def]
    return lane.own_a + (_pump(lane, bus) if on else 0.0)


@_jit
def _surplus(lane, sky, inner, r_in, r_out, on, bus, blocked):  # type: ignore[no-untyped-def]
    take = (bus - inner) / (r_in if bus > inner else r_out)
    if blocked and take > 0.0:
        take = 0.0
    return _panel(lane, sky, bus) - _load(lane, on, bus) - take


@_jit
def _settle(lane, sky, inner, r_in, r_out, on, set_v, blocked, cut, guess):  # type: ignore[no-untyped-def]
    """Bus voltage, battery current and panel current, by bracketing what is left over for the battery."""
    if cut and sky.lit == 0:
        return 0.0, 0.0, 0.0
    if sky.lit == 1 and set_v >= inner and _surplus(lane, sky, inner, r_in, r_out, on, set_v, blocked) >= 0.0:
        take = 0.0 if blocked else (set_v - inner) / r_in
        return set_v, take, take + _load(lane, on, set_v)
    if sky.lit == 1 and set_v < inner and _surplus(lane, sky, inner, r_in, r_out, on, set_v, blocked) >= 0.0:
        take = (set_v - inner) / r_out
        if take + _load(lane, on, set_v) >= 0.0:
            return set_v, take, take + _load(lane, on, set_v)
        bus = guess
        for _ in range(20):
            bus = inner - _load(lane, on, bus) * r_out
        return bus, -_load(lane, on, bus), 0.0
    wide = 1e-4
    low, high = guess - wide, guess + wide
    while low > 0.2 * inner and _surplus(lane, sky, inner, r_in, r_out, on, low, blocked) < 0.0:
        high = low
        wide *= 4.0
        low -= wide
    while high < 2.0 * inner and _surplus(lane, sky, inner, r_in, r_out, on, high, blocked) > 0.0:
        low = high
        wide *= 4.0
        high += wide
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if _surplus(lane, sky, inner, r_in, r_out, on, middle, blocked) > 0.0:
            low = middle
        else:
            high = middle
    bus = 0.5 * (low + high)
    given = _panel(lane, sky, bus)
    net = given - _load(lane, on, bus)
    if blocked and net > 0.0:
        net = 0.0
    return bus, net, given


@_jit
def second_by_second(lane, skies, scheduled, start_soc, days):  # type: ignore[no-untyped-def]
    """Run ``days`` days; ``skies`` (hours,) of SKY, ``scheduled`` (minutes,) whether the schedule lets the pump run."""
    soc, v1, turned, guess = start_soc, 0.0, 0.0, 13.0 * lane.blocks
    latched, floating, cut, topped, stalled = True, False, False, False, False
    held = absorbed = rebulk = 0.0
    open_for = stalled_for = 1e9
    was_lit = False
    last_bus = 99.0
    was_on = True
    run = starts = trips = cut_s = charge = 0.0
    for second in range(days * 86400):
        sky = skies[second // 3600]
        if sky.lit == 1 and not was_lit:
            floating, absorbed = False, 0.0
        was_lit = sky.lit == 1
        base = lane.r0_ohm * sky.ohm_factor * (2.0 - soc if lane.r0_rise == 1.0 else 1.0) + lane.lead_ohm
        r_in = base + lane.acceptance_ohm / max(1.0 - soc, 1e-4)
        r_out = base + lane.scale * sky.exhaustion_ohm / max(soc, 1e-4)
        inner = _rest(lane, soc) + v1 + lane.hysteresis_v * turned
        allowed = scheduled[second // 60] and not (lane.load_mode == 1 and sky.lit == 0)
        if latched and allowed and not cut and not stalled and not was_on and last_bus < lane.pump_start_v:
            stalled, stalled_for = True, 0.0
        on = latched and allowed and not cut and not stalled
        set_v = (lane.float_v if floating else lane.absorption_v) + sky.set_shift_v
        blocked = topped or sky.cell_c < lane.coldest_charge_c
        bus, net, given = _settle(lane, sky, inner, r_in, r_out, on, set_v, blocked, cut, guess)
        last_bus = bus
        if bus > 0.0:
            guess = bus
        battery = bus - net * lane.lead_ohm if bus > 0.0 and not (blocked and net == 0.0) else inner
        if on and not was_on:
            starts += 1.0
        was_on = on
        run += 1.0 if on else 0.0
        cut_s += 1.0 if cut else 0.0
        charge += max(net, 0.0) / 3600.0
        # decisions, for the next second
        past = bus <= lane.off_v if latched else bus >= lane.on_v
        held = held + 1.0 if past else 0.0
        if past and held >= max(lane.off_delay_s if latched else lane.on_delay_s, 1.0):
            latched = not latched
            trips += 0.0 if latched else 1.0
            held = 0.0
        regulated = sky.lit == 1 and abs(bus - set_v) < 1e-9 and not (blocked and net == 0.0)
        if not floating and regulated:
            absorbed += 1.0
            if absorbed >= lane.absorption_s or net < lane.charge_ends_a:
                floating, rebulk = True, 0.0
        elif floating:
            rebulk = rebulk + 1.0 if bus <= lane.recharge_below_v else 0.0
            if rebulk >= 60.0:
                floating, absorbed = False, 0.0
        open_for += 1.0
        stalled_for += 1.0
        if cut and battery >= lane.protect_low_recover_v and open_for >= 60.0:
            cut, open_for = False, 0.0
        elif not cut and battery <= lane.protect_low_v and net < 0.0:
            cut, open_for = True, 0.0
        if topped and battery <= lane.protect_high_recover_v and open_for >= 60.0:
            topped, open_for = False, 0.0
        elif not topped and battery >= lane.protect_high_v and net > 0.0:
            topped, open_for = True, 0.0
        at_pump = bus - _pump(lane, bus) * lane.pump_loop_ohm if on and bus > 0.0 else bus
        if stalled and bus >= lane.pump_start_v and stalled_for >= 10.0:
            stalled, stalled_for = False, 0.0
        elif on and at_pump < lane.pump_min_v and stalled_for >= 10.0:
            stalled, stalled_for = True, 0.0
        kept = net * lane.coulombic if net > 0.0 else net
        moved = (kept - lane.self_discharge_a) / 3600.0 / lane.capacity_ah
        turned += lane.hysteresis_rate * (abs(moved) * (1.0 if moved > 0.0 else -1.0) - abs(moved) * turned)
        soc = min(max(soc + moved, 0.0), 1.0)
        v1 += (net * lane.r1_ohm * sky.ohm_factor - v1) / (lane.tau_s * sky.ohm_factor)
    return Year(run / 3600.0, starts, trips, cut_s / 3600.0, soc, charge)
