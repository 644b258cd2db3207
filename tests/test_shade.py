"""Shade as people state it: size and distance, foliage and leaf dates, the clock; and what it takes of the light."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import published
import pytest

from sim.catalogue.foliage import foliage
from sim.errors import InputError
from sim.light.sunlight import Sunlight, planes_of, sunlight_on
from sim.scenario import Scenario, overridden, parse
from sim.scenario.shade import Shade
from sim.weather import weather_for

BASE = {
    "weather": {"sample": "piedmont"},
    "panel": {"power_w": 135, "vmp_v": 17.68, "imp_a": 7.64, "voc_v": 22.1, "isc_a": 8.26},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}
WEST = {"from_azimuth_deg": 225, "to_azimuth_deg": 300}


def behind(**shade: Any) -> Scenario:
    """The base scenario behind one shade, or none."""
    return parse(overridden(BASE, {"panel.shade": [shade] if shade else []}), Path("pond.toml"))


def stated(**shade: Any) -> Shade:
    """One shade as it is read."""
    return behind(**shade).panel.shade[0]


@cache
def weather() -> Any:
    """A bundled weather year."""
    return weather_for(behind())


def light(**shade: Any) -> Sunlight:
    """The sunlight behind a shade."""
    return sunlight_on(behind(**shade), weather())


def test_a_tree_by_height_and_distance():
    """Derived: 6 m above the panel and 4 m away is seen at atan(6/4) = 56.31 degrees."""
    shade = stated(**WEST, height_m=6, distance_m=4)
    assert shade.below_elevation_deg == pytest.approx(56.3099, abs=1e-4)
    said = light(**WEST, below_elevation_deg=shade.below_elevation_deg)
    np.testing.assert_array_equal(light(**WEST, height_m=6, distance_m=4).poa_wm2, said.poa_wm2)


@pytest.mark.parametrize(
    ("id", "name"),
    [
        ("REF417", "oak"),
        ("REF418", "birch"),
        ("REF419", "beech"),
        ("REF420", "scots-pine"),
        ("REF421", "callery-pear"),
        ("REF422", "honey-locust"),
    ],
)
def test_what_crowns_let_through(id, name):
    """Published shares in leaf and out of leaf, exactly as the table has them."""
    published.check(id, foliage()[name], "abs 0.0001")


def test_a_broadleaf_crown_is_the_mean_of_three():
    """Derived: oak, birch and beech."""
    three = np.mean([foliage()[name] for name in ("oak", "birch", "beech")], axis=0)
    np.testing.assert_allclose(foliage()["broadleaf"], three, atol=0.005)


def test_leaf_dates_make_twelve_transmittances():
    """Derived: bare until 15 April, so April has 14 bare days and 16 leafy ones; bare again from November."""
    oak = stated(**WEST, below_elevation_deg=40, foliage="oak", leaf_on="04-15", leaf_off="11-01").transmittance
    assert oak[:3] == (0.5,) * 3 and oak[4:10] == pytest.approx([0.17] * 6) and oak[10:] == (0.5,) * 2
    assert oak[3] == pytest.approx((14 * 0.50 + 16 * 0.17) / 30)


def test_a_shade_that_is_there_in_some_months():
    """Outside its months a shade lets everything through."""
    awning = stated(**WEST, below_elevation_deg=80, months=[6, 7, 8])
    assert awning.transmittance == (1.0,) * 5 + (0.0,) * 3 + (1.0,) * 4


def test_shaded_from_three_to_five_from_may_to_september():
    """By the clock the beam and the light around the sun are gone in these hours, and nothing else changes."""
    shaded = light(from_time="15:00", to_time="17:00", months=[5, 6, 7, 8, 9])
    index, free = weather().index, planes_of(behind(), weather())[0]
    inside = (index.hour >= 15) & (index.hour < 17) & (index.month >= 5) & (index.month <= 9)
    direct = free.beam + free.circumsolar
    np.testing.assert_allclose(shaded.poa_wm2, np.where(inside, free.total - direct, free.total), atol=1e-9)
    np.testing.assert_allclose(shaded.shaded_wm2, np.where(inside, direct, 0.0), atol=1e-9)
    assert direct[inside].sum() > 50_000.0


def test_half_an_hour_by_the_clock_takes_half_of_that_hour():
    """A window that ends within an hour covers a share of it; one through midnight is two pieces."""
    half, whole = light(from_time="12:00", to_time="12:30"), light(from_time="12:00", to_time="13:00")
    np.testing.assert_allclose(half.shaded_wm2, 0.5 * whole.shaded_wm2, atol=1e-9)
    night = light(from_time="22:00", to_time="12:30").shaded_wm2
    noon = weather().index.hour == 12
    np.testing.assert_allclose(night[noon], half.shaded_wm2[noon], atol=1e-9)
    assert night[weather().index.hour == 11].sum() > 0.0 == night[weather().index.hour == 13].sum()


def test_what_shades_take_and_what_they_leave_is_all_there_is():
    """Light past the shades and light lost to them make up the light in the open, hour by hour."""
    tree = light(**WEST, below_elevation_deg=40, foliage="birch")
    np.testing.assert_allclose(tree.poa_wm2 + tree.shaded_wm2, light().poa_wm2, atol=1e-9)
    assert tree.shaded_wm2.min() >= -1e-9 and tree.shaded_wm2.sum() > 10_000.0


def test_a_shade_on_one_of_two_strings_takes_half_on_the_mean():
    """What is lost is the mean over the panel's strings of cells; of the beam, half behind a shade on one of two."""
    one, both = (light(from_time="10:00", to_time="12:00", cell_strings=count) for count in (1, 2))
    np.testing.assert_allclose(one.shaded_wm2, 0.5 * both.shaded_wm2, atol=1e-9)


