"""A shadow on part of a panel, against single-diode curves summed by hand, limits, and what the trade expects of it."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import pvsystem
from pvlib.singlediode import bishop88, bishop88_v_from_i

from sim.errors import InputError
from sim.light.horizon import is_behind
from sim.light.substrings import BYPASS_V
from sim.light.sunlight import Sunlight, array_curves, conditions, diode_of, sunlight_on
from sim.scenario import Scenario, overridden, parse
from sim.weather import weather_for
from sim.weather.sun import sun_when_lit

BASE = {  # one 36-cell panel of 135 W on a 12 V battery
    "weather": {"sample": "piedmont"},
    "panel": {"power_w": 135, "vmp_v": 17.68, "imp_a": 7.64, "voc_v": 22.1, "isc_a": 8.26, "mismatch_and_ageing": 0.0},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}
POLE = {"from_azimuth_deg": 120, "to_azimuth_deg": 160, "below_elevation_deg": 60}
NODES_V = np.linspace(9.0, 21.0, 49)
ISC_A = 8.26


def scenario(**changes: object) -> Scenario:
    """The base scenario with values changed; a double underscore stands for the dot of a key."""
    return parse(overridden(BASE, {key.replace("__", "."): value for key, value in changes.items()}), Path("pond.toml"))


@cache
def weather() -> Any:
    """A bundled weather year."""
    return weather_for(scenario())


def light(*shades: dict[str, Any], **changes: object) -> Sunlight:
    """The sunlight of a changed base scenario behind shades."""
    return sunlight_on(scenario(panel__shade=list(shades), **changes), weather())


def at(*wm2: float, strings: int, covered: tuple[int, ...] = (1,), **changes: object) -> dict[str, Any]:
    """One hour at 45 °C: curves with ``wm2[0]`` on the free strings, the next on those behind the largest shade, …."""
    shades = [POLE | {"cell_strings": count} for count in covered] if len(wm2) > 1 else []
    made = scenario(panel__bypass_strings=strings, panel__shade=shades, **changes)
    absorbed = [np.array([value]) for value in wm2]
    return array_curves(diode_of(made), made.panel, absorbed, np.array([45.0]), NODES_V * made.panel.series)


def held_a(curves: dict[str, Any], volts: float) -> float:
    """The current at a voltage, read as the table is meant to be read."""
    return max(float(np.interp(volts, NODES_V, curves["current_a"][0])), 0.0)


class TestOneHour:
    """What the array gives in a single hour of given light."""

    def test_one_dark_string_of_three_costs_a_third(self):
        """Derived: the other two give 2/3 of the voltage less one diode's 0.5 V, whatever little area was shaded."""
        whole, cut = at(900.0, strings=3), at(900.0, 20.0, strings=3)
        at_a = cut["p_mp_w"][0] / cut["v_mp_v"][0]
        free_v = pvsystem.v_from_i(at_a, *conditions(diode_of(scenario()), 900.0, 45.0))
        assert cut["p_mp_w"][0] < 2 / 3 * whole["p_mp_w"][0]
        assert cut["p_mp_w"][0] > 0.94 * 2 / 3 * whole["p_mp_w"][0]
        assert cut["v_mp_v"][0] == pytest.approx(2 / 3 * free_v - BYPASS_V, abs=0.01)

    def test_a_shaded_cell_costs_half_of_a_panel_with_two_strings(self):
        """A fully shaded cell takes 50 % or more of a 36-cell panel, not 1/36 (common practice, no source)."""
        assert at(900.0, 20.0, strings=2)["p_mp_w"][0] <= 0.5 * at(900.0, strings=2)["p_mp_w"][0]

    def test_half_a_panel_cannot_charge_a_battery_directly(self):
        """Derived: at 13 V 18 cells are past open circuit, so no more flows than the light of the others drives."""
        whole, cut = at(900.0, strings=2), at(900.0, 20.0, strings=2)
        assert held_a(cut, 13.0) == pytest.approx(held_a(whole, 13.0) * 20.0 / 900.0, rel=0.05)

    def test_a_third_costs_the_current_of_a_hot_direct_panel_less_than_a_half(self):
        """At 13 V two thirds of 36 cells are past open circuit too; two thirds of 60 cells carry their full current."""
        large = {"power_w": 250, "vmp_v": 30.0, "imp_a": 8.33, "voc_v": 37.2, "isc_a": 8.9}
        big = {f"panel__{key}": value for key, value in large.items()}
        assert held_a(at(900.0, 20.0, strings=3), 13.0) < 0.2 * held_a(at(900.0, strings=3), 13.0)
        assert held_a(at(900.0, 20.0, strings=3, **big), 13.0) > 0.98 * held_a(at(900.0, strings=3, **big), 13.0)

    def test_weak_shade_is_better_borne_than_bypassed(self):
        """Derived: with 80 % of the light on one string the maximum is at its current, above what the others give."""
        whole, cut = at(900.0, strings=3)["p_mp_w"][0], at(900.0, 720.0, strings=3)["p_mp_w"][0]
        assert 0.8 * whole < cut < 0.9 * whole

    @pytest.mark.parametrize("solver", [bishop88_v_from_i, pvsystem.v_from_i], ids=["bishop", "lambert"])
    @pytest.mark.parametrize(
        ("strings", "covered", "wm2"),
        [
            (2, (1,), (900.0, 20.0)),
            (2, (1,), (900.0, 450.0)),
            (3, (1,), (950.0, 700.0)),
            (3, (2,), (300.0, 40.0)),
            (3, (2, 1), (900.0, 500.0, 100.0)),
        ],
    )
    def test_the_curve_is_the_sum_of_its_strings(self, solver, strings, covered, wm2):
        """Library curves summed by hand on 40,000 currents: currents within 0.3 % of Isc, power within 0.1 %."""
        found, diode = at(*wm2, strings=strings, covered=covered), diode_of(scenario())
        counts = [strings - max(covered), *-np.diff((*covered, 0))]
        amps = np.linspace(0.0, 1.02 * ISC_A * wm2[0] / 1000.0, 40_000)
        volts = np.zeros_like(amps)
        for count, absorbed in zip(counts, wm2, strict=True):
            volts += count * each_v(solver, conditions(diode, absorbed, 45.0), amps, strings)
        hand_a = np.interp(NODES_V, volts[::-1], amps[::-1])
        assert np.max(np.abs(np.maximum(found["current_a"][0], 0.0) - hand_a)) < 0.003 * ISC_A
        assert found["p_mp_w"][0] == pytest.approx((amps * volts).max(), rel=1e-3)
        assert found["v_oc_v"][0] == pytest.approx(volts[0], rel=1e-6)
        assert found["i_sc_a"][0] == pytest.approx(np.interp(0.0, volts[::-1], amps[::-1]), rel=1e-3)

    def test_power_and_current_lie_on_one_curve(self):
        """The maximum is the product of a voltage and the current that a library curve of the strings has there."""
        found, diode = at(900.0, 450.0, strings=2), diode_of(scenario())
        amps, volts = zip(
            *(bishop88(np.linspace(-5, 21, 20_000), *conditions(diode, w, 45.0))[:2] for w in (900.0, 450.0)),
            strict=True,
        )
        at_a = found["p_mp_w"][0] / found["v_mp_v"][0]
        halves_v = [np.interp(at_a, i[::-1], v[::-1]) / 2 for i, v in zip(amps, volts, strict=True)]
        assert found["v_mp_v"][0] == pytest.approx(sum(max(half_v, -BYPASS_V) for half_v in halves_v), abs=0.02)

    @settings(max_examples=40, deadline=None)
    @given(wm2=st.floats(100, 1100), share=st.floats(0.02, 0.99), strings=st.integers(2, 3), covered=st.integers(1, 2))
    def test_uneven_light_lies_between_its_even_ones(self, wm2, share, strings, covered):
        """Derived: more than with all strings dim or with the dim ones bypassed, less than with all in the sun."""
        covered = min(covered, strings - 1)
        found = at(wm2, share * wm2, strings=strings, covered=(covered,))
        sunny, dim = at(wm2, strings=strings), at(share * wm2, strings=strings)
        bypassed = (1 - covered / strings) * sunny["p_mp_w"][0] - covered * BYPASS_V * sunny["i_sc_a"][0]
        assert max(dim["p_mp_w"][0], bypassed) * 0.999 <= found["p_mp_w"][0] <= sunny["p_mp_w"][0] * 1.001
        assert np.all(np.diff(found["current_a"]) <= 1e-9)
        assert dim["v_oc_v"][0] < found["v_oc_v"][0] < sunny["v_oc_v"][0]

    def test_panels_in_series_and_rows(self):
        """Four panels, two in series: all are shaded alike, so twice the volts and amperes, four times the power."""
        one = at(900.0, 100.0, strings=3)
        four = at(900.0, 100.0, strings=3, panel__count=4, panel__series=2)
        for name, factor in (("current_a", 2), ("p_mp_w", 4), ("v_mp_v", 2), ("i_sc_a", 2), ("v_oc_v", 2)):
            np.testing.assert_allclose(four[name], factor * one[name], rtol=1e-12)


