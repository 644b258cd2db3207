"""Several years with a battery that fades: the same weather, less capacity and more resistance every year."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.lanes import resistance_mohm

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.stress import Stress
    from sim.year import YearResult

END_OF_LIFE = 0.8  # of the capacity; the usual definition in data sheets
RESISTANCE_AT_END = 2.0  # times the new battery's; common practice, no source


@dataclass(frozen=True)
class AgedYear:
    """One year of a fading battery: ``worn`` is the share of its life used up when the year begins."""

    year: int
    worn: float
    capacity_ah: float
    pump_hours: float
    hours_met_share: float
    longest_stop_h: float


def worn_in_a_year(stress: Stress) -> float:
    """The share of the battery's life that a year uses up: one over the middle of its range of life.

    The faster of cycles and calendar counts, as in the range itself.
    """
    low, high = stress.life_years
    return 2.0 / (low + high)


def aged(scenario: Scenario, worn: float, soc: float) -> Scenario:
    """The scenario with a battery that has used up a share of its life, at a charge.

    Capacity falls in a straight line to 80 % and resistance rises to twice as much at the end of life.
    """
    battery = scenario.battery
    changed = battery.model_copy(
        update={
            "capacity_ah": battery.capacity_ah * (1.0 - (1.0 - END_OF_LIFE) * worn),
            "resistance_mohm": resistance_mohm(battery) * (1.0 + (RESISTANCE_AT_END - 1.0) * worn),
            "initial_soc": soc,
        }
    )
    return scenario.model_copy(update={"battery": changed})


def fading_years(first: YearResult, years: int) -> Iterator[AgedYear]:
    """Year after year from a first one until ``years``, each with the charge that the last one left.

    A worn-out battery is replaced by a new one, charged as in the first year.
    """
    from sim.year import simulate_year

    scenario, measures = first.scenario, first.measures
    worn, soc = 0.0, scenario.battery.initial_soc
    for year in range(1, years + 1):
        design = aged(scenario, worn, soc)
        measures = measures if year == 1 else simulate_year(design).measures
        yield AgedYear(
            year,
            worn,
            design.battery.capacity_ah,
            measures.pump_hours,
            measures.hours_met_share,
            measures.longest_stop_h,
        )
        worn += worn_in_a_year(measures.battery.stress)
        soc = measures.battery.final_soc
        if worn >= 1.0:
            worn, soc = 0.0, scenario.battery.initial_soc


def replacement_year(years: tuple[AgedYear, ...]) -> int | None:
    """The first year that begins with a new battery again, or None."""
    return next(
        (later.year for earlier, later in zip(years, years[1:], strict=False) if later.worn < earlier.worn), None
    )
