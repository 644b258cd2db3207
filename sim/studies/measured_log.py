"""A log from site: its readings, however the logger wrote them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from sim.calendar import HOUR_S, days_in
from sim.errors import InputError
from sim.studies.log_stamps import stamps_of
from sim.studies.log_table import Grid, factor_of, grid_of
from sim.weather.tables import NOTHING

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.scenario.log import LogColumns

OF_ANOTHER = "The log is of "  # so begins the note on a log of another year than the weather's
FEWEST = 50  # readings: fewer explain nothing
LIMITS = {"voltage": (5.0, 80.0), "light": (-50.0, 2000.0), "pump": (0.0, 100.0)}
CURRENTS = (-1000.0, 1000.0)
ON_SHARE = 0.3  # of the usual load current, from which on the pump is taken to run; our own default
LEAST_LOAD_A = 0.1
LONGEST, MOST_OF_YEAR = pd.Timedelta(days=366), 0.9  # of a log, and of its readings in the weather's year
MOST_MISSING = 0.5  # of a column's cells; one with fewer figures tells nothing
_STATES = {"on": "1", "true": "1", "yes": "1", "ein": "1", "off": "0", "false": "0", "no": "0", "aus": "0"}


@dataclass(frozen=True)
class Readings:
    """A log, each (n,): rising seconds since the year began, volts, and, where the log has them, amperes into the
    battery, from the panel and to the pump, the share of the time that the pump ran, and light in W/m²; NaN where a
    cell is empty.
    """

    at_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray | None = None
    pump: np.ndarray | None = None
    panel_a: np.ndarray | None = None
    load_a: np.ndarray | None = None
    light: np.ndarray | None = None

    def some(self, chosen: np.ndarray) -> Readings:
        """The readings that are chosen, by a mask or by numbers."""
        return replace(self, **{name: part[chosen] for name, part in vars(self).items() if part is not None})

    def later(self, by_s: float) -> Readings:
        """The same by a clock that was so much slow."""
        return replace(self, at_s=self.at_s + by_s)


def log_beside(
    path: Path, scenario: Scenario, index: pd.DatetimeIndex, utc_offset_h: float
) -> tuple[Readings, tuple[str, ...], bool]:
    """The log of a scenario's site beside a year of weather, whose hours are ``index``: as :func:`read_log`, and
    whether that year is its own.
    """
    columns = scenario.log.columns if scenario.log else None
    readings, notes = read_log(path, index[0].year, utc_offset_h, columns)
    return readings, notes, not any(note.startswith(OF_ANOTHER) for note in notes)


def through(sky: np.ndarray, readings: Readings) -> np.ndarray:
    """A sky (hours,) of SKY as long as the readings: the year again behind itself where they go across New Year."""
    return np.concatenate([sky, sky]) if readings.at_s[-1] >= len(sky) * HOUR_S else sky


def read_log(
    path: Path, year: int, utc_offset_h: float, columns: LogColumns | None = None
) -> tuple[Readings, tuple[str, ...]]:
    """The readings in a file, and what was noticed.

    Needed are a stamp and the voltage at the controller's battery terminals. Columns are those that the scenario
    names, or told by the headings. Stamps that say how far they are from UTC are turned to the site's standard time,
    ``utc_offset_h`` ahead of it. They are taken as of ``year`` if they are of another, and go on behind
    its end across New Year. Raises InputError naming row
    and column.
    """
    grid = grid_of(path, columns)
    _check_count(grid, len(grid.rows))
    way, own_h = (columns.time_format, columns.utc_offset_h) if columns else (None, None)
    stamps = stamps_of(grid, way, own_h, utc_offset_h)
    parts = {role: _figures(grid, role) for role in grid.columns}
    kept, notes = _kept(grid, stamps, parts["voltage"])
    _check_count(grid, int(kept.sum()))
    at_s, said = _seconds(grid.file, stamps[kept], year)
    told = {role: part[kept] for role, part in parts.items() if np.isfinite(part[kept]).mean() >= MOST_MISSING}
    return _readings(at_s, told), (*notes, *said)


def _check_count(grid: Grid, count: int) -> None:
    if count < FEWEST:
        raise InputError(grid.file, "", count, f"at least {FEWEST} readings")


def _figures(grid: Grid, role: str) -> np.ndarray:
    """(rows,) a column in V, A, W/m² or a share; NaN where a cell is empty."""
    column = grid.columns[role]
    cells = pd.Series([row[column.place] for row in grid.rows])
    plain = cells.str.lower().replace(_STATES) if role == "pump" else cells
    figures = pd.to_numeric(_with_points(grid, plain, column.heading), errors="coerce").to_numpy(float)
    figures = figures * factor_of(role, column.unit)
    empty = cells.str.lower().isin(NOTHING).to_numpy()
    low, high = LIMITS.get(role, CURRENTS)
    odd = ~empty & ~((figures >= low) & (figures <= high))
    if odd.any():
        row = int(odd.argmax())
        allowed = (
            "on or off, 1 or 0, or a share of the time" if role == "pump" else f"a number from {low:g} to {high:g}"
        )
        raise InputError(grid.file, f"row {grid.lines[row]}, {column.heading}", cells.iloc[row], allowed)
    return np.where(empty, np.nan, figures)


def _with_points(grid: Grid, cells: pd.Series, heading: str) -> pd.Series:
    """The cells with a point before the decimals."""
    commas, points = (cells.str.contains(sign, regex=False) for sign in ",.")
    if (commas & points).any() or (commas.any() and points.any()):
        row = int(commas.to_numpy().argmax())
        allowed = "point or comma before the decimals and no other sign; the column has both"
        raise InputError(grid.file, f"row {grid.lines[row]}, {heading}", cells.iloc[row], allowed)
    return cells.str.replace(",", ".", regex=False) if commas.any() else cells


def _kept(grid: Grid, stamps: pd.DatetimeIndex, volts: np.ndarray) -> tuple[np.ndarray, tuple[str, ...]]:
    """(rows,) the readings that count: with a voltage, and the first of those of one moment; and what was left out."""
    again = np.concatenate(([False], np.diff(stamps.to_numpy()) == np.timedelta64(0)))
    empty = np.isnan(volts)
    said = (
        (int(empty.sum()), "rows have no voltage and were left out."),
        (int((again & ~empty).sum()), "rows repeat the time of the row before and were left out."),
    )
    return ~empty & ~again, tuple(f"{count} {words}" for count, words in said if count)


def _seconds(file: str, stamps: pd.DatetimeIndex, year: int) -> tuple[np.ndarray, tuple[str, ...]]:
    """Seconds since a year began, the weather's if they touch it, and a note where many stamps are of another."""
    if stamps[-1] - stamps[0] > LONGEST:
        raise InputError(file, "time", f"{stamps[0]:%Y-%m-%d} to {stamps[-1]:%Y-%m-%d}", "a year at most")
    own = year if year in stamps.year else stamps[0].year
    begins = pd.Timestamp(own, 1, 1)
    if stamps[0] < begins:  # the end of the weather's year stands for the end of the year before
        begins -= pd.Timedelta(days=days_in(year))
    at_s = ((stamps - begins) / pd.Timedelta(seconds=1)).to_numpy(float)
    if (stamps.year == year).mean() >= MOST_OF_YEAR:
        return at_s, ()
    years = " and ".join(f"{one}" for one in dict.fromkeys((stamps[0].year, stamps[-1].year)))
    return at_s, (f"{OF_ANOTHER}{years}; the weather beside it is dated {year}.",)


def _readings(at_s: np.ndarray, told: dict[str, np.ndarray]) -> Readings:
    """The readings with what one column says of another: the load's current tells when the pump ran."""
    panel_a, load_a, battery_a = (told.get(f"{name}_current") for name in ("charge", "load", "battery"))
    if battery_a is None and panel_a is not None and load_a is not None:
        battery_a = panel_a - load_a
    if panel_a is None and battery_a is not None and load_a is not None:
        panel_a = battery_a + load_a
    pump = told.get("pump")
    if pump is not None and np.nanmax(pump) > 1.0:
        pump = pump / 100.0
    if pump is None and load_a is not None:
        pump = _runs(load_a)
    return Readings(at_s, told["voltage"], battery_a, pump, panel_a, load_a, told.get("light"))


def _runs(load_a: np.ndarray) -> np.ndarray:
    """Whether the pump ran, by the current to it.

    >>> _runs(np.array([0.01, 2.0, 2.1, 0.0])).tolist()
    [0.0, 1.0, 1.0, 0.0]
    """
    usual = float(np.nanpercentile(load_a, 95))
    return np.where(np.isnan(load_a), np.nan, (load_a > max(ON_SHARE * usual, LEAST_LOAD_A)).astype(float))
