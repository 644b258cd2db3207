"""The year's water: books that close, affinity through the year, pond temperature, evaporation, oxygen, stops."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import published
import pytest

from sim.figures.causes import Stop
from sim.figures.water import evaporation, pond
from sim.figures.water.stopping import longest_at_night, pipe_l, siphon_l, transit_l
from sim.figures.water.year import Water as WaterYear
from sim.figures.water.year import pump_volts
from sim.scenario import Scenario
from sim.scenario.models import Pump
from sim.scenario.water import Basin, Filter, Outlet, Pipe, Stream, Water
from sim.studies.result import YearResult
from sim.studies.year import simulate_year
from sim.weather import weather_for


def watered(result: YearResult) -> WaterYear:
    """The water of a year that has some."""
    assert result.measures.water is not None
    return result.measures.water


# ------------------------------------------------------------------ the year's books


def test_the_water_balance_closes(courtyard_year: YearResult) -> None:
    """What was pumped is what came back, what evaporated on the way and what is still on its way; header and branch
    make up the pump's flow; what was topped up or rained in is what evaporated; the level's own book agrees. Less than
    a millionth of a millionth of the water is unaccounted for.
    """
    books = watered(courtyard_year).books
    small = 1e-12 * books.pumped
    assert books.pumped > 1e6
    assert abs(books.header + books.branch - books.pumped) < small
    assert abs(books.returned + books.evaporated_stream + books.transit_change - books.pumped) < small
    assert abs(books.evaporated_pond + books.evaporated_stream - books.top_up - books.rain) < small
    assert abs(books.error) < small


def test_litres_agree_however_they_are_counted(courtyard_year: YearResult) -> None:
    """By hour, day and month the same litres; a regulated pump moves its rated flow in each of its hours."""
    water, measures = watered(courtyard_year), courtyard_year.measures
    assert water.litres == pytest.approx(water.litres_by_day.sum())
    assert water.litres == pytest.approx(water.litres_by_month.sum())
    assert water.litres == pytest.approx(water.pipework.point.flow_lph * measures.pump_hours)
    assert water.filter_fed_h == pytest.approx(measures.pump_hours)
    assert water.filter_longest_gap_h == pytest.approx(measures.longest_stop_h)


def test_turnovers_are_litres_over_the_pond(courtyard_year: YearResult) -> None:
    """Turnovers a day are the day's litres over the pond's volume, and the share counts days that reach the wanted."""
    water, volume = watered(courtyard_year), 700.0
    assert water.turnovers_per_day == pytest.approx(water.litres / volume / 365)
    assert water.turnovers_by_month[0] == pytest.approx(water.litres_by_month[0] / volume / 31)
    assert water.turnover_days_share == pytest.approx(np.mean(water.litres_by_day >= 12 * volume))


def test_top_up_by_week_and_by_month_agree(courtyard_year: YearResult) -> None:
    """A month's litres are its weeks' litres, and all months' are what the books say."""
    water = watered(courtyard_year)
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    assert water.top_up_l_per_week * days / 7 == pytest.approx(water.top_up_l_by_month)
    assert water.top_up_l_by_month.sum() == pytest.approx(water.books.top_up)


def test_json_holds_the_published_names(courtyard_year: YearResult) -> None:
    """The names that others rely on are there, as plain finite data."""
    water = json.loads(json.dumps(courtyard_year.as_json(), allow_nan=False))["water"]
    names = "litres flow_lph filter_flow_lph branch_flow_lph turnovers_per_day top_up_l_by_month"
    assert set(names.split()) <= set(water) and len(water["top_up_l_by_month"]) == 12


def test_without_water_nothing_is_said(any_year: YearResult) -> None:
    """A scenario without the section, or a pump without a curve, has no water in its results."""
    simulated = any_year.scenario.water is not None and bool(any_year.scenario.pump.curve)
    assert (any_year.measures.water is not None) == simulated
    assert (any_year.as_json()["water"] is not None) == simulated


@pytest.fixture(scope="module")
def weak(design: Callable[..., Scenario]) -> YearResult:
    """A year of a pump that cannot lift the water."""
    return simulate_year(design({"water.static_head_m": 2.0, "water.branch.static_head_m": 2.0}))


def test_a_pump_that_cannot_lift_is_reported_and_the_year_runs(weak: YearResult, courtyard_year: YearResult) -> None:
    """It runs its hours and moves nothing, the filter is never fed, and the first water finding says so."""
    water = watered(weak)
    assert weak.measures.pump_hours == courtyard_year.measures.pump_hours
    assert water.litres == 0.0 and water.filter_fed_h == 0.0 and water.filter_longest_gap_h == 8760.0
    assert "pump-cannot-lift" in [finding.id for finding in weak.findings]
    assert json.dumps(weak.as_json(), allow_nan=False)


