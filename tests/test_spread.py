"""Many years of one design: the same as single years, the same for the same seed, and said as it is."""

from __future__ import annotations

import html
import io
import json
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from browser import fit_phones
from conftest import COURTYARD, changed, year_in
from kit.readers import apart, mixed
from pvlib import pvsystem
from rich.console import Console

from sim import cli
from sim.catalogue import world
from sim.errors import InputError
from sim.figures.measures import Measures
from sim.hands import ALONE, working
from sim.light.sunlight import conditions, currents, diode_of, points
from sim.plant.causes import RUNNING
from sim.plant.run import How, run
from sim.report import standing
from sim.report.render import year_report
from sim.report.spread import poor_year_report, spread_report
from sim.scenario import Scenario, load, parse, read_toml
from sim.studies import spread, yearly
from sim.studies.chains import recorded, run_years, synthetic
from sim.studies.convergence import convergence_of, standard_error
from sim.studies.spread import SpreadResult, study_spread
from sim.studies.year import simulate_year
from sim.terminal.spread import print_spread
from sim.weather import Weather
from sim.weather.dates import year_index
from sim.weather.many import seed_of, years_for
from sim.weather.synthesis import monthly_means
from sim.weather.weather import Doubt

YEARS, SEED = 23, 7


@pytest.fixture(scope="module")
def made() -> Callable[[int], Weather]:
    """Makes years like the courtyard's."""
    return years_for(load(COURTYARD), seed=SEED)


@pytest.fixture(scope="module")
def result() -> SpreadResult:
    """The courtyard through as many synthetic years as make two chains."""
    return study_spread(load(COURTYARD), YEARS, SEED)


def test_a_year_among_many_is_the_year_alone(result: SpreadResult, made: Callable[[int], Weather]) -> None:
    """Every figure of the poor year equals that of its whole simulation, which begins as the year before it ended."""
    found, measures = result.figures[result.poor], result.poor_year.measures
    for name, value in {
        "hours": measures.pump_hours,
        "starts": measures.starts,
        "idle_days": measures.days_without_running,
        "longest_stop_h": measures.longest_stop_h,
        "min_soc": measures.battery.min_soc,
    }.items():
        assert found[name] == value, name
    np.testing.assert_allclose(found["run_h"], measures.pump_hours_by_month, atol=1e-9)
    assert result.hours_met_share[result.poor] == pytest.approx(measures.hours_met_share, abs=1e-12)
    assert not measures.start.settled and result.poor_year.weather.ghi.tobytes() == made(result.poor).ghi.tobytes()
    np.testing.assert_allclose(result.light[result.poor].sum(), measures.ghi_kwh_m2)


def test_a_year_begins_as_the_one_before_it_ended(made: Callable[[int], Weather]) -> None:
    """Its battery, and a stop that goes on over New Year counts in full and is listed from the first moment on."""
    weak = changed({"panel.power_w": 30, "panel.imp_a": 1.67, "panel.isc_a": 1.77, "battery.capacity_ah": 20})
    many = synthetic(made, 3)
    ran = run_years([weak], many)
    years = [simulate_year(weak, made(k), with_twins=False, ended=ran.before(0, k)) for k in range(3)]
    for before, after in zip(years, years[1:], strict=False):
        assert after.log.totals["soc"][0, 0] == before.log.totals["soc"][-1, 0]
    state = ran.ended["state"][0]
    standing = [k for k in range(3) if state["cause"][k] != RUNNING]
    assert standing  # in a year of three at least, or the weather no longer asks anything
    for k in standing:
        stops = years[k].measures.stops
        went_on_h = float(stops.hours[0]) + (state["now_s"][k] - state["changed_s"][k]) / 3600.0
        assert stops[0].from_h == 0.0
        assert ran.figures["longest_stop_h"][0, k] >= went_on_h - 1e-6


def test_how_many_years_and_threads_change_nothing(result: SpreadResult, made: Callable[[int], Weather]) -> None:
    """Year k is the same to the byte among five years or twenty-three, on one thread or two."""
    with working(ALONE):
        few = run_years([load(COURTYARD)], synthetic(made, 5))
    assert few.figures[0].tobytes() == result.figures[:5].tobytes()
    assert few.light.tobytes() == result.light[:5].tobytes()


def test_a_timer_after_dusk_changes_nothing_in_other_years(made: Callable[[int], Weather]) -> None:
    """Where each year has moments of its own, its company leaves it alone too."""
    scenario = changed({"controller.load_mode": "after-dusk", "controller.hours_after_dusk": 5})
    many = replace(synthetic(made, 2), chains=((-1, 0), (0, 1)))
    both, alone = run_years([scenario], many), run_years([scenario], synthetic(made, 1))
    assert both.figures[0, 0].tobytes() == alone.figures[0, 0].tobytes()


