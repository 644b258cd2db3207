"""Logs as loggers write them: whatever the table looks like, the same readings come out, or the way on is told."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim.errors import InputError
from sim.scenario.log import LogColumns
from sim.studies.measured_log import Readings, read_log

FIRST, COUNT = datetime(2026, 6, 3), 300
OFFSET_H = 1.0
CHARGE_A = np.maximum(np.sin((np.arange(COUNT) / 144.0 - 0.25) * 2.0 * np.pi), 0.0) * 5.0
PUMP = (np.arange(COUNT) % 10 < 7).astype(float)
LOAD_A = 1.5 * PUMP
VOLTS = 13.0 + 0.1 * CHARGE_A - 0.2 * PUMP
EACH = {
    "volts": VOLTS,
    "battery": CHARGE_A - LOAD_A,
    "charge": CHARGE_A,
    "load": LOAD_A,
    "pump": PUMP,
    "percent": 100.0 * PUMP,
}
Form = Callable[[datetime], str]


def as_text(
    heads: str,
    columns: Sequence[str],
    stamp: Form | str,
    delimiter: str = ",",
    comma: bool = False,
    before: str = "",
    step_s: float = 600.0,
    scale: float = 1.0,
) -> str:
    """A table of the same 300 readings: its headings, its columns by name, and how a stamp is written."""
    rows = [before + heads] if heads else []
    for k in range(COUNT):
        at = FIRST + timedelta(seconds=step_s * k)
        told = stamp(at) if callable(stamp) else at.strftime(stamp)
        cells = [told, *(name if name.startswith("=") else f"{EACH[name][k] * scale:.3f}" for name in columns)]
        cells = [cell.removeprefix("=") for cell in cells]
        rows.append(delimiter.join(cell.replace(".", ",") if comma and n else cell for n, cell in enumerate(cells)))
    return "\n".join(rows) + "\n"


def epoch(at: datetime, times: int = 1) -> str:
    """Seconds since 1970, or their thousandths, of a site's moment."""
    return f"{round((at.replace(tzinfo=UTC).timestamp() - 3600.0 * OFFSET_H) * times)}"


NAMED = LogColumns.model_validate(
    {
        "time": ["a"],
        "time_format": "%d/%m/%Y %H:%M",
        "voltage": {"column": "ch1", "unit": "mV"},
        "load_current": {"column": "ch2", "unit": "mA"},
    }
)
STEP_S = {1: 1.0, 15: 60.0, 16: 3600.0}
ISO, US = "%Y-%m-%d %H:%M", "%m/%d/%y %I:%M:%S %p"
READ: list[tuple[str, set[str], Any]] = [
    (as_text("time,voltage_v", ["volts"], "%Y-%m-%d %H:%M:%S"), set(), None),
    (as_text("timestamp,V", ["volts"], "%Y-%m-%dT%H:%M:%S", step_s=1.0), set(), None),
    (as_text("Datum;Uhrzeit;Spannung [V]", ["volts"], "%d.%m.%Y;%H:%M", ";", comma=True), set(), None),
    (as_text("Date\tTime\tBattery V\tBattery A", ["volts", "battery"], "%d/%m/%Y\t%H:%M:%S", "\t"),
     {"current_a"}, None),
    (as_text("Time;U_batt (mV)", ["volts"], "%m/%d/%Y %H:%M", ";", scale=1000.0), set(), None),
    (as_text("unixtime,voltage", ["volts"], epoch), set(), None),
    (as_text("epoch,battery mV", ["volts"], lambda at: epoch(at, 1000), scale=1000.0), set(), None),
    (as_text("Timestamp,Battery (V),PV current (A),Load current (A)", ["volts", "charge", "load"], ISO),
     {"current_a", "panel_a", "load_a", "pump"}, None),
    (as_text("time,volts,pump", ["volts", "pump"], "%Y/%m/%d %H:%M:%S"), {"pump"}, None),
    (as_text("time,volts,pump duty %", ["volts", "percent"], "%Y/%m/%d %H:%M"), {"pump"}, None),
    (as_text("time|V bat|I charge [A]|T box [°C]", ["volts", "charge", "=21.5"], ISO, "|"), {"panel_a"}, None),
    (as_text("Date Time,Temp. (°F),Voltage (V)", ["=70.1", "volts"], "%m/%d/%y %I:%M:%S %p"), set(), None),
    (as_text("time;V;A", ["volts", "battery"], "%Y-%m-%dT%H:%M:%SZ", ";", before="sep=;\nLogger 7\n\n"),
     {"current_a"}, None),
    (as_text("time,voltage_v", ["volts"], "%Y-%m-%d %H:%M:%S+02:00"), set(), None),
    (as_text("time;battery;panel\nTS;V;A", ["volts", "charge"], "%d-%m-%Y %H:%M", ";", comma=True), {"panel_a"}, None),
    (as_text("time,voltage_v,irradiance W/m²", ["volts", "charge"], "%d %b %Y %H:%M", step_s=60.0), {"light"}, None),
    (as_text("time,voltage_v", ["volts"], "%Y-%m-%d %H:%M", step_s=3600.0), set(), None),
    (as_text("a,ch1,ch2", ["volts", "load"], "%d/%m/%Y %H:%M", scale=1000.0), {"load_a", "pump"}, NAMED),
]  # fmt: skip


