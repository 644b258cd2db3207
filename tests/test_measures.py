"""From a log to the figures: sums that must agree with each other, causes of stops, cycles and wear."""

from __future__ import annotations

import ast
import re

import numpy as np
import published
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.catalogue.cells import cell
from sim.figures.causes import CAUSES, DULL_AFTER_H, hours_by_cause, stops_of
from sim.figures.series import by_month
from sim.figures.stress import calendar_pace, counted, miner_sum, stress_of
from sim.plant.causes import LOW_VOLTAGE, PROTECTION, RUNNING, SCHEDULE, STALLED
from sim.plant.records import EVENT
from sim.studies.result import YearResult

# ------------------------------------------------------------------ a real year


def test_the_books_of_a_year_balance(any_year: YearResult) -> None:
    """Of what passed through a year, less than a millionth is unaccounted for."""
    energy = any_year.measures.energy
    throughput = energy.panel + energy.pump + abs(energy.stored_change)
    assert energy.panel > 0.0
    assert abs(energy.balance_error) <= 1e-6 * throughput


def test_the_panel_s_energy_is_shared_out(any_year: YearResult) -> None:
    """Harvested, not harvested and lost off the maximum power point make up what was possible; none is negative."""
    energy = any_year.measures.energy
    parts = (energy.panel, energy.not_harvested, energy.off_maximum_power)
    assert sum(parts) == pytest.approx(energy.panel_possible)
    assert min(parts) >= 0.0
    assert energy.panel_possible < energy.in_plane


def test_hours_agree_however_they_are_counted(any_year: YearResult) -> None:
    """By month, by day, by hour and by the clock's remainder after all stops the pump ran the same time."""
    measures = any_year.measures
    hours = measures.pump_hours
    assert measures.pump_hours_by_day.sum() == pytest.approx(hours)
    assert measures.run_h.sum() == pytest.approx(hours)
    assert measures.run_h.size - sum(measures.stops_by_cause.values()) == pytest.approx(hours, rel=1e-6)
    assert measures.run_h.min() >= 0.0 and measures.run_h.max() <= 1.0 + 1e-9


def test_wanted_hours_are_met_at_most_in_full(any_year: YearResult) -> None:
    """No day meets more than it wants or than the pump ran, and the shares follow."""
    measures = any_year.measures
    assert np.all(measures.met_by_day <= measures.wanted_by_day + 1e-9)
    assert np.all(measures.met_by_day <= measures.pump_hours_by_day + 1e-9)
    assert measures.hours_met_share == pytest.approx(measures.met_by_day.sum() / measures.wanted_by_day.sum())
    assert np.all((measures.met_share_by_month >= 0.0) & (measures.met_share_by_month <= 1.0 + 1e-12))


def test_the_longest_stop_is_the_longest_stretch_without_running(any_year: YearResult) -> None:
    """Whatever its causes, a stop is counted whole, from one run to the next, and across New Year to the first."""
    events = any_year.log.events_of()
    running = events["cause"] == RUNNING
    began = ~running & np.concatenate(([True], running[:-1]))
    begins_s, ends_s = events["at_s"][began], events["at_s"][running]
    if not running[-1]:
        ends_s = np.append(ends_s, any_year.log.at_s[-1] + (ends_s[0] if begins_s[0] == 0.0 else 0.0))
    assert any_year.measures.longest_stop_h == pytest.approx((ends_s - begins_s).max() / 3600.0, rel=1e-9)


def test_charge_stays_between_empty_and_full(any_year: YearResult) -> None:
    """The day's band lies in 0…1 with its low below its high, and its lowest is the year's."""
    measures = any_year.measures
    assert np.all(measures.soc_low_by_day <= measures.soc_high_by_day)
    assert measures.soc_low_by_day.min() >= 0.0 and measures.soc_high_by_day.max() <= 1.0
    assert measures.battery.min_soc == pytest.approx(measures.soc_low_by_day.min())
    assert measures.battery.min_soc < measures.battery.mean_soc < 1.0


def test_months_are_sums_of_their_hours() -> None:
    """An hour counts in the month it lies in (derived)."""
    months = np.repeat(np.arange(1, 13), 730)
    assert by_month(np.full(8760, 0.5), months) == pytest.approx(np.full(12, 365.0))


# ------------------------------------------------------------------ why the pump stood


def events(*rows: tuple[float, int, float]) -> np.ndarray:
    """Events from (hour, cause, charge)."""
    table = np.zeros(len(rows), EVENT)
    table["at_s"], table["cause"], table["soc"] = zip(*rows, strict=True)
    table["at_s"] *= 3600.0
    return table


