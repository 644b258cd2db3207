"""A year in a frosty place, by chemistry: refused charge, capacity in the cold, freezing acid."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from kit.courtyard import usable_ah, year_of
from published import check

from sim.catalogue.cells import cell
from sim.devices import battery
from sim.figures.measures import freezing_hours
from sim.plant.causes import RUNNING
from sim.plant.lanes import new_mohm, size_factor
from sim.plant.sky import cold_ohm, lagged
from sim.scenario import overridden, parse, read_toml
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

COURTYARD = Path(__file__).parent.parent / "scenarios" / "courtyard.toml"  # 36° N, down to −16.7 °C


def test_lithium_refuses_charge_in_frost_and_until_it_is_warmer() -> None:
    """Refused hours are hours of light with a cell below 0 °C (REF202, telecom battery manual), or below 4 °C after."""
    result = year_of()
    refused_h = result.log.per_interval("refused_s") / 3600.0
    assert result.measures.battery.charge_refused_hours > 50.0
    assert np.all(refused_h[result.sky["cell_c"] >= 4.0] == 0.0)
    frosty_light = (result.sky["cell_c"] < 4.0) & (result.sky["lit"] == 1)
    assert refused_h.sum() <= frosty_light.sum()


def test_agm_in_the_same_frost_takes_charge() -> None:
    """No refused hour."""
    assert year_of(battery__chemistry="agm").measures.battery.charge_refused_hours == 0.0


@pytest.mark.parametrize(("cell_c", "ah"), [(0.0, 80.0), (-20.0, 70.0)])
def test_lithium_gives_its_sheets_capacity_in_the_cold(cell_c: float, ah: float) -> None:
    """33 A take 80 Ah at 0 °C and 70 Ah at −20 °C (REF208), within 2 Ah, with every resistance that the year has."""
    assert usable_ah("lfp", 33.0, cell_c) == pytest.approx(ah, abs=2.0)
    assert usable_ah("lfp", 33.0, 25.0) > 97.0


def test_a_small_current_loses_less_to_the_cold() -> None:
    """At 0 °C C/60 gives more than C/10 and that more than C/3; all between nine tenths and four fifths (derived)."""
    slow, usual, fast = (usable_ah("lfp", amps, 0.0) for amps in (100.0 / 60.0, 10.0, 33.0))
    assert 90.0 < slow < 97.0 and 84.0 < usual < 91.0 and slow > usual > fast


def test_agm_gives_its_sheets_capacity() -> None:
    """76.2 Ah at 25.4 A (REF240), 86 % of the warm capacity at 0 °C and the 20-hour current (REF237).

    At 0 °C and the 3-hour current more than three quarters of what it gives warm are left, where the sheet's curve,
    which names no current, has 86 %.
    """
    warm = usable_ah("agm", 25.4, 25.0)
    check("REF240", warm)
    check("REF237", usable_ah("agm", 5.2, 0.0) / usable_ah("agm", 5.2, 25.0))
    assert 0.75 < usable_ah("agm", 25.4, 0.0) / warm < 0.9


def test_half_full_lithium_has_twice_its_resistance_in_frost() -> None:
    """At 0 °C against 25 °C, R0, R1 and what the end adds (general knowledge: doubled), within a tenth."""
    entry = cell("lfp")
    warm, cold = (
        battery.discharging_ohm(0.5, factor * entry.r0_mohm, entry.exhaustion_mohm, 1000.0 * added)
        + factor * entry.r1_mohm
        for factor, added in ((1.0, 0.0), (2.0, float(cold_ohm(entry, np.zeros(1))[0])))
    )
    assert cold / warm == pytest.approx(2.0, rel=0.1)


def test_small_blocks_have_less_resistance_than_their_capacity_says() -> None:
    """25 Ah of lithium half of what 100/Ah gives, 40 Ah of AGM less than two thirds; above 100 Ah it is 100/Ah."""
    for chemistry, capacity_ah, most in (("lfp", 25, 0.5), ("agm", 40, 0.65)):
        data = {"battery.chemistry": chemistry, "battery.capacity_ah": capacity_ah}
        small = new_mohm(parse(overridden(read_toml(COURTYARD), data), COURTYARD).battery)
        entry = cell(chemistry)
        assert small <= most * (entry.r0_mohm + entry.r1_mohm) * 100.0 / capacity_ah + 1e-9
    assert size_factor(300.0) == pytest.approx(1.0 / 3.0)


def test_a_place_without_frost_keeps_its_battery_warm() -> None:
    """Never below what it is kept at; no charge is refused, winter has more water, and hardly a start is left.

    Thousands of starts fall in frost, where an idle panel lifts the bus and a pump takes it down again.
    """
    bare, kept = year_of(), year_of(battery__place="frost-free", battery__place_min_c=6.0)
    assert kept.sky["cell_c"].min() == 6.0 and kept.measures.battery.charge_refused_hours == 0.0
    assert np.all(kept.sky["cell_c"] >= bare.sky["cell_c"])
    assert kept.measures.pump_hours_by_month[0] > 1.2 * bare.measures.pump_hours_by_month[0]
    assert kept.measures.energy.heater == 0.0
    starts = bare.log.events_of()[bare.log.events_of()["cause"] == RUNNING]["at_s"] // 3600.0
    assert np.mean(bare.sky["cell_c"][starts.astype(int)] < 4.0) > 0.9
    assert kept.measures.starts < 0.02 * bare.measures.starts


def test_a_heater_takes_its_power_from_the_battery() -> None:
    """As much as the box loses, up to its power; in the balance and in the results."""
    result = year_of(battery__place="heated", battery__heater_w=4.0)
    bare_c, warm_c, heater_a = year_of().sky["cell_c"], result.sky["cell_c"], result.sky["heater_a"]
    assert heater_a.max() == pytest.approx(4.0 / 13.0) and np.all(heater_a[bare_c >= 5.0] == 0.0)
    assert warm_c - bare_c == pytest.approx(heater_a * 13.0 / 0.8)
    assert warm_c.min() < 5.0  # too weak for the coldest nights
    energy = result.measures.energy
    assert energy.heater == pytest.approx(result.measures.as_json()["energy_wh"]["heater"]) and energy.heater > 1000.0
    assert abs(energy.balance_error) <= 1e-6 * energy.panel


def calm_hours(result: YearResult) -> float:
    """Pump hours in which the charge is refused all the time and the bus stands at the absorption voltage."""
    refused_s, high_v = (result.log.per_interval(name) for name in ("refused_s", "pump_high_v"))
    calm = (refused_s > 3599.0) & (np.abs(high_v - result.scenario.controller.absorption_v) < 0.1)
    return float(result.log.per_interval("run_s")[calm].sum()) / 3600.0


def test_no_pump_hour_rests_on_a_calm_bus_that_the_controller_does_not_have() -> None:
    """Where it pulses the load sees more than the absorption voltage in every such hour; where it holds, in none."""
    assert calm_hours(year_of()) == 0.0
    assert calm_hours(year_of(controller__on_refusal="holds")) > 100.0


def test_pulses_in_frost_are_found_where_the_pump_does_not_bear_them() -> None:
    """A direct-coupled controller: found; one that holds, one that cuts the load, and a place without frost: not."""
    found = {
        name: {finding.id for finding in year_of(**changes).findings}
        for name, changes in {
            "pulses": {},
            "holds": {"controller__on_refusal": "holds"},
            "warm": {"battery__place": "frost-free"},
        }.items()
    }
    assert "pump-over-voltage" in found["pulses"]
    assert "pump-over-voltage" not in found["holds"] | found["warm"]


def test_flooded_left_empty_in_frost_is_flagged_and_a_full_one_is_not() -> None:
    """Acid freezes near −8 °C when empty and below −50 °C when full (REF226 to REF228 between them)."""
    entry, cold = cell("flooded"), np.full(10, -12.0)
    assert freezing_hours(entry, np.full(10, 0.05), cold) == 10.0
    assert freezing_hours(entry, np.full(10, 1.0), cold) == 0.0


def test_a_flooded_year_without_a_panel_worth_the_name_is_warned_of_freezing() -> None:
    """Left empty, by low thresholds and a panel full of dirt, it freezes in January; kept full it does not."""
    poor = year_of(
        battery__chemistry="flooded",
        battery__initial_soc=0.05,
        panel__soiling=0.9,
        controller__load_disconnect_v=10.5,
        controller__load_reconnect_v=12.0,
    )
    assert poor.measures.battery.freezing_hours > 0.0
    assert "lead-acid-freezing" in {finding.id for finding in poor.findings}
    rich = year_of(battery__chemistry="flooded", panel__count=6, pump__power_w=5)
    assert rich.measures.battery.freezing_hours == 0.0
    assert "lead-acid-freezing" not in {finding.id for finding in rich.findings}


def test_a_box_in_the_sun_is_warmer_and_lags() -> None:
    """The sunny box is never colder than the shaded one by day's mean; a step is closed by 1 − 1/e after its lag."""
    shaded, sunny = year_of().sky["cell_c"], year_of(battery__box="sunny").sky["cell_c"]
    assert sunny.reshape(-1, 24).mean() > shaded.reshape(-1, 24).mean() + 1.0
    step = lagged(np.concatenate([np.zeros(100), np.ones(100)]), 5.0)
    assert step[104] == pytest.approx(1.0 - np.exp(-4.5 / 5.0), abs=1e-6)  # derived: four and a half hours later


