"""The trade's questions: each has its number in the JSON and its words in the report; one year for all of them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from conftest import changed
from kit.fullest import beside_many
from kit.pages import text_of

from sim.figures.causes import Stop
from sim.figures.lengths import lengths_of, steps_of
from sim.figures.planned import quiet_of
from sim.figures.water.fish import FISH_WEIGHTS
from sim.report.client import client_page
from sim.report.render import year_report
from sim.studies.result import YearResult
from sim.studies.yearly import study_year
from sim.terminal.reading import print_reading
from sim.terminal.year import print_year

SAYS = {
    "water.fish": True,
    "need.quiet": ["22:00", "05:00"],
    "pump.supply": "direct",
    "pump.cable.area_mm2": 0.75,
    "cost": {"currency": "EUR", "battery_per_ah": 4.0, "pump": 30.0, "pump_years": 2.0, "water_per_m3": 2.0},
}


@pytest.fixture(scope="module")
def studied() -> YearResult:
    return study_year(changed(SAYS))


@pytest.fixture(scope="module")
def told(studied: YearResult) -> dict[str, Any]:
    return studied.as_json()


@pytest.fixture(scope="module")
def page(studied: YearResult) -> str:
    return text_of(year_report(studied))


def test_the_poorest_day_stands_beside_the_shares(told: dict[str, Any], page: str) -> None:
    """Of each month: the poorest day lies at or below what a tenth of its days stay below, and so on."""
    days = told["pump_hours_a_day_by_month"]
    ladder = np.array([days[name] for name in ("min", "p10", "p50", "p90")])
    assert (np.diff(ladder, axis=0) >= 0.0).all() and "Its poorest day, h" in page


def test_nights_without_a_stop_are_counted_over_the_year(studied: YearResult, told: dict[str, Any], page: str) -> None:
    """The year's share is the months' shares weighed by their nights; with quiet hours it is none of them."""
    assert told["nights"]["full_in_year"] == 0.0 and studied.measures.nights.nights.sum() == 365
    assert "Of the year's nights 0 % pass without a stop" in page.replace("0%", "0 %")


def test_the_bad_year_as_it_was_is_told_by_its_date(studied: YearResult) -> None:
    """Beside recorded years the client's page names the poor one among them; made-up ones have no date."""
    made_up = beside_many(studied)
    assert made_up.many
    years = replace(made_up.many, seed=None, names=tuple(range(2010, 2021)))
    said, figure = (page := client_page(replace(studied, many=years))).poor, str(page.months)
    assert said.startswith("With the weather of 2011, a poor one of 11 recorded years, it runs")
    assert "eight in ten of 11 recorded years" in figure and "made-up" not in said + figure
    assert client_page(made_up).poor.startswith("In a poor year, one in ten,")


def test_quiet_hours_are_kept_and_counted(studied: YearResult, told: dict[str, Any]) -> None:
    """Seven hours a night are 2,555 a year, and the pump runs in none of them; an hour too many would be counted."""
    assert told["quiet"] == {"hours": pytest.approx(7.0 * 365.0), "ran_h": 0.0}
    by_hour = studied.measures.run_h.reshape(-1, 24).sum(axis=0)
    assert not by_hour[[22, 23, 0, 4]].any() and by_hour[[5, 12, 21]].all()
    loud = quiet_of(studied.scenario, np.ones(48))
    assert loud is not None and loud.ran_h == 14.0


def test_dirt_costs_more_the_more_there_is(told: dict[str, Any], page: str) -> None:
    """Two, five, ten and twenty per cent of dirt against a clean panel."""
    lost = [one["lost_pump_hours"] for one in told["dirt"]]
    assert [one["share"] for one in told["dirt"]] == [0.02, 0.05, 0.1, 0.2]
    assert 0.0 < lost[0] < lost[1] < lost[2] < lost[3] and "What dirt costs" in page


def test_days_without_sun(studied: YearResult, told: dict[str, Any], page: str) -> None:
    """100 Ah feed a 12 W pump for 17 h a day some five days; it runs 17 h in each of them (derived)."""
    found = told["without_sun"]
    assert 3.0 < found["days_to_disconnect"] < 8.0
    assert found["pump_hours"] == pytest.approx(found["days_to_disconnect"] * 17.0, abs=17.0)
    assert found["from_month"] == studied.measures.worst_month and "without any sun" in page
    assert told["longest_deficit_days"] == studied.measures.longest_deficit_days


