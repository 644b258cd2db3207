"""Nights without a stop and long stops by month; all figures are derived from years that are made up by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sim import load, simulate
from sim.figures.causes import Stop, Stops
from sim.figures.nights import Nights, full_by_month, over_by_month, share_by_month_hour
from sim.figures.water.stopping import longest_at_night
from sim.report.client import _all_night
from sim.report.render import year_report

DAYS = 60
MONTHS = np.repeat(np.where(np.arange(DAYS) < 31, 1, 2), 24)
HOUR = np.tile(np.arange(24), DAYS)
DARK = (HOUR < 6) | (HOUR >= 20)


def running_but(*hours: int) -> np.ndarray:
    """The pump runs all the time, but stands in some hours of the year."""
    run_h = np.ones(len(HOUR))
    run_h[list(hours)] = 0.0
    return run_h


def test_a_stop_before_dawn_belongs_to_the_evening_before() -> None:
    """One of January's 31 nights is broken by a stop on 1 February at three, and none of February's 29."""
    full = full_by_month(running_but(31 * 24 + 3), DARK, MONTHS)
    assert full[:2].tolist() == [30 / 31, 1.0] and np.isnan(full[2:]).all()


def test_a_stop_by_day_breaks_no_night() -> None:
    """Noon is not night."""
    assert full_by_month(running_but(36), DARK, MONTHS)[0] == 1.0


def test_where_the_sun_never_sets_there_are_no_nights_and_where_it_never_rises_there_are() -> None:
    """A polar January without dark, and one without light, in which each noon ends a night."""
    assert np.isnan(full_by_month(running_but(), np.zeros(len(HOUR), bool), MONTHS)).all()
    assert full_by_month(running_but(30), np.ones(len(HOUR), bool), MONTHS)[0] == pytest.approx(30 / 31)


def test_long_stops_by_the_month_in_which_they_begin() -> None:
    """Two causes that follow each other are one stop of 25 h; one of exactly two hours is not over two."""
    stops = Stops.of(
        [
            Stop(5.0, 20.0, "schedule", 0.5, 12.5),
            Stop(20.0, 30.0, "night", 0.1, 12.0),
            Stop(800.0, 802.0, "night", 0.1, 12),
        ]
    )
    over = over_by_month(stops, MONTHS)
    assert over[:, :2].tolist() == [[1, 0], [1, 0], [1, 0]]
    assert over_by_month(Stops.of([]), MONTHS).sum() == 0


def test_a_stop_across_new_year_is_one() -> None:
    """From 22:00 of the last day to 03:00 of the first: one stop of 5 h in the last month, and 3 h of the first night.

    In a year that does not begin as it ends they are two, of 2 h and of 3 h.
    """
    end_h = 24.0 * DAYS
    stops = Stops.of([Stop(0.0, 3.0, "night", 0.1, 12.0), Stop(end_h - 2.0, end_h, "night", 0.1, 12.0)])
    ring = replace(stops, ring_h=end_h)
    assert over_by_month(ring, MONTHS)[:, :2].tolist() == [[0, 1], [0, 0], [0, 0]]
    assert over_by_month(stops, MONTHS)[:, :2].tolist() == [[1, 0], [0, 0], [0, 0]]
    for year in (ring, stops):
        assert longest_at_night(year, DAYS).tolist() == [3.0, *[0.0] * (DAYS - 1)]


def test_the_chance_of_each_hour() -> None:
    """The pump stands in one of January's 31 first hours."""
    share = share_by_month_hour(running_but(0), MONTHS)
    assert share[0, 0] == pytest.approx(30 / 31) and share[1, 0] == 1.0 and share.shape == (12, 24)


def test_a_year_tells_its_nights() -> None:
    """In the JSON, in the report, and on the client's page in words where fish are named."""
    fishy = {"water.fish": True, "pump.power_w": 3.0, "pump.curve": [[0, 1.9], [900, 0]], "water.static_head_m": 0.3}
    result = simulate(load("scenarios/courtyard.toml", fishy))
    told = result.as_json()
    assert np.array(told["running_share_by_month_hour"]).mean() == pytest.approx(
        result.measures.pump_hours / 8760, rel=2e-2
    )
    assert (
        set(told["nights"]) == {"full_by_month", "full_in_year", "stops_over_h"}
        and len(told["nights"]["full_by_month"]) == 12
    )
    html = year_report(result)
    assert "Nights, and long stops" in html and "from dusk to dawn without a stop" in html and "In July" in html
    none = Nights(np.full(12, np.nan), np.zeros((3, 12)), np.zeros(12))
    object.__setattr__(result.measures, "nights", none)
    assert _all_night(result) == "In July there is no night."
