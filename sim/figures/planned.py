"""What timer, season and quiet hours plan: what they leave of the wanted hours, and how well quiet is kept."""

from dataclasses import dataclass

import numpy as np

from sim.calendar import HOUR_S, within_a_day
from sim.figures.series import HOURS_A_DAY, by_day, by_month, longest_run
from sim.plant.log import Log
from sim.scenario import Scenario
from sim.scenario.care import Care


@dataclass(frozen=True)
class Quiet:
    """Hours of the year in which it should be quiet, and in how many of them the pump ran."""

    hours: float
    ran_h: float


def shares_of_day(window: tuple[str, str]) -> np.ndarray:
    """(24,) share of each hour of the day that lies in a window.

    >>> shares_of_day(("22:30", "01:00"))[[0, 1, 22, 23]].tolist()
    [1.0, 0.0, 0.5, 1.0]
    """
    begins = HOUR_S * np.arange(HOURS_A_DAY)
    parts = (np.minimum(begins + HOUR_S, b) - np.maximum(begins, a) for a, b in within_a_day([window]))
    return np.asarray(sum(np.maximum(part, 0.0) for part in parts)) / HOUR_S


def in_service(care: Care, months: np.ndarray) -> np.ndarray:
    """(days,) whether the season's break leaves a day of a year, ``months`` (days,) being the month 1…12 of each.

    >>> in_service(Care(shut_down="11-01", start_up="01-03"), np.array([1, 1, 1, 10, 11, 12])).tolist()
    [False, False, True, True, False, False]
    """
    days = np.arange(len(months))
    if care.shut_down is None or care.start_up is None:
        return np.ones(len(days), bool)
    down, up = (np.searchsorted(months, int(day[:2])) + int(day[3:]) - 1 for day in (care.shut_down, care.start_up))
    return np.asarray((days - up) % len(days) < (down - up) % len(days))


def wanted_by_day(scenario: Scenario, months: np.ndarray) -> np.ndarray:
    """(days,) hours wanted on each day of a year, none in the season's break; ``months`` (days,) is 1…12.

    What a timer takes away stays wanted, or a timer that is set wrong would look well.
    """
    asked = np.asarray(scenario.need.hours_per_day)[months - 1]
    return np.where(in_service(scenario.care, months), asked, 0.0)


def wanted_by_month(scenario: Scenario, months: np.ndarray) -> np.ndarray:
    """(12,) hours wanted in each month of the same year."""
    return by_month(wanted_by_day(scenario, months), months)


def reach_by_day(scenario: Scenario, log: Log, lane: int, wanted: np.ndarray) -> np.ndarray:
    """(days,) of the hours ``wanted`` (days,) those that the timer leaves: the rest is not the sun's fault."""
    planned_h = by_day(log.per_interval("schedule_s", lane)) / HOUR_S
    left_h = np.maximum(shares_of_day(scenario.need.between) - planned_h, 0.0).sum(axis=1)
    return np.asarray(np.minimum(wanted, left_h))


def quiet_of(scenario: Scenario, run_h: np.ndarray) -> Quiet | None:
    """How well quiet hours are kept, from hours run in each hour (hours,); None where none are asked for.

    In an hour that is quiet in part, the pump is taken to have run outside that part as far as there was room.
    """
    if scenario.need.quiet is None:
        return None
    share = shares_of_day(scenario.need.quiet)
    ran = np.minimum(np.maximum(by_day(run_h) + share - 1.0, 0.0), share)
    return Quiet(float(share.sum()) * len(ran), float(ran.sum()))


def unreached_h(scenario: Scenario, log: Log, lane: int) -> float:
    """Hours on end without a run in which the controller never read its reconnect voltage, the season left out."""
    control = scenario.controller
    read_v = log.per_interval("bus_high_v", lane) + control.reading_error_v
    stood = (log.per_interval("run_s", lane) == 0.0) & (log.per_interval("seasonal_s", lane) == 0.0)
    return float(longest_run(stood & (read_v < control.load_reconnect_v)))
