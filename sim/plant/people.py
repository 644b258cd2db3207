"""What happens to the inputs by clock and calendar: load schedule, wanted hours, season, dirt, snow and cleaning."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import DAY_S, HOUR_S, day_s, days_in
from sim.plant.engine import Hours, Plant, Process, at_times, schedule
from sim.plant.faults import fault_processes

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.scenario.care import Care

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


def quieted(changes: Changes, allowed_s: Sequence[tuple[float, float]] | None) -> Changes:
    """A timer's changes with what lies outside the allowed times of day left out; None allows all.

    >>> quieted([(0.0, 0.0), (79200.0, 1.0), (90000.0, 0.0)], [(21600.0, 82800.0)])
    [(0.0, 0.0), (79200.0, 1.0), (82800.0, 0.0)]
    """
    if allowed_s is None:
        return changes
    first, *rest = changes
    left = [first]
    for (on_s, _), (off_s, _) in zip(rest[::2], rest[1::2], strict=True):
        for midnight_s in np.arange(on_s // DAY_S, off_s // DAY_S + 1.0) * DAY_S:
            for start_s, end_s in allowed_s:
                begun, ended = max(on_s, midnight_s + start_s), min(off_s, midnight_s + end_s)
                left += [(float(begun), 1.0), (float(ended), 0.0)] if begun < ended else []
    return left


def season(shut_down: str, start_up: str, year: int) -> Changes:
    """When the system is shut down for the season and started again.

    >>> season("11-15", "03-15", 2001) == [(0.0, 1.0), (73 * 86400.0, 0.0), (318 * 86400.0, 1.0)]
    True
    """
    down, up = day_s(shut_down, year), day_s(start_up, year)
    return sorted([(0.0, 1.0 if up < down else 0.0), (down, 1.0), (up, 0.0)])


def dirt(per_month: float, cleanings: Sequence[str], year: int, days: int) -> Changes:
    """The share of light that growing dirt leaves, day by day, back to 1 at each cleaning.

    The year is a ring: it begins as dirty as it ends. A panel that is never cleaned begins clean.

    >>> [round(share, 2) for _, share in dirt(0.3, ["01-03"], 2001, 4)]
    [0.98, 0.97, 1.0, 0.99]
    >>> [round(share, 2) for _, share in dirt(0.3, [], 2001, 3)]
    [1.0, 0.99, 0.98]
    """
    cleaned = [int(day_s(day, year) / DAY_S) for day in cleanings] or [0]
    since = np.min([(np.arange(days) - day) % days for day in cleaned], axis=0)
    shares = (1.0 - per_month) ** (since * DAY_S / MONTH_S)
    return [(day * DAY_S, float(share)) for day, share in enumerate(shares)]


def snowed_in(spells: Sequence[tuple[str, str]], year: int, days: int) -> np.ndarray:
    """(days,) whether snow lies on the panel: from the first day of a spell until the morning of its last.

    >>> np.flatnonzero(snowed_in([("12-30", "01-02")], 2001, 365)).tolist()
    [0, 363, 364]
    """
    covered = np.zeros(days, bool)
    for first, last in spells:
        start, end = (int(day_s(day, year) / DAY_S) for day in (first, last))
        covered |= (np.arange(days) - start) % days < (end - start) % days
    return covered


def light_left(care: Care, year: int, days: int) -> Changes:
    """The share of light that dirt and snow leave, day by day; nothing where there is neither."""
    if not (care.soiling_per_month or care.snow):
        return []
    ring = min(days, days_in(year))
    covered = snowed_in(care.snow, year, ring)
    shares = dirt(care.soiling_per_month, care.panel_cleaning, year, ring)
    left = [(when_s, 0.0 if snow else share) for (when_s, share), snow in zip(shares, covered, strict=True)]
    return every_year(left, ring, days)


def every_year(changes: Changes, ring: int, days: int) -> Changes:
    """The changes of a year of ``ring`` days, and the same in the years behind it, for so many days in all.

    >>> every_year([(0.0, 1.0), (86400.0, 0.5)], 2, 3)
    [(0.0, 1.0), (86400.0, 0.5), (172800.0, 1.0), (259200.0, 0.5)]
    """
    return [(first * DAY_S + when_s, value) for first in range(0, days, ring) for when_s, value in changes]


def equalisations(every_days: int, days: int) -> Changes:
    """The mornings whose charge equalises.

    >>> equalisations(30, 70)
    [(2592000.0, 1.0), (5184000.0, 1.0)]
    """
    return [(day * DAY_S, 1.0) for day in range(every_days, days, every_days)] if every_days else []


def changes_of(scenario: Scenario, lit: np.ndarray) -> dict[str, Changes]:
    """What the calendar does to each input of a design, where ``lit`` (hours,) is 1 in the light."""
    control, care, year, days = scenario.controller, scenario.care, scenario.weather.year, len(lit) // 24
    found = {
        "equalise": equalisations(control.equalise_every_days, days),
        "clean": light_left(care, year, days),
    }
    if control.load_mode == "after-dusk":
        found["scheduled"] = quieted(after_dusk(lit, control.hours_after_dusk), scenario.load_windows_s)
    if care.shut_down is not None and care.start_up is not None:
        found["seasonal"] = every_year(season(care.shut_down, care.start_up, year), days_in(year), days)
    return {name: changes for name, changes in found.items() if changes}


def _single(plant: Plant, lane: int, scenario: Scenario, light: float) -> list[Process]:
    """The processes of one lane that share nothing with others'."""
    lit = plant.sky[plant.lanes["lane"]["place"][lane]]["lit"]
    changes = changes_of(scenario, lit)
    if "clean" in changes:
        changes["clean"] = [(when_s, share * light) for when_s, share in changes["clean"]]
    by_calendar = [at_times(plant, name, lane, when) for name, when in changes.items()]
    return by_calendar + fault_processes(plant, lane, scenario.care, len(lit) * HOUR_S)


def processes(plant: Plant, scenarios: Sequence[Scenario], light: Sequence[float] | None = None) -> list[Process]:
    """Everything that changes the inputs of the lanes of these scenarios, whose panels give a share of their light."""
    shares = [1.0] * len(scenarios) if light is None else light
    needed = {lane: Hours((scenario.need.between_s,)) for lane, scenario in enumerate(scenarios)}
    timed = {
        lane: Hours(windows_s)
        for lane, scenario in enumerate(scenarios)
        if (windows_s := scenario.load_windows_s) is not None and scenario.controller.load_mode != "after-dusk"
    }
    shared = [schedule(plant, "in_window", needed)]
    if timed:
        shared.append(schedule(plant, "scheduled", timed))
    return shared + [it for lane, one in enumerate(scenarios) for it in _single(plant, lane, one, shares[lane])]
