"""Time from one event to the next.

Between two events every input is constant. A step takes the currents at its middle and is exact for the polarisation
of the battery; a step in which the controller, the protection circuit or the pump would change its mind is cut at
that moment by bisection.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from sim.compiled import compiled, fused
from sim.devices import battery
from sim.plant.books import Trial, begin_extremes, book, note_pump, read_moment
from sim.plant.bus import Charge
from sim.plant.causes import RUNNING
from sim.plant.circuit import circuit
from sim.plant.minds import cause_now, feel_cold, minds, run_timers, settle, timer_limit, wake
from sim.plant.turns import forget, repeated, watching

HOUR_S = 3600.0
LONGEST_STEP_S = HOUR_S
CROSSING_S = 0.25  # a crossing is located to this
FAR = 4.0  # times as long, from which a crossing is sought by orders of magnitude
LARGEST_CHARGE_STEP = 0.1  # share of the capacity that one step may move
LARGEST_END_STEP = 0.5  # share of what is left to full or to empty that one step may move
LEAST_ROOM = 1e-3  # share of the capacity that is always taken as left
LARGEST_MISS = 5e-6  # share of the capacity that a step may take the charge it moves wrong by
FINE_STEP_S = 5.0  # a step as short as this is not cut for its currents
LEAST_STEP_S = 1e-3
CAUTION, LEAST_PACE, MOST_PACE = 0.85, 0.1, 4.0  # of the next step against the longest that would do; against the last
EASILY = (CAUTION / MOST_PACE) ** 3  # share of what may be missed, below which a step could be longer than that


@fused
def charge_limit(lane, soc, current_a, dt):  # type: ignore[no-untyped-def]
    """No step that moves too much charge, nor too large a share of what is left to full or to empty."""
    room = 1.0 - soc if current_a > 0.0 else soc
    share = min(LARGEST_CHARGE_STEP, LARGEST_END_STEP * max(room, LEAST_ROOM))
    most = share * lane.capacity_ah * HOUR_S
    return dt if abs(current_a) * dt <= most else most / abs(current_a)


@fused
def moved_share(lane, current_a, dt):  # type: ignore[no-untyped-def]
    """The share of the capacity that a current moves in a time, with efficiency and self-discharge."""
    rate = battery.charge_rate(current_a, lane.coulombic, lane.self_discharge_a)
    return rate * dt / (lane.capacity_ah * HOUR_S)


@fused
def moved_on(plant, sky, current_a, dt, decay):  # type: ignore[no-untyped-def]
    """The battery's inner state after a current for a time; ``decay`` is what that leaves of the polarisation."""
    lane, state = plant.lane, plant.state
    moved = moved_share(lane, current_a, dt)
    v1_v = battery.polarisation_after(state.v1_v, current_a, lane.r1_ohm * sky.ohm_factor, decay)
    return Charge(state.soc + moved, v1_v, battery.hysteresis_after(state.side, moved, lane.hysteresis_rate))


@fused
def trial(plant, sky, turning, current_a, dt):  # type: ignore[no-untyped-def]
    """Take a step of ``dt`` seconds with the current at its middle, which ``current_a`` leads to."""
    half = battery.decay_over(0.5 * dt, plant.lane.tau_s * sky.ohm_factor)
    decay = half * half
    halfway = moved_on(plant, sky, current_a, 0.5 * dt, half)
    middle = circuit(plant, sky, halfway, turning)
    end = moved_on(plant, sky, middle.battery_a, dt, decay)
    after = Charge(min(max(end.soc, 0.0), 1.0), end.v1_v, end.side)
    return Trial(middle, halfway, circuit(plant, sky, after, turning), after, decay)


@fused
def missed_a(now, done):  # type: ignore[no-untyped-def]
    """By how much the current of a step's middle differs from the mean over the step, A, by Simpson's rule."""
    return abs(now.battery_a - 2.0 * done.middle.battery_a + done.end.battery_a) / 6.0


@compiled
def paced(missed, dt):  # type: ignore[no-untyped-def]
    """How long a step may be after one of ``dt`` seconds that ``missed`` so much of what may be; that grows as dt³."""
    if missed < EASILY:
        return MOST_PACE * dt
    return dt * max(CAUTION / math.exp(math.log(missed) / 3.0), LEAST_PACE)


@fused
def fine_step(plant, sky, turning, now, dt):  # type: ignore[no-untyped-def]
    """A step of at most ``dt`` seconds whose middle stands for the whole of it, with its length."""
    state, allowed_as = plant.state, LARGEST_MISS * plant.lane.capacity_ah * HOUR_S
    dt = min(dt, max(state.pace_s, FINE_STEP_S))
    while True:
        done = trial(plant, sky, turning, now.battery_a, dt)
        missed = missed_a(now, done) * dt / allowed_as
        next_s = paced(missed, dt)
        if missed <= 1.0 or dt <= FINE_STEP_S:
            state.pace_s = next_s if dt == state.pace_s else max(next_s, state.pace_s)
            return done, dt
        dt = state.pace_s = max(next_s, FINE_STEP_S)


@compiled
def between(short, long):  # type: ignore[no-untyped-def]
    """Where to look for a moment between two: halfway, but first by orders of magnitude; many come within seconds.

    >>> between(900.0, 1100.0), between(0.0, 2500.0)
    (1000.0, 25.0)
    """
    least = max(short, CROSSING_S)
    return math.sqrt(least * long) if long > FAR * least else 0.5 * (short + long)


