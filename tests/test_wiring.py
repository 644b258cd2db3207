"""Cables and fuses against the standards' tables, and what the year's currents do in them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import published
import pytest

from sim.catalogue.cables import (
    conductor,
    fuse_sizes,
    fuse_window_a,
    gauge_area_mm2,
    gauge_diameter_mm,
    gauges,
    metric,
    next_fuse_a,
)
from sim.devices import cable
from sim.figures import wiring
from sim.plant.lanes import lanes_from, pump_path_ohm
from sim.plant.records import TOTALS
from sim.scenario import Scenario
from sim.studies.result import YearResult

FEET_100_M = 30.48
Design = Callable[..., Scenario]
GAUGE_ROWS = {16: ("REF298", "REF299", "REF300"), 14: ("REF301", "REF302", "REF303"),
              12: ("REF304", "REF305", "REF306"), 10: ("REF307", "REF308", "REF309")}  # fmt: skip
STRANDED = {16: "REF311", 12: "REF313", 10: "REF315"}
SOLID = {16: "REF310", 12: "REF312", 10: "REF314"}


def wired(scenario: Scenario, air_c: tuple[float, float] = (0.0, 30.0)) -> wiring.Wiring:
    """The wiring of a scenario whose year lost nothing."""
    return wiring.wiring_of(scenario, air_c, np.zeros(1, TOTALS)[0], 0.012)


# ------------------------------------------------------------------ tables


@pytest.mark.parametrize(("awg", "ids"), GAUGE_ROWS.items())
def test_gauges_have_the_size_of_their_standard(awg: int, ids: tuple[str, str, str]) -> None:
    """Diameter and area (ASTM B258), and the resistance of so much pure copper (IEC 60028)."""
    published.check(ids[0], gauge_diameter_mm(awg))
    published.check(ids[1], gauge_area_mm2(awg))
    published.check(ids[2], published.value("REF295") / gauge_area_mm2(awg))


@pytest.mark.parametrize("awg", STRANDED)
def test_gauges_have_the_published_resistance(awg: int) -> None:
    """Seven strands at 75 °C (NEC chapter 9 table 8), a little above the solid wire's figure of the same table.

    Brought back from 20 °C by the table's note 2: R20 = R75·(1 + 0.00323·(20 − 75)).
    """
    ohm_kft = 0.3048 * gauges()[awg].ohm_per_km / (1.0 + 0.00323 * (20.0 - 75.0))
    published.check(STRANDED[awg], ohm_kft)
    assert 1.0 < ohm_kft / published.value(SOLID[awg]) < 1.05


@pytest.mark.parametrize("awg", sorted(gauges()))
def test_no_gauge_is_better_than_pure_copper(awg: int) -> None:
    """Resistance times area lies above 17.241 Ω·mm²/km, by at most a tenth (IEC 60028)."""
    assert 1.0 < gauges()[awg].ohm_per_km * gauge_area_mm2(awg) / published.value("REF295") < 1.1


@pytest.mark.parametrize(("id", "awg"), [("REF316", 14), ("REF317", 12), ("REF318", 8)])
def test_gauges_have_the_published_ampacity(id: str, awg: int) -> None:
    """Insulation for 60, 75 and 90 °C (NEC table 310.16)."""
    published.check(id, [gauges(bears_c)[awg].ampacity_a for bears_c in (60, 75, 90)])


def test_small_gauges_are_rated_as_their_fuse_limit() -> None:
    """14, 12 and 10 AWG (NEC 240.4(D)) carry no more than the fuse they may have."""
    published.check("REF319", [gauges()[awg].ampacity_a for awg in (14, 12, 10)])


@pytest.mark.parametrize(("id", "area_mm2"), [("REF325", 1.5), ("REF326", 2.5), ("REF327", 6.0)])
def test_areas_have_the_published_ampacity(id: str, area_mm2: float) -> None:
    """Two loaded conductors on a wall (IEC 60364-5-52 table B.52.2, from memory)."""
    published.check(id, conductor(area_mm2).ampacity_a)


@pytest.mark.parametrize(("id", "area_mm2"), [("REF321", 1.5), ("REF322", 2.5), ("REF323", 6.0), ("REF324", 2.5)])
def test_two_conductors_carry_a_little_more_than_three(id: str, area_mm2: float) -> None:
    """Table B.52.4 for three loaded ones bounds the rating from below (published), a half more from above (own)."""
    assert published.value(id) < conductor(area_mm2).ampacity_a < 1.5 * published.value(id)


def test_ampacity_falls_in_hot_air_as_the_standard_says() -> None:
    """Insulation for 60, 75 and 90 °C at 40 °C, the band's upper end (NEC table 310.15(B)(1)), to its two decimals."""
    factors = [cable.air_factor(40.0, bears_c, 30.0) for bears_c in (60.0, 75.0, 90.0)]
    published.check("REF320", factors, "abs 0.005")


