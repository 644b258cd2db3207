"""Rules on what the battery goes through: frost, charge, its protection circuit, and what a bigger one would change."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from sim.catalogue.cells import Cell, cell
from sim.checks.finding import OWN, Finding
from sim.figures.measures import COOL_C

if TYPE_CHECKING:
    from sim.figures.measures import Measures
    from sim.scenario import Scenario

PROTECTION_MARGIN_V = 0.2  # for each 12 V, between a setting and the limit of the protection circuit
FULL_DAYS, FULL_DAYS_WARNING = 7, 14
DEFICIT_DAYS = 10
WORTHWHILE = 0.05  # of the pump's hours


def _cell(scenario: Scenario) -> Cell:
    return cell(scenario.battery.chemistry)


def _limit_v(scenario: Scenario, block_v: float, margin: float) -> float:
    """A limit of the protection circuit moved by so many margins, V."""
    return (block_v + margin * PROTECTION_MARGIN_V) * scenario.battery.nominal_v / 12.0


def charging_frozen(scenario: Scenario, measures: Measures) -> Finding | None:
    """Hours in which the sun offered charge to lithium cells too cold for it, or nearly so."""
    year, source = measures.battery, "battery makers' manuals: no charge below 0 °C, a small one below 5 °C"
    if not _cell(scenario).lithium:
        return None
    if year.charge_refused_hours > 0.0:
        said = (
            f"In {year.charge_refused_hours:.0f} h the sun offered charge and the battery's protection circuit refused "
            "it, nearly always for frost. Never charge lithium below its maker's lowest cell temperature; a warmer "
            "place for the box helps."
        )
        return Finding("charging-frozen-lithium", "warning", said, year.charge_refused_hours, 0.0, source)
    if year.cool_charge_hours > 0.0:
        said = (
            f"In {year.cool_charge_hours:.0f} h the battery is charged with cells below {COOL_C:g} °C, where many "
            "makers allow a small current only."
        )
        return Finding("charging-frozen-lithium", "caution", said, year.cool_charge_hours, 0.0, source)
    return None


def freezing(scenario: Scenario, measures: Measures) -> Finding | None:
    """Hours in which a lead-acid battery is below the freezing point of its electrolyte at that charge."""
    hours = measures.battery.freezing_hours
    if hours == 0.0:
        return None
    said = (
        f"In {hours:.0f} h the battery is colder than the freezing point of its acid at that charge: ice bursts it. "
        "Keep it charged in frost, or indoors."
    )
    source = "freezing point by specific gravity, equipment manual"
    return Finding("lead-acid-freezing", "warning", said, hours, 0.0, source)


def never_full(scenario: Scenario, measures: Measures) -> Finding | None:
    """Lead-acid that waits too long for a full charge sulphates."""
    days = measures.battery.days_between_full
    if _cell(scenario).lithium or days <= FULL_DAYS:
        return None
    level, limit = ("warning", FULL_DAYS_WARNING) if days > FULL_DAYS_WARNING else ("caution", FULL_DAYS)
    said = f"The lead-acid battery is not charged full for {days} days running; it sulphates."
    return Finding("lead-acid-never-full", level, said, float(days), float(limit), OWN)


def protection_first(scenario: Scenario, measures: Measures) -> Finding | None:
    """A disconnect voltage so low that the battery's own protection acts before the controller."""
    off_v, limit = scenario.controller.load_disconnect_v, _limit_v(scenario, _cell(scenario).protect_low_v, 1.0)
    if off_v >= limit:
        return None
    said = (
        f"The disconnect voltage of {off_v:g} V is so low that the battery's protection circuit may act first. It "
        "takes the controller down too, which then may not charge on its own."
    )
    return Finding("protection-trips-first", "warning", said, off_v, limit, OWN)


def wrong_preset(scenario: Scenario, measures: Measures) -> Finding | None:
    """A lithium battery charged up to its protection circuit, as by a setting made for lead-acid."""
    control, limit = scenario.controller, _limit_v(scenario, _cell(scenario).protect_high_v, -1.0)
    charge_v = control.equalise_v if control.equalise_every_days else control.absorption_v
    if not _cell(scenario).lithium or charge_v <= limit:
        return None
    said = (
        f"The charge goes up to {charge_v:g} V, where the lithium battery's protection circuit may cut it off: this "
        "looks like a setting for lead-acid. Lithium also wants no equalisation and no temperature compensation."
    )
    return Finding("wrong-battery-preset", "warning", said, charge_v, limit, OWN)


def winter_battery(scenario: Scenario, measures: Measures) -> Finding | None:
    """A long deficit that more battery would not end: what lacks is sun."""
    days, doubled = measures.longest_deficit_days, measures.double_battery_hours
    if days < DEFICIT_DAYS or doubled is None or not measures.pump_hours:
        return None
    gain = doubled / measures.pump_hours - 1.0
    if gain >= WORTHWHILE:
        return None
    said = (
        f"For {days} days running the wanted hours are not met, and a battery of twice the size would add {gain:.1%} "
        "to the year's hours: what lacks is sun on the panel, not battery."
    )
    return Finding("battery-does-not-fix-winter", "note", said, gain, WORTHWHILE, OWN)


RULES: tuple[Callable[[Scenario, Measures], Finding | None], ...] = (
    charging_frozen,
    freezing,
    never_full,
    protection_first,
    wrong_preset,
    winter_battery,
)