def test_water_does_not_change_the_energy(design: Callable[..., Scenario], courtyard_year: YearResult) -> None:
    """The same pump with another curve in other pipes has the same hours and books of energy."""
    other = simulate_year(design({"water.static_head_m": 0.2, "water.pond_volume_l": 5000}))
    assert other.measures.energy == courtyard_year.measures.energy
    assert watered(other).litres > watered(courtyard_year).litres


# ------------------------------------------------------------------ the bus voltage and the flow


def test_a_direct_pump_s_voltage_from_its_power() -> None:
    """Derived: by affinity, 1.728 times the power is 1.2 times the voltage; a regulated pump stays at its own."""
    run_h = np.array([1.0, 0.5, 0.0])
    pump_wh = np.array([12.0 * 1.728, 6.0, 0.0])
    direct = Pump(power_w=12, at_v=12, supply="direct")
    assert pump_volts(direct, run_h, pump_wh) == pytest.approx([14.4, 12.0, 12.0])
    assert pump_volts(Pump(power_w=12, at_v=12), run_h, pump_wh) == pytest.approx([12.0, 12.0, 12.0])


def test_the_voltage_of_a_direct_pump_is_that_of_the_year(design: Callable[..., Scenario]) -> None:
    """Read back from its energy, the voltage lies within what the controller's terminals saw in that hour, less the
    cable's drop; and the flow follows it: more in the sun than at night.
    """
    result = simulate_year(design({"pump.supply": "direct"}))
    log, water = result.log, watered(result)
    run_h = log.per_interval("run_s") / 3600.0
    volts = pump_volts(result.scenario.pump, run_h, log.per_interval("pump_wh"))
    ran = run_h > 0.99
    assert np.all(volts[ran] <= log.per_interval("bus_high_v")[ran] + 1e-6)
    assert np.all(volts[ran] >= log.per_interval("bus_low_v")[ran] - 0.5)
    order = np.argsort(volts[ran])
    assert np.all(np.diff(water.flow_lph[ran][order]) >= -1e-9)
    assert water.litres == pytest.approx((water.flow_lph * run_h).sum())
    assert water.books.header + water.books.branch == pytest.approx(water.books.pumped, rel=1e-12)


# ------------------------------------------------------------------ start and stop


def test_water_on_its_way() -> None:
    """Derived: 10 m of 25 mm pipe hold 4.91 l, and 149 l/h per cm stand 17.2 mm over 3 m by 0.3 m of bed, 15.5 l."""
    dry = Water(pipe=(Pipe(length_m=10.0),))
    wet = Water(pipe=(Pipe(length_m=10.0),), stream=Stream(length_m=3.0, width_m=0.3))
    assert pipe_l(dry) == pytest.approx(4.909, abs=1e-3)
    assert transit_l(wet, 149.0 * 30.0) - transit_l(dry, 149.0 * 30.0) == pytest.approx(15.5, abs=0.1)
    assert transit_l(wet, 0.0) == 0.0


def test_a_siphon_ends_at_the_outlet_or_the_vent() -> None:
    """Published: the level falls to the outlet or to the vent hole, whichever is higher; an air break ends it."""
    assert "max(outlet, hole)" in published.row("REF393").expected
    deep = Outlet(kind="submerged", depth_m=0.2, pool_area_m2=0.5)
    assert siphon_l(deep) == pytest.approx(100.0)
    assert siphon_l(deep.model_copy(update={"vent_depth_m": 0.02})) == pytest.approx(10.0)
    assert siphon_l(deep.model_copy(update={"kind": "air-break"})) == 0.0


def test_stops_at_night() -> None:
    """The longest stretch between midnight and six, stops that touch being one; a stop by day is none."""
    stops = tuple(
        Stop(begun, ended, "night", 0.1, 12.0)
        for begun, ended in ((22.0, 25.0), (25.0, 26.5), (34.0, 47.0), (53.0, 73.0), (95.9, 97.0))
    )
    assert longest_at_night(stops, 5).tolist() == pytest.approx([0.0, 2.5, 1.0, 1.0, 1.0])


def test_defaults_lie_in_the_published_ranges() -> None:
    """Published and common practice: wanted turnovers with and without fish, and how long a filter may stand."""
    published.check("REF407", 24.0 / Water(fish=True).turnovers_per_day)
    published.check("REF409", 24.0 / Water().turnovers_per_day)
    for hours in (Filter().note_after_h, Filter().warning_after_h, Filter().flush_after_h):
        published.check("REF411", hours)
    assert Basin(area_m2=2.0, depth_m=0.5).water_l == 1000.0


