"""What the year's report says about the water."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest
from conftest import COURTYARD, report_in
from kit.pages import parts_of

from sim.figures.hourly import as_csv
from sim.report.blocks import Heading
from sim.report.render import year_report
from sim.report.sections.water import (
    FISH_CAUTION,
    branch_figure,
    by_volts,
    pipes_table,
    pond_table,
    section,
    top_up_figure,
    turnovers_figure,
)
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

SCHOOL = Path(__file__).parents[1] / "scenarios" / "school.toml"


def headings(result: YearResult) -> list[str]:
    """The headings within the section on water."""
    found = section(result)
    assert found is not None and isinstance(found.part, tuple)
    return [block.text for block in found.part if isinstance(block, Heading)]


def text_of(html: str) -> str:
    """What a reader sees of the section on water."""
    inside = html.split('id="h-water"')[1].split("</section>")[0]
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", inside)).split())


def test_the_section_says_what_was_simulated(courtyard_year: YearResult) -> None:
    """Flow, litres, turnovers, head, filter and balance stand in it as they were simulated, with the cautions."""
    said, water = text_of(report_in(COURTYARD)), courtyard_year.measures.water
    assert water is not None
    point = water.pipework.point
    assert f"moves about {point.flow_lph:,.0f} litres an hour" in said
    assert f"{water.litres / 1000.0:,.0f} m³ in the year" in said
    assert f"about {water.turnovers_per_day:.0f} times a day" in said
    assert f"{point.head_m:.2f} m, of which 0.55 m are lift" in said
    assert f"longest gap {water.filter_longest_gap_h:.0f} h" in said
    assert f"pumped {water.books.pumped:,.0f} l = returned" in said
    assert "Switch the pump off before you reach into the water" in said and "Rain is left out" in said


def test_the_tables_agree_with_the_figures(courtyard_year: YearResult) -> None:
    """The branch's table begins closed, turnovers and top-up have a row a month, the pipes' flows add up."""
    pond, water = courtyard_year.scenario.water, courtyard_year.measures.water
    assert water is not None and pond is not None and pond.branch is not None
    assert branch_figure(water.pipework, pond.branch).table.rows[0][:2] == ("0", "0")
    assert [row[2] for row in turnovers_figure(water, pond).table.rows] == [
        f"{turns:.1f}" for turns in water.turnovers_by_month
    ]
    assert [row[2] for row in top_up_figure(water).table.rows] == [f"{week:.0f}" for week in water.top_up_l_per_week]
    flows = {row[0]: float(row[3]) for row in pipes_table(water.pipework).rows}
    assert flows["header"] + flows["branch"] == pytest.approx(flows["main"], abs=1.0)


def test_the_season_is_written_out(courtyard_year: YearResult) -> None:
    """The cold season has its dates in words."""
    pond, water = courtyard_year.scenario.water, courtyard_year.measures.water
    assert pond is not None and water is not None
    (cold,) = [row[1] for row in pond_table(pond, water).rows if row[0] == "Below 4.5 °C"]
    assert re.fullmatch(r"from \d+ \w+ to \d+ \w+, with warmer days between", cold)


@pytest.fixture(scope="module")
def plain(design: Callable[..., Scenario]) -> YearResult:
    """A year of a direct pump in a single pipe, with fish, in Larkmoor's stream."""
    changes = {"pump.curve": [[0, 2.5], [1500, 1.6], [3000, 0.0]], "water.fish": True, "water.static_head_m": 1.0}
    return simulate_year(design(changes, SCHOOL))


def test_a_direct_pump_has_its_flow_by_voltage(plain: YearResult, courtyard_year: YearResult) -> None:
    """A direct pump's table rises with the voltage; a regulated pump has none; no branch, no chart of it."""
    assert plain.measures.water is not None
    flows = [float(row[1]) for row in by_volts(plain.measures.water.pipework).rows]
    assert flows == sorted(flows) and flows[-1] > 1.3 * flows[0]
    direct, regulated = headings(plain), headings(courtyard_year)
    assert "Flow at each voltage of the pump" in direct and "Flow at each voltage of the pump" not in regulated
    assert "The branch and its valve" in regulated and "The branch and its valve" not in direct


def test_fish_have_their_caution(plain: YearResult) -> None:
    """Where there are fish the section says that it is no life-support alarm."""
    assert FISH_CAUTION in text_of(parts_of(plain, section))
    assert FISH_CAUTION not in text_of(report_in(COURTYARD))


def test_a_pump_that_cannot_lift_has_a_report(design: Callable[..., Scenario]) -> None:
    """Nothing is divided by nothing where nothing moves, and the section says why."""
    result = simulate_year(design({"water.static_head_m": 3.0, "water.branch.static_head_m": 3.0}))
    said = text_of(year_report(result))
    assert "cannot lift the water to its outlet" in said and "the outlet is 3.00 m up: no flow" in said


def test_without_water_the_report_says_so(any_year: YearResult) -> None:
    """A report without water says that hours are not litres, and has no section on it."""
    html = report_in(any_year.scenario.path)
    simulated = any_year.measures.water is not None
    assert ("hours are pump hours, not litres" in html) != simulated
    assert ('id="h-water"' in html) == simulated


def test_the_log_has_the_water(courtyard_year: YearResult) -> None:
    """The hourly log has litres and the pond's temperature where water is simulated, and neither where it is not."""
    result, water = courtyard_year, courtyard_year.measures.water
    assert water is not None
    lines = as_csv(result.hourly()).splitlines()
    assert lines[0].endswith(",water [l],pond [C]")
    assert sum(float(line.split(",")[-2]) for line in lines[1:]) == pytest.approx(water.litres, rel=1e-6)
    dry = replace(result, measures=replace(result.measures, water=None))
    assert "water [l]" not in as_csv(dry.hourly()).splitlines()[0]