def each_v(solver: Any, parameters: tuple[Any, ...], amps: np.ndarray, strings: int) -> np.ndarray:
    """The voltage of one string at currents; from its short-circuit current on its bypass diode conducts."""
    photo_a, _, series_ohm, shunt_ohm, _ = parameters
    flat_a = photo_a / (1.0 + series_ohm / shunt_ohm)
    own = amps < flat_a  # beyond it each curve soon falls below −0.5 V
    volts = np.full_like(amps, -BYPASS_V)
    volts[own] = np.maximum(solver(amps[own], *parameters) / strings, -BYPASS_V)
    return volts


class TestYear:
    """What a shadow on part of the panel does to a year."""

    @pytest.mark.parametrize("covered", [0, 1, 2])
    def test_a_shadow_that_lets_everything_through_changes_nothing(self, covered):
        """Transmittance 1 is no shade, to the last digit."""
        clear, free = light(POLE | {"transmittance": 1.0, "cell_strings": covered}), light()
        for name in ("poa_wm2", "cell_c", "current_a", "p_mp_w", "v_mp_v", "i_sc_a", "v_oc_v"):
            np.testing.assert_array_equal(getattr(clear, name), getattr(free, name))

    def test_a_shadow_on_every_string_is_one_on_the_panel(self):
        """Two covered strings of two are the whole panel, which is what a shade without the key covers."""
        whole = light(POLE)
        for said in (2, "all"):
            np.testing.assert_array_equal(light(POLE | {"cell_strings": said}).current_a, whole.current_a)

    def test_only_hours_with_the_sun_behind_it_differ(self):
        """With the sun elsewhere a shadow on one string is as one on none; behind it, it costs, and the panel more."""
        none, one, whole = (light(POLE | {"cell_strings": covered}) for covered in (0, 1, "all"))
        sun = sun_when_lit(weather())
        hidden = is_behind(scenario(panel__shade=[POLE]).panel.shade[0], sun.azimuth_deg, 90 - sun.apparent_zenith_deg)
        np.testing.assert_array_equal(one.current_a[~hidden], none.current_a[~hidden])
        np.testing.assert_array_equal(one.current_a[~hidden], whole.current_a[~hidden])
        assert np.all(one.p_mp_w <= none.p_mp_w * (1 + 1e-4))
        assert np.all(one.p_mp_w >= whole.p_mp_w * (1 - 1e-4))
        clear = hidden & (weather().dni > 600) & (none.p_mp_w > 40)
        assert clear.sum() > 100
        assert np.all(one.p_mp_w[clear] < 0.52 * none.p_mp_w[clear])

    def test_the_sky_behind_it_is_lost_to_all_strings(self):
        """A shadow on no string still hides its share of the sky, as one on the whole panel does."""
        none, whole, free = light(POLE | {"cell_strings": 0}), light(POLE), light()
        sunless = (weather().dni == 0) & (free.poa_wm2 > 50)
        np.testing.assert_array_equal(none.poa_wm2[sunless], whole.poa_wm2[sunless])
        assert np.all(none.poa_wm2[sunless] < free.poa_wm2[sunless])

    def test_a_shadow_inside_another_adds_nothing(self):
        """Two opaque shades of one string each, at the same place in the sky, leave the beam on the others."""
        pole = POLE | {"cell_strings": 1}
        np.testing.assert_allclose(light(pole, pole).p_mp_w, light(pole).p_mp_w, rtol=1e-12)

    def test_a_shadow_only_in_leaf(self):
        """Monthly transmittance holds for strings too: with bare months at 1 these are as without the shade."""
        leaves = [1.0] * 4 + [0.2] * 6 + [1.0] * 2
        tree, free = light(POLE | {"transmittance": leaves, "cell_strings": 1}), light()
        bare = (weather().index.month <= 4) | (weather().index.month >= 11)
        np.testing.assert_array_equal(tree.current_a[bare], free.current_a[bare])
        assert tree.p_mp_w[~bare].sum() < 0.95 * free.p_mp_w[~bare].sum()


