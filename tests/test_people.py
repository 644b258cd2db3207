"""What clock and calendar do to the inputs: season, dirt, equalisation, the dusk timer; and a trip on current."""

from __future__ import annotations

import numpy as np
import pytest
from kit.courtyard import year_of

from sim.calendar import day_s
from sim.plant.causes import RUNNING
from sim.studies.aged import END_OF_LIFE, aged, replacement_year
from sim.studies.fading import fading_years
from sim.studies.year import simulate_year


def test_the_season_stops_the_pump_from_shut_down_to_start_up() -> None:
    """Between the two days the pump stands, and every hour of it is put down to the season."""
    result = year_of(care__shut_down="11-15", care__start_up="03-15")
    run_h, hours = result.measures.run_h, np.arange(8760) * 3600.0
    closed = (hours >= day_s("11-15", 2001)) | (hours < day_s("03-15", 2001))
    assert run_h[closed].sum() == 0.0
    assert result.measures.stops_by_cause["seasonal"] == pytest.approx(closed.sum(), abs=1e-6)


def test_the_dusk_timer_runs_the_pump_in_the_dark_and_is_found() -> None:
    """Four hours after the light ends, never in the light; the check names it."""
    result = year_of(controller__load_mode="after-dusk", controller__hours_after_dusk=4)
    lit = result.sky["lit"] == 1
    assert result.measures.run_h[lit].sum() == 0.0
    assert result.measures.run_h.reshape(-1, 24).sum(axis=1).max() <= 8.0
    assert result.measures.pump_hours > 300.0
    assert "dusk-timer-left-on" in {finding.id for finding in result.findings}


def test_dirt_costs_and_cleaning_brings_back() -> None:
    """Possible panel energy falls with dirt by the mean share, and a cleaning in June restores July."""
    clean, dirty = year_of(), year_of(care__soiling_per_month=0.04)
    washed = year_of(care__soiling_per_month=0.04, care__panel_cleaning=("07-01",))
    july = clean.measures.months == 7

    def possible(result: object) -> float:
        return float(result.log.per_interval("possible_wh")[july].sum())  # type: ignore[attr-defined]

    assert possible(dirty) == pytest.approx(possible(clean) * 0.96**6.5, rel=0.01)  # derived: six and a half months
    assert possible(washed) == pytest.approx(possible(clean) * 0.96**0.5, rel=0.01)
    passed_wh = washed.measures.energy.panel  # the bus is found to 1e-5 V, so the books close to some 1e-8 of this
    assert washed.measures.energy.balance_error == pytest.approx(0.0, abs=1e-7 * passed_wh)


def test_a_flooded_battery_is_equalised_and_no_other_reaches_that_voltage() -> None:
    """With sun enough, a charge every 30 days reaches the equalising voltage, shifted by temperature."""
    flooded = year_of(battery__chemistry="flooded", panel__count=4, pump__power_w=4)
    agm = year_of(battery__chemistry="agm", panel__count=4, pump__power_w=4)
    high_v = flooded.log.per_interval("bus_high_v").reshape(-1, 24).max(axis=1)
    summer = slice(150, 240)  # some 30 °C: set-points are shifted down a little
    assert np.sum(high_v[summer] > 14.95) >= 2
    assert np.sum(high_v[summer] > 14.95) <= 12
    assert agm.log.per_interval("bus_high_v").reshape(-1, 24).max(axis=1)[summer].max() < 14.9


def test_a_load_switch_that_is_too_small_trips_and_comes_back() -> None:
    """A direct pump draws 44 % more at 14.4 V: a switch rated for the label trips by day and holds by night."""
    three_weeks = {"care__shut_down": "07-10", "care__start_up": "06-20"}  # a switch may trip each minute of a year
    result = year_of(pump__supply="direct", controller__max_load_a=1.1, panel__count=2, **three_weeks)
    assert result.measures.stops_by_cause["overload"] > 10.0
    usual = year_of(pump__supply="direct", panel__count=2, **three_weeks)
    assert usual.measures.stops_by_cause["overload"] == 0.0 < usual.measures.pump_hours


def test_a_pump_starts_only_from_its_start_voltage() -> None:
    """With a start voltage of 13.0 V the bus is at least there before every start; without one it is not."""
    starts_v = {start_v: starting_v(start_v) for start_v in (None, 13.0)}
    assert len(starts_v[13.0]) > 3
    assert starts_v[13.0].min() >= 13.0 > starts_v[None].min()


def starting_v(start_v: float | None) -> np.ndarray:
    """(k,) the bus voltage just before each start within an hour; on the hour the light changes with the start."""
    asked = {} if start_v is None else {"pump__start_v": start_v}
    events = year_of(controller__load_reconnect_v=12.6, **asked).log.events_of(0)
    return np.asarray(events["bus_v"][(events["cause"] == RUNNING) & (events["at_s"] % 3600.0 > 0.0)])


def test_a_fading_battery_loses_capacity_until_it_is_replaced() -> None:
    """Capacity falls by a fifth over its life, then it is new again."""
    years = tuple(fading_years(year_of(battery__chemistry="flooded"), 7))
    worn = [year.worn for year in years]
    assert replacement_year(years) is not None
    assert all(year.capacity_ah == pytest.approx(100.0 * (1.0 - (1.0 - END_OF_LIFE) * year.worn)) for year in years)
    assert worn[:3] == sorted(worn[:3])
    assert years[0].worn == 0.0


def test_the_first_of_the_fading_years_is_the_year_itself() -> None:
    """A battery that has not faded yet gives the same hours, simulated again or not."""
    first = year_of()
    (year,) = fading_years(first, 1)
    again = simulate_year(aged(first.scenario, 0.0, first.scenario.battery.initial_soc)).measures
    assert year.pump_hours == first.measures.pump_hours == pytest.approx(again.pump_hours, rel=1e-9)


def test_equivalent_full_cycles_by_a_second_way() -> None:
    """Half the path of the charge, hour by hour, gives nearly the cycles counted from the discharge current."""
    result = year_of()
    soc = result.log.totals["soc"][:, 0]
    path = float(np.abs(np.diff(soc)).sum()) / 2.0
    assert result.measures.battery.stress.equivalent_full_cycles == pytest.approx(path, rel=0.05)
    counted = sum(depth * count for depth, count in result.measures.battery.stress.cycles)
    assert counted == pytest.approx(path, rel=0.02)  # rainflow ranges times counts are half the path too
