"""The starts and stops of a lane; where there are more than a log has room for, the rest of the year hour by hour."""

import numpy as np

from sim.plant.causes import RUNNING, SECONDS, STANDING
from sim.plant.log import Log
from sim.plant.records import EVENT

SECONDS_OF = {cause.seconds: code for code, cause in STANDING.items()} | {SECONDS[RUNNING]: RUNNING}


def lost_from(log: Log, lane: int = 0) -> int | None:
    """The interval from which on a log had no room for all events of a lane; None if it kept them, or keeps none."""
    room = log.events.shape[1]
    if not room or int(log.lanes["state"]["events"][lane]) <= room:
        return None
    return int(np.searchsorted(log.at_s, log.events["at_s"][lane, -1], side="right")) - 1


def events_of(log: Log, lane: int = 0) -> np.ndarray:
    """The starts and stops of a lane in order, (k,) of EVENT.

    From the interval on that had no room any more, each interval has a stop for each cause that it knew, one after the
    other from its beginning, and its running after them: hours by cause stay exact, moments are good to an interval.
    """
    kept, lost = log.events_of(lane), lost_from(log, lane)
    if lost is None:
        return kept
    return np.concatenate((kept[kept["at_s"] < log.at_s[lost]], _by_interval(log, lane, lost)))


def _by_interval(log: Log, lane: int, first: int) -> np.ndarray:
    """The events from an interval on as sums."""
    seconds = np.column_stack([log.per_interval(name, lane)[first:] for name in SECONDS_OF])
    interval, kind = np.nonzero(seconds > 0.0)
    began_s = log.at_s[first:-1, np.newaxis] + np.cumsum(seconds, axis=1) - seconds
    found = np.zeros(len(interval), EVENT)
    found["at_s"], found["cause"] = began_s[interval, kind], np.array(list(SECONDS_OF.values()))[kind]
    for name in ("soc", "bus_v", "battery_a"):
        found[name] = log.totals[name][first:-1, lane][interval]
    found["refused"] = (log.per_interval("refused_s", lane)[first:] > 0.0)[interval]
    changes = np.r_[True, found["cause"][1:] != found["cause"][:-1]]
    return found[changes]
