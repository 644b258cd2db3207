"""Years with very many stops: a table of them against each looked at by itself, and sums where there is no room."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.figures.causes import CAUSES, SAME_MOMENT_H, Stop, Stops, hours_by_day, longest_unplanned, stretches
from sim.figures.water.stopping import longest_at_night
from sim.scenario import Scenario
from sim.studies import ledger
from sim.studies import year as study
from sim.studies.ledger import ALONE, bursts_of, totals_of

DAYS = 6
CHATTER = {"controller.load_disconnect_v": 13.05, "controller.load_reconnect_v": 13.15, "weather.sample": "piedmont"}


@st.composite
def years(draw: st.DrawFn) -> list[Stop]:
    """Some days of stops; some follow each other without a run between."""
    edges = sorted(draw(st.sets(st.integers(0, DAYS * 96), min_size=2, max_size=24)))
    kept = draw(st.lists(st.sampled_from(CAUSES) | st.none(), min_size=len(edges) - 1, max_size=len(edges) - 1))
    moments = zip(edges, edges[1:], kept, strict=False)
    return [Stop(a / 4.0, b / 4.0, cause, 0.5, 12.5, 0.6, 12.6) for a, b, cause in moments if cause]


def joined(stops: list[Stop]) -> list[tuple[float, float]]:
    """Stretches without running, one stop after the other."""
    found: list[tuple[float, float]] = []
    for stop in stops:
        follows = found and stop.from_h - found[-1][1] <= SAME_MOMENT_H
        found.append((found.pop()[0] if follows else stop.from_h, stop.to_h))
    return found


def inside(stop: Stop, from_h: float, to_h: float) -> float:
    """Hours of a stop between two moments."""
    return max(min(stop.to_h, to_h) - max(stop.from_h, from_h), 0.0)


@given(years())
def test_stops_make_the_same_stretches_one_by_one(stops: list[Stop]) -> None:
    """A table of stops, as a sequence and in stretches, is what its stops are."""
    table = Stops.of(stops)
    assert list(table) == stops and [table[k] for k in range(len(stops))] == stops
    assert stretches(stops).tolist() == [list(pair) for pair in joined(stops)]


def test_no_stops_at_all() -> None:
    """A year without a stop has tables of zeros that can be reckoned with."""
    assert stretches(()).shape == (0, 2) and longest_unplanned(()) is None
    assert hours_by_day((), DAYS).dtype == float and not hours_by_day((), DAYS).any()
    assert {total["hours"] for total in totals_of(())} == {0.0} and not longest_at_night((), DAYS).any()


@given(years())
def test_hours_of_a_day_are_the_same_one_by_one(stops: list[Stop]) -> None:
    """Each day's hours by cause, and the longest stretch of each night, against every stop cut by hand."""
    by_day = hours_by_day(stops, DAYS)
    for day in range(DAYS):
        for k, cause in enumerate(CAUSES):
            lasted = sum(inside(stop, 24.0 * day, 24.0 * day + 24.0) for stop in stops if stop.cause == cause)
            assert by_day[day, k] == pytest.approx(lasted, abs=1e-9)
        nights = [min(b, 24.0 * day + 6.0) - max(a, 24.0 * day) for a, b in joined(stops)]
        assert longest_at_night(stops, DAYS)[day] == max([0.0, *nights])


@given(years())
def test_the_longest_unplanned_stretch_is_the_same_one_by_one(stops: list[Stop]) -> None:
    """The client's longest stop, and each cause's totals, against a look at every stop."""
    in_season = [stop for stop in stops if stop.cause != "seasonal"]
    blamed = [stop.from_h for stop in in_season if stop.cause != "schedule"]
    found = [pair for pair in joined(in_season) if any(pair[0] <= start < pair[1] for start in blamed)]
    assert longest_unplanned(stops) == max(found, key=lambda pair: pair[1] - pair[0], default=None)
    for total in totals_of(stops):
        lasted = [stop.hours for stop in stops if stop.cause == total["cause"]]
        assert (total["stops"], total["longest_h"]) == (len(lasted), max(lasted, default=0.0))
        assert total["hours"] == pytest.approx(sum(lasted))
    bursts = bursts_of(Stops.of(stops))
    assert sum(one.count for one in bursts) == len(stops)
    assert sum(one.hours for one in bursts) == pytest.approx(sum(stop.hours for stop in stops))
    together = [{stop.cause for stop in stops[one.first : one.first + one.count]} for one in bursts]
    assert all(len(causes) == 1 or not causes & set(ALONE) for causes in together)


def test_a_battery_that_flutters_is_one_row() -> None:
    """Cold lock and protection by turns are one burst; a fault or the timer's break in between ends it (derived)."""
    turns = ("cold lock of the battery", "protection circuit") * 3
    stops = [Stop(0.1 * k, 0.1 * k + 0.05, cause, 0.1, 12.0) for k, cause in enumerate(turns)]
    assert [one.count for one in bursts_of(Stops.of(stops))] == [6]
    for other in ("fault", "schedule"):
        broken = [*stops[:3], Stop(0.3, 0.35, other, 0.1, 12.0), *stops[4:]]
        assert [one.count for one in bursts_of(Stops.of(broken))] == [3, 1, 2]


@pytest.mark.parametrize("events_a_stop", [0.2, 1.5])
def test_hours_are_kept_exactly_where_stops_are_too_many(
    design: Callable[..., Scenario], monkeypatch: pytest.MonkeyPatch, events_a_stop: float
) -> None:
    """With room for a tenth of the stops, or for all of either half of the year but not of both, running and standing
    still make up the year, by nearly the same causes.
    """
    scenario = design(CHATTER)
    all_of_them = study.simulate_year(scenario).measures
    monkeypatch.setattr(study, "EVENTS_KEPT", int(len(all_of_them.stops) * events_a_stop))
    result = study.simulate_year(scenario)
    few = result.measures
    assert all_of_them.stops.by_hour_from is None and few.stops.by_hour_from is not None
    assert few.pump_hours + sum(few.stops_by_cause.values()) == pytest.approx(8760.0, abs=1e-6)
    assert (few.starts, few.longest_stop_h) == (all_of_them.starts, all_of_them.longest_stop_h)
    assert max(abs(few.stops_by_cause[cause] - all_of_them.stops_by_cause[cause]) for cause in CAUSES) < 300.0
    assert np.all(few.stops.table["from_h"][1:] >= few.stops.table["to_h"][:-1] - 1e-9)
    lines = ledger.as_csv(few.stops, result.weather.index, scenario.care).splitlines()
    assert len(lines) == len(few.stops) + 1 and {line.count(",") for line in lines} == {12}
