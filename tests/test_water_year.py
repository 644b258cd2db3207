"""The year's water: books that close, affinity through the year, pond temperature, evaporation, oxygen, stops."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import published
import pytest

from sim.figures.causes import Stop
from sim.figures.water import pond, radiation, stopping
from sim.figures.water.stopping import longest_at_night, pipe_l, siphon_l, transit_l
from sim.figures.water.year import Water as WaterYear
from sim.figures.water.year import air_over, pump_volts
from sim.scenario import Scenario
from sim.scenario.models import Pump
from sim.scenario.water import Basin, Filter, Outlet, Pipe, Stream, Water
from sim.studies.result import YearResult
from sim.studies.year import simulate_year
from sim.weather import weather_for
from sim.weather.wind import wind_at_2m


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


def test_a_pump_that_runs_all_warm_nights_is_off_for_no_hours(courtyard_year: YearResult) -> None:
    """Not for a rounding less than none, which reads as -0 (derived)."""
    assert str(courtyard_year.as_json()["water"]["temperature"]["warm_night_off_h"]) == "0.0"


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
    high_v = np.maximum(log.per_interval("bus_high_v"), log.per_interval("pump_high_v"))  # the bus may pulse
    assert np.all(volts[ran] <= high_v[ran] + 1e-6)
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
    assert radiation.pressure_kpa(100.0) == pytest.approx(100.1, abs=0.05)
    assert radiation.slope((low + high) / 2) == pytest.approx(0.122, abs=5e-4)
    saturated = (radiation.vapour_pressure(low) + radiation.vapour_pressure(high)) / 2
    assert saturated == pytest.approx(1.997, abs=1e-3)
    assert wind_at_2m(np.array(10.0 / 3.6)) == pytest.approx(2.078, abs=1e-3)
    assert radiation.extraterrestrial(50.8, np.array(187)) == pytest.approx(41.09, abs=0.1)
    assert radiation.net_longwave(low, high, np.array(1.409), np.array(22.07 / 30.90)) == pytest.approx(3.71, abs=0.02)


def steady(**changes: float) -> pond.Air:
    """Ninety days of the same air: 15 °C, dew point 8 °C, 180 W/m² of sun, 2 m/s, 60 W/m² of long waves."""
    means = {"air_c": 15.0, "dew_c": 8.0, "sun_wm2": 180.0, "wind_m_s": 2.0, "longwave_wm2": 60.0} | changes
    return pond.Air(*(np.full(24 * 90, value) for value in means.values()))


def test_evaporation_by_hand() -> None:
    """Derived: 20 °C of water (2.338 kPa) over a dew point of 10 °C (1.228 kPa) in 2 m/s: 11.04·7.50062·1.110 W/m²."""
    assert pond.vapour_wm2(20.0, 10.0, 2.0) == pytest.approx(11.04 * 7.50062 * 1.110, rel=1e-3)


def test_what_the_pond_takes_up_is_what_it_gives() -> None:
    """Derived: in a steady state the sun's heat is what long waves, warm air and vapour carry off."""
    found = pond.course(steady(), 0.5)
    end, mm = float(found.water_c[-1]), float(found.evaporated_mm[-1])
    vapour_wm2 = mm * (2.501 - 0.002361 * end) * 1e6 / 3600.0
    long_wm2 = 60.0 + 4.0 * 0.97 * 5.67e-8 * 288.16**3 * (end - 15.0)
    assert vapour_wm2 + long_wm2 + 0.47 * 11.04 * (end - 15.0) == pytest.approx(0.92 * 180.0, rel=1e-6)
    assert vapour_wm2 > 20.0


def test_evaporation_is_what_the_trade_sees(design: Callable[..., Scenario]) -> None:
    """Published: a mild northern summer takes some 25 mm a week, and a hot, dry, windy day half an inch or more."""
    scenario = design({"weather.sample": "aleutian", "water.sun_share": 1.0, "water.wind_share": 1.0})
    assert scenario.water is not None
    mild = pond.course(air_over(scenario.water, weather_for(scenario)), 0.6).evaporated_mm
    published.check("REF415", mild.reshape(-1, 24).sum(axis=1)[151:243].mean() * 7.0)
    hours = np.tile(np.arange(24), 60)
    air_c = 30.0 - 10.0 * np.cos(2 * np.pi * (hours - 3) / 24)
    sun = 1050.0 * np.maximum(np.sin(np.pi * (hours - 5) / 14), 0)
    dry = pond.Air(air_c, np.full(1440, 8.0), sun, np.full(1440, 6.0), np.full(1440, 80.0))
    published.check("REF416", pond.course(dry, 0.6).evaporated_mm[-24:].sum())


def test_a_year_over_open_water_is_near_what_the_maps_say(design: Callable[..., Scenario]) -> None:
    """Maps of free-water evaporation say about 1,040 mm for the piedmont; within a quarter (bound of our own).

    Penman's equation beside a temperature of its own gave 1,502 mm.
    """
    scenario = design({"weather.sample": "piedmont", "water.sun_share": 1.0, "water.wind_share": 1.0})
    assert scenario.water is not None
    year = pond.course(air_over(scenario.water, weather_for(scenario)), 0.45).evaporated_mm.sum()
    assert year == pytest.approx(1040.0, rel=0.25)


def test_sun_wind_and_drought_evaporate() -> None:
    """More sun, more wind and a lower dew point each evaporate more."""
    one = pond.course(steady(), 0.5).evaporated_mm[-1]
    for changes in ({"sun_wm2": 220.0}, {"wind_m_s": 3.0}, {"dew_c": 5.0}):
        assert pond.course(steady(**changes), 0.5).evaporated_mm[-1] > one


def test_a_check_valve_keeps_the_pipes_full(design: Callable[..., Scenario]) -> None:
    """With one in the main line only what stands on the stream comes back, and nothing siphons; in the branch, not."""
    plain = {"water.outlet.kind": "submerged", "water.outlet.depth_m": 0.1}
    bare, main, branch = (
        design(plain | ({"water.fittings": [{"kind": "check-valve", "where": where}]} if where else {})).water
        for where in (None, "main", "branch")
    )
    for water in (bare, main, branch):
        assert water is not None
    assert stopping.held_l(bare) == 0.0 and not stopping.held_back(bare)
    assert stopping.held_l(main) == pytest.approx(stopping.pipe_l(main)) and stopping.held_back(main)
    assert stopping.held_l(branch) < stopping.pipe_l(branch) and not stopping.held_back(branch)


def test_a_steady_pond_comes_to_equilibrium() -> None:
    """Derived: wherever it began, under steady weather water ends where it loses what it takes up."""
    for sun_wm2 in (0.0, 180.0):
        end = float(pond.course(steady(sun_wm2=sun_wm2), 0.5).water_c[-1])
        assert pond.lost_wm2(end, 15.0, 8.0, 2.0, 60.0) == pytest.approx(0.92 * sun_wm2, abs=1e-4)


def test_a_deep_pond_lags_and_levels() -> None:
    """A deeper pond swings less through the day; no water is colder than freezing."""
    day = np.tile(np.concatenate((np.zeros(12), np.full(12, 500.0))), 90)
    warm, cold = steady()._replace(sun_wm2=day), steady(air_c=-20.0, dew_c=-25.0, sun_wm2=0.0)
    shallow, deep = (np.ptp(pond.course(warm, depth).water_c[-24:]) for depth in (0.2, 1.0))
    assert shallow > 3.0 * deep > 0.0
    assert pond.course(cold, 0.2).water_c.min() == 0.0


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