def test_stops_by_their_length() -> None:
    """Of 0.5, 2, 6 and 24 h: each stop stands in the step that it reaches, whole stretches only (derived)."""
    stops = [Stop(0.0, 0.4, "night", 0.1, 12.0), Stop(10.0, 12.0, "night", 0.1, 12.0)]
    stops += [Stop(20.0, 40.0, "night", 0.1, 12.0), Stop(40.0, 50.0, "fault", 0.1, 12.0)]
    found = lengths_of(stops, steps_of(changed({})))
    assert [one.stops for one in found] == [1, 1, 0, 0, 1] and found[-1].hours == 30.0


def test_the_stops_of_a_year_are_all_there(studied: YearResult, told: dict[str, Any], page: str) -> None:
    """The steps hold all hours of standing."""
    assert sum(one["hours"] for one in told["stop_lengths"]) == pytest.approx(studied.measures.stops.hours.sum())
    assert "How long the stops last" in page


def test_hours_off_in_warm_nights(told: dict[str, Any]) -> None:
    """One quiet hour of each warm night after midnight five, so at least five hours in each of them."""
    warm = told["water"]["temperature"]
    assert warm["warm_nights"] * 5.0 <= warm["warm_night_off_h"] <= warm["warm_nights"] * 6.0


def test_fish_weigh_warm_nights_most(told: dict[str, Any], studied: YearResult, page: str) -> None:
    """A pump that is quiet at night runs less as fish need it than by the clock; the weights are shown."""
    found = told["pond"]["for_fish"]
    assert found["weights"] == FISH_WEIGHTS and found["share"] < studied.measures.pump_hours / 8760.0
    assert "00 to 06 of a warm night: 4" in page


def test_the_level_falls_by_what_is_on_its_way(told: dict[str, Any], page: str) -> None:
    """What runs back over the basin's 1.2 m²; on the commissioning sheet too."""
    level, back = told["water"]["level_cm"], told["water"]["start_and_stop_l"]["drain_back"]
    assert level["fall"] == pytest.approx(back / 12.0) and level["running"] == pytest.approx(45.0 - level["fall"])
    assert "Restarted: it falls by" in page


def test_a_thin_cable_takes_flow_from_a_direct_pump(told: dict[str, Any]) -> None:
    """1 A over 2·6 m of 0.75 mm² drops 0.3 V of 12 V: some three per cent of speed, and a few more of flow."""
    water = told["water"]
    assert 0.02 < water["flow_lost_to_cable_lph"] / water["flow_lph"] < 0.10


def test_terminals_and_currents_are_told(page: str) -> None:
    """Also where they suit."""
    assert "the controller's load terminals are made for 10 A" in page and "Checks that passed" in page


def test_energy_off_the_best_voltage_by_month(told: dict[str, Any]) -> None:
    """Twelve months make the year."""
    months = told["energy_wh_by_month"]["off_maximum_power"]
    assert len(months) == 12 and sum(months) == pytest.approx(told["energy_wh"]["off_maximum_power"], abs=1.0)


def test_what_a_year_and_an_hour_cost(studied: YearResult, told: dict[str, Any]) -> None:
    """A pump of 30 in two years, 400 of battery in its life, and the water that evaporates (derived)."""
    parts, cost = told["yearly_cost"]["parts"], told["yearly_cost"]
    low, high = studied.measures.battery.stress.life_years
    assert parts["pump"] == 15.0 and parts["battery"] == pytest.approx(400.0 / (0.5 * (low + high)))
    assert parts["water"] == pytest.approx(sum(told["pond"]["top_up_l_by_month"]) / 500.0)
    assert cost["a_year"] == pytest.approx(sum(value for value in parts.values() if value is not None))
    assert cost["per_pump_hour"] == pytest.approx(cost["a_year"] / told["pump_hours"])


def test_the_client_s_page_says_what_for_and_from_where(studied: YearResult) -> None:
    """Purpose, quiet, yearly cost and start in words; hours of a hot battery are in the JSON."""
    page = client_page(studied)
    assert page.asked.startswith("It is there for the fish and for the filter")
    assert "Between 22:00 and 05:00 it is quiet." in page.asked and "off from 22:00 to 05:00" in str(page.settings)
    assert "battery, pump, water" in str(page.upkeep) and "begins with the charge that it ends with" in page.rests_on
    assert studied.as_json()["battery"]["hot_hours"] >= 0.0


def test_the_terminal_warns_and_counts(studied: YearResult, capsys: pytest.CaptureFixture[str]) -> None:
    """One line each of caution, and how many checks passed."""
    from sim.studies.reading import Seen, read_voltage

    print_year(studied)
    print_reading(read_voltage(studied.scenario, Seen(13.1, False)))
    said = " ".join(capsys.readouterr().out.split())
    assert said.count("Caution: ") == 2 and "checks passed" in said and "Nights without a stop: 0%" in said
