"""The causes by their names: which ways of being wrong each has, and which of them a system as written shows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np

from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.plant.engine import pump_current_a
from sim.plant.lanes import lanes_from
from sim.scenario import Scenario
from sim.studies.diagnose_search import Hypothesis
from sim.studies.diagnose_trials import Days, run_trials

CAUSES = (
    *("thresholds-too-close", "cut-off-too-high", "leads-or-terminals", "battery-aged-or-small", "shade-or-dirt"),
    *("too-small", "charge-refused", "pump-draw", "timer-or-preset", "nothing"),
)
AS_WRITTEN = "as written"
SETTINGS, PAIR = "settings", "both thresholds"
DUSK_H = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0)  # hours that a lighting timer lets the load run
MANY_STARTS = 6.0  # a day: more are short cycling
SERVED = 0.95  # of the wanted hours: more is nothing to complain of; our own default
STARTS_TIMES, MET_SHARES, GAIN_SHARES = (0.5, 1.0, 2.0), (-0.02, 0.0, 0.02), (-0.1, 0.0, 0.1)  # our own default
HALF = 0.5  # of what is missing: a change that brings as much is the cure
QUARTER, FELT = 0.25, 0.02  # … and of what is wanted: a change that brings as much is felt; our own default
LOWER_V, WIDER_V, WARMER_C = 0.8, 0.8, 60.0  # of the cures, for each 12 V
LEAST_GAP_V = 0.05
MENDED = {
    "leads-or-terminals": {"lead_ohm": 0.0},
    "battery-aged-or-small": {"capacity": 1.0, "resistance": 1.0},
    "shade-or-dirt": {"light": 1.0},
    "pump-draw": {"pump": 1.0},
    "timer-or-preset": {"timer": 0.0, "charge_v": 0.0},
}


def designs_of(scenario: Scenario) -> tuple[Scenario, ...]:
    """The scenario, and the same with other timers: none, by daylight, by day, hours after dusk."""
    modes: list[dict[str, Any]] = [{"load_mode": "always"}, {"load_mode": "daylight"}]
    modes += [{"load_mode": "clock", "load_windows": ((a, b),)} for a, b in (("08:00", "18:00"), ("18:00", "08:00"))]
    modes += [{"load_mode": "after-dusk", "hours_after_dusk": hours} for hours in DUSK_H]
    return (scenario, *(scenario.but(controller={"load_windows": ()} | mode) for mode in modes))


def _other_timers(scenario: Scenario) -> tuple[int, ...]:
    """Which of the designs switch the load otherwise than the first."""
    own, *others = [(it.controller.load_mode, it.controller.load_windows, it.controller.hours_after_dusk)
                    for it in designs_of(scenario)]  # fmt: skip
    return tuple(k for k, one in enumerate(others, 1) if one[:2] != own[:2] or (one[0] == "after-dusk" and one != own))


def hypotheses(scenario: Scenario) -> tuple[Hypothesis, ...]:
    """Every way in which the system may be wrong, with how much of it at least and at most."""
    blocks, chemistry = scenario.battery.nominal_v / 12.0, cell(scenario.battery.chemistry)
    drop = {"lead_ohm": (0.06 * blocks / pump_a(scenario), 1.5 * blocks / pump_a(scenario))}
    some = (
        Hypothesis(AS_WRITTEN, "", prior=3.0, effort=4),  # what any of the others is with hardly anything wrong
        Hypothesis(SETTINGS, "", added={"off_v": (-0.8 * blocks, 1.3 * blocks), "on_v": (-1.2 * blocks, 0.8 * blocks)},
                   prior=2.0, effort=4, follow=_apart(scenario)),
        Hypothesis(PAIR, "", added={"off_v": (0.2 * blocks, 1.3 * blocks)}, follow=_together),
        Hypothesis("leads", "leads-or-terminals", wide=drop),
        Hypothesis("battery", "battery-aged-or-small", wide={"capacity": (0.1, 0.8), "resistance": (1.0, 5.0)}),
        Hypothesis("dirt", "shade-or-dirt", wide={"light": (0.1, 0.85)}, prior=0.5),
        Hypothesis("shade in the afternoon", "shade-or-dirt", wide={"light": (0.05, 0.7)},
                   added={"shade_from_h": (9.0, 16.5)}, prior=0.25),
        Hypothesis("shade in the morning", "shade-or-dirt", wide={"light": (0.05, 0.7)},
                   added={"shade_to_h": (8.0, 14.0)}, prior=0.25),
        Hypothesis("pump", "pump-draw", wide={"pump": (1.2, 3.0)}),
        Hypothesis("timer", "timer-or-preset", timers=_other_timers(scenario), prior=0.5, effort=2),
        Hypothesis("preset too low", "timer-or-preset", added={"charge_v": (-1.6 * blocks, -0.3 * blocks)}, prior=0.25),
        Hypothesis("preset too high", "timer-or-preset", added={"charge_v": (0.3 * blocks, 1.2 * blocks)}, prior=0.25),
    )  # fmt: skip
    frost = Hypothesis("frost", "charge-refused", added={"frost_c": (2.0, 18.0)})
    return (*some, frost) if chemistry.coldest_charge_c > -50.0 else some


def pump_a(scenario: Scenario, volts: float | None = None) -> float:
    """The pump's current as it is written, at a voltage, or at a usual one, A."""
    usual_v = 12.8 * scenario.battery.nominal_v / 12.0
    return pump_current_a(lanes_from([scenario], [0]), usual_v if volts is None else volts)


