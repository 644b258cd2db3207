"""What was seen by hand: two voltages, currents, and how the pump behaves, weighed against trials."""

from __future__ import annotations

import math
from dataclasses import dataclass, fields
from typing import get_args

import numpy as np

from sim.calendar import DAY_S, HOUR_S
from sim.catalogue.cells import cell
from sim.errors import InputError
from sim.scenario import Scenario
from sim.studies.diagnose_causes import MANY_STARTS, pump_a
from sim.studies.diagnose_symptom import Symptom
from sim.studies.diagnose_trials import Ran
from sim.studies.reading import lane_of, ohms_at, surface_charge_v

FROM = "sunrill diagnose"
SHARP_V = 0.02  # of the difference of two readings of one meter
METER_V, RESISTANCE_SHARE = 0.07, 0.25  # of a voltage, and by how much resistances differ; our own defaults
PUMP_SHARE, PANEL_SHARE, PANEL_A = 0.07, 0.1, 0.1  # by which currents may be off
LIFTED_V = 0.05  # by which a voltage without pump and sun may still be lifted, for each 12 V; our own default
LEAST_CHARGE = 0.05
CHARGES, DRAIN_A = (0.3, 0.6, 0.9), -1.0  # at which the battery's resistance is looked at
TRUE, FALSE = 0.9, 0.1  # how often a symptom is told that is there, and one that is not
SHORT, NEVER, WEAK = 0.9, 0.2, 0.92  # of the wanted hours, and of the pump's power
EARLY = 0.3  # of the stops
LEAST = 1e-12


@dataclass(frozen=True)
class Hand:
    """Readings at the controller, V and A, the moment of the year in seconds, and what is complained of."""

    volts_on: float | None = None
    volts_off: float | None = None
    amps: float | None = None
    charging: float | None = None
    at_s: float | None = None
    symptom: Symptom | None = None

    @property
    def told(self) -> bool:
        """Whether anything was seen."""
        return any(getattr(self, one.name) is not None for one in fields(self) if one.name != "at_s")


def check_hand(scenario: Scenario, hand: Hand) -> None:
    """Raise InputError for readings that cannot be."""
    blocks = scenario.battery.nominal_v / 12.0
    allowed = f"a voltage from {8 * blocks:g} to {16 * blocks:g} V for a battery of {scenario.battery.nominal_v} V"
    for key, volts in (("--volts-on", hand.volts_on), ("--volts-off", hand.volts_off)):
        if volts is not None and not 8.0 * blocks <= volts <= 16.0 * blocks:
            raise InputError(FROM, key, volts, allowed)
    if hand.volts_on is not None and hand.volts_off is not None and hand.volts_off <= hand.volts_on:
        raise InputError(FROM, "--volts-off", hand.volts_off, f"more than --volts-on ({hand.volts_on:g} V)")
    for key, amps in (("--amps", hand.amps), ("--charging", hand.charging)):
        if amps is not None and not 0.0 <= amps <= 1000.0:
            raise InputError(FROM, key, amps, "a current from 0 to 1000 A")
    if hand.symptom is not None and hand.symptom not in get_args(Symptom):
        raise InputError(FROM, "--symptom", hand.symptom, " or ".join(get_args(Symptom)))


def hand_likelihood(scenario: Scenario, hand: Hand, ran: Ran, at_s: np.ndarray, hours_wanted: float) -> np.ndarray:
    """(trials,) logarithm of how well each explains what was seen by hand."""
    terms = (_sag(scenario, hand, ran), _amps(scenario, hand, ran), _charging(scenario, hand, ran, at_s),
             _volts(hand, ran, at_s), _symptom(hand, ran, hours_wanted))  # fmt: skip
    likely: np.ndarray = np.sum(terms, axis=0)
    return likely


def battery_ohm(scenario: Scenario, rests_at_v: float | None = None) -> tuple[float, float]:
    """The battery's resistance under the pump as it is written, between warm and cold, full and low: mean and
    standard deviation, Ω. A voltage without pump and charge says how full it is.
    """
    lane, charges = lane_of(scenario), CHARGES
    if rests_at_v is not None:
        entry, block_v = cell(scenario.battery.chemistry), rests_at_v / (scenario.battery.nominal_v / 12.0)
        least, most = np.interp([block_v - LIFTED_V, block_v + METER_V], entry.rest_v, entry.rest_percent) / 100.0
        charges = tuple(np.clip(np.linspace(least, most, len(CHARGES)), LEAST_CHARGE, 1.0).tolist())
    found = [ohm for charge in charges for ohm in ohms_at(scenario, lane, charge, DRAIN_A)]
    return float(np.mean(found)), float(np.std(found))


