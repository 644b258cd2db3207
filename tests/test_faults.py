"""Faults and repairs by chance, the ledger with one cause for each stop, availability against its closed form."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from sim.figures.availability import availability_of
from sim.figures.causes import CAUSES
from sim.plant.faults import outages
from sim.scenario import Scenario
from sim.scenario.care import Fault
from sim.studies.fault_seeds import faults_over_seeds, with_seed
from sim.studies.ledger import Entry, ledger_of
from sim.studies.result import YearResult
from sim.studies.year import simulate_year

AMPLE = {"weather.sample": "subtropic", "panel.count": 4, "battery.capacity_ah": 300, "panel.shade": []}
KINDS = ("pump-clog", "blown-fuse", "tripped-protection")


def entries_of(year: YearResult) -> tuple[Entry, ...]:
    """The ledger of a simulated year."""
    return ledger_of(year.measures.stops, year.weather.index, year.scenario.care)


def faulty(kind: str = "blown-fuse", days: float = 20.0, repair_h: float = 48.0) -> dict[str, Any]:
    """What a scenario with one kind of fault changes."""
    return {"care.fault": [{"kind": kind, "mean_days_between": days, "repair_h": repair_h}]}


def low(off_v: float, on_v: float, **others: Any) -> dict[str, Any]:
    """Other load voltages, and keys with __ for a dot."""
    keys = {key.replace("__", "."): value for key, value in others.items()}
    return {"controller.load_disconnect_v": off_v, "controller.load_reconnect_v": on_v} | keys


# What brings each cause about; the courtyard itself has nights, dull spells and frost.
PLACES = {
    "as it is": {},
    "clock": {"controller.load_mode": "clock", "controller.load_windows": [["09:00", "17:00"]]},
    "walls": {"panel.shade": [
        {"from_azimuth_deg": 90, "to_azimuth_deg": 270, "below_elevation_deg": 50, "transmittance": 0.1}]},
    "snow": {"care.snow": [["01-05", "02-25"]], "care.soiling_per_month": 0.2},
    "long lead": low(12.6, 13.2, battery__resistance_mohm=400),
    "start": low(12.2, 12.6, pump__start_v=13.0),
    "small switch": {"pump.supply": "direct", "controller.max_load_a": 1.1, "panel.count": 2,
                     "care.shut_down": "01-10", "care.start_up": "12-20"},
    "winter": {"care.shut_down": "11-15", "care.start_up": "03-15"},
    "cuts the load": {"controller.on_refusal": "cuts-load"},
    "faults": faulty() | AMPLE,
}  # fmt: skip


@pytest.fixture(scope="module")
def years(design: Callable[..., Scenario]) -> dict[str, YearResult]:
    """A simulated year of each place."""
    return {name: simulate_year(design(changes)) for name, changes in PLACES.items()}


@pytest.fixture(scope="module")
def ledgers(years: dict[str, YearResult]) -> dict[str, tuple[Entry, ...]]:
    """The ledger of each."""
    return {name: entries_of(year) for name, year in years.items()}


def test_the_ledger_adds_up_to_the_year(years: dict[str, YearResult], ledgers: dict[str, tuple[Entry, ...]]) -> None:
    """Hours of running and of all stops are the hours of the year, and each stop has one cause of those there are."""
    for name, year in years.items():
        entries = ledgers[name]
        hours = len(year.weather.index)
        assert year.measures.pump_hours + sum(entry.hours for entry in entries) == pytest.approx(hours, abs=1e-6)
        assert {entry.cause for entry in entries} <= set(CAUSES)
        assert sum(year.measures.stops_by_cause.values()) == pytest.approx(hours - year.measures.pump_hours, abs=1e-6)


def test_every_cause_is_met(ledgers: dict[str, tuple[Entry, ...]]) -> None:
    """Each cause that the ledger knows is brought about by one of the places."""
    met = {entry.cause for entries in ledgers.values() for entry in entries}
    assert met == set(CAUSES)


def test_a_stop_names_charge_and_voltage_at_both_ends(
    years: dict[str, YearResult], ledgers: dict[str, tuple[Entry, ...]]
) -> None:
    """Low-voltage stops begin at or below the disconnect voltage, and the fault behind a fault is named."""
    stops = ledgers["as it is"]
    off_v = years["as it is"].scenario.controller.load_disconnect_v
    began = [entry for entry in stops if entry.cause in ("night", "dull spell") and entry.from_h > 0.0]
    assert began and all(entry.voltage_at_stop <= off_v + 1e-6 for entry in began)
    named = {entry.detail for entry in ledgers["faults"] if entry.cause == "fault"}
    assert named == {"blown fuse"}


def test_availability_is_that_of_the_closed_form(
    design: Callable[..., Scenario], sky_for: Callable[[Scenario], np.ndarray]
) -> None:
    """Over 200 seeds within three standard errors of MTBF/(MTBF + MTTR), less what the sound start of a year adds.

    Source: renewal theory; a system that begins sound is up for (1 − A)·τ longer, τ = MTBF·MTTR/(MTBF + MTTR).
    """
    scenario = design(faulty() | AMPLE)
    found = faults_over_seeds(scenario, sky_for(scenario), range(200))[:, 1]
    mtbf_h, mttr_h = 20.0 * 24.0, 48.0
    expected = mtbf_h / (mtbf_h + mttr_h)
    expected += (1.0 - expected) * mtbf_h * mttr_h / (mtbf_h + mttr_h) / 8760.0
    error = found.std(ddof=1) / np.sqrt(len(found))
    assert 0.0005 < error < 0.005
    assert found.mean() == pytest.approx(expected, abs=3.0 * error)


def test_downtime_is_split_into_energy_and_faults(years: dict[str, YearResult]) -> None:
    """With ample energy all downtime is faults, without faults it is energy; schedule and season do not count."""
    broken, dull, timed = (years[name].measures for name in ("faults", "as it is", "clock"))
    of = [availability_of(year.stops_by_cause, year.pump_hours) for year in (broken, dull, timed)]
    assert of[0].energy > 0.999 and of[0].faults < 0.97 and of[0].total == pytest.approx(of[0].faults, abs=1e-3)
    assert of[1].faults == 1.0 and of[1].total == of[1].energy < 0.95
    assert of[2].demanded_h < 8760.0 - 5000.0


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_fault_stops_the_pump(kind: str, design: Callable[..., Scenario]) -> None:
    """For as long as the drawn outages last, and for no other time, where there is energy for all hours."""
    scenario = design(faulty(kind) | AMPLE)
    year = simulate_year(scenario)
    drawn = outages(scenario.care.fault[0], f"{scenario.care.fault_seed} 0", 8760 * 3600.0)
    expected_h = sum(min(one.to_s, 8760 * 3600.0) - one.from_s for one in drawn) / 3600.0
    assert year.measures.stops_by_cause["fault"] == pytest.approx(expected_h, abs=0.5) and expected_h > 100.0


def test_a_seed_is_a_history(design: Callable[..., Scenario]) -> None:
    """The same seed gives the same year, another seed another one."""
    scenario = design(faulty() | AMPLE)
    first, again, other = (simulate_year(with_seed(scenario, seed)).measures.pump_hours for seed in (1, 1, 2))
    assert first == again != other


def test_outages_have_their_means() -> None:
    """Times between faults and of repairs are exponential about the means that the scenario names, within 3 σ."""
    drawn = outages(Fault(kind="pump-clog", mean_days_between=10.0, repair_h=12.0), "7", 2000 * 10 * 86400.0)
    up_s = np.diff([0.0, *(one.from_s for one in drawn)]) - [0.0, *(one.to_s - one.from_s for one in drawn[:-1])]
    repair_s = np.array([one.to_s - one.from_s for one in drawn])
    for times, mean_s in ((up_s, 10.0 * 86400.0), (repair_s, 12.0 * 3600.0)):
        assert times.mean() == pytest.approx(mean_s, rel=3.0 / np.sqrt(len(times)))
        assert times.std() == pytest.approx(mean_s, rel=0.1)
