"""Chance damage by the thousand: how many tracebacks, hangs and silent changes of a year there are.

``SUNRILL_MANGLED`` scales the counts, 1.0 for all of them; ``SUNRILL_MANGLED_SEED`` makes it other damage.
"""

from __future__ import annotations

import json
import os
import traceback
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from random import Random
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from kit.mangle import mangled_data, mangled_text, mangled_weather
from kit.mangled import SCENARIOS, TEXTS, HangError, log, outcome, refusal
from strategies import ponds
from weather.conftest import EPW_HEAD
from weather.silent_damages import STAMPS, sound
from weather.whole_files import whole

from sim.report.render import year_report
from sim.scenario import Scenario, load, parse, read_toml
from sim.studies.measured_log import read_log
from sim.studies.year import simulate_year

pytestmark = pytest.mark.long
SCALE, SEED = float(os.environ.get("SUNRILL_MANGLED", "1")), int(os.environ.get("SUNRILL_MANGLED_SEED", "1"))
SCENARIO_COUNT, TEXT_COUNT, WEATHER_COUNT, LOG_COUNT = (round(SCALE * n) for n in (15_000, 5_000, 2_000, 200))
EACH = 20  # damages of a scenario that is drawn
EVERY = 10  # of the scenarios that are read, so many times fewer are simulated and reported
CLIMATES = ("piedmont", "aleutian", "subtropic", "desert", "cloud forest", "monsoon")
# Turbidity differs by as much between places and years, and fine days between months where few are cloudless:
UNSEEN = {"light x 0.85", "light x 1.2"}
FORMS = ("TMY3", "TMY2", *CLIMATES)


def tried(work: Callable[[], Any], found: Counter[str], what: str) -> Any:
    """What some work makes; a refusal, a traceback and a hang are counted, the latter two shown."""
    try:
        made, said = refusal(work)
    except HangError:
        found["hang"] += 1
        print(f"HANG {what}")
    except Exception:
        found["traceback"] += 1
        print(f"TRACEBACK {what}\n{traceback.format_exc(limit=-3)}")
    else:
        found["refused" if said else "read"] += 1
        return made
    return None


def all_the_way(scenario: Scenario) -> None:
    """Its year, as a report and as JSON, in which no figure is infinite."""
    result = simulate_year(scenario)
    year_report(result)
    json.dumps(result.as_json(), allow_nan=False)


def check(found: Counter[str], name: str) -> None:
    """Print the counts; nothing may have broken."""
    print(f"{name}: {dict(found)}")
    assert not found["traceback"] and not found["hang"] and not found["silent"]


def test_scenarios() -> None:
    """Data of any valid scenario, and of the program's own; some of those that are read go all the way to a report."""
    found: Counter[str] = Counter()
    own = [read_toml(path) for path in SCENARIOS]

    @given(ponds() | st.sampled_from(own), st.integers(0, 2**32))
    @settings(max_examples=SCENARIO_COUNT // EACH, suppress_health_check=list(HealthCheck), database=None)
    def damage(data: dict[str, Any], seed: int) -> None:
        rng = Random(seed * SEED)
        for _ in range(EACH):
            made = tried(lambda: parse(mangled_data(rng, data), SCENARIOS[0]), found, f"{seed} {data}")
            if made is not None and found["read"] % EVERY == 0:
                ran: Counter[str] = Counter()
                tried(partial(all_the_way, made), ran, repr(made))
                found.update({f"year {kind}" if kind in ("read", "refused") else kind: n for kind, n in ran.items()})

    simulate_year(parse(own[0], SCENARIOS[0]))  # compiling takes its time
    damage()
    check(found, "scenarios")


def test_texts(tmp_path: Path) -> None:
    """Files of scenarios with torn lines and odd signs."""
    found, rng, path = Counter[str](), Random(SEED), tmp_path / "pond.toml"
    for number in range(TEXT_COUNT):
        path.write_bytes(mangled_text(rng, rng.choice(TEXTS)))
        tried(lambda: load(path), found, f"text {number}")
    check(found, "texts")


def test_logs(tmp_path: Path) -> None:
    """Logs from site."""
    found, rng, path = Counter[str](), Random(SEED), tmp_path / "log.csv"
    for number in range(LOG_COUNT):
        path.write_bytes(mangled_text(rng, log()))
        tried(lambda: read_log(path, 2001, -5.0), found, f"log {number}")
    check(found, "logs")


def lines_of(form: str) -> list[str]:
    """A whole file, of a format or of a climate."""
    if form not in CLIMATES:
        return list(whole(form))
    rows, site = sound(form)
    head = "\n".join(EPW_HEAD).format(
        latitude=site.latitude_deg, longitude=site.longitude_deg, offset=site.utc_offset_h, elevation=site.elevation_m
    )
    hours = (
        f"2001,{at.month},{at.day},{at.hour + 1},60,?9?9,{row.temp_air:.1f},5.0,70,99000,0,0,300,"
        f"{row.ghi:g},{row.dni:g},{row.dhi:g},0,0,0,0,180,{row.wind_speed:g},5,5,20,7777,9,999999999,10,0.1,0,88,0.2,0,0"
        for at, row in zip(STAMPS, rows.itertuples(), strict=True)
    )
    return [*head.split("\n"), *hours]


@pytest.mark.parametrize("form", FORMS)
def test_weather(form: str, tmp_path: Path) -> None:
    """Weather files: of each format, and of unusual climates; what changes a year's hours by 1 % has to be said."""
    found, rng, lines = Counter[str](), Random(f"{form} {SEED}"), lines_of(form)
    layout = form if form not in CLIMATES else "EPW"
    for number in range(WEATHER_COUNT // len(FORMS)):
        content, done = mangled_weather(rng, layout, lines)
        came: Counter[str] = Counter()
        made = tried(partial(outcome, content, tuple(lines), tmp_path), came, f"{form} {number}")
        if made is None:
            found.update(came)
            continue
        unseen = made.kind == "silent" and UNSEEN & set(done)
        found["unseen" if unseen else made.kind] += 1
        if made.kind == "silent":
            kept = Path(os.environ.get("SUNRILL_MANGLED_KEPT", tmp_path)) / f"{form}-{number}.txt"
            kept.write_bytes(content)
            print(f"SILENT {made.says} {done} {kept}")
    check(found, f"weather {form}")