@fused
def step_to_event(plant, sky, turning, now, bits, longest):  # type: ignore[no-untyped-def]
    """The longest step that is fine enough and ends no later than the next change of mind.

    Returns it with its length and with who would change their mind at its end.
    """
    dt = charge_limit(plant.lane, plant.state.soc, now.battery_a, timer_limit(plant, bits, longest))
    done, dt = fine_step(plant, sky, turning, now, max(dt, min(LEAST_STEP_S, longest)))
    then, same = minds(plant, done.end, turning), 0.0
    while then != bits and dt - same > CROSSING_S:
        half = between(same, dt)
        tried = trial(plant, sky, turning, now.battery_a, half)
        found = minds(plant, tried.end, turning)
        if found == bits:
            same = half
        else:
            done, dt, then = tried, half, found
    return done, dt, then


@fused
def take(plant, sky, done, bits, dt, until_s):  # type: ignore[no-untyped-def]
    """Take a step: enter it in the books and move the state; returns the circuit at its end."""
    state = plant.state
    book(plant, sky, done, dt)
    run_timers(state, bits, dt)
    state.soc, state.v1_v, state.side = done.after.soc, done.after.v1_v, done.after.side
    state.now_s = state.now_s + dt if dt < until_s - state.now_s else until_s
    state.bus_v = done.end.bus_v
    return done.end


@compiled
def begin(plant, sky):  # type: ignore[no-untyped-def]
    """What comes before a lane moves: new extremes, a new charge with the first light, frost, and other peaks."""
    if plant.inputs.fresh == 1:
        begin_extremes(plant)
    plant.state.peaks_v[0] = plant.state.peaks_v[1] = 0.0
    plant.state.pace_s = LONGEST_STEP_S
    wake(plant.state, sky)
    feel_cold(plant.lane, plant.state, sky)


@fused
def circuit_now(plant, sky, turning):  # type: ignore[no-untyped-def]
    """The circuit as the battery is."""
    state = plant.state
    return circuit(plant, sky, Charge(state.soc, state.v1_v, state.side), turning)


@compiled
def advance_lane(plant, sums, sky, events, watched, until_s):  # type: ignore[no-untyped-def]
    """Carry one lane to ``until_s`` under constant inputs; ``sums`` are its totals as an array."""
    state, tau_s = plant.state, plant.lane.tau_s * sky.ohm_factor
    begin(plant, sky)
    forget(watched)
    turning, solved = state.cause == RUNNING, True
    now = circuit_now(plant, sky, turning)
    bits = minds(plant, now, turning)
    while state.now_s < until_s:
        cause = cause_now(plant, sky, now)
        if not solved or cause != state.cause:
            turning = cause == RUNNING
            now = circuit_now(plant, sky, turning)
            bits = minds(plant, now, turning)
        note_pump(plant, events, cause, now)
        if not solved and repeated(plant, sums, events, watched, until_s, tau_s):
            now = circuit_now(plant, sky, turning)
            bits = minds(plant, now, turning)
        solved = not settle(plant, now, bits)
        if solved and state.now_s < until_s:
            longest = min(LONGEST_STEP_S, until_s - state.now_s)
            done, dt, then = step_to_event(plant, sky, turning, now, bits, longest)
            now, bits = take(plant, sky, done, bits, dt, until_s), then
    settle(plant, now, bits)  # what falls due just now, before inputs change
    read_moment(plant, now)


class Written(NamedTuple):
    """Where lanes write to: (lanes, capacity) of EVENT, and (readings, lanes, columns) what is read of their totals
    every so many hours from one on, never for 0.
    """

    events: np.ndarray
    rows: np.ndarray
    from_h: int
    every_h: int


@compiled
def due_row(written, ended_h):  # type: ignore[no-untyped-def]
    """The reading that is due when so many hours of the year have ended, 0 for none."""
    passed = ended_h - written.from_h
    return passed // written.every_h if written.every_h > 0 and passed % written.every_h == 0 else 0


@compiled
def read(plant, totals, row):  # type: ignore[no-untyped-def]
    """Keep the totals (columns,) of a lane, and begin new extremes."""
    for column in range(totals.shape[0]):
        row[column] = totals[column]
    plant.inputs.fresh = 1


@compiled
def advance(plants, sums, sky, written, from_s, until_s):  # type: ignore[no-untyped-def]
    """Carry every lane from one moment to another, hour by hour; a lane whose time is past ``until_s`` stands still.

    ``plants`` (lanes,) of PLANT, ``sums`` (lanes, columns) their TOTALS as an array, ``sky`` (places, hours) of SKY.
    Inputs but the sky must have been constant since the last call.
    """
    first, last = int(from_s // HOUR_S), min(int(math.ceil(until_s / HOUR_S)), sky.shape[1])
    watched = watching()
    for k in range(plants.shape[0]):
        plant = plants[k]
        if plant.state.now_s < until_s:
            hours, listed, totals = sky[plant.lane.place], written.events[k], sums[k]
            for hour in range(first, last):
                end_s = (hour + 1) * HOUR_S
                advance_lane(plant, totals, hours[hour], listed, watched, min(end_s, until_s))
                row = due_row(written, hour + 1) if end_s <= until_s else 0
                if row > 0:
                    read(plant, totals, written.rows[row, k])