@pytest.mark.parametrize("number", range(len(READ)))
def test_a_log_of_any_form_is_read(tmp_path: Path, number: int) -> None:
    """Eighteen forms of the same 300 readings: stamps, volts and every other column are what was written."""
    text, others, columns = READ[number]
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    read, notes = read_log(path, 2026, OFFSET_H, columns)
    turned_s = {12: 3600.0, 13: -3600.0}.get(number, 0.0)  # written in UTC, and two hours ahead of it (derived)
    starts_s = (FIRST - datetime(2026, 1, 1)).total_seconds() + turned_s
    assert np.allclose(read.at_s, starts_s + np.arange(COUNT) * STEP_S.get(number, 600.0), atol=1e-3) and not notes
    assert np.allclose(read.voltage_v, VOLTS, atol=6e-4)
    assert {name for name, part in vars(read).items() if part is not None} == {"at_s", "voltage_v"} | others
    wanted = {"current_a": EACH["battery"], "panel_a": CHARGE_A, "load_a": LOAD_A, "pump": PUMP, "light": CHARGE_A}
    for name in others:
        assert np.allclose(getattr(read, name), wanted[name], atol=2e-3), name


def test_utf_16_with_gaps_and_repeats_is_read(tmp_path: Path) -> None:
    """Empty cells, a missing hour and a repeated row are left out and told; a share of the interval stays one."""
    path = tmp_path / "log.csv"
    rows = as_text("time,volts,pump", ["volts", "pump"], "%Y-%m-%d %H:%M").replace(",1.000\n", ",0.250\n").split("\n")
    rows[5] = rows[5].split(",")[0] + ",NaN,"
    del rows[20:26]
    path.write_text("\n".join([*rows[:10], rows[9], *rows[10:]]), encoding="utf-16")
    read, notes = read_log(path, 2026, OFFSET_H)
    assert len(read.at_s) == COUNT - 7 and np.diff(read.at_s).max() == 7 * 600.0
    assert [note.split()[0] for note in notes] == ["1", "1"] and read.pump is not None
    assert set(np.unique(read.pump)) == {0.0, 0.25}


one_day = as_text("time,volts", ["volts"], "%d/%m/%Y %H:%M", step_s=200.0)
REFUSED = [
    (one_day, "it may be 3 June 2026 or 6 March 2026: [log.columns] time_format"),
    (as_text("time,one,two", ["volts", "charge"], "%Y-%m-%d %H:%M"), "[log.columns] of the scenario says which"),
    (as_text("time,V left,V right", ["volts", "volts"], "%Y-%m-%d %H:%M"), '"V left" may be meant too'),
    (as_text("time;volts", ["volts"], "%Y-%m-%d %H:%M", ";").replace(";13.0", ";1.300,0", 3), "point or comma"),
    (as_text("time,volts", ["volts"], "%Y-%m-%d %H:%M", step_s=7200.0), "readings an hour apart at most"),
    (as_text("time,volts", ["volts"], "%Y-%m-%d %H:%M", scale=10.0), "a number from 5 to 80"),
    (as_text("time,volts", ["volts"], "the %d of %B"), "a time such as"),
]


@pytest.mark.parametrize(("text", "told"), REFUSED)
def test_a_log_that_can_be_read_in_two_ways_is_refused_with_the_way_on(tmp_path: Path, text: str, told: str) -> None:
    """One message that shows what is doubtful and what to write in the scenario."""
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as problem:
        read_log(path, 2026, OFFSET_H)
    assert told in str(problem.value)


def test_an_ambiguous_date_is_read_as_the_scenario_says(tmp_path: Path) -> None:
    """The log of one day in its two readings, told by time_format."""
    path = tmp_path / "log.csv"
    path.write_text(one_day, encoding="utf-8")
    for way, starts in (("%d/%m/%Y %H:%M", datetime(2026, 6, 3)), ("%m/%d/%Y %H:%M", datetime(2026, 3, 6))):
        told = {"time": ["time"], "time_format": way, "voltage": {"column": "volts"}}
        read, _ = read_log(path, 2026, OFFSET_H, LogColumns.model_validate(told))
        assert read.at_s[0] == (starts - datetime(2026, 1, 1)).total_seconds()


def test_part_of_a_log_keeps_its_columns() -> None:
    """Some readings of a log have the same columns, and a clock that was slow is put right (derived)."""
    log = Readings(np.arange(4.0), np.full(4, 13.0), pump=np.array([0.0, 1.0, 1.0, 0.0]))
    part = log.some(np.array([1, 3])).later(60.0)
    assert part.at_s.tolist() == [61.0, 63.0] and part.current_a is None and part.pump.tolist() == [1.0, 0.0]  # type: ignore[union-attr]
