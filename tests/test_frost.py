"""A year in a frosty place, by chemistry: refused charge, capacity in the cold, freezing acid."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from kit.courtyard import usable_share, year_of
from published import check

from sim.catalogue.cells import cell
from sim.figures.measures import freezing_hours
from sim.plant.sky import lagged
from sim.scenario import overridden, parse, read_toml
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

COURTYARD = Path(__file__).parent.parent / "scenarios" / "courtyard.toml"  # 36° N, down to −16.7 °C


def test_lithium_refuses_charge_in_frost_and_only_then() -> None:
    """Refused hours are hours of light with a cell below 0 °C: REF202, telecom battery manual."""
    result = year_of()
    refused_h = result.log.per_interval("refused_s") / 3600.0
    assert result.measures.battery.charge_refused_hours > 50.0
    assert np.all(refused_h[result.sky["cell_c"] >= 0.0] == 0.0)
    frosty_light = (result.sky["cell_c"] < 0.0) & (result.sky["lit"] == 1)
    assert refused_h.sum() <= frosty_light.sum()


def test_agm_in_the_same_frost_takes_charge_and_holds_less() -> None:
    """No refused hour; at the 20 h rate the sheet's 86 % of the warm capacity at 0 °C (REF237)."""
    result = year_of(battery__chemistry="agm")
    assert result.measures.battery.charge_refused_hours == 0.0
    check("REF237", usable_share("agm", 5.2, 0.0) / usable_share("agm", 5.2, 25.0))


def test_the_three_hour_rate_of_agm_comes_out_of_the_same_resistance() -> None:
    """25.4 A take 76.2 Ah from the 100 Ah block (REF240, within 5 %, since R0 and R1 take their share too)."""
    assert usable_share("agm", 25.4, 25.0) * 100.0 == pytest.approx(76.2, rel=0.1)


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