def _together(trials: np.ndarray) -> None:
    """Both thresholds lie as much higher."""
    trials["on_v"] = trials["off_v"]


def _apart(scenario: Scenario) -> Callable[[np.ndarray], None]:
    control = scenario.controller

    def follow(trials: np.ndarray) -> None:
        """The reconnect voltage stays above the disconnect voltage."""
        off_v, on_v = control.load_disconnect_v + trials["off_v"], control.load_reconnect_v + trials["on_v"]
        trials["on_v"] += np.maximum(off_v + LEAST_GAP_V - on_v, 0.0)

    return follow


@dataclass(frozen=True)
class Shown:
    """What a trial shows over the days, and what each cure would bring it, in wanted hours a day.

    A timer leaves ``left_h`` of the day; where that is enough, more hours without it are not missing for the timer.
    """

    starts_a_day: float
    wanted_h: float
    met_h: float
    early_share: float
    refused_h: float
    left_h: float
    lower_h: float
    warmer_h: float
    timed_h: float
    wider_starts: float
    gap_v: float
    least_gap_v: float

    @property
    def served(self) -> float:
        """The share of the wanted hours that is met."""
        return self.met_h / self.wanted_h if self.wanted_h else 1.0

    @property
    def cause(self) -> str:
        """The cause of what a system does that is as written."""
        missing = self.wanted_h - self.met_h
        if self.clicks and self.gap_v < self.least_gap_v:
            return "thresholds-too-close"
        if self.served >= SERVED:
            return "nothing"
        gains = {"charge-refused": self.warmer_h, "cut-off-too-high": self.lower_h}
        if self.left_h < SERVED * self.wanted_h:
            gains["timer-or-preset"] = self.timed_h
        best = max(gains, key=gains.__getitem__)
        if gains[best] - self.met_h >= HALF * missing:
            return best
        return "thresholds-too-close" if self.clicks else "too-small"

    @property
    def causes(self) -> dict[str, float]:
        """How often each cause comes out where what it shows is known no better than labels let it be."""
        varied = [self._varied(*by) for by in product(STARTS_TIMES, MET_SHARES, GAIN_SHARES)]
        return {cause: count / len(varied) for cause, count in Counter(it.cause for it in varied).items()}

    def _varied(self, starts: float, met: float, gain: float) -> Shown:
        """The same with so many times the starts, and a share of the wanted hours more that are met, and gained."""
        met_h = min(self.met_h + met * self.wanted_h, self.wanted_h)
        gained = {
            name: met_h + max(getattr(self, name) - self.met_h, 0.0) + gain * (self.wanted_h - met_h)
            for name in ("lower_h", "warmer_h", "timed_h")
        }
        return replace(self, starts_a_day=self.starts_a_day * starts, met_h=met_h, **gained)

    def is_cured(self, met_h: float, starts: float) -> bool:
        """Whether a change that leads to so many wanted hours and starts a day is one for the better."""
        least_h = max(QUARTER * (self.wanted_h - self.met_h), FELT * self.wanted_h)
        return met_h - self.met_h >= least_h or (self.starts_a_day > MANY_STARTS and starts < HALF * self.starts_a_day)

    @property
    def clicks(self) -> bool:
        """Whether it starts too often, and would not with thresholds further apart."""
        return self.starts_a_day > MANY_STARTS and self.wider_starts < HALF * self.starts_a_day


