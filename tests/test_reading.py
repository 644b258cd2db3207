"""What a voltage read on site means: the band holds the truth, and a sag tells leads from battery."""

from __future__ import annotations

import json
import math
from functools import cache

import numpy as np
import pytest
from conftest import COURTYARD, changed

from sim import cli
from sim.catalogue.cells import cell
from sim.light.sunlight import under_lamp
from sim.plant.engine import circuit_at
from sim.plant.lanes import lanes_from
from sim.plant.sky import sky_with
from sim.scenario import Scenario
from sim.studies.reading import Reading, Seen, charge_band, read_voltage
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

PLAIN = changed({"pump.power_w": 60})  # some 5 A


def read(
    scenario: Scenario, volts: float, pump_on: bool = False, amps: float | None = None, **others: float
) -> Reading:
    """What a voltage means, with whatever else was read."""
    return read_voltage(scenario, Seen(volts, pump_on, amps, **others))


def steady_hours(year: YearResult, running: bool, from_c: float = 4.0, to_c: float = 25.0) -> np.ndarray:
    """Dark hours at the end of which the pump has run, or stood, for two hours, by the battery's temperature.

    Up to 4 °C frost may have locked a lithium battery, which then reads a diode lower.
    """
    run_h, cell_c = year.measures.run_h, year.sky["cell_c"]
    same = run_h > 0.9999 if running else run_h == 0.0
    dark = year.sky["lit"] == 0
    held = same & dark & np.roll(same & dark, 1) & (cell_c >= from_c) & (cell_c < to_c)
    open_circuit = year.log.per_interval("bus_v") < 8.0  # the protection circuit has switched the battery off
    return np.flatnonzero(held & ~open_circuit)


@cache
def small_year(chemistry: str) -> YearResult:
    """The courtyard's year with a small battery of a chemistry."""
    return simulate_year(changed({"battery.chemistry": chemistry, "battery.capacity_ah": 60}))


