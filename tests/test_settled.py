"""A year that begins as it ends: the same from any first guess, and the year that its own beginning brings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from conftest import SCENARIOS

from sim.calendar import HOUR_S
from sim.figures.causes import longest_stretch
from sim.figures.lanes import longest_stop_h, shortest_run_h
from sim.plant import lanes as lanes_module
from sim.plant import settle
from sim.plant.faults import outages_of
from sim.plant.log import Log
from sim.plant.people import dirt
from sim.plant.run import HOURLY, How, run
from sim.scenario import Scenario
from sim.studies.ledger import totals_of
from sim.studies.winter import hours_with_battery
from sim.studies.year import simulate_year

PERGOLA = next(path for path in SCENARIOS if path.stem == "pergola")
EVENTS = replace(HOURLY, events=20_000)


def year_of(scenario: Scenario, sky: np.ndarray, how: How = EVENTS) -> Log:
    """The log of one lane."""
    ((log, _),) = run([scenario], sky[np.newaxis], how=how)
    return log


@pytest.mark.parametrize("chemistry", ["lfp", "agm", "gel", "flooded"])
def test_any_first_guess_settles_to_the_same_year(
    design: Callable[..., Scenario],
    sky_for: Callable[[Scenario], np.ndarray],
    monkeypatch: pytest.MonkeyPatch,
    chemistry: str,
) -> None:
    """From 5 % and from 100 %, hours agree to 0.01 h, charges to 0.001, and the year ends as it began."""
    scenario = design({"battery.chemistry": chemistry}, PERGOLA)
    sky, found = sky_for(scenario), []
    for guess in (0.05, 1.0):
        monkeypatch.setattr(lanes_module, "FIRST_GUESS_SOC", guess)
        log = year_of(scenario, sky)
        assert log.settled.all()
        assert log.totals["soc"][-1, 0] == pytest.approx(log.totals["soc"][0, 0], abs=1e-3)
        found.append(log.totals[:, 0])
    low, high = found
    assert low["run_s"][-1] == pytest.approx(high["run_s"][-1], abs=36.0)
    assert low["starts"][-1] == pytest.approx(high["starts"][-1], abs=1.0)  # of thousands in frost, seconds decide
    np.testing.assert_allclose(low["soc"], high["soc"], atol=1e-3)
    assert abs(low["soc"][0] - 0.8) > 0.05  # what a year would have been lent


SUMMER_FAULT = {"kind": "blown-fuse", "mean_days_between": 40.0, "repair_h": 200.0}
KEPT = {
    "care.soiling_per_month": 0.05,
    "care.panel_cleaning": ["04-01"],
    "care.fault": [SUMMER_FAULT],
    "care.fault_seed": 2,
}


@pytest.mark.parametrize("more", [{}, KEPT, {"controller.load_mode": "after-dusk", "controller.hours_after_dusk": 5.0}])
def test_the_spliced_year_is_the_one_that_its_beginning_brings(
    design: Callable[..., Scenario],
    sky_for: Callable[[Scenario], np.ndarray],
    monkeypatch: pytest.MonkeyPatch,
    more: dict[str, object],
) -> None:
    """Run whole from its own first moment, every total and every start and stop is the same; so it is where midsummer,
    from which the year is run first, finds a dirty panel, a fault that is being mended, or a timer. Both runs meet
    within a month of it (measured).
    """
    spliced, met = settle._spliced, []
    monkeypatch.setattr(settle, "_spliced", lambda *several: (met.append(several[-1]), spliced(*several))[1])
    scenario = design({"battery.chemistry": "agm"} | more)
    midsummer_s = 181 * 24 * HOUR_S
    outages = [one for kind in outages_of(scenario.care, 365 * 24 * HOUR_S) for one in kind]
    assert more is not KEPT or any(one.from_s < midsummer_s < one.to_s for one in outages)
    sky = sky_for(scenario)
    log = year_of(scenario, sky)
    assert 181 < met[0] < 212
    begins = replace(EVENTS, between_s=(0.0, len(sky) * HOUR_S), tune=lambda lanes, _: np.copyto(lanes, log.begins))
    whole = year_of(scenario, sky, begins)
    for name in log.totals.dtype.names or ():
        found, same = (np.nan_to_num(one.totals[name][:, 0]) for one in (log, whole))
        np.testing.assert_allclose(found, same, rtol=2e-4, atol=0.05, err_msg=name)
    one, other = log.events_of(), whole.events_of()
    assert len(one) == len(other) == log.lanes["state"]["events"][0]
    np.testing.assert_array_equal(one["cause"], other["cause"])
    np.testing.assert_allclose(one["at_s"], other["at_s"], atol=5.0)


def test_a_charge_that_is_written_is_kept(design: Callable[..., Scenario]) -> None:
    """The year then begins with it, ends with another, and says that it has not settled."""
    found = simulate_year(design({"battery.initial_soc": 0.8})).as_json()
    assert found["start"] == {"soc": 0.8, "settled": False} and abs(found["end_soc"] - 0.8) > 0.1
    free = simulate_year(design({})).as_json()
    assert free["start"]["settled"] and free["end_soc"] == pytest.approx(free["start"]["soc"], abs=1e-3)
    assert free["pump_hours"] < found["pump_hours"]
    assert abs(free["energy_wh"]["balance_error"]) < 1e-3 * free["energy_wh"]["panel"]


def test_lanes_settle_together_as_alone(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Each stands still once it has met its first run, beside one whose charge is written and that runs once."""
    several = [design({"pump.power_w": watts}) for watts in (8, 20, 45)] + [design({"battery.initial_soc": 0.3})]
    sky = sky_for(several[0])
    lanes = run(several, sky[np.newaxis])
    log = lanes[0][0]
    assert log.settled.tolist() == [True, True, True, False]
    for lane, scenario in enumerate(several):
        alone = year_of(scenario, sky, HOURLY)
        for name in ("run_s", "soc", "starts"):
            np.testing.assert_allclose(log.totals[name][:, lane], alone.totals[name][:, 0], rtol=1e-6, atol=1e-4)