def test_each_chain_leads_in(made: Callable[[int], Weather]) -> None:
    """The first year of the second chain follows the last of the first, simulated anew, to within its settling."""
    scenario = load(COURTYARD)
    whole = run_years([scenario], replace(synthetic(made, 3), chains=((-1, 0, 1, 2),)))
    parted = run_years([scenario], replace(synthetic(made, 3), chains=((-1, 0, 1), (1, 2))))
    assert parted.figures["hours"][0, 2] == pytest.approx(whole.figures["hours"][0, 2], abs=0.1)
    assert parted.figures[0, :2].tobytes() == whole.figures[0, :2].tobytes()


def test_designs_share_the_years(made: Callable[[int], Weather]) -> None:
    """Several designs through the same years have the figures that each has alone."""
    designs = [changed({"panel.tilt_deg": tilt, "battery.capacity_ah": ah}) for tilt in (20, 60) for ah in (50, 100)]
    many = synthetic(made, 2)
    together = run_years(designs, many).figures
    for row, design in zip(together, designs, strict=True):
        assert row.tobytes() == run_years([design], many).figures[0].tobytes()


def test_a_stated_charge_begins_every_year(made: Callable[[int], Weather]) -> None:
    """Then nothing settles and no year follows another."""
    scenario = changed({"battery.initial_soc": 0.5})
    ran = run_years([scenario], synthetic(made, 2))
    assert not ran.follow.any()
    assert ran.figures["hours"][0, 1] == simulate_year(scenario, made(1), with_twins=False).measures.pump_hours


def test_the_quantiles_are_those_of_the_years(result: SpreadResult) -> None:
    """P10, P50 and P90 stand where a tenth, a half and nine tenths of sorted years do, linear between them."""
    longest = np.sort(result.figures["longest_stop_h"])
    expected = [np.interp(share * (YEARS - 1), np.arange(YEARS), longest) for share in (0.1, 0.5, 0.9)]
    np.testing.assert_allclose(list(vars(result.quantiles("longest_stop_h")).values()), expected)


def test_a_tenth_of_the_years_are_poorer_than_the_poor_one(result: SpreadResult) -> None:
    """Two of 23 are, the others meet no less of the wanted hours; its number and seed are told."""
    poor = result.hours_met_share[result.poor]
    assert int((result.hours_met_share < poor).sum()) <= YEARS // 10 <= int((result.hours_met_share <= poor).sum())
    found = result.as_json()
    assert found["poor_year_seed"] == SEED and found["poor_year"]["number"] == result.poor
    assert f"synthetic year {result.poor} of seed {SEED}" in result.poor_year.weather.source


def test_the_typical_year_stands_beside_them(result: SpreadResult) -> None:
    """It is the scenario's own year, and as many years are said to be poorer as meet less."""
    found, own = result.as_json(), year_in(COURTYARD)
    assert found["typical"]["pump_hours"] == own.measures.pump_hours
    poorer = int((result.hours_met_share < own.measures.hours_met_share).sum())
    assert found["typical_rank"] == {"poorer_years": poorer, "of": YEARS} and 2 < poorer < YEARS - 2
    assert standing.rank(result) == (
        f"Of {YEARS} made-up years, {poorer} are poorer than the typical year of this scenario: it is a usual year."
    )


def test_light_differs_as_it_is_said(result: SpreadResult) -> None:
    """Twelve coefficients of variation of months, one of years, and quantiles of each month's light."""
    found = result.as_json()
    assert len(found["ghi_cv_by_month"]) == 12
    assert 0.05 < np.median(found["ghi_cv_by_month"]) < 0.165  # published: 5 to 95 %
    year = result.light.sum(axis=1)
    assert found["ghi_cv_year"] == pytest.approx(year.std(ddof=1) / year.mean()) and 0.015 < found["ghi_cv_year"] < 0.06
    light = [found["ghi_kwh_m2_by_month"][name] for name in ("p10", "p50", "p90")]
    assert np.all(np.diff(light, axis=0) > 0.0) and np.shape(light) == (3, 12)


ALIKE: dict[str, object] = {"ghi_kwh_m2": 1500.0, "longest_stop_h": 90.0}  # of two years that differ otherwise


