"""What a year costs, and an hour of the pump, where prices are known."""

from sim.report.blocks import Table, Words
from sim.report.section import Section
from sim.studies.cost import YearCost, cost_of
from sim.studies.result import YearResult

PARTS = (
    ("battery", "Battery, its price over its expected life"),
    ("pump", "Pump, its price over the years it lasts"),
    ("cleaning", "Cleaning of the panel"),
    ("water", "Water that is topped up"),
    ("system", "The whole system, its price over the years that are named"),
)


def section(result: YearResult) -> Section | None:
    """Parts, sum and price of an hour; nothing without prices."""
    found, unit = cost_of(result.scenario, result.measures), result.scenario.cost.currency
    if not found.known:
        return None
    table = Table(("A year", unit or "Money"), _rows(found))
    return Section("cost", "What a year costs", (Words(_said(found, unit)), table))


def _rows(found: YearCost) -> tuple[tuple[str, str], ...]:
    named = ((words, found.parts[name]) for name, words in PARTS)
    rows = tuple((words, f"{value:,.2f}") for words, value in named if value is not None)
    return (*rows, ("Together", f"{found.a_year:,.2f}"))


def _said(found: YearCost, unit: str) -> str:
    """The year, the hour, and mains beside them."""
    paid = f"{found.a_year:,.0f} {unit}".strip()
    hourly, mains = found.per_pump_hour, found.mains
    each = "" if hourly is None else f", {hourly:.3f} {unit}".rstrip() + " an hour of the pump"
    beside = "" if mains is None else f" From mains its energy would cost {mains:,.2f} {unit}".rstrip() + " a year."
    return f"About {paid} a year{each}, for what has a price in the scenario.{beside}"
