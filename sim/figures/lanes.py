"""From lanes to figures: the one place where a log that was read hourly or daily becomes what a year is judged by."""

import numpy as np

from sim.figures.series import HOURS_A_DAY
from sim.plant.causes import RUNNING
from sim.plant.log import Log

RUNS_AT_LEAST_H = 1.0 / 60.0  # a day with less is a day without running
COUNTS = "starts disconnects early_disconnects reconnects lifted_reconnects refused_reconnects".split()
_SECONDS = {"hours": "run_s", "below_20_h": "below_20_s"}
_FIGURES = (*_SECONDS, *"idle_days shortest_run_h longest_stop_h min_soc cycles".split(), *COUNTS)
FIGURES = np.dtype(
    [(name, np.float64, (12,)) for name in ("run_h", "met_h")] + [(name, np.float64) for name in _FIGURES]
)


def hours_by_day(log: Log, name: str) -> np.ndarray:
    """(lanes, days) hours that a total of seconds gained day by day."""
    days = round(log.at_s[-1] / (3600.0 * HOURS_A_DAY))
    return np.array([np.diff(lane).reshape(days, -1).sum(axis=1) for lane in log.totals[name].T]) / 3600.0


def met_by_day(log: Log, wanted: np.ndarray) -> np.ndarray:
    """(lanes, days) hours that count: in the wanted time of day, up to what is ``wanted`` (days,)."""
    return np.asarray(np.minimum(hours_by_day(log, "window_run_s"), wanted))


def lowest_soc(log: Log) -> np.ndarray:
    """(lanes,) the lowest charge of the year, its first moment included."""
    return np.asarray(np.minimum(log.totals["soc_low"][1:].min(axis=0), log.totals["soc"][0]))


def longest_stop_h(log: Log) -> np.ndarray:
    """(lanes,) the longest time that the pump stood, a stop that outlasts the year included, no more than a year.

    In a year that begins as it ends a stop across New Year is one, counted whole where it ends.
    """
    state = log.lanes["state"]
    standing_s = np.where(state["cause"] == RUNNING, 0.0, log.at_s[-1] - state["changed_s"])
    longest_s = np.maximum(log.totals["longest_stop_s"].max(axis=0), standing_s)
    return np.asarray(np.minimum(longest_s, log.at_s[-1]) / 3600.0)


def shortest_run_h(log: Log) -> np.ndarray:
    """(lanes,) the shortest run that came to an end; infinite where none did."""
    return np.asarray(log.totals["shortest_run_s"].min(axis=0) / 3600.0)


def full_cycles(log: Log) -> np.ndarray:
    """(lanes,) the discharge of the year in capacities."""
    return np.asarray(log.totals["discharge_ah"][-1] / log.lanes["lane"]["capacity_ah"])


def met_share(met_h: float, wanted_h: float) -> float:
    """The share of wanted hours that are met; all where none are wanted."""
    return float(met_h / wanted_h) if wanted_h > 0.0 else 1.0


def _monthly(daily: np.ndarray, months: np.ndarray) -> np.ndarray:
    """(lanes, 12) sums of a table by day (lanes, days), the same whatever lanes stand side by side."""
    running = np.concatenate((np.zeros_like(daily[:, :1]), np.cumsum(daily, axis=1)), axis=1)
    return np.diff(running[:, np.searchsorted(months, np.arange(1, 14))], axis=1)


def figures_of(log: Log, months: np.ndarray, wanted: np.ndarray) -> np.ndarray:
    """(lanes,) of FIGURES from a log; ``months`` 1…12 and hours ``wanted`` are (days,)."""
    found = np.zeros(len(log.lanes), FIGURES)
    daily_h = hours_by_day(log, "run_s")
    found["run_h"] = _monthly(daily_h, months)
    found["met_h"] = _monthly(met_by_day(log, wanted), months)
    found["idle_days"] = np.count_nonzero(daily_h < RUNS_AT_LEAST_H, axis=1)
    found["longest_stop_h"], found["min_soc"], found["cycles"] = longest_stop_h(log), lowest_soc(log), full_cycles(log)
    found["shortest_run_h"] = shortest_run_h(log)
    for name, seconds in _SECONDS.items():
        found[name] = log.totals[seconds][-1] / 3600.0
    for name in COUNTS:
        found[name] = log.totals[name][-1]
    return found
