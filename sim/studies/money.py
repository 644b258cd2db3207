"""What a change gains against the first design, and what it costs: hours, years of battery life, the user's money."""

from dataclasses import dataclass
from typing import Any

from sim.figures.measures import Measures
from sim.scenario.choice import Cost
from sim.studies.cost import kept_up, life_years, mains_value
from sim.studies.designs import Simulated

SMALLEST_H = 0.5  # a gain of less in a year is none


@dataclass(frozen=True)
class Gain:
    """What a design has more than the first: in the first one's worst month and in the year, h; years of life."""

    met_worst_month_h: float
    pump_worst_month_h: float
    met_h: float
    pump_h: float
    pump_h_by_month: tuple[float, ...]
    starts: int
    life_years: float


def gain(first: Measures, other: Measures) -> Gain:
    """One design against the first."""
    month = first.worst_month - 1
    met, run = (other.met_h_by_month - first.met_h_by_month, other.pump_hours_by_month - first.pump_hours_by_month)
    return Gain(
        met_worst_month_h=float(met[month]),
        pump_worst_month_h=float(run[month]),
        met_h=float(met.sum()),
        pump_h=other.pump_hours - first.pump_hours,
        pump_h_by_month=tuple(run.tolist()),
        starts=other.starts - first.starts,
        life_years=life_years(other) - life_years(first),
    )


@dataclass(frozen=True)
class Money:
    """What a change costs once and every year, the wanted hours that it gains for each unit of money a year, in the
    year and in the worst month, and the years in which it pays against mains; None where it is unknown or never.
    """

    once: float | None
    a_year: float | None
    spread_a_year: float | None
    met_hours_per_unit: float | None
    met_worst_month_hours_per_unit: float | None
    payback_years: float | None

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        return {"cost": self.once, "cost_a_year": self.a_year} | {
            name: value for name, value in vars(self).items() if name not in ("once", "a_year")
        }


def spread(once: float | None, a_year: float | None, years: float) -> float | None:
    """What a change costs a year, its price spread over the years that it should last.

    >>> spread(100.0, 5.0, 10.0), spread(None, 5.0, 10.0)
    (15.0, None)
    """
    return None if once is None or a_year is None else once / years + a_year


def payback_years(once: float, saved_a_year: float) -> float | None:
    """After how many years a price comes back; None where it never does.

    >>> payback_years(120.0, 12.0), payback_years(120.0, 0.0)
    (10.0, None)
    """
    return once / saved_a_year if saved_a_year > 0.0 else None


def money(prices: Cost, first: Simulated, other: Simulated, once: float | None, a_year: float | None) -> Money:
    """The money of one change, at the prices of the first design's scenario."""
    each, found = spread(once, a_year, prices.years), gain(first.measures, other.measures)
    worth = each and found.met_h >= SMALLEST_H
    values = [mains_value(prices, run.measures) for run in (first, other)]
    pays = None
    if once and a_year is not None and values[0] is not None and values[1] is not None:
        kept = [kept_up(prices, run.design.scenario, run.measures).total for run in (first, other)]
        more = kept[1] - kept[0] + a_year
        pays = payback_years(once, values[1] - values[0] - more)
    worst = found.met_worst_month_h / each if each and worth else None
    return Money(once, a_year, each, found.met_h / each if each and worth else None, worst, pays)


def whole_payback_years(prices: Cost, run: Simulated) -> float | None:
    """After how many years the system as it is has paid against mains, a line from the house counted for it.

    At once where it costs no more than that line; None where it never does or no prices are known.
    """
    value = mains_value(prices, run.measures)
    if value is None or prices.system is None:
        return None
    dearer = prices.system - prices.mains_connection
    kept = kept_up(prices, run.design.scenario, run.measures).total
    return 0.0 if dearer <= 0.0 else payback_years(dearer, value - kept)