class TestScenario:
    """What may be written."""

    @pytest.mark.parametrize(("voc_v", "strings"), [(22.1, 2), (36.6, 3), (44.0, 3)])
    def test_how_many_strings_a_panel_has(self, voc_v, strings):
        """Two up to 40 cells, three for 60 and 72 (common practice, no source)."""
        assert scenario(panel__voc_v=voc_v).panel.bypass_strings == strings

    @pytest.mark.parametrize("wrong", [-1, 4, 1.5, True, "some"])
    def test_what_a_shade_may_cover(self, wrong):
        """A whole number from 0 to 3, or all."""
        with pytest.raises(InputError, match=r'panel.shade\[0\].cell_strings = .*a whole number from 0 to 3, or "all"'):
            scenario(panel__shade=[POLE | {"cell_strings": wrong}])

    def test_no_more_strings_than_there_are(self):
        """A shade on more strings than the panel has is refused, and the message says how many are needed."""
        with pytest.raises(InputError, match=r"panel.bypass_strings = 2: allowed is at least the cell_strings \(3\)"):
            scenario(panel__shade=[POLE, POLE | {"cell_strings": 3}])
        assert scenario(panel__bypass_strings=3, panel__shade=[POLE | {"cell_strings": 3}]).panel.bypass_strings == 3

    def test_the_first_wrong_value_is_the_one_named(self):
        """A wrong open-circuit voltage is said to be wrong, not what would have been guessed from it."""
        with pytest.raises(InputError, match="panel.voc_v = -1"):
            scenario(panel__voc_v=-1)