def test_only_what_lets_light_through_can_be_trimmed():
    """A crown is foliage, by its kind or by its shares; a wall is not, nor is an awning that is there in summer."""
    assert stated(**WEST, below_elevation_deg=40, foliage="oak").is_foliage
    assert stated(**WEST, below_elevation_deg=40, transmittance=0.3).is_foliage
    assert not stated(**WEST, below_elevation_deg=40).is_foliage
    assert not stated(**WEST, below_elevation_deg=40, months=[6, 7]).is_foliage


@pytest.mark.parametrize(
    ("shade", "key", "allowed"),
    [
        (WEST, "below_elevation_deg", "or height_m and distance_m in its place; this key has no default"),
        (WEST | {"height_m": 6}, "distance_m", "a value together with height_m"),
        (WEST | {"height_m": 6, "distance_m": 0}, "distance_m", "a number above 0"),
        (WEST | {"height_m": 6, "distance_m": 4, "below_elevation_deg": 9}, "below_elevation_deg", "nothing beside"),
        ({"from_time": "15:00"}, "to_time", "a value together with from_time"),
        ({"from_time": "15:00", "to_time": "15:00"}, "to_time", "other than from_time"),
        ({"from_time": "15:00", "to_time": "25:00"}, "to_time", 'a time of day as "HH:MM"'),
        ({"from_time": "15:00", "to_time": "17:00"} | WEST, "from_azimuth_deg", "nothing beside from_time"),
        ({"from_time": "15:00", "to_time": "17:00", "months": [13]}, "months[0]", "from 1 (January) to 12"),
        ({"from_time": "15:00", "to_time": "17:00", "months": [5, 5]}, "months", "each once"),
        (WEST | {"below_elevation_deg": 9, "foliage": "elm"}, "foliage", '"oak"'),
        (WEST | {"below_elevation_deg": 9, "foliage": "oak", "transmittance": 0.3}, "transmittance", "nothing beside"),
        (WEST | {"below_elevation_deg": 9, "leaf_on": "05-01"}, "leaf_on", "nothing without foliage"),
    ],
)
def test_what_a_shade_cannot_say(shade, key, allowed):
    """One message with the key and what is allowed."""
    with pytest.raises(InputError) as caught:
        behind(**shade)
    assert caught.value.key == f"panel.shade[0].{key}" and allowed in caught.value.allowed


def test_a_shade_as_read_can_be_read_again():
    """What was derived may stand beside what it was derived from."""
    for shade in (
        stated(**WEST, height_m=6, distance_m=4, foliage="oak", months=[4, 5]),
        stated(from_time="15:00", to_time="17:00", months=[5]),
    ):
        assert stated(**{key: value for key, value in shade.model_dump().items() if value is not None}) == shade
