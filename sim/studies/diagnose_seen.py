"""How well a trial explains what was seen: a log, and readings taken by hand.

A reading is compared with the simulated voltages around its moment, since a small difference moves a switching by
minutes without meaning anything: its likelihood is a mean of normal ones over the moments within an hour, those nearest
weighing most, with a floor for what no trial explains. Readings close together are of one cause and not so many
witnesses: a log counts as so many independent readings a day.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sim.studies.diagnose_light import NOON_SHARE
from sim.studies.diagnose_trials import Ran
from sim.studies.measured_log import Readings

NOISE_V = 0.02  # of a reading
MODEL_V = 0.02  # by which the model may be wrong for minutes, for each 12 V; our own default
AMPS_SHARE, AMPS_A = 0.05, 0.1  # by which a current may be off; our own default
OFFSET_V = 0.05  # of a meter, common practice, no source
MOST_OFFSET_V = 0.2
NEAR_S, FAR_S = 1200.0, 3600.0  # how fast moments beside a reading's own lose weight, and how far they go
WITNESSES = 6.0  # independent readings a day; our own default, tried on made-up systems
DARK_WITNESSES = 0.5  # … of a log whose sun is not known
STRAY = 0.02  # share of readings that nothing explains
RANGE_V = 4.0  # over which these are spread, for each 12 V
WRONG_STATE = 0.03  # share of readings whose pump state is off
NEAR_V = 0.08  # so near a reading is explained, for each 12 V


@dataclass(frozen=True)
class Seen:
    """A log made ready: readings at moments that are not too many, and the battery's voltage in blocks of 12 V."""

    readings: Readings
    blocks: float
    light: float | None = None  # share of the panel's clear noon that the log's own currents tell, where they do
    held: bool = False  # … at least, since the battery was full and took no more
    sunny: bool = True  # whether the sun of these days is known

    @property
    def certain(self) -> bool:
        """Whether the sun is known well enough for a verdict: a full battery hides what more there was."""
        return self.sunny and not self.held

    @property
    def temper(self) -> float:
        """What a reading counts, since those close together are of one cause."""
        at_s = self.readings.at_s
        days = (at_s[-1] - at_s[0]) / 86400.0
        witnesses = WITNESSES if self.sunny else DARK_WITNESSES
        return float(min(1.0, witnesses * max(days, 0.5) / len(at_s)))


def log_likelihood(seen: Seen, ran: Ran) -> tuple[np.ndarray, np.ndarray]:
    """(trials,) how well each explains the log, and the meter's offset with which it does so best, V."""
    offset = _offset(seen, ran)
    likely = sum(weight * _at_shift(seen, ran, offset, shift) for shift, weight in _shifts(seen.readings.at_s))
    stray = STRAY / (RANGE_V * seen.blocks)
    reading = np.log((1.0 - STRAY) * likely + stray)
    prior = -0.5 * (offset / (OFFSET_V * seen.blocks)) ** 2
    if seen.light is not None:
        more = np.log(seen.light / ran.trials["light"]) / NOON_SHARE
        prior = prior - 0.5 * (np.maximum(more, 0.0) if seen.held else more) ** 2
    return seen.temper * reading.sum(axis=0) + prior, offset


def explained(seen: Seen, ran: Ran, offset_v: np.ndarray) -> np.ndarray:
    """(trials,) the share of the readings that a trial comes near to, at their moment or within the hour."""
    log_v = seen.readings.voltage_v[:, np.newaxis] - offset_v
    near = [np.abs(log_v - _shifted(ran.volts, shift)) < NEAR_V * seen.blocks for shift in range(-2, 3)]
    share: np.ndarray = np.any(near, axis=0).mean(axis=0)
    return share


def _offset(seen: Seen, ran: Ran) -> np.ndarray:
    """(trials,) by how much the meter reads high, if a trial is true: the median of the quiet half of the misfit."""
    misfit = seen.readings.voltage_v[:, np.newaxis] - ran.volts
    offset = np.median(misfit, axis=0)
    for width in (0.1, 0.05):
        near = np.abs(misfit - offset) < width * seen.blocks
        count = np.maximum(near.sum(axis=0), 1)
        offset = np.where(near.mean(axis=0) > 0.1, (misfit * near).sum(axis=0) / count, offset)
    most = MOST_OFFSET_V * seen.blocks
    return np.asarray(np.clip(offset, -most, most))


def _shifts(at_s: np.ndarray) -> list[tuple[int, np.ndarray]]:
    """By how many readings a simulated moment lies beside the own one, and the (n, 1) weights of that."""
    usual_s = float(np.median(np.diff(at_s)))
    most = int(FAR_S // usual_s)
    raw = {}
    for shift in range(-most, most + 1):
        beside_s = np.abs(_shifted(at_s, shift) - at_s)
        raw[shift] = np.where(beside_s <= FAR_S + 1.0, np.exp(-beside_s / NEAR_S), 0.0)
    total = np.sum(list(raw.values()), axis=0)
    return [(shift, (one / total)[:, np.newaxis]) for shift, one in raw.items()]


def _shifted(values: np.ndarray, shift: int) -> np.ndarray:
    """Values (n, …) of so many rows later; the ends stand for what lies beyond."""
    return values[np.clip(np.arange(len(values)) + shift, 0, len(values) - 1)]


def _at_shift(seen: Seen, ran: Ran, offset: np.ndarray, shift: int) -> np.ndarray:
    """(n, trials) likelihood of the readings, had they been taken so many readings later."""
    log = seen.readings
    sigma = np.hypot(NOISE_V, MODEL_V * seen.blocks)
    likely = _normal(log.voltage_v[:, np.newaxis] - offset - _shifted(ran.volts, shift), sigma)
    if log.pump is not None:
        share = np.clip(log.pump, WRONG_STATE, 1.0 - WRONG_STATE)[:, np.newaxis]
        simulated = _shifted(ran.share, shift)
        told = simulated * share + (1.0 - simulated) * (1.0 - share)
        likely = likely * np.where(np.isnan(told), 1.0, told)
    if log.current_a is not None:
        amps = log.current_a[:, np.newaxis]
        wide = AMPS_A + AMPS_SHARE * np.abs(amps)
        told = _normal(amps - _shifted(ran.amps, shift), wide) * AMPS_A
        likely = likely * np.where(np.isnan(told), 1.0, told)
    return likely


def _normal(misfit: np.ndarray, sigma: np.ndarray | float) -> np.ndarray:
    return np.asarray(np.exp(-0.5 * (misfit / sigma) ** 2) / (sigma * np.sqrt(2.0 * np.pi)))
