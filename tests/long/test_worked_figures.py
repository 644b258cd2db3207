"""The figures that the READMEs print are those that the commands give today. Run with -m long: half a minute."""

from __future__ import annotations

from functools import cache
from typing import Any

import pytest
from conftest import COURTYARD, ROOT, changed

from sim.figures.causes import longest_unplanned
from sim.scenario import read_toml
from sim.studies.commissioning import CHARGE, REST, expected_readings
from sim.studies.ledger import totals_of
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

pytestmark = pytest.mark.long
PERGOLA = ROOT / "scenarios" / "pergola.toml"
CLOCK = {"controller.load_mode": "clock", "controller.load_windows": [["09:00", "17:00"]]}
FROST_FREE = {"battery.place": "frost-free", "battery.place_min_c": 6.0}
CHANGES: dict[str, dict[str, Any]] = {
    "plain": {},
    "twice": {"battery.capacity_ah": 200},
    "tilted": {"panel.tilt_deg": 55},
    "frost-free": FROST_FREE,
    "clock": CLOCK,
    "both": FROST_FREE | CLOCK,
}


def says(name: str, *sentences: str) -> None:
    """A README holds these words, however its lines are broken."""
    text = " ".join((ROOT / name).read_text("utf-8").split())
    missing = [one for one in sentences if " ".join(one.split()) not in text]
    assert not missing, missing


def a_day(year: YearResult, month: int) -> float:
    """Pump hours a day in a month 1…12."""
    return float(year.measures.pump_hours_by_month[month - 1] / year.measures.days_by_month[month - 1])


@cache
def courtyard(name: str) -> YearResult:
    """A year of the courtyard with the changes of a name."""
    return simulate_year(changed(CHANGES[name]))


def met(year: YearResult) -> float:
    """Per cent of the wanted hours."""
    return 100.0 * year.measures.hours_met_share


def test_the_pergola_flat_tilted_and_bigger() -> None:
    """Hours, worst month and light of the three designs of the pergola's file."""
    flat = simulate_year(changed({}, PERGOLA))
    tilted, bigger = (simulate_year(changed(one["set"], PERGOLA)) for one in read_toml(PERGOLA)["alternative"])
    light = [year.measures.in_plane_by_month_kwh_m2[11] for year in (tilted, flat)]
    worst = flat.measures.met_share_by_month
    assert worst.argmin() == 0
    less = [month for month in range(1, 13) if a_day(tilted, month) < a_day(flat, month)]
    assert less == [4, 5, 6, 7, 8]
    says(
        "README.md",
        f"the pump runs {flat.measures.pump_hours:,.0f} h in the year, {a_day(flat, 6):.1f} hours a day in June and "
        f"{a_day(flat, 12):.1f} in December; in January, its worst month, only {100 * worst[0]:.0f} % of the wanted",
        f"it catches {light[0]:.0f} instead of {light[1]:.0f} kWh/m² in December",
        f"({a_day(tilted, 12):.1f} hours a day), but less from April to August ({a_day(tilted, 6):.1f} in June)",
        f"nearly the same ({tilted.measures.pump_hours:,.0f} h)",
        f"longer in every month ({bigger.measures.pump_hours:,.0f} h)",
        f"({met(bigger):.0f} % against {met(tilted):.0f} % tilted and {met(flat):.0f} % as it is)",
        f"still beats it ({a_day(tilted, 12):.1f} against {a_day(bigger, 12):.1f} hours a day)",
    )


def test_the_courtyard_s_client_page_and_ledger() -> None:
    """Hours, causes and the battery of the report that is read."""
    year = courtyard("plain")
    measures = year.measures
    hours = {row["cause"]: row["hours"] for row in totals_of(measures.stops)}
    begun_h, ended_h = longest_unplanned(measures.stops) or (0.0, 0.0)
    assert (ended_h - begun_h) / 24.0 == pytest.approx(5.0, abs=0.5)
    by_day = measures.pump_hours_by_day
    assert not (by_day[90:300] * 60.0 < 1.0).any()
    says(
        "reports/README.md",
        f"about {a_day(year, 5):.0f} hours a day in May and {a_day(year, 2):.0f} in February, and no running at all "
        f"on about {(by_day * 60.0 < 1.0).sum()} days",
        f"{hours['cold lock of the battery']:.0f} h of cold lock",
        f"dull spells ({hours['dull spell']:.0f} h) and nights ({hours['night']:.0f} h)",
        f"{hours['shade']:.0f} h that the maple's",
        f"{hours['protection circuit']:.0f} h of the protection circuit",
        f"down to {100 * measures.battery.min_soc:.0f} % of charge, "
        f"{measures.battery.hours_below_20_percent:,.0f} hours below 20 %, −{-measures.battery.coldest_c:.0f} °C",
    )


def test_what_would_help_the_courtyard() -> None:
    """One more run each."""
    plain, twice, tilted, kept, clock, both = map(courtyard, CHANGES)
    assert met(both) > 99.99
    says(
        "reports/README.md",
        f"neither twice the battery ({met(twice):.1f} % of the wanted hours met against {met(plain):.1f} %) nor a "
        f"panel at 55° ({met(tilted):.1f} %)",
        f"gives {met(kept):.1f} %, January {a_day(kept, 1):.1f} instead of {a_day(plain, 1):.1f} hours a day, and "
        f"{kept.measures.starts} starts in the year instead of {plain.measures.starts:,}",
        f"from 09:00 to 17:00 {met(clock):.1f} % are met, though weeks of frost still drain the battery to "
        f"{100 * clock.measures.battery.min_soc:.0f} %",
        f"never falls below {100 * both.measures.battery.min_soc:.0f} %",
    )


def test_the_courtyard_s_commissioning() -> None:
    """Voltage at rest, current in clear sun, and the drop to the pump."""
    sheet = expected_readings(changed({}, COURTYARD))
    clear_a = next(one.panel_a for one in sheet.states if one.state == CHARGE and one.soc == 0.8)
    lies_at = [one.soc for one in sheet.states if one.state == REST and 13.24 in one.bus_v]
    assert max(lies_at) == 0.8 and 6.0 in clear_a
    drop = next(one.drop_v for one in sheet.runs if one.name == "controller to pump, pump running")
    says(
        "reports/README.md",
        f"inside {clear_a.low:.2f}–{clear_a.high:.2f} A",
        f"where {drop.low:.2f}–{drop.high:.2f} V are expected",
    )