# ------------------------------------------------------------------ oxygen, temperature, evaporation

OXYGEN = [("REF398", 0), ("REF399", 5), ("REF400", 10), ("REF401", 15), ("REF402", 20), ("REF403", 25), ("REF404", 30)]


@pytest.mark.parametrize(("id", "water_c"), [*OXYGEN, ("REF405", 20)])
def test_oxygen(id: str, water_c: float) -> None:
    """Published: the table of ISO 5814 and the equation of APHA, at the sea."""
    published.check(id, float(pond.oxygen_mg_l(np.array([float(water_c)]))[0]))


def test_oxygen_on_a_mountain() -> None:
    """Derived: at 1500 m the air presses 0.837 times as hard, 0.0231 of it vapour: (0.837 - 0.0231)/(1 - 0.0231)."""
    low, high = (pond.oxygen_mg_l(np.array([20.0]), metres)[0] for metres in (0.0, 1500.0))
    assert high / low == pytest.approx(0.8331, abs=0.0005)


def test_a_day_of_the_irrigation_handbook() -> None:
    """Published, from memory: FAO Irrigation and Drainage Paper 56, example 18 (Brussels, 6 July): pressure, slope,
    saturation, wind at 2 m, net long-wave radiation.
    """
    low, high = np.array(12.3), np.array(21.5)
    assert evaporation.pressure_kpa(100.0) == pytest.approx(100.1, abs=0.05)
    assert 0.665e-3 * evaporation.pressure_kpa(100.0) == pytest.approx(0.0666, abs=1e-4)
    assert evaporation.slope((low + high) / 2) == pytest.approx(0.122, abs=5e-4)
    saturated = (evaporation.vapour_pressure(low) + evaporation.vapour_pressure(high)) / 2
    assert saturated == pytest.approx(1.997, abs=1e-3)
    assert evaporation.wind_at_2m(np.array(10.0 / 3.6)) == pytest.approx(2.078, abs=1e-3)
    assert evaporation.extraterrestrial(50.8, np.array(187)) == pytest.approx(41.09, abs=0.1)
    assert evaporation.net_longwave(low, high, np.array(1.409), np.array(22.07 / 30.90)) == pytest.approx(
        3.71, abs=0.02
    )


def test_penman_by_hand() -> None:
    """Derived: at 20 °C, 15 MJ/m² net, 1 kPa deficit and 2 m/s: Δ 0.1447, γ 0.0674 kPa/°C, λ 2.4538 MJ/kg."""
    by_hand = (0.1447 * 15.0 + 0.0674 * 6.43 * 2.072 * 1.0) / (2.4538 * (0.1447 + 0.0674))
    day = evaporation.penman_mm(np.array(20.0), np.array(15.0), np.array(1.0), np.array(2.0), 101.3)
    assert day == pytest.approx(by_hand, rel=1e-3)


def test_evaporation_is_what_the_trade_sees(design: Callable[..., Scenario]) -> None:
    """Published: a mild northern summer takes some 25 mm a week, and a hot, dry, windy day half an inch or more."""
    weather = weather_for(design({"weather.sample": "aleutian"}))
    mild = evaporation.daily_mm(
        evaporation.Air(weather.temp_air), weather.ghi, weather.wind_speed, weather.latitude_deg, 10.0
    )
    published.check("REF415", mild[151:243].mean() * 7.0)
    hours = np.arange(24)
    air, sun = (
        30.0 - 10.0 * np.cos(2 * np.pi * (hours - 3) / 24),
        1050.0 * np.maximum(np.sin(np.pi * (hours - 5) / 14), 0),
    )
    days = evaporation.Air(np.tile(air, 200)), np.tile(sun, 200), np.full(4800, 6.0)
    published.check("REF416", evaporation.daily_mm(*days, 33.0, 300.0)[180])


def test_sun_wind_and_drought_evaporate() -> None:
    """More of each never evaporates less."""
    base = {"air_c": 20.0, "net_mj": 12.0, "deficit_kpa": 0.8, "wind_2m": 1.5}
    one = evaporation.penman_mm(*(np.array(value) for value in base.values()), 100.0)
    for name in ("net_mj", "deficit_kpa", "wind_2m"):
        more = {key: np.array(value * (1.3 if key == name else 1.0)) for key, value in base.items()}
        assert evaporation.penman_mm(*more.values(), 100.0) > one


