"""What to buy: what may vary, the search, the promise it keeps, and what is written of it."""

from __future__ import annotations

import io
import json
from collections.abc import Sequence
from dataclasses import replace
from html import unescape
from itertools import product
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from kit.readers import apart, mixed
from rich.console import Console

from sim import load
from sim.checks.finding import OWN, Finding
from sim.cli import main
from sim.errors import InputError
from sim.figures.lanes import FIGURES
from sim.light.sunlight import sunlight_on
from sim.plant.records import SKY
from sim.plant.sky import sky_row
from sim.report.size import size_report, textbook
from sim.report.size_words import answer, less_sentences
from sim.studies.chains import run_years, synthetic
from sim.studies.clock import windows_of
from sim.studies.common_light import scaled
from sim.studies.common_years import Runs, met_shares
from sim.studies.designs import designs_in
from sim.studies.size import SizeResult, study_size
from sim.studies.size_columns import Columns
from sim.studies.size_promise import Promise
from sim.studies.size_search import Search
from sim.studies.size_shop import Array, Offer, Setting, Shop, Way
from sim.terminal.size import print_size
from sim.units import Quantity, in_units, sentence
from sim.weather import weather_for
from sim.weather.many import years_for

YEARS = 10
MET = 0.9
TABLE = """
[size]
panel_w = [30, 45, 70, 110]
panels = [1]
battery_ah = [20, 40]
controller = ["pwm"]
fixed = ["tilt", "load", "pair"]
"""
POND = """
title = "Rain barrel, Kestrel Lane"
[site]
latitude_deg = 45.0
longitude_deg = 8.0
elevation_m = 200
utc_offset_h = 1
[weather.monthly]
daily_ghi_kwh_m2 = [1.3, 2.2, 3.5, 4.7, 5.6, 6.3, 6.6, 5.6, 4.2, 2.6, 1.5, 1.1]
temp_air_c = [2, 4, 9, 13, 18, 22, 24, 23, 19, 13, 7, 3]
[panel]
power_w = 50
vmp_v = 18.0
imp_a = 2.78
voc_v = 22.0
isc_a = 2.95
tilt_deg = 50
[battery]
capacity_ah = 30   # a comment that stays
[controller]
load_mode = "clock"
load_windows = [["09:00", "15:00"]]
[pump]
power_w = 10
[need]
hours_per_day = 6
between = ["09:00", "15:00"]
"""


