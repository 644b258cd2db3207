"""The year in 12 rows and 31 columns: how much of the wanted hours each day got, and what took the rest."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTHS
from sim.figures.causes import CAUSES, Stop, Stops
from sim.report.figures import Table
from sim.words import hours

if TYPE_CHECKING:
    from sim.studies.result import YearResult

SIGNS = dict(zip(CAUSES, "TNDHIECPVFSO", strict=True))  # a letter for each cause, so that colour is not needed
CELL, GAP, LEFT, TOP = 19.0, 2.0, 44.0, 20.0
ALL = 0.995  # of the wanted hours


@dataclass(frozen=True)
class Cell:
    """A day: its place in the picture, the height of what was met, and the letter of what took the rest."""

    x: str
    y: str
    water_y: str
    water_height: str
    sign: str


@dataclass(frozen=True)
class Label:
    """A word in the picture."""

    x: str
    y: str
    text: str


@dataclass(frozen=True)
class Calendar:
    """The picture with its words, the letters it uses, and the table behind it."""

    description: str
    view: str
    cells: tuple[Cell, ...]
    months: tuple[Label, ...]
    days: tuple[Label, ...]
    signs: tuple[tuple[str, str], ...]
    table: Table


def hours_by_day(stops: Iterable[Stop], days: int) -> np.ndarray:
    """(days, causes) hours of standing; together they are all hours of standing.

    >>> hours_by_day([Stop(20.0, 50.0, "night", 0.1, 12.2)], 3)[:, CAUSES.index("night")].tolist()
    [4.0, 24.0, 2.0]
    """
    table = Stops.of(stops).table
    first = (table["from_h"] // 24.0).astype(int)
    count = np.maximum(np.ceil(table["to_h"] / 24.0).astype(int) - first, 1)
    stop = np.repeat(np.arange(len(table)), count)
    day = first[stop] + np.arange(len(stop)) - np.repeat(np.cumsum(count) - count, count)
    lasted = np.minimum((day + 1) * 24.0, table["to_h"][stop]) - np.maximum(day * 24.0, table["from_h"][stop])
    place = np.minimum(day, days - 1) * len(CAUSES) + table["cause"][stop]
    return np.bincount(place, lasted, days * len(CAUSES)).reshape(days, len(CAUSES))


def main_causes(by_day: np.ndarray) -> np.ndarray:
    """(days,) the cause that took most hours of each day; the timer only where there is nothing else."""
    weighed = by_day.copy()
    weighed[:, CAUSES.index("schedule")] *= 1e-6
    return np.asarray(weighed.argmax(axis=1))


def calendar_of(result: YearResult) -> Calendar:
    """The calendar of a simulated year."""
    year, index = result.measures, result.weather.index[::24]
    wanted = year.wanted_by_day
    met = np.where(wanted > 0.0, year.met_by_day / np.maximum(wanted, 1e-9), 1.0)
    by_day = hours_by_day(year.stops, len(met))
    causes = main_causes(by_day)
    cells = tuple(
        _cell(day.month - 1, day.day - 1, float(share), SIGNS[CAUSES[cause]] if share < ALL else "")
        for day, share, cause in zip(index, met, causes, strict=True)
    )
    used = {cell.sign for cell in cells} - {""}
    return Calendar(
        description=_said(met),
        view=f"0 0 {LEFT + 31 * (CELL + GAP):g} {TOP + 12 * (CELL + GAP):g}",
        cells=cells,
        months=tuple(Label("0", f"{_top(month) + 14.0:g}", name) for month, name in enumerate(MONTHS)),
        days=tuple(Label(f"{_left(day) + CELL / 2:g}", "13", str(day + 1)) for day in (0, 4, 9, 14, 19, 24, 29)),
        signs=tuple((sign, cause) for cause, sign in SIGNS.items() if sign in used),
        table=_table(year.months[::24], met, causes, by_day),
    )


def _said(met: np.ndarray) -> str:
    full, none = int((met >= ALL).sum()), int((met < 1.0 - ALL).sum())
    return (
        f"On {full} days of {len(met)} all wanted hours are met, on {none} days none of them, on "
        f"{len(met) - full - none} days a part."
    )


def _left(day: int) -> float:
    return LEFT + day * (CELL + GAP)


def _top(month: int) -> float:
    return TOP + month * (CELL + GAP)


def _cell(month: int, day: int, share: float, sign: str) -> Cell:
    height = CELL * share
    return Cell(
        x=f"{_left(day):g}",
        y=f"{_top(month):g}",
        water_y=f"{CELL - height:.2f}",
        water_height=f"{height:.2f}",
        sign=sign,
    )


def _table(months: np.ndarray, met: np.ndarray, causes: np.ndarray, by_day: np.ndarray) -> Table:
    """The picture in numbers, month by month."""
    rows = []
    for month, name in enumerate(MONTHS, 1):
        chosen = months == month
        full, none = int((met[chosen] >= ALL).sum()), int((met[chosen] < 1.0 - ALL).sum())
        taken = by_day[chosen].sum(axis=0)
        most = f"{CAUSES[int(taken.argmax())]}, {hours(float(taken.max()))}" if taken.max() > 0.0 else "none"
        rows.append((name, f"{full}", f"{int(chosen.sum()) - full - none}", f"{none}", most))
    return Table(
        ("Month", "Days with all wanted hours", "Days with a part", "Days with none", "Most hours"), tuple(rows)
    )