def shown(days: Days, trials: np.ndarray) -> list[Shown]:
    """What each of the trials (k,) shows, and its cures: a lower cut-off, a wider gap, a warm battery, no timer."""
    count, blocks = len(trials), days.designs[0].battery.nominal_v / 12.0
    lower, wider, warmer, timed = (trials.copy() for _ in range(4))
    _lower(days.designs[0], lower)
    _widen(days.designs[0], wider)
    warmer["frost_c"] -= WARMER_C
    timed["timer"] = 1
    ran = run_trials(days, np.concatenate([trials, lower, wider, warmer, timed]))
    met = ran.met_h.reshape(5, count) / days.count
    starts = ran.counted["starts"].reshape(5, count) / days.count
    cut, early = (ran.counted[name][:count] for name in ("disconnects", "early_disconnects"))
    early_share = early / np.maximum(cut, 1.0)
    refused_h, planned_h = (ran.counted[name][:count] / 3600.0 / days.count for name in ("refused_s", "schedule_s"))
    control, chemistry = days.designs[0].controller, days.designs[0].battery.chemistry
    gap_v = control.load_reconnect_v - control.load_disconnect_v + trials["on_v"] - trials["off_v"]
    least_gap_v = np.full(count, chemistries()[chemistry]["study"]["gap_caution_v"] * blocks)
    wanted_h = np.full(count, days.wanted_h)
    cures = (met[1], met[3], met[4], starts[2])
    columns = (starts[0], wanted_h, met[0], early_share, refused_h, 24.0 - planned_h, *cures)
    return [Shown(*map(float, row)) for row in zip(*columns, gap_v, least_gap_v, strict=True)]


def _lower(scenario: Scenario, trials: np.ndarray) -> None:
    """A cut-off that is lower, and a reconnect voltage that is no higher than usual."""
    trials["off_v"] -= LOWER_V * scenario.battery.nominal_v / 12.0
    trials["on_v"] = np.minimum(trials["on_v"], _to_usual(scenario)[1])


def _widen(scenario: Scenario, trials: np.ndarray) -> None:
    """Thresholds further apart: the usual ones, or where those are no further apart, by as much to either side."""
    more_v = WIDER_V / 2.0 * scenario.battery.nominal_v / 12.0
    off_v, on_v = _to_usual(scenario)
    usual = on_v - off_v > trials["on_v"] - trials["off_v"] + more_v
    trials["off_v"] = np.where(usual, off_v, trials["off_v"] - more_v)
    trials["on_v"] = np.where(usual, on_v, trials["on_v"] + more_v)


def felt(days: Days, causes: Sequence[str], trials: np.ndarray, does: Sequence[Shown]) -> list[bool]:
    """Whether what is wrong by each of the trials (k,) is what the days suffer from: mending it brings hours or calm.

    A fault that mends without effect explains little: the system would do the same as it is written. Another timer
    than is written is a fact, whatever it costs.
    """
    cured = np.concatenate([mended(days.designs[0], cause, trials[k : k + 1]) for k, cause in enumerate(causes)])
    ran = run_trials(days.in_usual_weather, cured)
    met_h, starts = ran.met_h / days.count, ran.counted["starts"] / days.count
    return [bool(trials["timer"][k]) or one.is_cured(float(met_h[k]), float(starts[k])) for k, one in enumerate(does)]


def mended(scenario: Scenario, cause: str, trial: np.ndarray) -> np.ndarray:
    """The trial (1,) with its cause put right: what is wrong as written, or what suits the system."""
    cured = trial.copy()
    for name, value in MENDED.get(cause, {}).items():
        cured[name] = value
    if cause in ("thresholds-too-close", "cut-off-too-high"):
        cured["off_v"], cured["on_v"] = _to_usual(scenario)
    if cause == "timer-or-preset" and not trial["timer"].any() and not trial["charge_v"].any():
        cured["timer"] = 1
    if cause == "charge-refused":
        cured["frost_c"] -= WARMER_C
    if cause == "too-small":
        cured["light"] *= 2.0
    return cured


def usual_pair(scenario: Scenario) -> tuple[float, float]:
    """Load voltages that suit the battery's chemistry, V."""
    blocks, told = scenario.battery.nominal_v / 12.0, chemistries()[scenario.battery.chemistry]["controller"]
    return float(told["load_disconnect_v"] * blocks), float(told["load_reconnect_v"] * blocks)


def _to_usual(scenario: Scenario) -> tuple[float, float]:
    """By how much those are higher than the load disconnect and reconnect voltages that are written, V."""
    off_v, on_v = usual_pair(scenario)
    return off_v - scenario.controller.load_disconnect_v, on_v - scenario.controller.load_reconnect_v
