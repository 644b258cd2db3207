"""A battery that has used up a share of its life."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.plant.lanes import resistance_mohm

if TYPE_CHECKING:
    from sim.figures.stress import Stress
    from sim.scenario import Scenario

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


def replacement_year(years: tuple[AgedYear, ...]) -> int | None:
    """The first year that begins with a new battery again, or None."""
    return next(
        (later.year for earlier, later in zip(years, years[1:], strict=False) if later.worn < earlier.worn), None
    )
