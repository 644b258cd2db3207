"""Chatter that repeats itself, taken many turns at once.

The protection circuit of an emptied battery trips and comes back every minute for hours, and a load switch whose
voltages lie too close goes off and on. Within an hour nothing around them changes, so that two turns which are alike
tell what the next ones do, as long as the battery moves so little that they stay alike.
"""

from __future__ import annotations

import math

import numpy as np

from sim.compiled import compiled
from sim.devices import battery
from sim.plant.log import RUNNING_TOTALS
from sim.plant.records import TOTALS

LONGEST_FLIPS = 12  # changes of mind in a turn; a longer one is not sought
SAME_LENGTH = 1e-3  # share by which turns that are taken at once may differ in length
MOST_SOC, MOST_SIDE, MOST_V = 4e-5, 0.01, 1e-4  # that the battery may drift in turns taken at once
LITTLE_SOC = 1e-3  # … or this share of its charge

# Columns of a mark: when, what must be the same or nearly, the timers as they run on, and the totals.
AT, SOC, V1, SIDE, HELD, ABSORBED, RECHARGE, KEY, OPEN, STALLED, TRIPPED, CHANGED, EVENTS, SUMS = range(14)
RUNNING_COLUMNS = np.array([(TOTALS.names or ()).index(name) for name in RUNNING_TOTALS])
MARK_WIDTH = SUMS + len(TOTALS.names or ())
FLIPS, LENGTH = 0, 1  # columns of what is known of a turn: changes of mind so far, and how long the last one took


@compiled
def key_of(state):  # type: ignore[no-untyped-def]
    """Everybody's minds as one number."""
    key = state.cause
    for mind in (
        state.latched, state.stage, state.low_open, state.high_open, state.frozen, state.surged, state.tripped,
        state.stalled,
    ):  # fmt: skip
        key = 2 * key + mind
    return key


@compiled
def note(state, sums, mark):  # type: ignore[no-untyped-def]
    """Write down a moment of a lane: its state and its running totals ``sums`` (columns of TOTALS,)."""
    mark[AT], mark[SOC], mark[V1], mark[SIDE] = state.now_s, state.soc, state.v1_v, state.side
    mark[HELD], mark[ABSORBED], mark[RECHARGE] = state.held_s, state.absorbed_s, state.recharge_s
    mark[KEY], mark[EVENTS], mark[CHANGED] = key_of(state), state.events, state.changed_s
    mark[OPEN], mark[STALLED], mark[TRIPPED] = state.open_s, state.stalled_s, state.tripped_s
    mark[SUMS:] = sums


@compiled
def closes(was, now):  # type: ignore[no-untyped-def]
    """Whether a turn ends, where everybody is of the mind of its beginning: the timers that are asked stand as then."""
    return was[HELD] == now[HELD] and was[ABSORBED] == now[ABSORBED] and was[RECHARGE] == now[RECHARGE]


@compiled
def polarised_at_last(was, now, tau_s):  # type: ignore[no-untyped-def]
    """The polarisation to which turns like the last one lead, V, and the share of the distance that each leaves."""
    left = math.exp((was[AT] - now[AT]) / tau_s)
    return (now[V1] - left * was[V1]) / (1.0 - left), left


@compiled
def count_alike(was, now, before_s, until_s, tau_s):  # type: ignore[no-untyped-def]
    """How many more turns like the last one there are before the hour ends, the battery has moved, or turns are longer
    or shorter by too much; the last but one took ``before_s``.
    """
    final_v, _ = polarised_at_last(was, now, tau_s)
    if abs(final_v - now[V1]) > MOST_V:
        return 0.0
    length_s = now[AT] - was[AT]
    count = min((until_s - now[AT]) / length_s, SAME_LENGTH * length_s / max(abs(length_s - before_s), 1e-9))
    room = min(MOST_SOC, LITTLE_SOC * now[SOC])
    for column, most in ((SOC, room), (SIDE, MOST_SIDE)):
        count = min(count, most / max(abs(now[column] - was[column]), 1e-15))
    return np.floor(count)


