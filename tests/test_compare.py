"""Designs side by side: the same figures as a single year, the light of tilted planes, the best tilt, next steps."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import published
import pytest
from browser import fit_phones
from conftest import COURTYARD, ROOT
from kit.pages import text_of
from kit.readers import apart, mixed
from pvlib import irradiance

from sim import cli
from sim.calendar import HOUR_S
from sim.errors import InputError
from sim.figures.series import by_month
from sim.light.sunlight import sunlight_on
from sim.plant.engine import Plant, simulate
from sim.plant.lanes import lanes_from
from sim.plant.people import processes
from sim.plant.sky import sky_row
from sim.report.compare import compare_report
from sim.scenario import Scenario
from sim.scenario.cables import PumpCable
from sim.scenario.choice import Cost
from sim.studies.compare import CompareResult, study_compare, with_one_clock
from sim.studies.cost import kept_up
from sim.studies.designs import Design, designs_in, designs_of, places_of, simulate_designs
from sim.studies.money import money, payback_years
from sim.studies.result import YearResult
from sim.studies.steps import CLOCK, steps_for, thicker
from sim.studies.tilt import Best, best_position, light_on
from sim.weather import weather_for
from sim.weather.sun import sun_positions

PERGOLA = ROOT / "scenarios" / "pergola.toml"
YEAR = tuple(range(1, 13))
SAMPLES = ("piedmont", "aleutian", "subtropic")


def design(path: Path = COURTYARD, **changes: Any) -> Design:
    """A design of the project with values set; a double underscore stands for the dot of a key."""
    first = designs_in(path)[0]
    return first.changed("changed", {key.replace("__", "."): value for key, value in changes.items()})


@cache
def open_field(sample: str) -> Scenario:
    """The courtyard's panel without any shade in a bundled year."""
    return design(weather__sample=sample, panel__shade=[]).scenario


@pytest.fixture(scope="module")
def result() -> CompareResult:
    """The pergola's comparison."""
    return study_compare(designs_of([PERGOLA]))


@pytest.fixture(scope="module")
def found(result: CompareResult) -> dict[str, Any]:
    """Its results as they are handed over."""
    return json.loads(json.dumps(result.as_json(), allow_nan=False))


@cache
def best_for_the_year(path: Path = COURTYARD) -> Best:
    """The best tilt of a scenario's panel over the year."""
    scenario = designs_in(path)[0].scenario
    return best_position(light_on(scenario, weather_for(scenario)), YEAR, scenario.panel.azimuth_deg)


def written(folder: Path, *alternatives: str) -> Path:
    """The pergola with other alternatives, in a file."""
    path = folder / "pond.toml"
    text = PERGOLA.read_text(encoding="utf-8").partition("[[alternative]]")[0]
    path.write_text("\n\n[[alternative]]\n".join((text, *alternatives)), encoding="utf-8")
    return path


