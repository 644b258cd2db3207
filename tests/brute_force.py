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


_jit = numba.njit(nogil=True, error_model="numpy", cache=True)  # all that it is made of stands in this file


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
    """Pump current; the cable's drop is found by repeated substitution. A stalled pump is taken as a resistor."""
    lowest = 0.8 * lane.pump_min_v if lane.pump_direct == 0 else 0.0
    asked = max(bus, lowest)
    v = asked
    current = 0.0
    for _ in range(40):
        current = lane.pump_w / v
        if lane.pump_direct == 1:
            current = lane.pump_w / lane.pump_at_v * (v / lane.pump_at_v) ** 2
        at_pump = asked - current * lane.pump_loop_ohm
        if abs(at_pump - v) < 1e-7:
            break
        v = at_pump
    return current * max(bus, 0.0) / lowest if bus < lowest else current


@_jit
def _load(lane, sky, on, bus):  # type: ignore[no-untyped-def]
    return lane.own_a + sky.heater_a + (_pump(lane, bus) if on else 0.0)


class Cells(NamedTuple):
    """The battery: what it stands at seen from the bus, charging and discharging, and which way is shut."""

    inner: float
    up: float
    down: float
    r_in: float
    r_out: float
    blocked: bool
    cut: bool


class At(NamedTuple):
    """A second: bus and its peak, battery's current and the voltage of its cells, whether charge is refused."""

    bus: float
    peak: float
    net: float
    cells_v: float
    refused: bool


@_jit
def _take(cells, bus):  # type: ignore[no-untyped-def]
    if bus > cells.up and not cells.blocked:
        return (bus - cells.up) / cells.r_in
    if bus < cells.down and not cells.cut:
        return (bus - cells.down) / cells.r_out
    return 0.0


@_jit
def _surplus(lane, sky, cells, on, bus):  # type: ignore[no-untyped-def]
    return _panel(lane, sky, bus) - _load(lane, sky, on, bus) - _take(cells, bus)


@_jit
def _at(lane, cells, bus, net, refused):  # type: ignore[no-untyped-def]
    """What the cells stand at behind the leads and whatever is shut one way."""
    across = cells.up - cells.inner if net > 0.0 else cells.down - cells.inner if net < 0.0 else 0.0
    return At(bus, bus, net, bus - net * lane.lead_ohm - across if net != 0.0 else cells.inner, refused)


@_jit
def _on_battery(lane, sky, cells, on):  # type: ignore[no-untyped-def]
    """The battery alone, by repeated halving of its sag; a pump that wants more than comes through gets half."""
    own = lane.own_a + sky.heater_a
    low, high, path = 0.5 * (cells.down - own * cells.r_out), cells.down, cells.r_out + lane.pump_loop_ohm
    if on and lane.pump_direct == 0 and low * low < path * lane.pump_w:
        drawn = low / path
        return _at(lane, cells, 2.0 * low - drawn * cells.r_out, -drawn - own, False)
    while high - low > 1e-7:
        bus = 0.5 * (low + high)
        if (cells.down - bus) / cells.r_out > _load(lane, sky, on, bus):
            low = bus
        else:
            high = bus
    return _at(lane, cells, low, -_load(lane, sky, on, low), False)


@_jit
def _push(lane, sky, bus):  # type: ignore[no-untyped-def]
    """The panel into a bus that nobody holds; the table ends below open circuit, a chord leads there."""
    ends = sky.first_v + (sky.current_a.shape[0] - 1) * sky.step_v - lane.series_drop_v
    if bus <= ends:
        return _panel(lane, sky, bus)
    left = sky.open_v - lane.series_drop_v - bus
    return _panel(lane, sky, ends) * left / (left + bus - ends) if left > 0.0 else 0.0


@_jit
def _pulses(lane, sky, cells, on, set_v):  # type: ignore[no-untyped-def]
    """Panel on, and the bus is where it meets the load; panel off, and the battery has it: set_v is the mean."""
    top, bottom = 90.0, set_v
    while top - bottom > 1e-7:
        middle = 0.5 * (top + bottom)
        if _push(lane, sky, middle) > _load(lane, sky, on, middle):
            bottom = middle
        else:
            top = middle
    off = _on_battery(lane, sky, cells, on)
    if cells.cut or off.bus >= set_v:
        return At(set_v, top, 0.0, cells.inner, True)
    resting = (set_v - off.bus) / (top - off.bus)
    return At(set_v, top, off.net * (1.0 - resting), off.cells_v, True)


@_jit
def _settle(lane, sky, cells, on, set_v, guess):  # type: ignore[no-untyped-def]
    """The second's circuit, by bracketing what is left over for the battery."""
    if sky.lit == 0:
        return At(0.0, 0.0, 0.0, cells.inner, False) if cells.cut else _on_battery(lane, sky, cells, on)
    floor = lane.pump_min_v if cells.cut else cells.down
    if _surplus(lane, sky, cells, on, set_v) >= 0.0:
        if cells.blocked and set_v > floor:
            calm = lane.on_refusal == 1
            return At(set_v, set_v, 0.0, cells.inner, True) if calm else _pulses(lane, sky, cells, on, set_v)
        take = _take(cells, set_v)
        if take + _load(lane, sky, on, set_v) < 0.0:
            return _on_battery(lane, sky, cells, on)
        return _at(lane, cells, set_v, take, False)
    alone = _panel(lane, sky, floor) > _load(lane, sky, on, floor)
    lifted = not cells.blocked and _panel(lane, sky, cells.up) > _load(lane, sky, on, cells.up)
    if cells.cut and not alone and not lifted:
        return At(0.0, 0.0, 0.0, cells.inner, False)
    wide = 1e-4
    low, high = guess - wide, guess + wide
    while low > 1e-6 and _surplus(lane, sky, cells, on, low) < 0.0:
        high = low
        wide *= 4.0
        low = max(low - wide, 1e-6)
    while high < 2.0 * cells.inner and _surplus(lane, sky, cells, on, high) > 0.0:
        low = high
        wide *= 4.0
        high += wide
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        if _surplus(lane, sky, cells, on, middle) > 0.0:
            low = middle
        else:
            high = middle
    bus = 0.5 * (low + high)
    net = _panel(lane, sky, bus) - _load(lane, sky, on, bus)
    if cells.down <= bus and cells.blocked or (net < 0.0 and cells.cut):
        return At(bus, bus, 0.0, cells.inner, cells.blocked)
    return _at(lane, cells, bus, net, False)


