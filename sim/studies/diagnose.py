"""What is wrong with a system that runs badly: every cause simulated, and held against what was seen."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from sim.calendar import DAY_S, HOUR_S
from sim.errors import InputError
from sim.light.sunlight import sunlight_on
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.studies.diagnose_causes import designs_of, mended
from sim.studies.diagnose_hand import FROM, Hand, check_hand, hand_likelihood
from sim.studies.diagnose_light import Light, clock_error_s, light_of
from sim.studies.diagnose_log import thinned, weigh_log
from sim.studies.diagnose_next import Next, next_measurement
from sim.studies.diagnose_prior import weigh_hand
from sim.studies.diagnose_seen import Seen, explained
from sim.studies.diagnose_trials import Days, Ran, plain, run_trials
from sim.studies.diagnose_weighed import Weighed, best_of, probabilities
from sim.studies.diagnose_words import EVIDENCE, HARDLY, Told, change_for
from sim.studies.measured_log import Readings, log_beside, through
from sim.weather import Weather, weather_for

UNDECIDED = "undecided"
DECIDED = 0.7  # the least probability of a verdict; our own default
WORTH = 0.05
SAID = {
    "thresholds-too-close": "the two load voltages lie too close together",
    "cut-off-too-high": "the cut-off voltage is too high",
    "leads-or-terminals": "the leads or terminals of the battery are bad",
    "battery-aged-or-small": "the battery is aged or too small",
    "shade-or-dirt": "shade or dirt takes the panel's light",
    "too-small": "the system is too small for what is wanted in these days",
    "charge-refused": "the battery refuses charge in the cold",
    "pump-draw": "the pump draws too much",
    "timer-or-preset": "a timer or a preset of the controller is wrong",
    "nothing": "nothing is wrong",
}
EXPLAINED = 0.7  # share of the readings that the verdict's cause must explain
FORTNIGHT_D, EVERY_S = 14, 1200.0
# What another clock than the log's own has to explain it better by, in nats, and rounds of the search that tell.
CLOCK_COST, CLOCK_ROUNDS = 10.0, 4
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Cause:
    """A cause with its probability 0…1, the evidence, and what to change."""

    id: str
    probability: float
    evidence: str
    change: str


@dataclass(frozen=True)
class Overlay:
    """A log beside what the scenario and the likeliest cause make of it, (n,) each."""

    at_s: np.ndarray
    measured_v: np.ndarray
    as_written_v: np.ndarray
    explained_v: np.ndarray
    rms_written_v: float
    rms_explained_v: float


@dataclass(frozen=True)
class Diagnosis:
    """What is wrong, by all that was seen."""

    scenario: Scenario
    weather: Weather
    causes: tuple[Cause, ...]  # the likeliest first
    verdict: str
    next: Next | None
    overlay: Overlay | None
    notes: tuple[str, ...]

    @property
    def likely(self) -> tuple[Cause, ...]:
        """The causes that are worth a look: the first, and those that are not far behind."""
        return tuple(one for place, one in enumerate(self.causes) if place == 0 or one.probability >= WORTH)

    @property
    def in_words(self) -> str:
        """The verdict in a sentence."""
        first = self.causes[0]
        if self.verdict == UNDECIDED:
            others = " or ".join(SAID[one.id] for one in self.causes[:2])
            return f"What was seen does not decide it; the likeliest: {others}."
        return f"{SAID[first.id].capitalize()} ({first.probability:.0%})."

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "causes": [vars(cause) for cause in self.causes],
            "verdict": self.verdict,
            "next_measurement": self.next.as_json() if self.next else None,
            "notes": list(self.notes),
        }


@dataclass(frozen=True)
class Case:
    """All that a diagnosis rests on."""

    scenario: Scenario
    weather: Weather
    hand: Hand
    days: Days
    seen: Seen | None
    notes: tuple[str, ...]


def moment_of(text: str | None) -> float | None:
    """A moment by the site's clock as seconds since its year began; InputError says how it is written."""
    if text is None:
        return None
    try:
        at = datetime.fromisoformat(text)
        return (at - datetime(at.year, 1, 1)).total_seconds()
    except (ValueError, TypeError):  # a moment that tells its offset is by another clock
        allowed = 'a moment such as "2026-06-03 14:00", by the site\'s standard clock'
        raise InputError(FROM, "--at", text, allowed) from None