class TestPoorNoPoorer:
    """A poor year that is no poorer than the typical one never stands there without the reason."""

    def told(self, result: SpreadResult, poor: dict[str, object], typical: dict[str, object]) -> str:
        """What is said with figures put in place of the two years'."""
        years = {
            name: replace(year, measures=SimpleNamespace(**(self.figures(year.measures) | changes)))
            for name, year, changes in (
                ("poor_year", result.poor_year, poor),
                ("typical", result.typical, typical),
            )
        }
        return standing.poor_no_poorer(replace(result, **years))

    @staticmethod
    def figures(measures: Measures) -> dict[str, object]:
        """What the comparison asks for."""
        names = ("hours_met_share", "pump_hours", "longest_stop_h", "ghi_kwh_m2", "battery")
        return {name: getattr(measures, name) for name in names}

    def test_a_poorer_one_needs_no_words(self, result):
        """Fewer wanted hours, fewer pump hours, a longer stop."""
        assert self.told(result, {"longest_stop_h": 500.0, "pump_hours": 100.0}, {}) == ""

    @pytest.mark.parametrize(
        ("poor", "typical", "reason"),
        [
            ({"hours_met_share": 0.9}, {"hours_met_share": 0.8, "ghi_kwh_m2": 900.0}, "had less light, 900 kWh/m²"),
            (ALIKE | {"hours_met_share": 0.9},
             ALIKE | {"hours_met_share": 0.8, "battery": SimpleNamespace(charge_refused_hours=999.0)},
             "refused charge for 999 h"),
            (ALIKE | {"hours_met_share": 0.9},
             ALIKE | {"hours_met_share": 0.8, "battery": SimpleNamespace(charge_refused_hours=0.0)},
             "come in longer spells"),
            ({"hours_met_share": 1.0, "pump_hours": 8760.0}, {"hours_met_share": 1.0, "pump_hours": 8760.0},
             "hardly feels how years differ"),
            (ALIKE | {"hours_met_share": 0.7, "pump_hours": 8000.0},
             ALIKE | {"hours_met_share": 0.8, "pump_hours": 7000.0},
             "has 8,000 pump hours against 7,000 in the typical one"),
            ({"hours_met_share": 0.7, "longest_stop_h": 40.0}, {"hours_met_share": 0.8, "longest_stop_h": 90.0},
             "a longest stop of 40 h against 90 h"),
        ],
    )  # fmt: skip
    def test_each_reason(self, result, poor, typical, reason):
        """Light, cold, spells, a design that does not mind, and years that are better in another way."""
        assert reason in self.told(result, poor, typical)

    def test_the_page_and_the_terminal_say_it(self, result):
        """The years' report, the poor year's and the lines on the terminal."""
        turned = replace(result, poor_year=result.typical, typical=result.poor_year)
        words = standing.poor_no_poorer(turned)
        assert words.startswith("The poor year is no poorer than the typical one (9")
        for page in (spread_report(turned), poor_year_report(turned)):
            assert html.escape(words, quote=False) in page.replace("&#39;", "'")
        console = Console(file=io.StringIO(), width=1000)
        print_spread(turned, console=console)
        assert words in console.file.getvalue()


def test_a_month_outside_the_years_is_explained(result: SpreadResult) -> None:
    """By its light where that lies outside too; else by the order of its days."""
    assert standing.outside(result) == ""
    typical, hours = result.typical, result.typical.measures.pump_hours_by_month.copy()
    hours[0] *= 0.1
    dull = replace(typical, measures=replace(typical.measures, pump_hours_by_month=hours))
    said = standing.outside(replace(result, typical=dull))
    assert said.startswith("In January the typical year runs 1.") and "less than nine in ten of the made-up" in said
    assert "follow one another otherwise" in said
    dark = replace(dull, weather=replace(typical.weather, ghi=0.5 * typical.weather.ghi))
    assert "so does its light" in standing.outside(replace(result, typical=dark))


def test_a_typical_year_becomes_many_around_its_means(result: SpreadResult) -> None:
    """Years made for a scenario with a sample have its months on average, and all differ."""
    sample = monthly_means(result.typical.weather).daily_ghi_kwh_m2
    days = result.days_by_month
    assert (result.light.mean(axis=0) / days / sample) == pytest.approx(1.0, abs=0.1)
    assert result.light.sum() / (YEARS * (sample @ days)) == pytest.approx(1.0, abs=0.03)
    assert len(set(result.figures["hours"].tolist())) == YEARS


def test_monthly_means_name_the_seed() -> None:
    """A scenario with monthly means has years of its own seed; the world climate's say how coarse they are."""
    place = {"latitude_deg": 40.0, "longitude_deg": 5.0, "elevation_m": 10.0, "utc_offset_h": 1.0}
    means = {"daily_ghi_kwh_m2": [2.0] * 12, "temp_air_c": [10.0] * 12, "seed": 5}
    scenario = changed({f"site.{name}": value for name, value in place.items()} | {"weather": {"monthly": means}})
    year = years_for(scenario)(3)
    assert seed_of(scenario) == 5 and "year 3 of seed 5" in year.source and "only on average" in year.notes[0]
    data = {key: value for key, value in read_toml(COURTYARD).items() if key != "weather"}
    coarse = parse(data | {"site": {"latitude_deg": 40.0, "longitude_deg": 5.0}}, COURTYARD)
    year = years_for(coarse)(0)
    assert year.notes[0] == coarse.weather.coarse and world.SOURCE in year.source and year.licence == world.LICENCE


