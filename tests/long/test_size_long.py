"""What to buy, in three climates and with two chemistries: the answer holds in other years and nothing cheaper does.

Run with -m long.
"""

from __future__ import annotations

from functools import cache
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from sim.studies.chains import run_years, synthetic
from sim.studies.designs import Design, designs_in
from sim.studies.size import SizeResult, study_size
from sim.studies.size_shop import Offer, Setting, Way
from sim.studies.spread import study_spread
from sim.weather.many import years_for

pytestmark = pytest.mark.long
COURTYARD = Path(__file__).parents[2] / "scenarios" / "courtyard.toml"
OF_YEARS, YEARS, OTHER_YEARS, OTHER_SEED = 0.9, 100, 200, 4711
NEAR = 0.05  # of the years
SYSTEMS = tuple(product(("piedmont", "aleutian", "subtropic"), ("lfp", "agm")))
# From panel to panel, of their watts: so little that a share of years can lie within five points of the one that is
# asked. The years of the subtropics are nearly alike, and a step of 5 % leads there from too few of them to nearly all.
STEP = {"piedmont": 0.05, "aleutian": 0.05, "subtropic": 0.025}
SMALLEST_W, LARGEST_W = 15.0, 850.0
FINE = {
    "size.panels": [1],
    "size.battery_ah": [20, 30, 45, 70, 100, 150],
    "size.controller": ["pwm"],
    "size.fixed": ["tilt", "pair"],
    "size.load_mode": ["always", "clock"],
}
SMALL = {
    "size.panel_w": [40, 55, 75, 100, 140],
    "size.panels": [1],
    "size.battery_ah": [20, 40, 80],
    "size.fixed": ["tilt", "pair"],
    "size.load_mode": ["always", "clock"],
}


def system(climate: str, chemistry: str, table: dict[str, object]) -> Design:
    """The courtyard's pump without shade in another climate, on another battery."""
    changes = {"weather.sample": climate, "battery.chemistry": chemistry, "panel.shade": [], **table}
    return designs_in(COURTYARD)[0].changed(f"{climate} {chemistry}", changes)


def panels_w(step: float) -> list[float]:
    """Panels from small to large, each larger by a step."""
    count = round(np.log(LARGEST_W / SMALLEST_W) / np.log1p(step))
    return [round(SMALLEST_W * (1.0 + step) ** k, 1) for k in range(count)]


@cache
def found(climate: str, chemistry: str) -> SizeResult:
    """What is to be bought there."""
    table = FINE | {"size.panel_w": panels_w(STEP[climate])}
    return study_size(system(climate, chemistry, table), (0.9, OF_YEARS), YEARS)


def share_of_other_years(result: SizeResult, offer: Offer) -> float:
    """In which share of the years of another seed a design keeps the promise, by the study of many years."""
    spread = study_spread(result.shop.built(offer), OTHER_YEARS, OTHER_SEED)
    return float(np.mean(spread.hours_met_share >= result.promise.met))


@pytest.mark.parametrize(("climate", "chemistry"), SYSTEMS)
def test_the_answer_holds_in_other_years(climate: str, chemistry: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Within five points of the asked share in 200 years of another seed; with one size less it does not."""
    result = found(climate, chemistry)
    assert result.chosen is not None
    share = share_of_other_years(result, result.chosen.offer)
    less = {one.offer: share_of_other_years(result, one.offer) for one in result.less}
    with capsys.disabled():
        print(f"\n{climate} {chemistry}: {result.chosen.offer}, others {share:.3f}, less {list(less.values())}")
    assert share == pytest.approx(OF_YEARS, abs=NEAR)
    assert less and max(less.values()) < OF_YEARS


@pytest.mark.parametrize(("climate", "chemistry"), SYSTEMS)
def test_an_exhaustive_scan_finds_nothing_cheaper(climate: str, chemistry: str) -> None:
    """Every array, battery, controller and way to let the load run of a small table, through all of twenty years."""
    result = study_size(system(climate, chemistry, SMALL), (0.85, OF_YEARS), 20)
    shop = result.shop
    every = [
        Offer(array, ah, Way(shop.tilts_deg[0], kind, Setting(*setting)))
        for array, ah, kind, setting in product(shop.arrays, shop.batteries_ah, shop.controllers, shop.settings)
        if shop.arrays.index(array) <= shop.largest(ah, kind)
    ]
    ran = run_years([shop.built(one) for one in every], synthetic(years_for(shop.scenario), 20)).figures
    holds = [one for one, years in zip(every, ran, strict=True) if result.promise.verdict(years)]
    refuted = {one.offer for one in result.designs if one.share_of_years >= OF_YEARS and not one.keeps}
    left = [one for one in holds if one not in refuted]
    if result.chosen is None:
        assert not left
    else:
        assert shop.price(result.chosen.offer) <= min(map(shop.price, left))