@pytest.fixture(scope="module")
def pond(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small system with four panels and two batteries to choose from."""
    path = tmp_path_factory.mktemp("size") / "barrel.toml"
    path.write_text(POND + TABLE, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def found(pond: Path) -> SizeResult:
    """What the study finds for it in ten years."""
    return study_size(designs_in(pond)[0], (MET, 0.9), YEARS)


def made(path: Path, **size: Any) -> Shop:
    """A shop with another table."""
    first = designs_in(path)[0]
    return Shop(first.changed("another", {f"size.{key}": value for key, value in size.items()}), -5.0)


def years_of(met: list[float]) -> np.ndarray:
    """FIGURES of years that met shares of one wanted hour in every month."""
    figures = np.zeros(len(met), FIGURES)
    figures["met_h"] = np.array(met)[:, np.newaxis]
    return figures


PROMISE = Promise(0.9, 0.8, 10, None, np.ones(12))


def test_a_promise_is_decided_as_soon_as_it_can_be() -> None:
    """Of ten years eight must keep it: eight that do decide it, and three that do not; derived."""
    assert PROMISE.verdict(years_of([0.95] * 8)) is True
    assert PROMISE.verdict(years_of([0.85] * 3)) is False
    assert PROMISE.verdict(years_of([0.95] * 7 + [0.85] * 2)) is None


def test_what_a_share_of_years_can_reach_at_best() -> None:
    """The second lowest of the margins once two are known, since of ten years one and a bit lie below; derived."""
    promise = replace(PROMISE, of_years=0.9)
    assert promise.at_best(years_of([0.5]), 10) == np.inf
    assert promise.at_best(years_of([0.5, 0.8]), 10) == pytest.approx(-0.1)
    for met in np.random.default_rng(5).uniform(0.5, 1.0, (50, 10)).tolist():
        best = [promise.at_best(years_of(met[:count]), 10) for count in range(2, 11)]
        assert (np.diff(best) <= 1e-12).all() and best[-1] == pytest.approx(promise.level(years_of(met)))


@pytest.mark.parametrize("from_the_middle", [False, True])
def test_the_cheapest_of_columns_is_that_of_all(pond: Path, from_the_middle: bool) -> None:
    """By a made-up rule for what holds: the same as when every offer is tried, and not half of them are."""
    shop = made(pond, panel_w=[30, 40, 50, 60, 70, 80, 90], battery_ah=[10, 20, 30, 40])
    way, tried = Way(50.0, "pwm", shop.settings[0]), set()

    def holds(offer: Offer) -> bool:
        return offer.array.watts >= 55.0 + abs(offer.battery_ah - 20.0)

    def test(offers: Sequence[Offer]) -> list[bool]:
        tried.update(offers)
        return [holds(one) for one in offers]

    found = Columns(shop, test, from_the_middle)
    found.open([way], shop.batteries_ah)
    every = [Offer(array, ah, way) for array, ah in product(shop.arrays, shop.batteries_ah)]
    borne = [one for one in every if shop.arrays.index(one.array) <= shop.largest(one.battery_ah, "pwm")]
    assert found.cheapest() == min(filter(holds, borne), key=shop.price)
    assert len(tried) < len(borne) / 2
    found.refute(found.best())
    assert found.best() is None or shop.price(found.best()) >= min(map(shop.price, filter(holds, borne)))


def test_the_worst_month_counts_where_it_is_asked() -> None:
    """A year that meets 94 % of all and nothing of one month's; derived."""
    figures = years_of([1.0])
    figures["met_h"][0, 11] = 0.3
    assert PROMISE.kept(figures).all()
    assert not replace(PROMISE, worst_met=0.5).kept(figures).any()


def test_arrays_come_in_order_and_differ(pond: Path) -> None:
    """Two of 50 W are the one of 100 W, and the one panel is taken; a count that no string fits is left out."""
    shop = made(pond, panel_w=[50, 100], panels=[2, 1])
    assert shop.arrays == (Array(50.0, 1), Array(100.0, 1), Array(100.0, 2))


def test_what_is_fixed_stays(pond: Path) -> None:
    """Nothing may vary: one offer, the system as it is."""
    shop = made(pond, fixed=["panel", "tilt", "battery", "controller", "load", "pair"])
    assert (shop.arrays, shop.batteries_ah, shop.tilts_deg) == ((Array(50.0, 1),), (30.0,), (50.0,))
    assert shop.settings == (Setting("clock", (("09:00", "15:00"),), 12.2, 13.1),)
    assert shop.controllers == ("pwm",)


def test_windows_of_the_wanted_length(pond: Path) -> None:
    """Six hours within twelve: the twelve, and five of six hours from the earliest to the latest; derived."""
    wide = load(pond, {"need.between": ["06:00", "18:00"]})
    assert windows_of(wide) == (
        ("06:00", "18:00"),
        ("06:00", "12:00"),
        ("07:30", "13:30"),
        ("09:00", "15:00"),
        ("10:30", "16:30"),
        ("12:00", "18:00"),
    )
    assert windows_of(load(pond, {"need.between": ["00:00", "24:00"], "need.hours_per_day": 24})) == ()


def test_prices_in_money_or_by_weight(pond: Path) -> None:
    """100 W and 40 Ah at 0.8 and 4 a piece, or at the weights of the table; a tracker on top; derived."""
    way = Way(50.0, "mppt", made(pond).settings[0])
    offer = Offer(Array(50.0, 2), 40.0, way)
    assert made(pond).price(offer) == pytest.approx(100.0 + 2.5 * 40.0 + 50.0)
    priced = {"cost.panel_per_w": 0.8, "cost.battery_per_ah": 4.0, "cost.controller": 70.0}
    shop = Shop(designs_in(pond)[0].changed("priced", priced), -5.0)
    assert shop.price(offer) == pytest.approx(80.0 + 160.0 + 70.0)


def test_no_battery_is_charged_faster_than_it_bears(pond: Path) -> None:
    """LFP bears half its capacity an hour: 20 Ah take 10 A, three of the 50 W panels' 2.78 A and no four; derived."""
    shop = made(pond, panel_w=[50], panels=[1, 2, 3, 4, 6])
    assert shop.arrays[shop.largest(20.0, "pwm")] == Array(50.0, 3)
    assert shop.largest(4.0, "pwm") == -1


def test_a_larger_panel_is_the_same_light_scaled(pond: Path) -> None:
    """The sky of a panel of 2.2 times the current, against that of its own label: within a millionth of the current."""
    one, larger = load(pond), load(pond, {"panel.power_w": 110.0, "panel.imp_a": 6.116, "panel.isc_a": 6.49})
    weather = weather_for(one)
    mine, its = (sky_row(sunlight_on(it, weather), weather, it.battery) for it in (one, larger))
    out = np.empty(len(mine), SKY)
    scaled(mine, 2.2, out)
    np.testing.assert_allclose(out["current_a"], its["current_a"], atol=1e-6 * its["current_a"].max())
    np.testing.assert_allclose(out["p_mp_w"], its["p_mp_w"], atol=1e-4)


def test_runs_are_those_of_spread(pond: Path) -> None:
    """A design asked for in two goes, beside another, did in six years what the years' own study says."""
    scenario = load(pond)
    weather = years_for(scenario)
    search = Search(Shop(designs_in(pond)[0], -5.0), replace(PROMISE, years=6), Runs(weather, scenario))
    way = Way(50.0, "pwm", search.shop.settings[0])
    offers = [Offer(array, 30.0, way) for array in (Array(50.0, 1), Array(110.0, 1))]
    search.margins(offers[:1], [(0, 2)])
    search.whole(offers)
    theirs = run_years([search.shop.built(one) for one in offers], synthetic(weather, 6)).figures
    for offer, alone in zip(offers, theirs, strict=True):
        np.testing.assert_allclose(search.figures(offer)["met_h"], alone["met_h"], atol=1e-3)


def test_a_design_does_the_same_whoever_ran_before_it(pond: Path) -> None:
    """To the last bit: its light does not follow from that of the design that a year's light was first made for."""
    weather, shop = years_for(load(pond)), Shop(designs_in(pond)[0], -5.0)
    small, large = (Offer(Array(watts, 1), 30.0, Way(50.0, "pwm", shop.settings[0])) for watts in (30.0, 110.0))
    figures = []
    for order in ([small, large], [large, small]):
        search = Search(shop, PROMISE, Runs(weather, shop.scenario))
        for offer in order:
            search.through([offer], [(0, 1)])
        figures.append(search.figures(large))
    assert figures[0].tobytes() == figures[1].tobytes()


def test_nothing_cheaper_holds(found: SizeResult, pond: Path) -> None:
    """Every design of the table through every year: the cheapest that holds is the one that was chosen."""
    assert found.chosen is not None
    shop = found.shop
    way = found.chosen.offer.way
    every = [Offer(array, ah, way) for array, ah in product(shop.arrays, shop.batteries_ah)]
    every = [one for one in every if shop.arrays.index(one.array) <= shop.largest(one.battery_ah, "pwm")]
    ran = run_years([shop.built(one) for one in every], synthetic(years_for(shop.scenario), YEARS)).figures
    holds = [one for one, years in zip(every, ran, strict=True) if found.promise.verdict(years)]
    refuted = {one.offer for one in found.designs if one.share_of_years >= 0.9 and not one.keeps}
    assert min((one for one in holds if one not in refuted), key=shop.price) == found.chosen.offer


def test_one_size_less_fails(found: SizeResult) -> None:
    """The next smaller array keeps the promise in too few of the years, by the search's or by fresh ones."""
    assert found.chosen is not None and found.fresh is not None
    assert found.fresh.years == 3 * YEARS and found.fresh.share_of_years >= 0.9
    smaller = [one for one in found.less if one.offer.array != found.chosen.offer.array]
    assert smaller and not smaller[0].keeps and smaller[0].mean_met_h < found.chosen.mean_met_h


def test_the_lines_of_the_picture_rise_with_the_share(found: SizeResult) -> None:
    """More years need more watts, for each battery."""
    lines = np.array([found.plane.line(share) for share in (0.5, 0.9, 0.95)])
    known = np.isfinite(lines).all(axis=0)
    assert known.any() and (np.diff(lines[:, known], axis=0) >= 0.0).all()


def test_the_report_and_its_sentences(found: SizeResult) -> None:
    """The answer leads; the list has panel, battery, controller and every cable; the same study gives the same text."""
    html = size_report(found)
    assert html == size_report(found)
    assert f"{found.chosen.offer.battery_ah:g} Ah" in answer(found) and answer(found) in html
    for words in ("Shopping list", "Cable panel–controller", "Load voltages", "What one size less would cost"):
        assert words in html
    assert all(sentence in unescape(html) for sentence in less_sentences(found))


def test_findings_are_told_in_the_reader_s_units(found: SizeResult) -> None:
    """On the terminal too: three metres are 9.8 feet (derived, a foot is 0.3048 m)."""
    said = sentence("A lead of {length} is long.", length=Quantity(3.0, "m", ".1f"))
    year = SimpleNamespace(findings=(Finding("long-lead", "note", said, 3.0, 2.0, OWN, "m"),))
    console = Console(file=io.StringIO(), width=200)
    with in_units("us"):
        print_size(replace(found, year=year), console=console)  # type: ignore[arg-type]
    assert "note: A lead of 9.8 ft is long." in console.file.getvalue()


def test_the_report_mixes_no_units(found: SizeResult) -> None:
    """In US units it has none of the others, and says the same."""
    design = found.shop.design
    read = replace(design, scenario=design.scenario.but(report={"units": "us"}))
    html = size_report(replace(found, shop=replace(found.shop, design=read)))
    assert mixed(html, "us") == [] and list(apart(size_report(found), html)) == []


def test_the_textbook_s_two_figures(found: SizeResult) -> None:
    """December's light times watts over 10 W for 6 h, and the battery's energy over the same; derived."""
    chosen, year = found.chosen, found.year.measures
    assert chosen is not None
    light = (year.in_plane_by_month_kwh_m2 / year.days_by_month).min()
    ratio, days = textbook(found)
    assert f"ratio {light * chosen.offer.array.watts / 60.0:.2f}:" in ratio
    assert f"autonomy {chosen.offer.battery_ah * 12.0 / 60.0:.1f}:" in days


def test_an_impossible_wish_ends_in_a_sentence(pond: Path) -> None:
    """24 h a day in an Arctic December: nothing holds, and what the best would give is said."""
    arctic = {
        "site.latitude_deg": 70.0,
        "weather.monthly.daily_ghi_kwh_m2": [0, 0.4, 1.6, 3.6, 5.0, 5.6, 5.2, 3.4, 1.7, 0.6, 0.05, 0],
        "need.hours_per_day": [0.0] * 11 + [24.0],
        "need.between": ["00:00", "24:00"],
        "controller.load_mode": "always",
        "controller.load_windows": [],
        "size.panel_w": [70],
        "size.battery_ah": [40],
    }
    result = study_size(designs_in(pond)[0].changed("arctic", arctic), years=10)
    said = answer(result)
    assert result.chosen is None and result.as_json()["chosen"] is None
    assert said.startswith("Nothing that may be bought meets 95 %") and "in 0 % of the years" in said
    assert "of the wanted hours in the usual year" in said
    assert said in size_report(result)


@pytest.mark.parametrize(
    ("key", "shares", "years"),
    [("--met", (1.2, 0.9), 10), ("--of-years", (0.9, 0.0), 10), ("--years", (0.9, 0.9), 5)],
)
def test_wishes_that_make_no_sense(pond: Path, key: str, shares: tuple[float, float], years: int) -> None:
    """One message that names the option."""
    with pytest.raises(InputError, match=key):
        study_size(designs_in(pond)[0], shares, years)


@pytest.mark.parametrize(
    "table",
    ["panel_w = []", "panels = [0]", "battery_ah = { from = 1 }", 'fixed = ["colour"]', "pairs = [[12]]", "tilt = 3"],
)
def test_tables_that_are_wrong(tmp_path: Path, table: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 2, one message that names file and key."""
    path = tmp_path / "wrong.toml"
    path.write_text(f"{POND}\n[size]\n{table}\n", encoding="utf-8")
    assert main(["size", str(path)]) == 2
    assert "wrong.toml: size." in capsys.readouterr().err


def test_the_command_writes_a_scenario_that_runs(
    pond: Path, tmp_path: Path, found: SizeResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The written scenario is the chosen design, its comments kept; the JSON has the contract's names."""
    monkeypatch.setattr("sim.studies.size.study_size", lambda *_, **__: found)
    assert main(["size", str(pond), "--out", str(tmp_path), "--json", str(tmp_path / "size.json")]) == 0
    told = json.loads((tmp_path / "size.json").read_text(encoding="utf-8"))
    assert told["about"]["command"] == "size" and told["chosen"] in told["designs"]
    assert told["asked"] == {"met": MET, "of_years": 0.9, "years": YEARS, "worst_month_met": None}
    names = "panel_w panels tilt_deg battery_ah controller load_mode load_windows load_disconnect_v load_reconnect_v"
    assert set(f"{names} hours_met_share_p10 worst_month_met_p10 cost keeps".split()) <= set(told["chosen"])
    written = Path(told["scenario"])
    assert written.name == "barrel-size.toml" and "# a comment that stays" in written.read_text(encoding="utf-8")
    made_of_it = load(written)
    assert made_of_it.battery.capacity_ah == told["chosen"]["battery_ah"]
    assert made_of_it.panel.power_w * made_of_it.panel.count == told["chosen"]["panel_w"] * told["chosen"]["panels"]


def test_weather_files_are_named_as_seen_from_the_folder(tmp_path: Path) -> None:
    """A scenario that lies beside its weather still finds it from the reports' folder."""
    from sim.page.made import made_text

    scenario = load(Path(__file__).parent.parent / "scenarios" / "courtyard.toml")
    there = scenario.model_copy(update={"weather": scenario.weather.model_copy(update={"file": "a/b.epw"})})
    text = made_text(there, {"battery.capacity_ah": 55.0}, scenario.path.parent / "reports", "sunrill size")
    assert 'file = "../a/b.epw"' in text and "capacity_ah = 55" in text


def test_shares_where_nothing_is_wanted() -> None:
    """All is met; derived."""
    share, worst = met_shares(years_of([0.0]), np.zeros(12))
    assert share.tolist() == worst.tolist() == [1.0]