class TestDesigns:
    """All designs in one pass."""

    def test_one_design_is_exactly_a_year(self, courtyard_year: YearResult) -> None:
        """A comparison of one design gives every figure of that year, to the last digit."""
        (alone,) = simulate_designs(designs_in(COURTYARD))
        found = alone.as_json()
        assert found.pop("name") == "as it is"
        assert found == courtyard_year.as_json()

    def test_company_changes_nothing(self, courtyard_year: YearResult) -> None:
        """Beside designs in other places, by other clocks, a design gives what it gives alone."""
        others = [
            design(panel__tilt_deg=60.0), design(battery__capacity_ah=50, need__between=["06:30", "20:15"]),
            design(controller__load_mode="clock", controller__load_windows=[["08:10", "17:20"]]),
        ]  # fmt: skip
        year = simulate_designs([*others, designs_in(COURTYARD)[0]])[-1].measures
        assert year.pump_hours == pytest.approx(courtyard_year.measures.pump_hours, rel=1e-6)
        assert year.energy.panel == pytest.approx(courtyard_year.measures.energy.panel, rel=1e-6)

    def test_equal_places_are_worked_out_once(self, monkeypatch: pytest.MonkeyPatch) -> None:
        """Designs that differ in cable, pump or battery share their light, batteries of any size their sky."""
        asked = []
        monkeypatch.setattr("sim.studies.designs.sunlight_on", lambda *it: asked.append(it) or sunlight_on(*it))
        designs = [
            design(), design(pump__power_w=5), design(panel__cable__area_mm2=6.0), design(battery__capacity_ah=50),
            design(battery__box="sunny"), design(panel__tilt_deg=60.0),
        ]  # fmt: skip
        places = places_of([it.scenario for it in designs])
        assert len(asked) == 2 and len(places.sky) == 3
        assert places.place == [0, 0, 0, 0, 1, 2]
        assert places.sunlight[0] is places.sunlight[4] and places.weather[0] is places.weather[5]

    @pytest.mark.parametrize(
        ("sample", "rows"),
        [
            ("piedmont", ("REF078", "REF080", "REF082", "REF079", "REF083")),
            ("aleutian", ("REF098", "REF100", "REF102", "REF099", "REF103")),
            ("subtropic", ("REF116", "REF118", "REF120", "REF117", "REF121")),
        ],
    )
    def test_light_on_tilted_planes(self, sample: str, rows: tuple[str, ...]) -> None:
        """The comparison's totals are the reference table's: tilts 30 and 60, east, another sky; December at 60."""
        base = {"weather__sample": sample, "panel__shade": []}
        tilts = ({"panel__tilt_deg": 30.0}, {"panel__tilt_deg": 60.0})
        others = ({"panel__tilt_deg": 30.0, "panel__azimuth_deg": 90.0}, tilts[0] | {"weather__sky": "perez"})
        years = [run.measures for run in simulate_designs([design(**base, **it) for it in (*tilts, *others)])]
        for id, year in zip(rows, years, strict=False):
            published.check(id, year.in_plane_kwh_m2)
        published.check(rows[4], years[1].in_plane_by_month_kwh_m2[11])

    @pytest.mark.parametrize("sample", ["piedmont", "subtropic"])
    def test_tracking_gains_eight_to_twenty_five_per_cent_and_less_when_hot(self, sample: str) -> None:
        """Array energy, PWM to MPPT, in hours that no full or frozen battery limits: computed bounds, 8 to 25 %.

        After the tracker's own losses, month by month; the hottest month gains less than the coldest.
        """
        base = {"panel__shade": [], "pump__power_w": 20, "weather__sample": sample}
        pair = [design(controller__kind=kind, **base).scenario for kind in ("pwm", "mppt")]
        weather = weather_for(pair[0])
        sky = sky_row(sunlight_on(pair[0], weather), weather, pair[0].battery)
        plant = Plant(lanes_from(pair, places=[0, 0]), sky[np.newaxis])
        log = simulate(plant, processes(plant, pair), HOUR_S)
        bulk, refused = ([log.per_interval(name, lane) for lane in (0, 1)] for name in ("bulk_s", "refused_s"))
        free = (np.min(bulk, axis=0) > 0.999 * HOUR_S) & (np.max(refused, axis=0) == 0.0)
        months = weather.index.month.to_numpy()
        pwm, mppt = (by_month(log.per_interval("panel_wh", lane) * free, months) for lane in (0, 1))
        gain = mppt * pair[1].controller.efficiency / pwm - 1.0
        assert gain.min() > 0.08 and gain.max() < 0.25
        air_c = by_month(weather.temp_air, months) / np.bincount(months)[1:]
        assert gain[air_c.argmax()] < gain[air_c.argmin()] - 0.01


