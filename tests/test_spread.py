"""Many years of one design: the same as single years, the same for the same seed, and said as it is."""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from pvlib import pvsystem

from sim import cli
from sim.errors import InputError
from sim.light.sunlight import conditions, currents, diode_of, points
from sim.plant.run import How, run
from sim.report.render import year_report
from sim.report.spread import spread_report
from sim.scenario import Scenario, load
from sim.studies import spread
from sim.studies.convergence import convergence_of, standard_error
from sim.studies.spread import SpreadResult, study_spread, synthetic_years
from sim.studies.year import simulate_year
from sim.studies.yearly import study_year
from sim.weather import Weather, weather_for
from sim.weather.synthesis import monthly_means

ROOT = Path(__file__).parent.parent
COURTYARD = ROOT / "scenarios" / "courtyard.toml"
YEARS, SEED = 10, 7


@pytest.fixture(scope="module")
def made() -> Callable[[int], Weather]:
    """Makes years like the courtyard's."""
    return synthetic_years(load(COURTYARD))


@pytest.fixture(scope="module")
def result() -> SpreadResult:
    """The courtyard through ten synthetic years."""
    return study_spread(load(COURTYARD), YEARS, SEED)


def test_a_year_among_many_is_the_year_alone(result: SpreadResult, made: Callable[[int], Weather]) -> None:
    """Every figure of a year equals that of the whole simulation of the same weather: the first, and the poor one."""
    alone = {0: simulate_year(load(COURTYARD), made(SEED)), result.poor: result.poor_year}
    for place, year in alone.items():
        found, measures = result.figures[place], year.measures
        for name, value in {
            "hours": measures.pump_hours,
            "starts": measures.starts,
            "idle_days": measures.days_without_running,
            "longest_stop_h": measures.longest_stop_h,
            "min_soc": measures.battery.min_soc,
        }.items():
            assert found[name] == value, name
        np.testing.assert_allclose(found["run_h"], measures.pump_hours_by_month, atol=1e-9)
        assert result.hours_met_share[place] == pytest.approx(measures.hours_met_share, abs=1e-12)


