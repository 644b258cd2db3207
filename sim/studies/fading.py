"""Several years with a battery that fades: the same weather, less capacity and more resistance every year."""

from collections.abc import Iterator

from sim.figures.measures import Measures
from sim.scenario import Scenario
from sim.studies.aged import AgedYear, aged, worn_in_a_year
from sim.studies.result import YearResult
from sim.studies.year import simulate_year


def fading_years(first: YearResult, years: int) -> Iterator[AgedYear]:
    """Year after year from a first one until ``years``, each with the charge that the last one left.

    A worn-out battery is replaced by a new one, charged as in the first year.
    """
    scenario, measures = first.scenario, first.measures
    worn, soc = 0.0, measures.start.soc
    for year in range(1, years + 1):
        design = aged(scenario, worn, soc)
        measures = measures if year == 1 else simulate_year(design).measures
        at_end = worn + worn_in_a_year(measures.battery.stress)
        yield _year(year, (worn, at_end), design, measures)
        worn, soc = (at_end, measures.end_soc) if at_end < 1.0 else (0.0, first.measures.start.soc)


def _year(year: int, worn: tuple[float, float], design: Scenario, measures: Measures) -> AgedYear:
    return AgedYear(
        year,
        *worn,
        capacity_ah=design.battery.capacity_ah,
        pump_hours=measures.pump_hours,
        hours_met_share=measures.hours_met_share,
        longest_stop_h=measures.longest_stop_h,
        daylight_share=measures.daylight_share,
        battery_loss_wh=measures.energy.battery_loss,
    )