class TestBestTilt:
    """The search for the most light."""

    @pytest.mark.parametrize("sample", SAMPLES)
    def test_the_best_tilt_of_the_year_against_a_scan(self, sample: str) -> None:
        """The library's total in-plane irradiance at every half degree has its maximum within a degree of it."""
        scenario, weather = open_field(sample), weather_for(open_field(sample))
        sun = sun_positions(weather)
        light = {
            "solar_zenith": sun.apparent_zenith_deg, "solar_azimuth": sun.azimuth_deg, "dni": weather.dni,
            "ghi": weather.ghi, "dhi": weather.dhi, "dni_extra": sun.extra_normal_wm2, "albedo": 0.2,
        }  # fmt: skip
        tilts = np.arange(0.0, 60.1, 0.5)
        total = [irradiance.get_total_irradiance(tilt, 180.0, **light, model="haydavies") for tilt in tilts]
        scanned = tilts[np.argmax([np.nansum(found["poa_global"]) for found in total])]
        best = best_position(light_on(scenario, weather), YEAR, 180.0)
        assert abs(best.tilt_deg - scanned) <= 1.0

    def test_both_at_once_is_no_worse_than_any_position_of_a_grid(self) -> None:
        """With a wall in the south the best azimuth turns away from it, and no position of a grid has more light."""
        wall = {"from_azimuth_deg": 150, "to_azimuth_deg": 210, "below_elevation_deg": 60}
        scenario = design(panel__shade=[wall | {"from_azimuth_deg": 120}]).scenario
        light = light_on(scenario, weather_for(scenario))
        best = best_position(light, (12, 1), 180.0)
        there = light(best.free_tilt_deg, best.free_azimuth_deg)[[0, 11]].sum()
        grid = [light(float(t), float(a))[[0, 11]].sum() for t in range(0, 91, 15) for a in range(0, 360, 15)]
        assert best.free_azimuth_deg > 185.0
        assert there == pytest.approx(best.free_in_plane_kwh_m2) and there >= max(grid) - 0.05

    def test_a_flat_panel_has_no_azimuth(self) -> None:
        """Derived: at tilt 0 the light is that on the level, whichever way it looks."""
        light = light_on(open_field("piedmont"), weather_for(open_field("piedmont")))
        np.testing.assert_allclose(light(0.0, 90.0), light(0.0, 270.0), rtol=1e-9)