@pytest.mark.parametrize(
    ("code", "soc", "hours", "name"),
    [
        (LOW_VOLTAGE, 0.10, 10.0, "night"),
        (LOW_VOLTAGE, 0.10, DULL_AFTER_H, "night"),
        (LOW_VOLTAGE, 0.10, DULL_AFTER_H + 0.1, "dull spell"),
        (LOW_VOLTAGE, 0.30, 10.0, "night"),
        (LOW_VOLTAGE, 0.31, 50.0, "early cut-off"),
        (SCHEDULE, 0.90, 10.0, "schedule"),
        (PROTECTION, 0.01, 10.0, "protection circuit"),
        (STALLED, 0.50, 10.0, "voltage too low for the pump"),
    ],
)
def test_a_stop_has_the_name_of_its_cause(code: int, soc: float, hours: float, name: str) -> None:
    """Schedule, night, dull spell, early cut-off, protection and pump voltage, with early above 30 % charge."""
    (stop,) = stops_of(events((5.0, code, soc), (5.0 + hours, RUNNING, soc)), 8760 * 3600.0, 0.30)
    assert (stop.cause, stop.from_h) == (name, 5.0)
    assert hours_by_cause((stop,)) == pytest.approx(dict.fromkeys(CAUSES, 0.0) | {name: hours})


def test_a_stop_that_changes_its_cause_is_told_in_pieces() -> None:
    """A night by low voltage that the schedule takes over, and a last stop cut at the end of the year."""
    told = stops_of(
        events((1, LOW_VOLTAGE, 0.1), (3, SCHEDULE, 0.1), (8, RUNNING, 0.2), (20, PROTECTION, 0.0)), 24 * 3600.0, 0.3
    )
    assert [(stop.cause, stop.hours) for stop in told] == [
        ("night", 2.0),
        ("schedule", 5.0),
        ("protection circuit", 4.0),
    ]


# ------------------------------------------------------------------ cycles and wear

SERIES = [f"REF{k}" for k in range(269, 284)]


@pytest.mark.parametrize("id", SERIES)
def test_cycles_of_a_series_are_the_standard_s(id: str) -> None:
    """Counts by range of two published series (ASTM E1049-85, section 5.4.4, and a second one in the table)."""
    row = published.row(id)
    series = np.array([float(number) for number in row.inputs.removeprefix("series ").split(",")])
    depth = float(re.search(r"range ([\d.]+)", row.quantity)[1])  # type: ignore[index]
    published.check(id, dict(counted(series))[depth])


HISTORY = np.array(ast.literal_eval(published.row("REF284").inputs))


def test_cycles_of_a_charge_history() -> None:
    """The published list of ranges and counts, complete (source: the table)."""
    expected = ast.literal_eval(published.row("REF284").expected)
    assert np.array(counted(HISTORY)) == pytest.approx(np.array(expected))


def test_damage_of_loads_adds_up() -> None:
    """Three loads of 10000 of 20000, 5000 of 10000 and 2000 of 5000 cycles give 1.4 (worked example in the table)."""
    shares = [tuple(map(float, pair)) for pair in re.findall(r"(\d+)/(\d+)", published.row("REF285").inputs)]
    published.check("REF285", sum(miner_sum(((1.0, count),), full, 1.0) for count, full in shares))


def test_damage_of_a_charge_history() -> None:
    """The history's damage with N(d) = 3000·d^−1.3 (source: the table)."""
    published.check("REF286", miner_sum(counted(HISTORY), 3000.0, 1.3))


@given(st.lists(st.integers(0, 10_000), min_size=3, max_size=60))
def test_cycles_cover_the_way_travelled(charges: list[int]) -> None:
    """Twice each counted range sums to the path between turning points (derived)."""
    soc = np.array(charges) / 10_000
    assert sum(2.0 * depth * count for depth, count in counted(soc)) == pytest.approx(np.abs(np.diff(soc)).sum())


def test_a_daily_full_cycle_wears_the_battery_out_in_its_cycle_life() -> None:
    """365 full cycles a year on a battery of 2000 to 2500 give 5.5 to 6.8 years (derived from REF207)."""
    lfp = cell("lfp")
    soc = np.tile([1.0, 0.0], 365)
    stress = stress_of(lfp, np.append(soc, 1.0), 365.0, np.full(8760, 25.0))
    low, high = (cycles / 365.0 for cycles in sorted(lfp.cycles_at_full_depth))
    assert stress.cycle_life_years == pytest.approx((low, high), rel=1e-6)
    assert stress.life_years[0] == pytest.approx(1.0 / (1.0 / low + 1.0 / lfp.calendar_years_25c[0]))


def test_heat_ages_and_cold_does_not_rejuvenate() -> None:
    """At 35 °C the calendar life halves; at 5 °C it is that at 25 °C (makers' rule of ten degrees)."""
    lfp = cell("lfp")
    still = np.full(100, 0.5)
    hot, cold = (stress_of(lfp, still, 0.0, np.full(8760, at)).calendar_life_years for at in (35.0, 5.0))
    assert hot == pytest.approx([years / 2.0 for years in lfp.calendar_years_25c])
    assert cold == pytest.approx(lfp.calendar_years_25c)
    assert calendar_pace(np.array([15.0, 35.0]), 10.0) == pytest.approx(1.25)