def test_a_steady_pond_comes_to_equilibrium() -> None:
    """Derived: under steady weather the water ends where sun over exchange lies above the dew point."""
    hours = 24 * 90
    dew, sun, wind = np.full(hours, 8.0), np.full(hours, 180.0), np.full(hours, 2.0)
    end = pond.temperature_c(dew, sun, wind, 0.5)[-1]
    assert end == pytest.approx(8.0 + 180.0 / pond.exchange(end, 8.0, 2.0), abs=1e-6)


def test_a_deep_pond_lags_and_levels() -> None:
    """A deeper pond swings less through the day; no water is colder than freezing."""
    day = np.tile(np.concatenate((np.zeros(12), np.full(12, 500.0))), 60)
    dew, wind = np.full(len(day), 5.0), np.zeros(len(day))
    shallow, deep = (np.ptp(pond.temperature_c(dew, day, wind, depth)[-24:]) for depth in (0.2, 1.0))
    assert shallow > 3.0 * deep > 0.0
    assert pond.temperature_c(dew - 30.0, 0.0 * day, wind, 0.2).min() == 0.0


@pytest.mark.parametrize(
    ("days", "season"),
    [([20.0, 10.0, 4.0, 5.0, 4.4], (2, 4)), ([3.0, 20.0, 9.0, 4.4], (3, 0)), ([9.0, 8.0], None), ([4.5, 9.0], None)],
    ids=["one winter", "through the new year", "none", "at the limit"],
)
def test_the_cold_season(days: list[float], season: tuple[int, int] | None) -> None:
    """From the first to the last day below the limit, also through the new year; at the limit is not below it."""
    assert pond.cold_season(np.repeat(days, 24), 4.5) == season


def test_the_demo_s_winter(courtyard_year: YearResult) -> None:
    """The courtyard's pond is colder than 4.5 °C in winter, and never frozen into impossible figures."""
    warm = watered(courtyard_year).temperature
    assert warm.cold_from and warm.cold_to and warm.cold_from > "11-01" and warm.cold_to < "04-01"
    assert 0.0 <= warm.lowest_c < 4.5 < 20.0 < warm.highest_c < 40.0


def test_a_pump_stopped_at_night_is_seen(design: Callable[..., Scenario]) -> None:
    """By the clock from seven to seven, every warm night has a stop of more than an hour after midnight."""
    changes = {"controller.load_mode": "clock", "controller.load_windows": [["07:00", "19:00"]], "water.fish": True}
    result = simulate_year(design(changes))
    warm = watered(result).temperature
    assert warm.warm_night_stops == warm.warm_nights > 50
    assert "night-oxygen-gap" in [finding.id for finding in result.findings]


def test_a_lane_can_go_without(courtyard_year: YearResult) -> None:
    """Measures without water are as good as ever."""
    assert replace(courtyard_year.measures, water=None).as_json()["water"] is None


def test_rain_lowers_topping_up(design: Callable[..., Scenario]) -> None:
    """Two millimetres an hour for a day over the pond's own area save that day's loss, no other day's (derived)."""
    scenario = design({"weather.sample": "piedmont"})
    dry = weather_for(scenario)
    rain = np.zeros(len(dry.index))
    rain[180 * 24 : 181 * 24] = 2.0
    rain[200 * 24] = 1.0
    years = [watered(simulate_year(scenario, weather)) for weather in (dry, replace(dry, rain=rain))]
    saved = years[0].top_up_l_by_month.sum() - years[1].top_up_l_by_month.sum()
    area = scenario.water.pond_area_m2  # type: ignore[union-attr]
    assert years[1].rain_mm == 49.0 and years[0].rain_mm is None
    lost = years[0].evaporation_mm_by_day[180]
    assert saved == pytest.approx(years[1].books.rain) and area * (lost + 1.0) <= saved + 1e-9 < area * 49.0
    books = years[1].books
    assert books.top_up + books.rain == pytest.approx(books.evaporated_pond + books.evaporated_stream)


def test_a_measured_dew_point_replaces_the_cold_night(design: Callable[..., Scenario]) -> None:
    """The pond and its evaporation follow the dew point of the data where there is one."""
    scenario = design({"weather.sample": "piedmont"})
    weather = weather_for(scenario)
    nights = np.repeat(weather.temp_air.reshape(-1, 24).min(axis=1), 24)
    plain, same, damp = (
        watered(simulate_year(scenario, replace(weather, dew_point=dew))) for dew in (None, nights, nights + 3.0)
    )
    np.testing.assert_allclose(same.evaporation_mm_by_day, plain.evaporation_mm_by_day)
    np.testing.assert_allclose(same.temperature.water_c, plain.temperature.water_c)
    assert damp.evaporation_mm_by_day.sum() < 0.95 * plain.evaporation_mm_by_day.sum()
    assert damp.temperature.highest_c > plain.temperature.highest_c
