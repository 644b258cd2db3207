"""A log from site: its readings, and what a comparison with the design says of it."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.files import cells_of, read_bytes

COLUMNS = ("time", "voltage_v", "current_a", "pump")
NEEDED = ("time", "voltage_v")
FEWEST = 50  # readings: fewer explain nothing
LOWEST_V, HIGHEST_V = 5.0, 80.0
_ON = {"1": True, "on": True, "true": True, "0": False, "off": False, "false": False}


@dataclass(frozen=True)
class Readings:
    """A log, each (n,): rising seconds since the year began, volts, amperes into the battery and pump on (or None)."""

    at_s: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray | None
    pump: np.ndarray | None


@dataclass(frozen=True)
class Estimate:
    """A value with its standard error."""

    value: float
    error: float


@dataclass(frozen=True)
class Measured:
    """What the log says; ``resistance_mohm`` is R0 + R1 of the battery in the scenario's terms, arrays are (n,)."""

    readings: Readings
    simulated_v: np.ndarray  # by the scenario as it is
    fitted_v: np.ndarray
    expected_mohm: float
    resistance_mohm: Estimate
    panel_factor: Estimate
    start_soc: Estimate
    rms_before_v: float
    rms_after_v: float
    differing_days: tuple[tuple[str, float], ...]  # "MM-DD", mean difference in V of the scenario as it is
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "readings": len(self.readings.at_s),
            "expected_mohm": self.expected_mohm,
            "resistance_mohm": asdict(self.resistance_mohm),
            "panel_factor": asdict(self.panel_factor),
            "start_soc": asdict(self.start_soc),
            "rms_before_v": self.rms_before_v,
            "rms_after_v": self.rms_after_v,
            "differing_days": [list(day) for day in self.differing_days],
            "notes": list(self.notes),
        }

    def in_words(self) -> tuple[str, ...]:
        """What the log says: of the resistance, of the panel, of the days, and what was noticed."""
        days = len(self.differing_days)
        which = ", ".join(f"{day} by {volts:.2f} V" for day, volts in self.differing_days[:10])
        ohms, panel = self.resistance_mohm, self.panel_factor
        return (
            f"Battery and its connections behave like {ohms.value:.0f} ± {2.0 * ohms.error:.1f} mΩ; the scenario has "
            f"{self.expected_mohm:.0f} mΩ.",
            f"The panel's current is {panel.value:.0%} of what the scenario expects, give or take "
            f"{200.0 * panel.error:.1f} points (two standard errors): dirt, shade, ageing, or other weather.".replace(
                "% of", " % of", 1
            ),
            f"On {days} days log and simulation differ by much on average: {which}{' and more' if days > 10 else ''}."
            if days
            else "On no day do log and simulation differ by much on average.",
            *self.notes,
        )


def read_log(path: Path, year: int, utc_offset_h: float) -> tuple[Readings, tuple[str, ...]]:
    """The readings in a CSV file, and what was noticed: columns ``time`` (ISO 8601, the site's standard time),
    ``voltage_v`` at the controller's terminals, and optionally ``current_a`` into the battery and ``pump`` (on, off).

    Stamps that say how far they are from UTC are turned to the site's standard time, ``utc_offset_h`` ahead of it.
    They are taken as of ``year`` if they are of another. Raises InputError naming row and column.
    """
    rows, clock = _rows(path), timezone(timedelta(hours=utc_offset_h))
    stamps = [_stamp(path, place, row["time"], clock) for place, row in rows]
    years = {stamp.year for stamp in stamps}
    if len(years) != 1:
        raise InputError(str(path), "time", sorted(years), "stamps of a single calendar year")
    start = datetime(stamps[0].year, 1, 1)
    at_s = np.array([(stamp - start).total_seconds() for stamp in stamps])
    falling = np.flatnonzero(np.diff(at_s) <= 0.0)
    if len(falling):
        place, row = rows[int(falling[0]) + 1]
        raise InputError(str(path), f"row {place}, time", row["time"], "a time after that of the row before")
    notes = () if years == {year} else (f"The log is of {stamps[0].year}; the weather beside it is dated {year}.",)
    volts = _numbers(path, rows, "voltage_v", LOWEST_V, HIGHEST_V)
    amps = _numbers(path, rows, "current_a", -1000.0, 1000.0) if "current_a" in rows[0][1] else None
    pump = np.array([_is_on(path, place, row["pump"]) for place, row in rows]) if "pump" in rows[0][1] else None
    return Readings(at_s, volts, amps, pump), notes


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """The rows of the file with their numbers, header checked."""
    try:
        text = read_bytes(path, "a log").decode("utf-8-sig")
    except UnicodeDecodeError as reason:
        raise InputError(str(path), "", None, f"text in UTF-8; byte {reason.start + 1} is none") from None
    lines = [cells_of(str(path), place, line) for place, line in enumerate(text.splitlines(), 1)]
    head = [name.strip().lower() for name in (lines or [[]])[0]]
    odd = [name for name in head if name not in COLUMNS]
    if odd or not set(NEEDED) <= set(head) or len(set(head)) < len(head):
        raise InputError(str(path), "row 1", ",".join(head), f"the columns {', '.join(NEEDED)}, then current_a, pump")
    rows = [(place, _fields(path, place, head, row)) for place, row in enumerate(lines[1:], 2) if row]
    if len(rows) < FEWEST:
        raise InputError(str(path), "", len(rows), f"at least {FEWEST} readings")
    return rows


def _fields(path: Path, place: int, head: Sequence[str], row: Sequence[str]) -> dict[str, str]:
    if len(row) != len(head):
        raise InputError(str(path), f"row {place}", ",".join(row), f"{len(head)} values, as in the heading")
    return dict(zip(head, (value.strip() for value in row), strict=True))


def _stamp(path: Path, place: int, text: str, clock: timezone) -> datetime:
    """A moment by the site's clock, which one without an offset is taken to tell."""
    try:
        told = datetime.fromisoformat(text)
        return (told.astimezone(clock) if told.tzinfo else told).replace(tzinfo=None)
    except (ValueError, OverflowError):
        allowed = "a time such as 2026-06-01 12:30, in the site's standard time"
        raise InputError(str(path), f"row {place}, time", text, allowed) from None


def _numbers(path: Path, rows: Sequence[tuple[int, dict[str, str]]], name: str, low: float, high: float) -> np.ndarray:
    return np.array([_number(path, place, name, row[name], low, high) for place, row in rows])


def _number(path: Path, place: int, name: str, text: str, low: float, high: float) -> float:
    try:
        value = float(text)
    except ValueError:
        value = np.nan
    if not low <= value <= high:
        raise InputError(str(path), f"row {place}, {name}", text, f"a number from {low:g} to {high:g}")
    return value


def _is_on(path: Path, place: int, text: str) -> bool:
    if text.lower() not in _ON:
        raise InputError(str(path), f"row {place}, pump", text, "on or off, 1 or 0")
    return _ON[text.lower()]
