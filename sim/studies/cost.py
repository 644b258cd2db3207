"""What a year costs: what wears out spread over its life, cleaning, water; and an hour of the pump, beside mains."""

from dataclasses import dataclass
from typing import Any, NamedTuple

from sim.figures.measures import Measures
from sim.scenario import Scenario
from sim.scenario.choice import Cost


def life_years(measures: Measures) -> float:
    """The middle of the battery's expected life."""
    low, high = measures.battery.stress.life_years
    return 0.5 * (low + high)


def mains_value(prices: Cost, measures: Measures) -> float | None:
    """What the pump's energy of a year would cost from mains; None where the user names no price."""
    return None if prices.mains_per_kwh is None else prices.mains_per_kwh * measures.energy.pump / 1000.0


class Kept(NamedTuple):
    """What a design costs every year: a new battery and a new pump in their time, cleaning, water; None: no price."""

    battery: float | None
    pump: float | None
    cleaning: float | None
    water: float | None

    @property
    def total(self) -> float:
        """All that is known."""
        return sum(part for part in self if part is not None)


def kept_up(prices: Cost, scenario: Scenario, measures: Measures) -> Kept:
    """What a design costs every year at these prices."""
    topped_l = float(measures.pond.top_up_l_by_month.sum()) if measures.pond else None
    water = prices.water_per_m3 if topped_l is not None else None
    return Kept(
        battery=times(prices.battery_per_ah, scenario.battery.capacity_ah / life_years(measures)),
        pump=times(prices.pump, 1.0 / prices.pump_years),
        cleaning=times(prices.cleaning_per_visit, len(scenario.care.panel_cleaning)),
        water=times(water, (topped_l or 0.0) / 1000.0),
    )


def times(price: float | None, amount: float) -> float | None:
    """A price for an amount; unknown if the price is.

    >>> times(0.5, 100.0), times(None, 100.0)
    (50.0, None)
    """
    return None if price is None else price * amount


@dataclass(frozen=True)
class YearCost:
    """Money a year; each None where its price is not named. ``mains`` is the pump's energy of the year from mains."""

    kept: Kept
    system: float | None
    mains: float | None
    pump_hours: float

    @property
    def parts(self) -> dict[str, float | None]:
        """What it is made of."""
        return self.kept._asdict() | {"system": self.system}

    @property
    def known(self) -> bool:
        """Whether any price is."""
        return any(it is not None for it in self.parts.values())

    @property
    def a_year(self) -> float:
        """All that is known, the system spread over its years."""
        return self.kept.total + (self.system or 0.0)

    @property
    def per_pump_hour(self) -> float | None:
        """The same for each hour that the pump runs."""
        return self.a_year / self.pump_hours if self.known and self.pump_hours else None

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        parts = self.parts | {"mains": self.mains}
        return {"a_year": self.a_year if self.known else None, "per_pump_hour": self.per_pump_hour, "parts": parts}


def cost_of(scenario: Scenario, measures: Measures) -> YearCost:
    """The cost of a simulated year at the scenario's prices."""
    prices = scenario.cost
    return YearCost(
        kept=kept_up(prices, scenario, measures),
        system=None if prices.system is None else prices.system / prices.years,
        mains=mains_value(prices, measures),
        pump_hours=measures.pump_hours,
    )
