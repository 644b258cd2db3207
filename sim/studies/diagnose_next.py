"""The one measurement that tells the two likeliest causes apart best, with the reading to expect under each."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.calendar import DAY_S, HOUR_S
from sim.studies.diagnose_hand import Hand
from sim.studies.diagnose_trials import Ran
from sim.studies.diagnose_words import Told

TELLING = 2.0  # times its error that two readings must be apart; our own default


@dataclass(frozen=True)
class Way:
    """A measurement: how it is made, in what unit, how sharp it is (a part and a share), and whether it was made."""

    key: str
    how: str
    unit: str
    error: float
    share: float
    expected: Callable[[Told, Ran, np.ndarray], float]
    made: Callable[[Hand], bool] = lambda hand: False


@dataclass(frozen=True)
class Next:
    """What to measure, and what is then read under each of two causes; nothing where nothing tells them apart."""

    how: str
    causes: tuple[str, str]
    readings: tuple[str, str]
    apart: float  # in errors of the measurement

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {"how": self.how, "expect": dict(zip(self.causes, self.readings, strict=True))}

    @property
    def words(self) -> str:
        """A sentence."""
        one, other = (f"{reading} if it is {cause}" for cause, reading in zip(self.causes, self.readings, strict=True))
        return f"{self.how}: {one}, {other}."


def _noon_a(it: Told, ran: Ran, at_s: np.ndarray) -> float:
    given = ran.amps[:, 0] + ran.on[:, 0] * it.pump_a
    return float(np.percentile(given, 99))


def _by_day_h(it: Told, ran: Ran, at_s: np.ndarray) -> float:
    hour = at_s % DAY_S / HOUR_S
    return float(ran.on[(hour >= 9.0) & (hour < 15.0), 0].mean() * 6.0)


def _lasts_h(it: Told, ran: Ran, at_s: np.ndarray) -> float:
    return float(0.8 * it.scenario.battery.capacity_ah * it.trial["capacity"] / it.pump_a)


WAYS: tuple[Way, ...] = (
    Way("drop", "With the pump running, measure between the battery's own posts and the controller's battery terminals",
        "V", 0.03, 0.1, lambda it, ran, at: it.pump_a * float(it.lead_ohm + it.trial["lead_ohm"])),
    Way("sag", "In the dark, read the controller's battery terminals with the pump off and a minute later running; "
        "take the difference", "V", 0.04, 0.2, lambda it, ran, at: it.sag_v,
        lambda hand: bool(hand.volts_off and hand.volts_on)),
    Way("amps", "Measure the pump's current", "A", 0.05, 0.07, lambda it, ran, at: it.pump_a,
        lambda hand: bool(hand.amps)),
    Way("noon", "Measure the panel's current in clear sun on a day on which the battery is not full", "A", 0.1, 0.12,
        _noon_a, lambda hand: hand.charging is not None),
    Way("stop", "Read the controller's battery terminals just before the pump stops", "V", 0.05, 0.0,
        lambda it, ran, at: it.off_v),
    Way("start", "Read the controller's battery terminals just before the pump starts again", "V", 0.05, 0.0,
        lambda it, ran, at: it.on_v),
    Way("day", "See how long the pump runs between 9 and 15 o'clock", "h", 0.5, 0.1, _by_day_h),
    Way("high", "Read the highest voltage of a sunny afternoon", "V", 0.08, 0.0,
        lambda it, ran, at: float(np.percentile(ran.volts[:, 0], 99))),
    Way("lasts", "Charge the battery full, cover the panel, and see how long the pump runs on it", "h", 0.5, 0.15,
        _lasts_h),
)  # fmt: skip


def next_measurement(pair: Mapping[str, tuple[Told, Ran]], at_s: np.ndarray, hand: Hand) -> Next | None:
    """Of all measurements the one whose readings under two causes lie furthest apart, against its error."""
    found = []
    for way in WAYS:
        if way.made(hand):
            continue
        values = [way.expected(it, ran, at_s) for it, ran in pair.values()]
        apart = abs(values[0] - values[1]) / (way.error + way.share * max(map(abs, values)))
        found.append((apart, way, values))
    apart, way, values = max(found, key=lambda one: one[0])
    one, other = pair
    form = "{:.2f} {}" if way.unit == "V" else "{:.1f} {}"
    readings = [form.format(value, way.unit) for value in values]
    return Next(way.how, (one, other), (readings[0], readings[1]), apart) if apart >= TELLING else None