def test_sizes_rise_together() -> None:
    """In both catalogues a thicker conductor resists less and carries more (a property of the tables)."""
    for sizes in (metric(), tuple(gauges().values())):
        for thin, thick in zip(sizes, sizes[1:], strict=False):
            assert thin.area_mm2 < thick.area_mm2
            assert thin.ohm_per_km > thick.ohm_per_km and thin.ampacity_a < thick.ampacity_a


def test_fuses_come_in_the_published_sizes() -> None:
    """Blade fuses (ISO 8820-3), and cartridges up to 50 A (NEC 240.6(A)); both from memory."""
    cartridges = [size for size in fuse_sizes("cartridge") if size <= 50.0]
    for id, sizes in (("REF338", fuse_sizes("blade")), ("REF337", cartridges)):
        assert list(sizes) == [float(size) for size in published.row(id).expected.split(",")]


# ------------------------------------------------------------------ drop and currents


def test_drop_of_the_published_example() -> None:
    """4 A through 100 ft each way of 16 AWG at 75 °C lose 4 V (worked example after NEC chapter 9 table 8)."""
    published.check("REF329", 4.0 * cable.loop_ohm(FEET_100_M, gauges()[16].ohm_per_km, conductor_c=75.0))


def test_drop_limits_are_the_published_ones() -> None:
    """3 % for one circuit (NEC 210.19(A)); 5 % in all, the second published limit, lies below our warning's 10 %."""
    one, both = (low for low, _ in published.expected("REF330"))
    assert one == 100.0 * wiring.DROP_LIMITS[0] < both < 100.0 * wiring.DROP_LIMITS[1]


def test_panel_circuits_are_made_for_more_than_their_short_circuit_current(design: Design) -> None:
    """1.25 for sun beyond the standard's, again for currents that last (NEC 690.8, 690.9), and the fuse of 9.0 A."""
    run = wired(design({"panel.isc_a": 9.0, "panel.imp_a": 8.5, "panel.power_w": 153})).run(wiring.PANEL)
    assert run is not None
    published.check("REF331", run.highest_a / 9.0)
    published.check("REF332", run.rated_for_a / 9.0)
    published.check("REF333", wiring.string_fuse_a(9.0, 3) or 0.0)


@pytest.mark.parametrize("isc_a", [2.0, 3.5, 5.9, 7.0, 9.0, 11.0, 13.0, 15.0])
def test_string_fuses_lie_in_the_published_window(isc_a: float) -> None:
    """Between 1.5 and 2.4 times the short-circuit current (IEC 62548, from memory); one and two strings need none."""
    least, most = published.expected("REF334")[0]
    assert least < (wiring.string_fuse_a(isc_a, 3) or 0.0) / isc_a < most
    fewest = int(published.row("REF335").expected.removeprefix("Np>="))
    assert [wiring.string_fuse_a(isc_a, strings) is None for strings in (fewest - 1, fewest)] == [True, False]


def test_the_fuse_sits_where_the_standard_wants_it() -> None:
    """7 inches from the battery's pole (ABYC E-11), to the quarter centimetre that the rule rounds it by."""
    assert published.value("REF336") * 2.54 == pytest.approx(wiring.FUSE_WITHIN_CM, abs=0.25)


@pytest.mark.parametrize(("id", "air_c"), [("REF168", 20.0), ("REF169", 0.0), ("REF170", -10.0)])
def test_cold_voltage_is_never_below_the_table(id: str, air_c: float) -> None:
    """With −0.30 %/°C it is that of NEC table 690.7(A), with a steeper coefficient the panel's own."""
    published.check(id, wiring.cold_voc_v(1.0, -0.30, air_c))
    assert wiring.cold_voc_v(1.0, -0.60, air_c) == pytest.approx(1.0 + 0.006 * (25.0 - air_c))


