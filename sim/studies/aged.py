"""A battery that has used up a share of its life."""

from dataclasses import dataclass

from sim.figures.stress import Stress
from sim.plant.lanes import resistance_mohm
from sim.scenario import Scenario

END_OF_LIFE = 0.8  # of the capacity; the usual definition in data sheets
RESISTANCE_AT_END = 2.0  # times the new battery's; common practice, no source
MORE_H, MORE_SHARE = 1.0, 0.001  # hours and share of wanted hours met that a worn battery may serve more unremarked


@dataclass(frozen=True)
class AgedYear:
    """One year of a fading battery: the share of its life used up when the year begins and when it ends.

    A battery that does not last the year ends above 1; the year is simulated as if it had lasted.
    """

    year: int
    worn: float
    worn_at_end: float
    capacity_ah: float
    pump_hours: float
    hours_met_share: float
    longest_stop_h: float
    daylight_share: float
    battery_loss_wh: float


def worn_in_a_year(stress: Stress) -> float:
    """The share of the battery's life that a year uses up: one over the middle of its range of life."""
    low, high = stress.life_years
    return 2.0 / (low + high)


def aged(scenario: Scenario, worn: float, soc: float) -> Scenario:
    """The scenario with a battery that has used up a share of its life, at a charge.

    Capacity falls in a straight line to 80 % and resistance rises to twice as much at the end of life.
    """
    battery = scenario.battery
    capacity_ah = battery.capacity_ah * (1.0 - (1.0 - END_OF_LIFE) * worn)
    mohm = resistance_mohm(battery) * (1.0 + (RESISTANCE_AT_END - 1.0) * worn)
    return scenario.but(battery={"capacity_ah": capacity_ah, "resistance_mohm": mohm, "initial_soc": soc})


def replacement_year(years: tuple[AgedYear, ...]) -> int | None:
    """The first year that begins with a new battery again, or None."""
    return next((year.year + 1 for year in years[:-1] if year.worn_at_end >= 1.0), None)


def in_words(years: tuple[AgedYear, ...]) -> tuple[str, ...]:
    """How long the battery lasts, and why a worn one serves more hours than a new one where it does."""
    return (_lasting(years), *_better(years))


def _lasting(years: tuple[AgedYear, ...]) -> str:
    new = replacement_year(years)
    if new == years[0].year + 1:
        return "The battery does not last its first year, so every year here begins with a new one."
    return f"A new battery at the beginning of year {new}." if new else "The battery lasts through all of them."


def _better(years: tuple[AgedYear, ...]) -> tuple[str, ...]:
    """The reason, measured, for the worn year that gains most against the first."""
    first = years[0]
    gaining = [year for year in years if year.worn > 0.0 and _serves_more(year, first)]
    if not gaining:
        return ()
    best = max(gaining, key=lambda year: (year.hours_met_share, year.pump_hours))
    return (
        f"In year {best.year} the worn battery serves {best.pump_hours:.0f} h against {first.pump_hours:.0f} h, "
        f"{best.hours_met_share:.1%} of the wanted hours against {first.hours_met_share:.1%}. {_why(best, first)} That "
        "an old battery also takes up charge less well is not simulated: do not count on the gain.",
    )


def _serves_more(year: AgedYear, first: AgedYear) -> bool:
    return year.pump_hours > first.pump_hours + MORE_H or year.hours_met_share > first.hours_met_share + MORE_SHARE


def _why(best: AgedYear, first: AgedYear) -> str:
    """What the smaller battery with more resistance does otherwise; a gain without it has no known cause."""
    if best.daylight_share <= first.daylight_share:
        return "The cause is not known."
    return (
        "It stops the pump sooner in the dark and is lifted to the reconnect voltage sooner in the light: "
        f"{best.daylight_share:.0%} of the pump's hours are in daylight against {first.daylight_share:.0%}, more of "
        f"them straight from the panel, and {best.battery_loss_wh / 1e3:.1f} kWh are lost in the battery against "
        f"{first.battery_loss_wh / 1e3:.1f} kWh."
    )