def study_diagnose(scenario: Scenario, hand: Hand, log: Path | None = None, told: Progress | None = None) -> Diagnosis:
    """Every cause by its probability; nothing is written. Raises InputError where nothing was seen."""
    check_hand(scenario, hand)
    if log is None and not hand.told:
        raise InputError(FROM, "", None, "something that was seen: --log, --volts-on, --amps, --charging or --symptom")
    case = _case(scenario, hand, log)
    if case.seen is None:
        weighed = weigh_hand(case.scenario, case.days, hand)
    else:
        weighed = _with_hand(case, weigh_log(case.days, case.seen, told))
    return _diagnosis(case, weighed)


def _case(scenario: Scenario, hand: Hand, log: Path | None) -> Case:
    """The days, the light and the readings."""
    weather = weather_for(scenario)
    sky = sky_row(sunlight_on(scenario, weather), weather, scenario.battery)
    if log is None:
        at_s, notes = _fortnight(hand, sky)
        return Case(scenario, weather, hand, Days.of(designs_of(scenario), sky, at_s), None, notes)
    readings, said, known = log_beside(log, scenario, weather.index, weather.utc_offset_h)
    days, seen, notes = log_case(scenario, through(sky, readings), readings, known)
    return Case(scenario, weather, hand, days, seen, (*said, *notes))


def log_case(
    scenario: Scenario, sky: np.ndarray, readings: Readings, known: bool
) -> tuple[Days, Seen, tuple[str, ...]]:
    """The days of a log with its readings by the right clock, in weather that is ``known`` to be theirs or not."""
    first = thinned(readings)
    shift_s = clock_error_s(Days.of(designs_of(scenario), sky, first.at_s), first)
    as_told = _by_clock(scenario, sky, readings, known)
    if not shift_s:
        return as_told
    put_right = _by_clock(scenario, sky, _within(readings.later(-shift_s), len(sky) * HOUR_S), known)
    if _explained_to(put_right) < _explained_to(as_told) + CLOCK_COST:
        return as_told
    ahead = "ahead of" if shift_s > 0.0 else "behind"
    told = f"The log's clock is about {abs(shift_s) / 60.0:.0f} minutes {ahead} the sun: it was put right."
    return put_right[0], put_right[1], (told, *put_right[2])


def _by_clock(
    scenario: Scenario, sky: np.ndarray, readings: Readings, known: bool
) -> tuple[Days, Seen, tuple[str, ...]]:
    """The days of a log whose clock is right."""
    light, few = light_of(scenario, sky, readings, known), thinned(readings)
    days = Days.of(designs_of(scenario), light.sky, few.at_s)
    if light.share is not None:
        days = days.by_own_sun(sky)
    seen = Seen(few, scenario.battery.nominal_v / 12.0, light.share, light.held, light.known)
    return days, seen, () if known else (_of_the_sun(light),)


def _explained_to(case: tuple[Days, Seen, tuple[str, ...]]) -> float:
    """How likely a log is by the best explanation that a short search finds."""
    return max(one.likely for one in weigh_log(case[0], case[1], rounds=CLOCK_ROUNDS))


def _of_the_sun(light: Light) -> str:
    """What the sun of a log is where the weather of its days is not known."""
    if not light.known:
        return "The weather of these days is not known and the log has no charging current: it decides little."
    full = " The battery was full and took less than there was, so it decides little." if light.held else ""
    alike = "a dull fortnight, a shade for some hours and a small panel look alike in it"
    return f"The sun is taken from the log's own charging current: {alike}.{full}"


def _within(readings: Readings, end_s: float) -> Readings:
    return readings.some((readings.at_s >= 0.0) & (readings.at_s < end_s))