def test_a_bigger_battery_brings_no_light(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Four times the battery, begun at the same 80 %, was lent hours that no sun gave; settled it has its own start."""
    scenario, lent = design({"pump.power_w": 45}), design({"pump.power_w": 45, "battery.initial_soc": 0.8})
    sky = sky_for(scenario)
    more, more_lent = hours_with_battery(scenario, sky, 4.0), hours_with_battery(lent, sky, 4.0)
    assert more < more_lent - 20.0


def test_a_stop_across_new_year_is_one(design: Callable[..., Scenario]) -> None:
    """Shut down from 20 November to 10 February it stands 82 days on end (derived), not 41 and then again 41."""
    winter = {"care.shut_down": "11-20", "care.start_up": "02-10", "pump.power_w": 8}
    found = simulate_year(design(winter)).measures
    assert found.start.settled and found.longest_stop_h == pytest.approx(82 * 24.0, abs=24.0)
    begun, ended = longest_stretch(found.stops) or (0.0, 0.0)
    assert ended - begun == pytest.approx(found.longest_stop_h, abs=1e-6) and begun == 323 * 24.0
    seasonal = next(total for total in totals_of(found.stops) if total["cause"] == "seasonal")
    assert (seasonal["stops"], seasonal["longest_h"]) == (1, 82 * 24.0)
    lent = simulate_year(design(winter | {"battery.initial_soc": 0.8})).measures
    assert not lent.start.settled and lent.longest_stop_h == pytest.approx(42 * 24.0, abs=24.0)


def test_a_map_knows_the_same_longest_stop(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Read daily, without a list of stops, the lane says what the year says."""
    scenario = design({"care.shut_down": "11-20", "care.start_up": "02-10", "pump.power_w": 8})
    ((log, lane),) = run([scenario], sky_for(scenario)[np.newaxis])
    assert longest_stop_h(log)[lane] == simulate_year(scenario).measures.longest_stop_h


def test_a_run_across_new_year_is_one(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Without season or night stop a pump on a timer from 20:00 to 04:00 has no run of four hours."""
    timer = {"controller.load_mode": "clock", "controller.load_windows": [["20:00", "04:00"]]}
    scenario = design(timer | {"pump.power_w": 5, "battery.capacity_ah": 300, "panel.count": 4})
    ((log, lane),) = run([scenario], sky_for(scenario)[np.newaxis])
    assert shortest_run_h(log)[lane] == pytest.approx(8.0, abs=1e-6)


def test_dirt_is_a_ring() -> None:
    """The year begins as dirty as the days since the last cleaning of the year before have left it."""
    shares = [share for _, share in dirt(0.1, ["11-01"], 2001, 365)]
    assert shares[0] == pytest.approx(shares[-1] * 0.9 ** (12.0 / 365.0), rel=1e-9)
    assert shares[304] == 1.0 and min(shares) == shares[303]


def test_a_part_of_the_year_begins_when_it_does(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """From a day in May with 80 %, the first hour is one hour, and not all the hours since New Year."""
    scenario = design({})

    def charged(lanes: np.ndarray, _: np.ndarray) -> None:
        lanes["state"]["soc"] = lanes["totals"]["soc"] = 0.8

    may = replace(HOURLY, tune=charged, between_s=(150 * 24 * HOUR_S, 151 * 24 * HOUR_S))
    log = year_of(scenario, sky_for(scenario), may)
    assert log.totals["run_s"][1, 0] <= HOUR_S and log.totals["soc"][1, 0] == pytest.approx(0.8, abs=0.03)