@pytest.mark.parametrize("chemistry", ["lfp", "agm", "gel", "flooded"])
@pytest.mark.parametrize("kind", ["pwm", "mppt"])
def test_the_books_balance_for_every_chemistry_and_controller(chemistry: str, kind: str) -> None:
    """The year's balance error is below a millionth of the throughput."""
    energy = year_of(battery__chemistry=chemistry, controller__kind=kind).measures.energy
    assert abs(energy.balance_error) <= 1e-6 * energy.panel


def test_a_24_volt_system_is_two_12_volt_ones() -> None:
    """Twice the panels, the pump and the volts give the same hours and starts, when the cables scale too."""
    single = year_of(battery__chemistry="agm")
    cables = {
        f"{run}__cable": {"length_m": 2.0 * length} for run, length in (("panel", 8), ("battery", 1), ("pump", 6))
    }
    cables["battery__cable"]["extra_mohm"] = 6.0
    cables["panel__cable"]["area_mm2"], cables["pump__cable"]["area_mm2"] = 4, 2.5
    double = _double(cables)
    assert double.measures.pump_hours == pytest.approx(single.measures.pump_hours, rel=2e-3)
    assert double.measures.starts == pytest.approx(single.measures.starts, abs=2)


def _double(cables: dict[str, dict[str, float]]) -> YearResult:
    data = overridden(
        read_toml(COURTYARD),
        {
            "battery.chemistry": "agm",
            "battery.nominal_v": 24,
            "panel.count": 2,
            "panel.series": 2,
            "pump.power_w": 24,
            "controller.own_current_a": 0.010,
            "controller.series_drop_v": 0.4,
        }
        | {key.replace("__", "."): value for key, value in cables.items()},
    )
    return simulate_year(parse(data, COURTYARD))