@compiled
def list_again(state, events, was, now, count):  # type: ignore[no-untyped-def]
    """Write down the changes of what the pump does once more for each turn."""
    first, last = int(was[EVENTS]), int(now[EVENTS])
    room = events.shape[0]
    for turn in range(1, int(count) + 1):
        for k in range(first, last):
            if state.events < room:
                again, event = events[state.events], events[k]
                again.at_s = event.at_s + turn * (now[AT] - was[AT])
                again.cause, again.bus_v, again.battery_a = event.cause, event.bus_v, event.battery_a
                again.soc, again.refused = event.soc + turn * (now[SOC] - was[SOC]), event.refused
            state.events += 1


@compiled
def kept_wh(lane, soc, v1_v):  # type: ignore[no-untyped-def]
    """Energy in the battery of a lane, Wh."""
    c1_farad = lane.tau_s / lane.r1_ohm
    return battery.stored_wh(soc, v1_v, (lane.rest_v, lane.rest_area_v), lane.capacity_ah * lane.blocks, c1_farad)


@compiled
def take_turns(plant, sums, was, now, count, tau_s):  # type: ignore[no-untyped-def]
    """Move a lane on by so many turns like the last one; the battery's losses take what it stores otherwise in them."""
    lane, state = plant.lane, plant.state
    state.now_s += count * (now[AT] - was[AT])
    state.soc += count * (now[SOC] - was[SOC])
    final_v, left = polarised_at_last(was, now, tau_s)
    state.v1_v = final_v + left**count * (now[V1] - final_v)
    state.side += count * (now[SIDE] - was[SIDE])
    state.open_s += count * (now[OPEN] - was[OPEN])
    state.stalled_s += count * (now[STALLED] - was[STALLED])
    state.tripped_s += count * (now[TRIPPED] - was[TRIPPED])
    state.changed_s += count * (now[CHANGED] - was[CHANGED])
    for k in RUNNING_COLUMNS:
        sums[k] += count * (now[SUMS + k] - was[SUMS + k])
    before_wh, then_wh = kept_wh(lane, was[SOC], was[V1]), kept_wh(lane, now[SOC], now[V1])
    after_wh = kept_wh(lane, state.soc, state.v1_v)
    plant.totals.battery_loss_wh += count * (then_wh - before_wh) - (after_wh - then_wh)


@compiled
def watching():  # type: ignore[no-untyped-def]
    """Room for what is known of the turn under way, (2,), and for its beginning and its end, (MARK_WIDTH,) each."""
    return np.empty(2), np.empty(MARK_WIDTH), np.empty(MARK_WIDTH)


@compiled
def forget(watched):  # type: ignore[no-untyped-def]
    """Nothing is known of a turn, as at the beginning of an hour."""
    watched[0][FLIPS], watched[0][LENGTH] = LONGEST_FLIPS, 0.0


@compiled
def repeated(plant, sums, events, watched, until_s, tau_s):  # type: ignore[no-untyped-def]
    """After somebody has changed their mind: take turns like the last two until ``until_s``; True if there were any.

    ``watched``, of :func:`watching`, is kept from one call to the next; ``tau_s`` is the polarisation's time constant.
    """
    state, (turn, was, now) = plant.state, watched
    turn[FLIPS] += 1
    if turn[FLIPS] > LONGEST_FLIPS:
        note(state, sums, was)
        turn[FLIPS], turn[LENGTH] = 0, 0.0
        return False
    if was[KEY] != key_of(state):
        return False
    note(state, sums, now)
    if not closes(was, now) or now[AT] == was[AT]:
        return False
    count = count_alike(was, now, turn[LENGTH], until_s, tau_s)
    turn[FLIPS], turn[LENGTH] = 0, now[AT] - was[AT]
    if count >= 1.0:
        list_again(state, events, was, now, count)
        take_turns(plant, sums, was, now, count, tau_s)
    note(state, sums, was)
    return count >= 1.0