@_jit
def second_by_second(lane, skies, scheduled, start_soc, days):  # type: ignore[no-untyped-def]
    """Run ``days`` days; ``skies`` (hours,) of SKY, ``scheduled`` (minutes,) whether the schedule lets the pump run."""
    soc, v1, turned, guess = start_soc, 0.0, 0.0, 13.0 * lane.blocks
    latched, floating, cut, topped, stalled, frozen, surged = True, False, False, False, False, False, False
    held = absorbed = low_for = 0.0
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
        r_out = base + lane.exhaustion_ohm / max(soc, 1e-4) + lane.scale * sky.cold_ohm / max(soc, 0.01) ** 3
        inner = _rest(lane, soc) + v1 + lane.hysteresis_v * turned
        allowed = scheduled[second // 60] and not (lane.load_mode == 1 and sky.lit == 0)
        dark_and_cut = cut and sky.lit == 0
        ready = latched and allowed and not dark_and_cut and not stalled and not surged
        if ready and not was_on and last_bus < lane.pump_start_v:
            stalled, stalled_for = True, 0.0
        on = ready and not stalled
        set_v = (lane.float_v if floating else lane.absorption_v) + lane.set_shift_v_per_c * (sky.cell_c - 25.0)
        if sky.cell_c < lane.coldest_charge_c:
            frozen = True
        elif sky.cell_c >= lane.charge_release_c:
            frozen = False
        blocked = topped or frozen
        up = inner + (lane.blocked_drop_v if cut else 0.0)
        down = inner - (lane.blocked_drop_v if blocked else 0.0)
        at = _settle(lane, sky, Cells(inner, up, down, r_in, r_out, blocked, cut), on, set_v, guess)
        bus, net = at.bus, at.net
        last_bus = bus
        if bus > 0.0:
            guess = bus
        battery = at.cells_v
        if on and not was_on:
            starts += 1.0
        was_on = on
        run += 1.0 if on else 0.0
        cut_s += 1.0 if cut and (sky.lit == 0 or not latched or stalled) else 0.0
        charge += max(net, 0.0) / 3600.0
        # decisions, for the next second
        past = bus <= lane.off_v if latched else bus >= lane.on_v
        held = held + 1.0 if past else 0.0
        delay = 1.0 if bus == 0.0 else lane.off_delay_s if latched else lane.on_delay_s
        if past and held >= max(delay, 1.0):
            latched = not latched
            trips += 0.0 if latched else 1.0
            held = 0.0
        if surged:
            surged = at.refused
        elif lane.on_refusal == 2 and at.peak > bus:
            surged = True
        regulated = sky.lit == 1 and abs(bus - set_v) < 1e-9 and not at.refused
        if not floating and regulated:
            absorbed += 1.0
            if absorbed >= lane.absorption_s or net < lane.charge_ends_a:
                floating, low_for = True, 0.0
        elif floating:
            low_for = low_for + 1.0 if bus <= lane.recharge_below_v else 0.0
            if low_for >= 60.0:
                floating, absorbed = False, 0.0
        open_for += 1.0
        stalled_for += 1.0
        was_cut = cut
        if cut and battery >= lane.protect_low_recover_v and open_for >= 60.0:
            cut, open_for = False, 0.0
        elif not cut and battery <= lane.protect_low_v and net < 0.0:
            cut, open_for = True, 0.0
            shut = Cells(inner, inner + lane.blocked_drop_v, down, r_in, r_out, blocked, cut)
            if latched and on and _settle(lane, sky, shut, on, set_v, guess).bus == 0.0:
                latched, held, trips = False, 0.0, trips + 1.0
        if topped and battery <= lane.protect_high_recover_v and open_for >= 60.0:
            topped, open_for = False, 0.0
        elif not topped and battery >= lane.protect_high_v and net > 0.0:
            topped, open_for = True, 0.0
        at_pump = bus - _pump(lane, bus) * lane.pump_loop_ohm if on and bus > 0.0 else bus
        if stalled and bus >= lane.pump_start_v and stalled_for >= 10.0:
            stalled, stalled_for = False, 0.0
        elif on and cut == was_cut and at_pump < lane.pump_min_v and stalled_for >= 10.0:
            stalled, stalled_for = True, 0.0
        kept = net * lane.coulombic if net > 0.0 else net
        moved = (kept - lane.self_discharge_a) / 3600.0 / lane.capacity_ah
        turned += lane.hysteresis_rate * (abs(moved) * (1.0 if moved > 0.0 else -1.0) - abs(moved) * turned)
        soc = min(max(soc + moved, 0.0), 1.0)
        v1 += (net * lane.r1_ohm * sky.ohm_factor - v1) / (lane.tau_s * sky.ohm_factor)
    return Year(run / 3600.0, starts, trips, cut_s / 3600.0, soc, charge)