def test_hands_and_threads_change_nothing(result: SpreadResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """Other years in a hand and a single thread give the same bytes."""
    monkeypatch.setattr(spread, "YEARS_AT_ONCE", 3)
    monkeypatch.setattr("sim.plant.run.os.cpu_count", lambda: 1)
    made = synthetic_years(load(COURTYARD))
    again = spread.run_years(load(COURTYARD), spread.Synthetic(made, range(SEED, SEED + 4)), lambda done, of: None)
    assert again.tobytes() == result.figures[:4].tobytes()


def test_the_quantiles_are_those_of_the_years(result: SpreadResult) -> None:
    """P10, P50 and P90 stand where a tenth, a half and nine tenths of sorted years do, linear between them."""
    longest = np.sort(result.figures["longest_stop_h"])
    expected = [np.interp(share * (YEARS - 1), np.arange(YEARS), longest) for share in (0.1, 0.5, 0.9)]
    np.testing.assert_allclose(list(vars(result.quantiles("longest_stop_h")).values()), expected)


def test_the_poor_year_is_second_of_ten(result: SpreadResult) -> None:
    """One year of ten is poorer than the poor year, the others meet no less of the wanted hours."""
    poor = result.hours_met_share[result.poor]
    assert int((result.hours_met_share < poor).sum()) <= 1 <= int((result.hours_met_share <= poor).sum())
    assert result.as_json()["poor_year_seed"] == SEED + result.poor
    assert f"seed {SEED + result.poor}" in result.poor_year.weather.source


def test_a_typical_year_becomes_many_with_its_means(made: Callable[[int], Weather], result: SpreadResult) -> None:
    """Years made for a scenario with a sample have the sample's monthly means and differ from each other."""
    sample = monthly_means(simulate_year(load(COURTYARD)).weather)
    np.testing.assert_allclose(monthly_means(made(3)).daily_ghi_kwh_m2, sample.daily_ghi_kwh_m2, rtol=1e-9)
    assert len(set(result.figures["hours"].tolist())) == YEARS


def test_monthly_means_name_the_first_seed(design: Callable[..., Scenario]) -> None:
    """A scenario with monthly means begins with its own year."""
    place = {"latitude_deg": 40.0, "longitude_deg": 5.0, "elevation_m": 10.0, "utc_offset_h": 1.0}
    means = {"daily_ghi_kwh_m2": [2.0] * 12, "temp_air_c": [10.0] * 12, "seed": 5}
    scenario = design({f"site.{name}": value for name, value in place.items()} | {"weather": {"monthly": means}})
    assert spread.first_seed(scenario) == 5
    own, first = simulate_year(scenario).weather, synthetic_years(scenario)(5)
    assert own.ghi.tobytes() == first.ghi.tobytes()


def test_real_years_run_as_they_are(made: Callable[[int], Weather], result: SpreadResult) -> None:
    """Weathers that are given are run in their order, and no seed is named."""
    given = study_spread(load(COURTYARD), weathers=[made(SEED + 1), made(SEED)])
    assert given.figures.tobytes() == result.figures[[1, 0]].tobytes()
    assert given.as_json()["poor_year_seed"] is None and given.years == 2


def test_each_year_has_faults_of_its_own(design: Callable[..., Scenario], made: Callable[[int], Weather]) -> None:
    """The same weather twice, with chances of faults, gives two years; the first has the faults of the year alone."""
    scenario = design({"care.fault": [{"kind": "pump-clog", "mean_days_between": 20.0, "repair_h": 48.0}]})
    first, second = spread.run_years(scenario, [made(SEED), made(SEED)], lambda done, of: None)
    alone = simulate_year(scenario, made(SEED)).measures.pump_hours
    assert first["hours"] == pytest.approx(alone, rel=1e-6) and abs(second["hours"] - alone) > 1.0


def test_recorded_years_keep_their_calendars(design: Callable[..., Scenario], result: SpreadResult) -> None:
    """A leap year among others is that year alone, shut down and started on its own dates."""
    leap, plain = (weather_for(design({"weather.year": year})) for year in (2004, 2001))
    scenario = design({"care.shut_down": "11-15", "care.start_up": "03-15"})
    given = study_spread(scenario, weathers=[plain, leap])
    for place, year in enumerate((2001, 2004)):
        alone = simulate_year(design({"weather.year": year, "care.shut_down": "11-15", "care.start_up": "03-15"}))
        assert given.figures["hours"][place] == alone.measures.pump_hours
        assert given.hours_met_share[place] == pytest.approx(alone.measures.hours_met_share, abs=1e-12)
    assert given.names == (2001, 2004) and "too few" in given.convergence.in_words()


@pytest.mark.parametrize(("years", "seed", "key"), [(9, 1, "--years"), (10_001, 1, "--years"), (10, -1, "--seed")])
def test_a_number_that_says_nothing_is_refused(years: int, seed: int, key: str) -> None:
    """Too few or too many years, or a negative seed, end in a message before the work."""
    with pytest.raises(InputError, match=key):
        study_spread(load(COURTYARD), years, seed)


def test_a_hand_lets_go_of_its_sky(sky_for: Callable[[Scenario], np.ndarray]) -> None:
    """No more skies are alive at once than there are hands at work, without the garbage collector's help."""
    import gc
    import weakref

    scenario, alive, most = load(COURTYARD), [], []
    row = sky_for(scenario)[: 24 * 3]

    def sky(numbers: np.ndarray) -> np.ndarray:
        table = np.repeat(row[np.newaxis], len(numbers), axis=0)
        alive.append(weakref.ref(table))
        most.append(sum(one() is not None for one in alive))
        return table

    gc.collect()
    gc.disable()
    try:
        run([scenario] * 12, sky, lambda log, _: [None], How(at_once=1))
    finally:
        gc.enable()
    assert len(alive) == 12 and max(most) <= (os.cpu_count() or 1) + 1


class TestConvergence:
    """How many years are enough."""

    def test_the_error_of_the_median_of_normal_numbers(self):
        """Derived: the median of n standard normal numbers has a standard error near √(π/2n)."""
        from sim.weather.synthesis import normals

        errors = [standard_error(normals(seed, 400), 0.5) for seed in range(20)]
        assert np.mean(errors) == pytest.approx(np.sqrt(np.pi / 800.0), rel=0.1)

    def test_enough_years_bring_the_error_down_to_what_is_allowed(self):
        """Derived: with four times the years the error halves, so what is enough hardly depends on how many ran."""
        from sim.weather.synthesis import normals

        hours = 1000.0 + 50.0 * normals(3, 1600)
        few, many = convergence_of("hours", hours[:400], 0.1), convergence_of("hours", hours, 0.1)
        assert few.enough == pytest.approx(many.enough, rel=0.5)
        assert many.standard_error[-1] == pytest.approx(few.standard_error[-1] / 2.0, rel=0.3)

    def test_years_without_any_difference_need_no_more(self):
        """Where all years are alike, the fewest are enough."""
        found = convergence_of("hours", np.full(30, 8760.0), 0.1)
        assert found.enough == 5 and set(found.estimate) == {8760.0} and set(found.standard_error) == {0.0}


class TestCurves:
    """The compiled single-diode curves against the library's Lambert-W solution."""

    @pytest.mark.parametrize("series_ohm", [0.0, 1e-6, 0.25, 1.5])
    def test_points_and_currents_of_the_library(self, series_ohm):
        """From 1 to 1300 W/m² and −20 to 80 °C: currents within 1e-9 A, power to rounding, its voltage within 1e-6."""
        diode = diode_of(load(COURTYARD))._replace(R_s=series_ohm)
        light, cell_c = (grid.ravel() for grid in np.meshgrid(np.geomspace(1.0, 1300.0, 12), np.linspace(-20, 80, 6)))
        parameters = conditions(diode, light, cell_c)
        found, library = points(parameters), pvsystem.singlediode(*parameters)
        for name, near in {"i_sc": 1e-11, "v_oc": 1e-11, "p_mp": 1e-12, "v_mp": 1e-6}.items():
            np.testing.assert_allclose(found[name], np.asarray(library[name]), rtol=near, err_msg=name)
        volts = np.linspace(-1.0, 26.0, 55)
        columns = [np.broadcast_to(one, light.shape)[:, np.newaxis] for one in parameters]
        whole = np.asarray(pvsystem.i_from_v(volts, *columns))
        below = volts < found["v_oc"][:, np.newaxis] + 0.5
        np.testing.assert_allclose(currents(parameters, volts)[below], whole[below], atol=1e-9)


def test_the_report_says_the_poor_year(result: SpreadResult) -> None:
    """The page names the poor year, has three charts with their tables, and is the same for the same years."""
    page = spread_report(result)
    assert page == spread_report(replace(result)) and result.convergence.in_words() in page
    assert page.count('role="img"') == 3 and page.count("The numbers behind this chart") == 3
    assert f"seed {SEED + result.poor}" in page and "courtyard-poor-year.html" in page


def test_the_command_writes_both_reports(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], result: SpreadResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reports of all years and of the poor one are there, and JSON under the published names goes to the output."""
    monkeypatch.setattr(spread, "study_spread", lambda *_: result)
    assert cli.main(["spread", str(COURTYARD), "--years", "10", "--out", str(tmp_path), "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["years"] == YEARS and len(found["pump_hours_by_month"]["p10"]) == 12
    for name in ("pump_hours", "longest_stop_h", "days_without_running", "hours_met_share"):
        assert found[name]["p10"] <= found[name]["p50"] <= found[name]["p90"]
    assert sorted(path.name for path in tmp_path.iterdir()) == ["courtyard-poor-year.html", "courtyard-spread.html"]


def test_wrong_numbers_end_with_one_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A number of years out of range is told with the file and the key; nothing is written."""
    assert cli.main(["spread", str(COURTYARD), "--years", "3", "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr().err
    assert said.count("\n") == 1 and "--years" in said and "10 to 10000" in said and not list(tmp_path.iterdir())


def test_a_poor_year_stands_beside_the_typical_one(design: Callable[..., Scenario]) -> None:
    """The client's page shows both where many years were asked for, and the poor one is that of the spread."""
    result = study_year(design({}), poor_of=10)
    expected = study_spread(design({}), 10).poor_year.measures
    assert result.as_json()["poor_year"]["pump_hours"] == expected.pump_hours
    assert "poor year" in year_report(result, result.poor.pump_hours_by_month)
    assert "poor_year" not in simulate_year(design({})).as_json()
