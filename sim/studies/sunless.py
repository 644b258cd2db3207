"""How many days without sun the system bridges: from a full battery until the pump stops for want of charge."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sim.plant.causes import LOW_VOLTAGE, PROTECTION, STALLED
from sim.plant.run import HOURLY, run
from sim.scenario import Scenario
from sim.studies.twins import KEPT_CLEAN

DARK_DAYS = 60  # that are tried
WANTS_CHARGE = (LOW_VOLTAGE, PROTECTION, STALLED)
ROOM = 5_000  # events


@dataclass(frozen=True)
class Sunless:
    """From full to the first stop for want of charge, without any sun, beginning with a month's first day.

    ``hours`` is None where it never came to that in DARK_DAYS, or where the load does not run in the dark at all.
    """

    month: int
    hours: float | None
    ran_h: float

    @property
    def days(self) -> float | None:
        """The same in days."""
        return None if self.hours is None else self.hours / 24.0

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        return {
            "from_month": self.month,
            "hours_to_disconnect": self.hours,
            "days_to_disconnect": self.days,
            "pump_hours": self.ran_h,
        }


def dark_from(sky: np.ndarray, hour: int) -> np.ndarray:
    """(DARK_DAYS·24,) of SKY from an hour of the year on, around New Year, with the battery's cold and no light."""
    dark = np.roll(sky, -hour)[: 24 * DARK_DAYS].copy()
    for name in ("current_a", "p_mp_w", "open_v", "lit"):
        dark[name] = 0
    return dark


def bridged(scenario: Scenario, sky: np.ndarray, months: np.ndarray, month: int) -> Sunless:
    """From full on the first of a ``month`` 1…12; ``sky`` and the month of each hour are (hours,)."""
    never = {**KEPT_CLEAN, "shut_down": None, "start_up": None, "fault": ()}
    full = scenario.but(battery={"initial_soc": 1.0}, care=never)
    dark = dark_from(sky, int(np.argmax(months == month)))
    ((log, lane),) = run([full], dark[np.newaxis], how=replace(HOURLY, events=ROOM))
    events = log.events_of(lane)
    stopped = events[np.isin(events["cause"], WANTS_CHARGE)]
    if not len(stopped):
        return Sunless(month, None, float(log.totals["run_s"][-1, lane]) / 3600.0)
    at_s = float(stopped["at_s"][0])
    ran_s = np.interp(at_s, log.at_s, log.totals["run_s"][:, lane])
    return Sunless(month, at_s / 3600.0, float(ran_s) / 3600.0)