def test_what_is_doubtful_about_a_year_is_so_about_those_made_from_it(result: SpreadResult) -> None:
    """The doubts of recorded weather go on to the years around its means."""
    doubt = Doubt("scale", "The light is too bright.")
    weather = replace(result.typical.weather, doubts=(doubt,))
    assert years_for(load(COURTYARD), [weather])(0).doubts == (doubt,)


def test_each_year_has_faults_of_its_own(made: Callable[[int], Weather]) -> None:
    """The same weather twice, with chances of faults, gives two years; the first has the faults of the year alone."""
    scenario = changed({"care.fault": [{"kind": "pump-clog", "mean_days_between": 20.0, "repair_h": 48.0}]})
    first, second = run_years([scenario], recorded([made(0), made(0)])).figures[0]
    alone = simulate_year(scenario, made(0), with_twins=False).measures.pump_hours
    assert first["hours"] == alone and abs(second["hours"] - alone) > 1.0


def test_recorded_years_keep_their_calendars() -> None:
    """A leap year among others is that year alone, shut down and started on its own dates; no seed is named."""
    care = {"care.shut_down": "11-15", "care.start_up": "03-15"}
    alone = {year: simulate_year(changed({"weather.year": year} | care), with_twins=False) for year in (2001, 2004)}
    weathers = [year.weather for year in alone.values()]
    given = study_spread(changed(care), weathers=weathers, typical=alone[2001])
    for place, year in enumerate(alone.values()):
        assert given.figures["hours"][place] == year.measures.pump_hours
        assert given.hours_met_share[place] == pytest.approx(year.measures.hours_met_share, abs=1e-12)
    assert given.names == (2001, 2004) and "too few" in given.convergence.in_words()
    assert given.as_json()["poor_year_seed"] is None and given.poor_name in ("year 2001", "year 2004")


def test_recorded_years_that_follow_each_other_hand_on_the_battery(made: Callable[[int], Weather]) -> None:
    """The first settles, the next begins as it ended, and after a gap one settles again."""
    dated = [replace(made(k), index=year_index(year, -5.0)) for k, year in enumerate((2001, 2002, 2005))]
    many = recorded(dated)
    ran = run_years([load(COURTYARD)], many)
    assert many.chains == ((0, 1), (2,)) and ran.follow.tolist() == [False, True, False]


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
    """The page names the poor year, has four charts with their tables, and is the same for the same years."""
    page = spread_report(result)
    assert page == spread_report(replace(result)) and result.convergence.in_words() in page
    assert page.count('role="img"') == 4 and page.count("The numbers behind this chart") == 4
    assert f"year {result.poor} of seed {SEED}" in page and "courtyard-poor-year.html" in page
    assert "P10 of January is what a tenth of the Januaries stay below" in page and standing.rank(result) in page


def test_the_poor_years_report_promises_nothing(result: SpreadResult) -> None:
    """It says first that the year is a poor one, and has no page that tells a client of a typical year."""
    page = poor_year_report(result)
    assert "Running on sunlight: a poor year" in page and "In a typical year" not in page
    assert page.index(f"year {result.poor} of seed {SEED}") < page.index("What else is in this report")


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


def test_years_stand_beside_the_typical_one(result: SpreadResult, monkeypatch: pytest.MonkeyPatch) -> None:
    """With a poor year asked for, the page has the typical year's bars with P10 to P90 and the poor year in words."""
    monkeypatch.setattr(spread, "study_spread", lambda *_, typical, **__: replace(result, typical=typical))
    monkeypatch.setattr(yearly, "simulate_year", lambda *_: year_in(COURTYARD))
    year = yearly.study_year(load(COURTYARD), poor_of=YEARS)
    found, page = year.as_json(), year_report(year)
    assert found["poor_year"]["pump_hours"] == result.poor_year.measures.pump_hours
    assert found["many_years"]["pump_hours_by_month"]["p10"] == result.as_json()["pump_hours_by_month"]["p10"]
    assert "In a poor year, one in ten, it runs" in page and "eight in ten of 23 made-up years" in page
    assert "poor_year" not in year_in(COURTYARD).as_json()


def test_on_a_phone(tmp_path: Path, result: SpreadResult) -> None:
    """No column is hidden and nothing is found broken at 320 pixels in light, at 390 in dark; in US units too."""
    html = spread_report(replace(result, scenario=result.scenario.but(report={"units": "us"})))
    assert mixed(html, "us") == [] and list(apart(spread_report(result), html)) == []
    fit_phones(tmp_path, html)