@pytest.mark.parametrize("running", [True, False])
@pytest.mark.parametrize("chemistry", ["lfp", "agm"])
def test_the_band_holds_the_charge_of_a_simulated_year(chemistry: str, running: bool) -> None:
    """At some 25 dark hours of a year the voltage's band contains the charge that the battery really had."""
    year = small_year(chemistry)
    hours = steady_hours(year, running)
    assert len(hours) > 50
    for hour in hours[:: max(len(hours) // 25, 1)]:
        volts, soc = year.log.per_interval("bus_v")[hour], year.log.per_interval("soc")[hour]
        found = read(year.scenario, float(volts), pump_on=running)
        assert found.soc_low <= soc <= found.soc_high
        assert found.rest_low_v < found.rest_v < found.rest_high_v


@pytest.mark.parametrize("running", [True, False])
@pytest.mark.parametrize(("from_c", "to_c", "locked"), [(-30.0, 0.0, "yes"), (0.0, 4.0, "perhaps")])
def test_in_frost_the_band_holds_the_charge_where_the_temperature_is_told(
    running: bool, from_c: float, to_c: float, locked: str
) -> None:
    """Dark hours in which frost has locked the charge, or may still: the band of what the battery reads then.

    Where nobody told the temperature, the band of a locked battery stands beside the other.
    """
    year = small_year("lfp")
    hours = steady_hours(year, running, from_c, to_c)
    assert len(hours) > 25
    for hour in hours[:: max(len(hours) // 25, 1)]:
        volts, soc = float(year.log.per_interval("bus_v")[hour]), year.log.per_interval("soc")[hour]
        told = read(year.scenario, volts, running, battery_c=float(year.sky["cell_c"][hour]))
        assert told.charge_locked == locked and told.soc_low <= soc <= told.soc_high
        blind = read(year.scenario, volts, running)
        low, high = blind.soc_if_locked or (0.0, 0.0)
        assert low <= soc <= high or (locked == "perhaps" and blind.soc_low <= soc <= blind.soc_high)


def on_a_locked_bus(turning: bool, **changes: object) -> dict[str, float]:
    """The courtyard's circuit at 40 % and -5 °C in clear sun."""
    scenario = changed(changes)
    moment = sky_with(under_lamp(scenario, np.array([900.0]), np.array([20.0])), np.array([-5.0]), scenario.battery)
    return circuit_at(lanes_from([scenario], places=[0]), moment, 0.4, turning=turning)


@pytest.mark.parametrize("turning", [True, False])
def test_a_bus_that_the_panel_carries_says_nothing_of_the_charge(turning: bool) -> None:
    """In sun and frost the bus of a battery at 40 % stands at 14.4 V, which is no full battery."""
    at, scenario = on_a_locked_bus(turning), changed({})
    assert at["bus_v"] == pytest.approx(14.4) and at["battery_a"] <= 0.0
    blind = read(scenario, at["bus_v"], turning, charging_a=at["panel_a"] + 0.02)
    assert blind.soc_low > 0.4 and any("Tell its temperature" in note for note in blind.notes)
    told = read(scenario, at["bus_v"], turning, charging_a=at["panel_a"] + 0.02, battery_c=-5.0)
    assert (told.soc_low, told.soc_high) == blind.soc_if_locked == (0.0, 1.0)
    assert told.rest_low_v < 12.0 and told.rest_high_v > 13.6
    assert any("the panel carries the bus" in note for note in told.notes)


def test_two_readings_of_which_one_is_the_panel_s_tell_of_no_loose_terminal() -> None:
    """14.4 V in sun without the pump, 12.5 V with it: a locked battery has no part in the first."""
    with_sun = {"charging_a": 3.0, "volts_off": 14.4}
    assert read(PLAIN, 12.5, True, 5.0, **with_sun).sag.warning is not None  # type: ignore[union-attr]
    assert read(PLAIN, 12.5, True, 5.0, **with_sun, battery_c=-5.0).sag is None
    sag = read(PLAIN, 12.35, True, 5.0, volts_off=12.75, battery_c=-5.0).sag
    assert sag is not None and sag.warning is None  # 0.2 V of it are the diode's, more at 5 A than at 10 mA


def test_where_no_frost_locks_nothing_is_said_of_it() -> None:
    """Lead-acid, a place that is kept warm, and a battery that was found warm."""
    for changes in ({"battery.chemistry": "agm"}, {"battery.place": "frost-free", "battery.place_min_c": 5.0}):
        found = read(changed(changes), 12.6)
        assert found.soc_if_locked is None and found.charge_locked == "no"
    warm = read(PLAIN, 12.9, battery_c=10.0)
    assert warm.soc_if_locked is None and warm.charge_locked == "no" and len(warm.notes) == 1
    assert read(PLAIN, 12.9).soc_if_locked is not None


def test_a_lock_that_opens_at_freezing_has_no_doubt_above_it() -> None:
    """A release of 0 °C is taken as it was written."""
    at_once = changed({"battery.charge_release_c": 0.0})
    assert read(at_once, 12.9, battery_c=1.0).charge_locked == "no"
    assert lanes_from([at_once], [0])["lane"]["charge_release_c"][0] == 0.0


@pytest.mark.parametrize("volts", np.arange(8.0, 16.01, 0.25))
def test_a_reading_is_never_a_single_figure(volts: float) -> None:
    """Five points at the least, whatever the voltage, with bounds from 0 to 1."""
    low, high = charge_band(PLAIN, float(volts), 0.0)
    assert low >= 0.0 and high <= 1.0 and high - low >= 0.05 - 1e-9


def test_on_the_flat_part_a_voltage_means_little() -> None:
    """13.2 V at rest leaves 30 points or more of a lithium battery open, 12.6 V of a lead-acid one far less."""
    flat = charge_band(PLAIN, 13.2, 0.0)
    steep = charge_band(changed({"battery.chemistry": "agm"}), 12.6, 0.0)
    assert flat[1] - flat[0] >= 0.3 and steep[1] - steep[0] <= 0.25


def test_surface_charge_widens_what_a_lead_acid_reading_means_downward() -> None:
    """12.6 V, 75 % by the maker's table, may be 65 % after a charge: 0.15 V of it are on the surface (derived)."""
    low, high = charge_band(changed({"battery.chemistry": "agm"}), 12.6, 0.0)
    assert low <= 0.60 and high <= 0.80
    assert charge_band(changed({"battery.chemistry": "agm"}), 12.6, 3.0)[1] <= high


def test_a_lead_acid_battery_s_surface_charge_is_no_loose_terminal() -> None:
    """0.20 V at 1 A is normal at 30 % and at 60 %; 0.60 V at half charge is not."""
    agm = changed({"battery.chemistry": "agm"})
    assert read(agm, 11.85, True, 1.0, volts_off=12.05).sag.warning is None  # type: ignore[union-attr]
    assert read(agm, 12.25, True, 1.0, volts_off=12.45).sag.warning is None  # type: ignore[union-attr]
    assert read(agm, 11.85, True, 1.0, volts_off=12.45).sag.warning is not None  # type: ignore[union-attr]


def test_two_readings_give_one_answer() -> None:
    """12.6 V on and 13.1 V off: at rest it is what was read without the pump, and the charge is that voltage's."""
    found = read(changed({}), 12.6, pump_on=True, volts_off=13.1)
    assert found.rest_v == pytest.approx(13.1, abs=0.01)
    assert (found.soc_low, found.soc_high) == charge_band(changed({}), 13.1, -0.01)
    assert found.sag is not None and found.sag.warning is not None


def test_a_worse_meter_widens_the_band() -> None:
    """A tenth of a volt either way means more charges than a twentieth."""
    worse = changed({"pump.power_w": 60, "controller.reading_error_v": 0.1})
    (low, high), (lower, higher) = charge_band(PLAIN, 13.1, 0.0), charge_band(worse, 13.1, 0.0)
    assert lower <= low and higher >= high and higher - lower > high - low


def test_the_pump_hides_charge_and_the_sun_feigns_it() -> None:
    """The same voltage means more charge under the pump and less while the battery is charged."""
    rest, pumping = read(PLAIN, 13.1), read(PLAIN, 13.1, pump_on=True)
    charging = read(PLAIN, 13.1, charging_a=10.0)
    assert charging.rest_v < rest.rest_v < pumping.rest_v
    assert charging.soc_low <= rest.soc_low <= pumping.soc_low and charging.soc_high < pumping.soc_high


def test_rest_voltage_adds_what_the_current_took() -> None:
    """13.1 V at 5 A through R0 + R1 and leads of 30.9 mΩ is 13.26 V at rest, the end of discharge aside (derived)."""
    table = cell("lfp")
    lead = 2 * 0.00495 + 0.003
    found = read(PLAIN, 13.1, pump_on=True, amps=5.0)
    expected = 13.1 + 5.01 * ((table.r0_mohm + table.r1_mohm) / 1000.0 + lead)
    assert found.rest_v == pytest.approx(expected, abs=0.01) and found.current_a == pytest.approx(-5.01)


def sag_of(extra_ohm: float, amps: float = 5.0, scenario: Scenario = PLAIN):  # type: ignore[no-untyped-def]
    """Two readings of a warm battery at 50 % whose leads have some more resistance than they should."""
    table = cell("lfp")
    ohm = (table.r0_mohm + table.r1_mohm) / 1000.0 + table.exhaustion_mohm / 1000.0 / 0.5 + 2 * 0.00495 + 0.003
    return read(scenario, 13.18 - amps * (ohm + extra_ohm), True, amps, volts_off=13.18).sag


def test_a_sound_sag_is_the_batterys() -> None:
    """Without a fault there is no warning, and the leads' true resistance lies inside what is told."""
    sag = sag_of(0.0)
    assert sag.warning is None and not sag.amps_assumed
    assert sag.leads_low_mohm <= sag.leads_normal_mohm <= sag.leads_high_mohm
    assert sag.total_mohm == pytest.approx(sag.sag_v / 5.0 * 1000.0)


@pytest.mark.parametrize("extra_ohm", [0.1, 0.2, 0.4])
def test_a_bad_terminal_is_a_warning_with_its_heat(extra_ohm: float) -> None:
    """A terminal of 0.1 Ω at 5 A is found; the true loss and its I²·R of heat lie inside what is told (derived)."""
    sag = sag_of(extra_ohm)
    true_ohm = extra_ohm + 2 * 0.00495 + 0.003
    assert "W of heat" in sag.warning and "terminal" in sag.warning
    assert sag.leads_low_mohm <= 1000.0 * true_ohm <= sag.leads_high_mohm + 1e-6
    assert sag.leads_heat_low_w <= 25.0 * true_ohm <= sag.leads_heat_high_w + 1e-6
    assert sag.battery_share_high < 1.0


def test_a_current_that_was_not_measured_is_taken_from_the_pump() -> None:
    """12 W at 13 V behind its cable is 0.93 A, and the reading says that it was worked out."""
    sag = read(changed({}), 13.0, pump_on=True, volts_off=13.1).sag
    assert sag is not None and sag.amps_assumed and sag.amps == pytest.approx(12.0 / 13.0, rel=0.02)


BAD = [
    (["--volts", "3"], "--volts = 3.0: allowed is a voltage from 8 to 16 V for a battery of 12 V"),
    (["--volts", "nan"], "--volts = nan"),
    (["--volts", "13", "--amps", "2"], "--amps = 2.0"),
    (["--volts", "13", "--pump", "on", "--amps", "0"], "--amps = 0.0"),
    (["--volts", "13", "--pump", "on", "--amps", "nan"], "--amps = nan"),
    (["--volts", "13", "--volts-off", "13.2"], "needs --pump on"),
    (["--volts", "13", "--pump", "on", "--volts-off", "12.9"], "more than --volts (13 V)"),
    (["--volts", "13", "--charging", "-1"], "--charging = -1.0"),
    (["--volts", "13", "--battery-c", "200"], "--battery-c = 200.0"),
    (["--volts", "13", "--battery-c", "nan"], "--battery-c = nan"),
]


@pytest.mark.parametrize(
    ("arguments", "said"), BAD, ids=lambda value: " ".join(value) if isinstance(value, list) else ""
)
def test_readings_that_cannot_be_end_with_2(
    capsys: pytest.CaptureFixture[str], arguments: list[str], said: str
) -> None:
    """One message and nothing else."""
    assert cli.main(["reading", str(COURTYARD), *arguments]) == 2
    shown = capsys.readouterr()
    assert said in shown.err and shown.err.count("\n") == 1 and shown.out == ""


def test_a_word_that_is_no_voltage_is_answered_with_the_usage(capsys: pytest.CaptureFixture[str]) -> None:
    """As for every command; without --volts too."""
    for arguments in (["--volts", "high"], []):
        with pytest.raises(SystemExit) as end:
            cli.main(["reading", str(COURTYARD), *arguments])
        assert end.value.code == 2 and "--volts" in capsys.readouterr().err


def test_json_is_alone_on_standard_output(capsys: pytest.CaptureFixture[str]) -> None:
    """Band, rest voltage and sag as plain data."""
    two = ["--volts", "12.6", "--pump", "on", "--amps", "2", "--volts-off", "13.1"]
    assert cli.main(["reading", str(COURTYARD), *two, "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["soc_low"] < found["soc_high"] and found["sag"]["sag_v"] == pytest.approx(0.5)
    assert found["sag"]["warning"] and math.isfinite(found["rest_v"])


def test_the_terminal_shows_a_band_and_the_warning(capsys: pytest.CaptureFixture[str]) -> None:
    """A range of charge, what made it, and the fault in words."""
    two = ["--volts", "12.6", "--pump", "on", "--amps", "2", "--volts-off", "13.1"]
    assert cli.main(["reading", str(COURTYARD), *two]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Charge between" in said and " and " in said and "warning: Leads and terminals lose" in said
