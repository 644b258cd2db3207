"""Several years with a battery that fades: the same weather, less capacity and more resistance every year."""

from __future__ import annotations

from collections.abc import Iterator

from sim.studies.aged import AgedYear, aged, worn_in_a_year
from sim.studies.result import YearResult
from sim.studies.year import simulate_year


def fading_years(first: YearResult, years: int) -> Iterator[AgedYear]:
    """Year after year from a first one until ``years``, each with the charge that the last one left.

    A worn-out battery is replaced by a new one, charged as in the first year.
    """
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