def _fortnight(hand: Hand, sky: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
    """Moments of the fortnight around a reading, or of one of middling light where no day was told."""
    last = len(sky) // 24 - FORTNIGHT_D
    notes: tuple[str, ...] = ()
    if hand.at_s is None:
        daily = sky["p_mp_w"].reshape(-1, 24).sum(axis=1)
        light = np.convolve(daily, np.ones(FORTNIGHT_D), "valid")
        first = int(np.argsort(light)[len(light) // 2])
        notes = ("No day was told (--at): a fortnight of middling light stands for it.",)
    else:
        first = int(hand.at_s // DAY_S) - FORTNIGHT_D // 2
    first = min(max(first, 0), last)
    return first * DAY_S + np.arange(EVERY_S, FORTNIGHT_D * DAY_S, EVERY_S), notes


def _with_hand(case: Case, weighed: tuple[Weighed, ...]) -> tuple[Weighed, ...]:
    """What a log says, with what was seen by hand beside it."""
    if not case.hand.told:
        return weighed
    ran = run_trials(case.days, np.concatenate([one.trial for one in weighed]))
    wanted_h = case.days.wanted_h * case.days.count
    more = hand_likelihood(case.scenario, case.hand, ran, case.days.at_s, wanted_h)
    both = [replace(one, likely=one.likely + float(add)) for one, add in zip(weighed, more, strict=True)]
    return tuple(sorted(both, key=lambda one: -one.likely))


def _diagnosis(case: Case, weighed: Sequence[Weighed]) -> Diagnosis:
    """Probabilities in words, with what each cause rests on and what mending it brings."""
    shares = probabilities(weighed, case.seen)
    best = {cause: found for cause in shares if (found := best_of(weighed, cause)) is not None}
    ran, told = _told(case, best)
    causes = tuple(_cause(cause, share, told.get(cause)) for cause, share in shares.items())
    both = {cause: (told[cause], ran.some(np.array([row]))) for row, cause in enumerate(list(best)[:2])}
    verdict, notes = _verdict(case, causes, best[causes[0].id], ran.some(np.array([0])))
    return Diagnosis(
        scenario=case.scenario,
        weather=case.weather,
        causes=causes,
        verdict=verdict,
        next=next_measurement(both, case.days.at_s, case.hand) if len(both) == 2 else None,
        overlay=_overlay(case, ran, best[causes[0].id].offset_v),
        notes=(*case.notes, *notes),
    )


def _told(case: Case, best: dict[str, Weighed]) -> tuple[Ran, dict[str, Told]]:
    """The best trials of the causes, run again with the plain one behind them, and each cause with its mending."""
    trials = np.concatenate([one.trial for one in best.values()])
    cured = np.concatenate([mended(case.scenario, cause, one.trial) for cause, one in best.items()])
    ran = run_trials(case.days, np.concatenate([trials, plain(1)]))
    then, days = run_trials(case.days.in_usual_weather, cured), case.days.count
    met_h, starts = then.met_h / days, then.counted["starts"] / days
    told = {
        cause: Told(case.scenario, one, float(met_h[row]), float(starts[row]))
        for row, (cause, one) in enumerate(best.items())
    }
    return ran, told


def _cause(cause: str, share: float, told: Told | None) -> Cause:
    """A cause in words; one that no way of being wrong has come to has nothing to show."""
    if told is None:
        return Cause(cause, share, HARDLY, HARDLY)
    return Cause(cause, share, EVIDENCE[cause](told), change_for(cause, told))


def _verdict(case: Case, causes: Sequence[Cause], best: Weighed, ran: Ran) -> tuple[str, tuple[str, ...]]:
    """The likeliest cause, or that none is likely enough or explains what was seen; and why."""
    if case.seen is not None:
        share = float(explained(case.seen, ran, np.array([best.offset_v]))[0])
        if share < EXPLAINED:
            return UNDECIDED, (
                f"Even the likeliest cause explains only {share:.0%} of the readings: something else is wrong, or the "
                "scenario is not this system.",
            )
    if causes[0].probability < DECIDED:
        return UNDECIDED, ()
    return causes[0].id, ()


def _overlay(case: Case, ran: Ran, offset_v: float) -> Overlay | None:
    """The log beside the plain trial, which is the last, and the likeliest, which is the first."""
    if case.seen is None:
        return None
    volts, best, own = case.seen.readings.voltage_v, ran.volts[:, 0] + offset_v, ran.volts[:, -1] + 0.0
    off = [float(np.sqrt(np.mean((one - volts) ** 2))) for one in (own, best)]
    return Overlay(case.days.at_s, volts, own, best, off[0], off[1])