@pytest.mark.parametrize(
    ("length_m", "area_mm2", "share"),
    [(20, 0.75, 0.24), (20, 1.5, 0.12), (20, 2.5, 0.075), (20, 4.0, 0.046)],
)
def test_drop_of_three_amperes_over_twenty_metres(length_m: float, area_mm2: float, share: float) -> None:
    """3 A at 12.8 V in copper at 20 °C by size, to the half per cent (derived from IEC 60228)."""
    ohm = cable.loop_ohm(length_m, conductor(area_mm2).ohm_per_km)
    assert 3.0 * ohm / 12.8 == pytest.approx(share, abs=0.005)


def test_a_conductor_at_its_ampacity_is_as_warm_as_it_bears() -> None:
    """The temperature rises with the square of the current, to the table's at the table's (identity)."""
    for wire in (*metric(), *gauges().values()):
        assert wiring.warmth_c(wire, wire.ampacity_a, 30.0) == pytest.approx(wire.bears_c)
        assert wiring.warmth_c(wire, wiring.rating_a(wire, 45.0), 45.0) == pytest.approx(wire.bears_c)
        assert wiring.rating_a(wire, 10.0) == wire.ampacity_a


def test_a_run_by_hand(design: Design) -> None:
    """24 W at 12 V, disconnect 12 V, 10 m of 2.5 mm²: current, warmth, drop and fuse worked out by hand (derived)."""
    changes = {"pump.power_w": 24, "pump.cable.length_m": 10, "controller.load_disconnect_v": 12.0}
    found = wired(design(changes))
    run = found.run(wiring.PUMP)
    assert run is not None
    cold_ohm = 2 * 10 * 7.98e-3
    amps = (12.0 - (144.0 - 4.0 * cold_ohm * 24.0) ** 0.5) / (2.0 * cold_ohm)
    warm_c = 30.0 + 40.0 * (amps / 27.0) ** 2
    assert run.current_a == pytest.approx(amps) and run.conductor_c == pytest.approx(warm_c)
    assert run.drop_v == pytest.approx(amps * cold_ohm * (1 + 0.00393 * (warm_c - 20.0)))
    assert run.drop_share == pytest.approx(run.drop_v / 12.0)
    assert run.highest_a == pytest.approx(2.5 * 2.0) and run.rated_for_a == pytest.approx(1.25 * amps)
    assert run.fuses_a[0] == 5.0 and run.fuses_a[-1] == 25.0 and run.rating_a == 27.0
    assert found.pump_run_v * (12.0 - found.pump_run_v) == pytest.approx(24.0 * run.ohm)


def test_the_pump_starts_behind_battery_leads_and_its_own_cable(design: Design) -> None:
    """From the reconnect voltage the start current loses its drop in all of them (derived)."""
    found = wired(design({"pump.power_w": 24}))
    runs = {run.name: run.ohm for run in found.runs}
    lost = 5.0 * (0.012 + runs[wiring.BATTERY] + runs[wiring.PUMP])
    assert found.pump_start_v == pytest.approx(found.pump_start_from_v - lost)


def test_a_direct_pump_draws_most_at_the_highest_voltage(design: Design) -> None:
    """At 14.4 V a 12 V pump draws (14.4/12)² of its rated current; a regulated one draws most when low (derived)."""
    none = {"pump.power_w": 24, "pump.cable.length_m": 0}
    assert wired(design(none | {"pump.supply": "direct"})).pump_highest_a == pytest.approx(2.0 * 1.44)
    assert wired(design(none | {"controller.load_disconnect_v": 12.0})).pump_highest_a == pytest.approx(2.0)


def test_the_smallest_size_is_the_smallest(design: Design) -> None:
    """The size that is named keeps to the limit and the next smaller one does not, in both catalogues."""
    scenario = design({"pump.power_w": 36, "pump.cable.length_m": 20})
    found = wired(scenario, (0.0, 40.0))
    run, carried = found.run(wiring.PUMP), wiring.currents_of(scenario, found.pump_highest_a)[wiring.PUMP]
    assert run is not None
    for size in run.sizes:
        for sizes, name in ((metric(), size.metric), (tuple(gauges().values()), size.gauge)):
            at = [wire.name for wire in sizes].index(name or "")
            fits = [
                wiring.suits(scenario.pump.cable, w, carried, size.drop_limit, 40.0) for w in sizes[at - 1 : at + 1]
            ]
            assert at > 0 and fits == [False, True]


