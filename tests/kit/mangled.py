"""What came of chance damage: a value or an InputError of one line; for weather also whether a year changed."""

from __future__ import annotations

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sim.catalogue import template
from sim.errors import InputError
from sim.scenario import parse
from sim.scenario.models import Scenario
from sim.studies.year import simulate_year
from sim.weather import weather_for
from sim.weather.weather import Weather

HANG_S, WAIT_S = 30, 300  # of work, of waiting
SCENARIOS = sorted((Path(__file__).parent.parent.parent / "scenarios").glob("*.toml"))
TEXTS = [template(), *(path.read_text("utf-8") for path in SCENARIOS)]
SMALL = {
    "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}
LIGHT_SHARE, AIR_K = 0.005, 0.3  # moved by less, a year's hours do not change by 1 %
HOURS_SHARE = 0.01


class Outcome(NamedTuple):
    """What came of a damaged weather file: refused, said, same or silent; and what was refused or changed."""

    kind: str
    says: str


def scenario_at(path: Path) -> Scenario:
    """A small system with a file's weather."""
    return parse(SMALL | {"weather": {"file": path.name}}, path.parent / "pond.toml")


@cache
def sound(lines: tuple[str, ...], folder: Path) -> Weather:
    """A whole file as it is read."""
    (folder / "sound.txt").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return weather_for(scenario_at(folder / "sound.txt"))


@cache
def pump_hours(path: Path, _: bytes) -> float:
    """The hours of a year with a file's weather, whose content tells files of one name apart."""
    return simulate_year(scenario_at(path)).measures.pump_hours


def moved(found: Weather, whole: Weather) -> bool:
    """Whether the light of the days or their air may have changed enough to change a year's hours by 1 %."""
    for name in ("ghi", "dni", "dhi"):
        days, before = (getattr(it, name).reshape(-1, 24).sum(axis=1) for it in (found, whole))
        if np.abs(days - before).sum() > LIGHT_SHARE * before.sum():
            return True
    return float(np.abs(found.temp_air - whole.temp_air).mean()) > AIR_K


def outcome(content: bytes, lines: tuple[str, ...], folder: Path) -> Outcome:
    """What comes of a damaged file that had these lines."""
    path = folder / "year.txt"
    path.write_bytes(content)
    found, said = refusal(lambda: weather_for(scenario_at(path)))
    if said:
        return Outcome("refused", said)
    whole = sound(lines, folder)
    news = [*found.doubts, *sorted(set(found.notes) - set(whole.notes))]
    if news:
        return Outcome("said", str(news[0]))
    if len(found.ghi) != len(whole.ghi) or not moved(found, whole):
        return Outcome("same", "")
    change = pump_hours(path, content) / pump_hours(folder / "sound.txt", b"") - 1.0
    return Outcome("silent" if abs(change) > HOURS_SHARE else "same", f"{change:+.1%}")


def log(count: int = 60) -> str:
    """A log of readings a quarter of an hour apart."""
    stamps = np.datetime64("2001-03-01T00:00") + 15 * np.arange(count).astype("timedelta64[m]")
    return "time,voltage_v,current_a,pump\n" + "".join(
        f"{at},13.{k % 10},{k % 3 - 1},on\n" for k, at in enumerate(stamps)
    )


class HangError(Exception):
    """It took too long."""


@contextmanager
def within() -> Iterator[None]:
    """HangError if work takes or waits longer; where the system cannot interrupt, it is waited for."""
    if not hasattr(signal, "setitimer") or threading.current_thread() is not threading.main_thread():
        yield
        return

    def ring(*_: object) -> None:
        raise HangError

    clocks = {signal.ITIMER_PROF: signal.SIGPROF, signal.ITIMER_REAL: signal.SIGALRM}
    before = {sign: signal.signal(sign, ring) for sign in clocks.values()}
    for clock, seconds in zip(clocks, (HANG_S, WAIT_S), strict=True):
        signal.setitimer(clock, seconds)
    try:
        yield
    finally:
        for clock, sign in clocks.items():
            signal.setitimer(clock, 0.0)
            signal.signal(sign, before[sign])


def refusal(work: Callable[[], Any]) -> tuple[Any, str]:
    """What some work makes, or nothing and its refusal, which is one line of some length that can be shown."""
    try:
        with within():
            return work(), ""
    except InputError as refused:
        said = str(refused)
        assert said.isprintable() or all(sign == " " or sign.isprintable() or ord(sign) > 127 for sign in said), said
        assert len(said) < 20_000
        return None, said