class TestAlternatives:
    """What may be compared, and what is told of the rest."""

    @pytest.mark.parametrize(
        ("alternatives", "fragments"),
        [
            (['name = "a"\nset = { "panel.tilt" = 45 }'], ('alternative "a": panel.tilt = 45', "mean tilt_deg?")),
            (['name = "a"\nset = { "roof.tilt" = 45 }'], ('alternative "a": roof', "only title")),
            (['name = "a"\nset = { "panel.tilt_deg" = 95 }'], ("panel.tilt_deg = 95", "from 0 to 90")),
            (['name = "a"\nset = { "panel.power_w" = 200 }'], ("panel.power_w = 200", "within 5 % of vmp_v x imp_a")),
            (
                ['name = "a"\nset = { panel.tilt_deg = 45, "panel.tilt_deg" = 50 }'],
                ("alternative[0].set", "panel.tilt_deg and panel.tilt_deg clash"),
            ),
            (
                ['name = "a"\nset = { "panel.cable" = 4, "panel.cable.area_mm2" = 6 }'],
                ("alternative[0].set", "panel.cable and panel.cable.area_mm2 clash"),
            ),
            (
                ['name = "a"\nset = { "controller.load_reconnect_v" = 12.0 }'],
                ("controller.load_reconnect_v = 12.0", "more than load_disconnect_v"),
            ),
            (['name = "a"\nset = { "panel.tilt_deg" = 45 }'] * 2, ("alternative", '"a" stands twice')),
            (['name = "as it is"\nset = { "panel.tilt_deg" = 45 }'], ("alternative", '"as it is" stands twice')),
            (['name = "a"\nset = {}'], ("alternative[0].set", "a table of changed keys")),
            (['set = { "panel.tilt_deg" = 45 }'], ("alternative[0].name", "this key has no default")),
            (['name = "a"\nset = { "weather.year" = 2004 }'], ("weather.year = 2004", "a year of 365 days")),
        ],
    )
    def test_what_is_wrong_is_told_once(
        self, alternatives: list[str], fragments: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """An unknown key, a clash, a value or a name that cannot be: exit code 2, one line, nothing written."""
        path = written(tmp_path, *alternatives)
        assert cli.main(["compare", str(path), "--out", str(tmp_path / "out")]) == 2
        said = capsys.readouterr()
        assert said.err.count("\n") == 1 and not said.out and not (tmp_path / "out").exists()
        assert str(path) in said.err and all(fragment in said.err for fragment in fragments)

    def test_keys_with_and_without_quotes(self, tmp_path: Path) -> None:
        """Dotted keys mean the same whether they are quoted or not, and leave the rest of their table alone."""
        changes = (
            "{ panel.tilt_deg = 45, panel.azimuth_deg = 170 }",
            '{ "panel.tilt_deg" = 45, panel.azimuth_deg = 170 }',
        )
        path = written(tmp_path, *(f'name = "{k}"\nset = {it}' for k, it in enumerate(changes)))
        one, other = (it.scenario.panel for it in designs_in(path)[1:])
        assert one == other and (one.tilt_deg, one.azimuth_deg, one.power_w) == (45.0, 170.0, 80.0)

    def test_several_files(self, tmp_path: Path) -> None:
        """Files are designs by their names; two of one name are told."""
        assert [it.name for it in designs_of([COURTYARD, PERGOLA])] == ["courtyard", "pergola"]
        twin = tmp_path / "pergola.toml"
        twin.write_text(PERGOLA.read_text(encoding="utf-8"), encoding="utf-8")
        with pytest.raises(InputError, match='"pergola" stands twice'):
            designs_of([PERGOLA, twin])


class TestSteps:
    """One change at a time."""

    def test_the_extension_lead_is_a_step(self) -> None:
        """An extension of 1.5 mm² beside a pump cable of 2.5: both one size up, 2.5 and 4 mm²."""
        first = designs_in(COURTYARD)[0].changed("far", {"pump.extension.length_m": 20, "pump.extension.area_mm2": 1.5})
        steps = steps_for(first, {"the wanted months": best_for_the_year()})
        made = {change.name: dict(change.changes) for change, _ in steps if change.kind == "cable"}
        assert made == {
            "pump cable 4 mm²": {"pump.cable.area_mm2": 4.0},
            "extension lead 2.5 mm²": {"pump.extension.area_mm2": 2.5},
        }

    def test_the_best_of_the_clocks_is_shown(self) -> None:
        """Of the steps that only set the timer one is left, the first in the ranking; the others stay."""
        kinds = ["panel", CLOCK, "tilt", CLOCK, CLOCK]
        steps = [SimpleNamespace(change=SimpleNamespace(kind=kind)) for kind in kinds]
        assert with_one_clock(steps) == (steps[0], steps[1], steps[2])  # type: ignore[arg-type]

    def test_what_is_tried(self) -> None:
        """Every kind of step there is something to change for, and none that the design already has."""
        first = designs_in(COURTYARD)[0]
        best = dict.fromkeys(("the wanted months", "the year"), best_for_the_year())
        kinds = [change.kind for change, _ in steps_for(first, best)]
        assert kinds == (
            ["panel"] * 3 + ["tilt"] * 2 + ["controller"] + ["battery"] * 2
            + ["place", "cable", "cleaning", "control"] + ["clock"] * 6 + ["trimming", "moving"]
        )  # fmt: skip
        bare = first.changed("bare", {"controller.kind": "mppt", "panel.shade": [], "controller.load_mode": "daylight"})
        others = {change.kind for change, _ in steps_for(bare, best)}
        assert others == {"panel", "tilt", "battery", "place", "cable", "cleaning", "clock"}

    def test_trimming_leaves_the_walls(self) -> None:
        """Of the maple and the east wing the wing stays; moved away, nothing is left."""
        steps = steps_for(designs_in(COURTYARD)[0], {"the wanted months": best_for_the_year()})
        made = {change.kind: it.scenario.panel.shade for change, it in steps}
        assert [shade.below_elevation_deg for shade in made["trimming"]] == [15.0]
        assert made["moving"] == ()

    def test_one_size_up(self) -> None:
        """The next standard area, or the next gauge where the cable is given by gauge; the thickest has none."""
        assert thicker(PumpCable(area_mm2=2.5)) == ("4 mm²", {"pump.cable.area_mm2": 4.0})
        assert thicker(PumpCable(awg=12)) == ("AWG 10", {"pump.cable.awg": 10})
        assert thicker(PumpCable(area_mm2=120.0)) is None

    def test_a_step_that_the_rules_forbid_is_left_out(self) -> None:
        """A panel of 4000 W cannot be doubled within what a panel may be."""
        label = {"power_w": 4000, "imp_a": 66.0, "isc_a": 70.0, "vmp_v": 60.6, "voc_v": 74.0, "cells": 120}
        first = designs_in(COURTYARD)[0].changed("big", {f"panel.{key}": value for key, value in label.items()})
        steps = steps_for(first, {"the wanted months": best_for_the_year()})
        assert [change.name for change, _ in steps if change.kind == "panel"] == ["panel +25\N{NO-BREAK SPACE}%"]


class TestMoney:
    """Prices by hand."""

    def test_prices_by_hand(self, found: dict[str, Any]) -> None:
        """Derived: 80 W more at 0.9; its wanted hours for a tenth of that a year; kWh gained at 0.35 a year, less
        what a battery of 40 Ah at 5 costs more a year where it wears faster.
        """
        double = next(step for step in found["steps"] if step["name"] == "panel +100\N{NO-BREAK SPACE}%")
        assert double["cost"] == pytest.approx(72.0)
        assert double["met_hours_per_unit"] == pytest.approx(double["gain"]["met_h"] / 7.2)
        life = np.mean([found["designs"][0]["battery"][f"life_years_{end}"] for end in ("low", "high")])
        wear = 5.0 * 40.0 * (1.0 / (life + double["gain"]["life_years"]) - 1.0 / life)
        assert wear != 0.0
        saved = double["gain"]["pump_h"] * 0.018 * 0.35 - wear
        assert double["payback_years"] == pytest.approx(72.0 / saved, rel=0.02)
        visits = next(step for step in found["steps"] if step["kind"] == "cleaning")
        assert (visits["cost"], visits["cost_a_year"]) == (0.0, 11 * 15.0)

    def test_what_is_unknown_stays_unknown(self) -> None:
        """Without prices there is no cost, no hours for it and no payback; a saving that is none never pays."""
        (run,) = simulate_designs(designs_in(COURTYARD))
        none = money(Cost(), run, run, None, 0.0)
        assert (none.spread_a_year, none.met_hours_per_unit, none.payback_years) == (None, None, None)
        assert payback_years(100.0, -1.0) is None and kept_up(Cost(), run.design.scenario, run.measures).total == 0.0
        assert kept_up(Cost(battery_per_ah=5.0), run.design.scenario, run.measures).total == pytest.approx(
            5.0 * 100.0 / np.mean(run.measures.battery.stress.life_years)
        )


class TestResult:
    """The pergola: flat against tilted, and against a bigger panel."""

    def test_its_keys(self, found: dict[str, Any], courtyard_year: YearResult) -> None:
        """Every design has all keys of a year, its name, its worst month and its difference to the first."""
        assert [it["name"] for it in found["designs"]] == ["as it is", "tilted 55°", "flat, half as much panel again"]
        for it in found["designs"]:
            assert set(courtyard_year.as_json()) <= set(it) and {"worst_month", "difference", "cost"} <= set(it)
        assert set(found["designs"][0]["difference"]["pump_h_by_month"]) == {0.0}
        assert {"wanted_months", "year", "worst_month", "curve"} == set(found["best_tilt"])
        assert found["steps"] and found["payback_years"] == 0.0

    def test_tilted_is_better_in_winter_and_worse_in_summer(self, found: dict[str, Any]) -> None:
        """The crossover: more hours than flat from September to March, fewer from April to August."""
        flat, tilted, bigger = (np.array(it["pump_hours_by_month"]) for it in found["designs"])
        winter = np.isin(np.arange(1, 13), (9, 10, 11, 12, 1, 2, 3))
        assert np.all((tilted > flat) == winter) and np.all(bigger > flat)
        assert np.all((tilted > bigger)[[10, 11, 0]] | (np.abs(tilted / bigger - 1.0) < 0.1)[[10, 11, 0]])

    def test_steps_are_ranked(self, found: dict[str, Any]) -> None:
        """By wanted hours gained in the worst month, to a tenth of an hour."""
        gains = [round(step["gain"]["met_worst_month_h"], 1) for step in found["steps"]]
        assert gains == sorted(gains, reverse=True)

    def test_steps_by_money_and_by_size(self, result: CompareResult, found: dict[str, Any]) -> None:
        """What costs nothing first, then by wanted hours for the money; each W or Ah has its own hours."""
        each = [step.money.met_hours_per_unit for step in result.by_money]
        priced = [one for one in each if one is not None]
        assert priced == sorted(priced, reverse=True) and each[len(each) - len(priced) :] == priced and priced
        assert found["steps_by_money"] == [step.change.name for step in result.by_money]
        panel = next(step for step in found["steps"] if step["kind"] == "panel")
        added_w = panel["set"]["panel.power_w"] - 80.0
        assert panel["met_hours_per_w"] == pytest.approx(panel["gain"]["met_h"] / added_w)
        assert panel["met_hours_per_ah"] is None
        month = panel["gain"]["met_worst_month_h"] / panel["spread_a_year"]
        assert panel["met_worst_month_hours_per_unit"] == pytest.approx(month)

    def test_hours_grow_with_the_panel_and_ever_less(self, found: dict[str, Any]) -> None:
        """Diminishing returns: from the present panel on, each further watt brings fewer wanted hours."""
        curve = found["hours_by_panel_w"]
        slopes = np.diff(curve["met_hours"]) / np.diff(curve["at"])
        assert np.all(slopes > 0.0) and slopes[-1] < 0.3 * slopes[0]

    def test_the_report_says_it(self, result: CompareResult) -> None:
        """Every part is there, the seasons are said in words, and every drawing has a title and ids of its own."""
        html = compare_report(result)
        assert html == compare_report(result)
        for heading in ("What to change", "The designs month by month", "The next step that pays most", "Which tilt?",
                        "How much panel?", "What stays hidden", "Assumptions and weather", "Cautions"):  # fmt: skip
            assert f">{heading}</h2>" in html
        assert "longer in September to March, shorter in April to August" in text_of(html)
        assert "flat panel in a pergola" in html and "snow slides off" in html
        ids = [part.split('"')[0] for part in html.split(' id="')[1:]]
        assert len(ids) == len(set(ids)) and html.count("<svg") == 6
        assert "http://" not in html.replace("http://www.w3.org", "") and "https://" not in html


def test_a_hostile_name_is_only_text(result: CompareResult) -> None:
    """A design's name cannot become markup in the report, and stands in it as it was written."""
    name = '<script>alert("x")</script>'
    row = result.designs[1]
    renamed = replace(row, run=replace(row.run, design=replace(row.run.design, name=name)))
    html = compare_report(replace(result, designs=(result.designs[0], renamed)))
    assert "<script" not in html and "&lt;script&gt;" in html


def test_the_command_prints_designs_and_steps(
    result: CompareResult, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """The designs with their differences, the steps that gain most, and where the report is; or JSON alone."""
    monkeypatch.setattr("sim.studies.compare.study_compare", lambda *_: result)
    assert cli.main(["compare", str(PERGOLA), "--out", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "tilted 55°" in said and result.steps[0].change.name in said and "pergola-compare.html" in said
    assert cli.main(["compare", str(PERGOLA), "--out", str(tmp_path), "--json", "-"]) == 0
    assert json.loads(capsys.readouterr().out)["steps"][0]["name"] == result.steps[0].change.name


def test_on_a_phone(tmp_path: Path, result: CompareResult) -> None:
    """No column is hidden and nothing is found broken at 320 pixels in light, at 390 in dark; in US units too."""
    first = result.first.design
    scenario = first.scenario.but(report={"units": "us"})
    run = replace(result.first, design=replace(first, scenario=scenario))
    html = compare_report(replace(result, designs=(replace(result.designs[0], run=run), *result.designs[1:])))
    assert mixed(html, "us") == [] and list(apart(compare_report(result), html)) == []
    fit_phones(tmp_path, html)