def test_a_run_that_no_size_suits_says_so(design: Design) -> None:
    """Half a kilometre to the pump is beyond the catalogue at 3 %."""
    run = wired(design({"pump.power_w": 100, "pump.cable.length_m": 500, "controller.max_load_a": 30})).run(wiring.PUMP)
    assert run is not None and (run.sizes[0].metric, run.sizes[0].gauge) == (None, None)


@pytest.mark.parametrize(
    ("carries_a", "protects_a", "sizes"),
    [
        (10.0, 10.0, (10.0,)),
        (10.01, 14.99, ()),
        (10.01, 15.0, (15.0,)),
        (0.0, 0.9, ()),
        (8.0, 20.0, (10.0, 15.0, 20.0)),
    ],
)
def test_fuse_window(carries_a: float, protects_a: float, sizes: tuple[float, ...]) -> None:
    """Both ends of the window belong to it, and it may be empty."""
    assert fuse_window_a(carries_a, protects_a) == sizes


def test_beyond_the_largest_fuse_there_is_none() -> None:
    """400 A is the largest of the catalogue."""
    assert (next_fuse_a(400.0), next_fuse_a(400.1)) == (400.0, None)


# ------------------------------------------------------------------ extension lead, in the simulation


def test_an_extension_lead_is_more_cable(design: Design) -> None:
    """5 m and 7 m of the same size in series are the pump cable of 12 m, to the lane's last digit."""
    joined = design({"pump.cable.length_m": 12})
    parted = design({"pump.cable.length_m": 5, "pump.extension": {"length_m": 7}})
    assert pump_path_ohm(parted.pump) == pytest.approx(pump_path_ohm(joined.pump), rel=1e-12)
    lanes = lanes_from([joined, parted], places=[0, 0])["lane"]
    for name in ("pump_loop_ohm", "pump_start_v"):
        assert lanes[name][0] == pytest.approx(lanes[name][1], rel=1e-12)
    assert wired(parted).pump_run_v == pytest.approx(wired(joined).pump_run_v)
    assert wired(parted).pump_drop_share == pytest.approx(wired(joined).pump_drop_share)


def test_heat_is_shared_by_resistance(design: Design) -> None:
    """Of 8 Wh in a pump's path of 4 m and 12 m of one size, the extension has 6."""
    totals = np.zeros(1, TOTALS)[0]
    totals["pump_cable_wh"], totals["lead_wh"], totals["panel_cable_wh"] = 8.0, 1.0, 2.0
    scenario = design({"pump.cable.length_m": 4, "pump.extension": {"length_m": 12}})
    found = wiring.losses_wh(wiring.cables_of(scenario), totals)
    assert list(found) == [wiring.PANEL, wiring.BATTERY, wiring.PUMP, wiring.EXTENSION]
    assert list(found.values()) == pytest.approx([2.0, 1.0, 2.0, 6.0])


def test_heat_of_the_runs_is_the_cables_share_of_the_books(any_year: YearResult) -> None:
    """The runs' heat adds up to the year's cable loss."""
    year = any_year.measures
    assert sum(run.loss_wh for run in year.wiring.runs) == pytest.approx(year.energy.cable_loss, rel=1e-12)


def test_wiring_is_in_the_plain_data(courtyard_year: YearResult) -> None:
    """Every run with its figures, as lists and numbers only."""
    plain = courtyard_year.as_json()["wiring"]
    assert [run["name"] for run in plain["runs"]] == [wiring.PANEL, wiring.BATTERY, wiring.PUMP]
    assert plain["runs"][0]["sizes"][0] == {"drop_limit": 0.03, "metric": "4 mm²", "gauge": "AWG 12"}
    assert plain["pump_run_v"] == courtyard_year.measures.wiring.pump_run_v


def test_runs_are_found_by_name(courtyard_year: YearResult) -> None:
    """Runs are found by their name, and there is no extension where none is written."""
    found = courtyard_year.measures.wiring
    assert found.run(wiring.EXTENSION) is None and found.run(wiring.PANEL) == found.runs[0]
    assert replace(found, runs=()).run(wiring.PANEL) is None
