"""sunrill: one year of a small off-grid solar system that runs a garden pond's pump, hour by hour.

From Python: ``load`` a scenario, then ``simulate`` its year or ask one of the studies. Results are frozen and hold what
the reports are made of; ``as_json()`` gives their figures under the published names. What costs is imported when it is
first needed, so a loop pays for it once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from sim.scenario import Scenario
    from sim.studies.compare import CompareResult
    from sim.studies.pairs import PairsResult
    from sim.studies.reading import Reading
    from sim.studies.result import YearResult
    from sim.studies.size import SizeResult
    from sim.studies.spread import SpreadResult

__all__ = ["compare", "load", "pairs", "reading", "simulate", "size", "spread"]


def load(path: Path | str, changes: Mapping[str, Any] | None = None) -> Scenario:
    """The scenario in a file, with values set by their dotted keys. Raises sim.errors.InputError for what is wrong.

    >>> load("scenarios/courtyard.toml", {"panel.tilt_deg": 45.0}).panel.tilt_deg
    45.0
    """
    from pathlib import Path

    from sim.scenario import overridden, parse, read_toml

    file = Path(path)
    return parse(overridden(read_toml(file), changes or {}), file)


def simulate(scenario: Scenario) -> YearResult:
    """One year of a scenario: ``measures``, ``findings``, and ``hourly()``, a table with units in its column names."""
    from sim.studies.year import simulate_year

    return simulate_year(scenario)


def pairs(
    scenario: Scenario,
    step_v: float | None = None,
    disconnect_v: tuple[float, float] | None = None,
    reconnect_v: tuple[float, float] | None = None,
    years: int = 0,
    scheduler: str | None = None,
) -> PairsResult:
    """Every pair of load voltages through the year, in V; ranges and step are the chemistry's where left out.

    The best of them go through so many synthetic ``years`` too. A Dask ``scheduler`` has the work done by its workers.
    """
    from sim.cluster import handed_to
    from sim.studies.pairs import study_pairs

    with handed_to(scheduler):
        return study_pairs(scenario, step_v, disconnect_v, reconnect_v, years=years)


def compare(path: Path | str, designs: Mapping[str, Mapping[str, Any]] | None = None) -> CompareResult:
    """The scenario in a file beside its alternatives and further ``designs``, each a name and values by their keys."""
    from pathlib import Path

    from sim.studies.compare import study_compare
    from sim.studies.designs import designs_in

    first, *others = designs_in(Path(path))
    return study_compare([first, *others, *(first.changed(name, set_to) for name, set_to in (designs or {}).items())])


def spread(scenario: Scenario, years: int = 200, seed: int | None = None, scheduler: str | None = None) -> SpreadResult:
    """The design through many synthetic years, of which ``poor_year`` is a result as ``simulate`` gives it.

    A Dask ``scheduler`` (``tcp://host:8786``, or ``local:2`` for two processes) has the years run by its workers.
    """
    from sim.cluster import handed_to
    from sim.studies.spread import study_spread

    with handed_to(scheduler):
        return study_spread(scenario, years, seed)


def size(
    path: Path | str,
    changes: Mapping[str, Any] | None = None,
    met: float = 0.95,
    of_years: float = 0.9,
    years: int = 50,
    seed: int | None = None,
    *,
    scheduler: str | None = None,
) -> SizeResult:
    """The cheapest design that meets a share of the wanted hours in a share of so many synthetic years.

    It starts from the scenario in a file, with values set by their dotted keys; its ``[size]`` says what may vary. A
    Dask ``scheduler`` has the years run by its workers.
    """
    from pathlib import Path

    from sim.cluster import handed_to
    from sim.studies.designs import designs_in
    from sim.studies.size import study_size

    first, *_ = designs_in(Path(path))
    with handed_to(scheduler):
        return study_size(first.changed(first.name, changes or {}), (met, of_years), years, seed)


def reading(
    scenario: Scenario,
    volts: float,
    pump_on: bool = False,
    amps: float | None = None,
    battery_c: float | None = None,
) -> Reading:
    """What a voltage read on site can mean, with the pump's current in A and the battery's temperature if known."""
    from sim.studies.reading import Seen, read_voltage

    return read_voltage(scenario, Seen(volts, pump_on, amps, battery_c=battery_c))
