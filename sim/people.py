"""What happens to the inputs by clock and calendar: load schedule, wanted hours, season, dirt and cleaning."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sim.engine import DAY_S, HOUR_S, Hours, Plant, Process, at_times, schedule
from sim.scenario.clock import day_s

if TYPE_CHECKING:
    from sim.scenario import Scenario

MONTH_S = 365.0 / 12.0 * DAY_S
Changes = list[tuple[float, float]]


def after_dusk(lit: np.ndarray, hours: float) -> Changes:
    """When a timer that starts at the end of light lets the load run, and when it stops it.

    >>> after_dusk(np.array([0, 1, 1, 0, 0, 0]), 2.0)
    [(0.0, 0.0), (10800.0, 1.0), (18000.0, 0.0)]
    """
    dusks = (np.flatnonzero((lit[:-1] == 1) & (lit[1:] == 0)) + 1) * HOUR_S
    dawns = np.append((np.flatnonzero((lit[:-1] == 0) & (lit[1:] == 1)) + 1) * HOUR_S, np.inf)
    changes: Changes = [(0.0, 0.0)]
    for dusk in dusks:
        end = min(dusk + hours * HOUR_S, dawns[dawns > dusk][0])
        changes += [(float(dusk), 1.0), (float(end), 0.0)] if end > dusk else []
    return changes


def season(shut_down: str, start_up: str, year: int) -> Changes:
    """When the system is shut down for the season and started again.

    >>> season("11-15", "03-15", 2001) == [(0.0, 1.0), (73 * 86400.0, 0.0), (318 * 86400.0, 1.0)]
    True
    """
    down, up = day_s(shut_down, year), day_s(start_up, year)
    return sorted([(0.0, 1.0 if up < down else 0.0), (down, 1.0), (up, 0.0)])


def dirt(per_month: float, cleanings: Sequence[str], year: int, days: int) -> Changes:
    """The share of light that growing dirt leaves, day by day, back to 1 at each cleaning.

    >>> [round(share, 3) for _, share in dirt(0.3, ["01-03"], 2001, 4)]
    [1.0, 0.99, 1.0, 0.99]
    """
    cleaned = {day_s(day, year) for day in cleanings}
    share, changes = 1.0, []
    for day in range(days):
        share = 1.0 if day * DAY_S in cleaned else share * (1.0 - per_month) ** (DAY_S / MONTH_S) if day else 1.0
        changes.append((day * DAY_S, share))
    return changes


def equalisations(every_days: int, days: int) -> Changes:
    """The mornings whose charge equalises.

    >>> equalisations(30, 70)
    [(2592000.0, 1.0), (5184000.0, 1.0)]
    """
    return [(day * DAY_S, 1.0) for day in range(every_days, days, every_days)] if every_days else []


def _single(plant: Plant, lane: int, scenario: Scenario) -> list[Process]:
    """The processes of one lane that share nothing with others'."""
    control, care, year = scenario.controller, scenario.care, scenario.weather.year
    sky = plant.sky[plant.lanes["lane"]["place"][lane]]
    days = len(sky) // 24
    found: list[tuple[str, Changes]] = [("equalise", equalisations(control.equalise_every_days, days))]
    if control.load_mode == "after-dusk":
        found.append(("scheduled", after_dusk(sky["lit"], control.hours_after_dusk)))
    if care.shut_down is not None and care.start_up is not None:
        found.append(("seasonal", season(care.shut_down, care.start_up, year)))
    if care.soiling_per_month > 0.0:
        found.append(("clean", dirt(care.soiling_per_month, care.panel_cleaning, year, days)))
    return [at_times(plant, name, lane, changes) for name, changes in found if changes]


def processes(plant: Plant, scenarios: Sequence[Scenario]) -> list[Process]:
    """Everything that changes the inputs of the lanes of these scenarios."""
    needed = {lane: Hours((scenario.need.between_s,)) for lane, scenario in enumerate(scenarios)}
    timed = {
        lane: Hours(scenario.controller.load_windows_s)
        for lane, scenario in enumerate(scenarios)
        if scenario.controller.load_windows
    }
    shared = [schedule(plant, "in_window", needed)]
    if timed:
        shared.append(schedule(plant, "scheduled", timed))
    return shared + [one for lane, scenario in enumerate(scenarios) for one in _single(plant, lane, scenario)]