def _sag(scenario: Scenario, hand: Hand, ran: Ran) -> np.ndarray:
    """Of two voltages: the sag is the current times battery and leads."""
    if hand.volts_on is None or hand.volts_off is None:
        return np.zeros(len(ran.trials))
    ohm, apart = battery_ohm(scenario, None if hand.charging else hand.volts_off)
    lead_ohm = float(lane_of(scenario)["lead_ohm"])
    own_a = hand.amps if hand.amps else pump_a(scenario, hand.volts_on) * ran.trials["pump"]
    surface_v = 0.5 * surface_charge_v(scenario)
    expected_v = own_a * (ohm * ran.trials["resistance"] + lead_ohm + ran.trials["lead_ohm"]) + surface_v
    scatter_v = own_a * ran.trials["resistance"] * np.hypot(apart, RESISTANCE_SHARE * ohm)
    sigma = np.sqrt(SHARP_V**2 + scatter_v**2 + (0.5 * surface_v) ** 2 + (0.1 * expected_v) ** 2)
    return _log_normal(hand.volts_off - hand.volts_on - expected_v, sigma)


def _amps(scenario: Scenario, hand: Hand, ran: Ran) -> np.ndarray:
    """Of the pump's current."""
    if hand.amps is None:
        return np.zeros(len(ran.trials))
    expected = pump_a(scenario, hand.volts_on) * ran.trials["pump"]
    return _log_normal(hand.amps - expected, PUMP_SHARE * expected + 0.02)


def _charging(scenario: Scenario, hand: Hand, ran: Ran, at_s: np.ndarray) -> np.ndarray:
    """Of the panel's current: what it is at that time of day, on any of the days."""
    if hand.charging is None:
        return np.zeros(len(ran.trials))
    rows = _same_hour(hand, at_s)
    given = np.maximum(ran.amps[rows] + ran.on[rows] * pump_a(scenario) * ran.trials["pump"], 0.0)
    sigma = PANEL_A + PANEL_SHARE * given
    return _log_mean(np.exp(_log_normal(hand.charging - given, sigma)))


def _volts(hand: Hand, ran: Ran, at_s: np.ndarray) -> np.ndarray:
    """Of the voltages themselves, where the hour is known; the battery's charge may be any of those days'."""
    total = np.zeros(len(ran.trials))
    for volts, running in ((hand.volts_on, True), (hand.volts_off, False)):
        if volts is None or hand.at_s is None:
            continue
        rows = _same_hour(hand, at_s)
        likely = np.exp(_log_normal(volts - ran.volts[rows], np.array(METER_V))) * (ran.on[rows] == running)
        total += 0.5 * np.maximum(_log_mean(likely), math.log(0.05))
    return total


def _same_hour(hand: Hand, at_s: np.ndarray) -> np.ndarray:
    """(n,) the moments of the hour of the reading, or of the middle of the day."""
    hour = 12.0 if hand.at_s is None else (hand.at_s % DAY_S) / HOUR_S
    apart = np.abs((at_s % DAY_S) / HOUR_S - hour)
    return np.asarray(np.minimum(apart, 24.0 - apart) <= (1.5 if hand.at_s is None else 0.75))


def _symptom(hand: Hand, ran: Ran, hours_wanted: float) -> np.ndarray:
    """Of what is complained of."""
    if hand.symptom is None:
        return np.zeros(len(ran.trials))
    return np.log(np.where(shows(hand.symptom, ran, hours_wanted), TRUE, FALSE))


def shows(symptom: Symptom, ran: Ran, hours_wanted: float) -> np.ndarray:
    """(trials,) whether the pump of each behaves so, over days in which so many hours are wanted."""
    met = ran.met_h / max(hours_wanted, 1e-9)
    early = ran.counted["early_disconnects"] / np.maximum(ran.counted["disconnects"], 1.0)
    if symptom == "clicks":
        return np.asarray(ran.counted["starts"] / ran.days > MANY_STARTS)
    if symptom == "stops-early":
        return np.asarray((early > EARLY) | (met < SHORT))
    if symptom == "short-days":
        return np.asarray(met < SHORT)
    if symptom == "never-restarts":
        return np.asarray(met < NEVER)
    watts = ran.counted["pump_wh"] / np.maximum(ran.counted["run_s"] / HOUR_S, 1e-9)
    usual = np.median(watts)
    return np.asarray((watts < WEAK * usual) | (ran.trials["pump"] > 1.2))


def _log_normal(misfit: np.ndarray, sigma: np.ndarray | float) -> np.ndarray:
    likely: np.ndarray = -0.5 * (misfit / sigma) ** 2 - np.log(sigma)
    return likely


def _log_mean(likely: np.ndarray) -> np.ndarray:
    """The logarithm of the mean over moments (n, trials), with a floor."""
    return np.asarray(np.log(likely.mean(axis=0) + LEAST)) if len(likely) else np.zeros(likely.shape[1])
