"""Rules on charge, switching and the hours that were wanted."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from sim.catalogue import chemistries
from sim.checks.finding import OWN, Finding
from sim.lanes import lanes_from

if TYPE_CHECKING:
    from sim.catalogue.cells import Cell
    from sim.measures import Measures
    from sim.scenario import Scenario


def _cell(scenario: Scenario) -> Cell:
    from sim.catalogue.cells import cell

    return cell(scenario.battery.chemistry)


def sag_v(scenario: Scenario) -> float:
    """What the pump's rated current pulls the controller's terminals down by, V: I·(R0 + R1 + leads) at 25 °C.

    A measured resistance stands for R0 + R1. When the pump stops, the voltage comes back by as much.
    """
    lane, measured = lanes_from([scenario], places=[0])["lane"][0], scenario.battery.resistance_mohm
    inside_ohm = measured / 1000.0 if measured else lane["r0_ohm"] + lane["r1_ohm"]
    return float(scenario.pump.power_w / scenario.pump.at_v * (inside_ohm + lane["lead_ohm"]))


def gap_margin_v(scenario: Scenario) -> float:
    """What two thresholds need between them beyond sag and rebound, V, by chemistry for each 12 V of battery."""
    battery = scenario.battery
    return chemistries()[battery.chemistry]["study"]["gap_margin_v"] * battery.nominal_v / 12.0


def needed_gap_v(scenario: Scenario) -> float:
    """The gap two thresholds need: sag or rebound, which are the same, and a margin."""
    return sag_v(scenario) + gap_margin_v(scenario)


def thresholds_too_close(scenario: Scenario, measures: Measures) -> Finding | None:
    """The gap between the load voltages against the sag and rebound of this battery under this pump."""
    gap = scenario.controller.load_reconnect_v - scenario.controller.load_disconnect_v
    need = needed_gap_v(scenario)
    if gap >= need:
        return None
    said = f"Disconnect and reconnect are {gap:.2f} V apart; this battery, its leads and this pump need {need:.2f} V."
    return Finding("thresholds-too-close", "warning", said, gap, need, OWN)


def short_cycling(scenario: Scenario, measures: Measures) -> Finding | None:
    """More than six starts a day on the year's mean."""
    a_day = measures.starts / len(measures.pump_hours_by_day)
    if a_day <= 6.0:
        return None
    said = f"The pump starts {a_day:.0f} times a day on average; more than 6 wears it and its relay."
    return Finding("short-cycling", "warning", said, a_day, 6.0, OWN)


def early_cut_off(scenario: Scenario, measures: Measures) -> Finding | None:
    """Low-voltage disconnects of a battery that still held plenty."""
    if not measures.early_disconnects:
        return None
    limit = _cell(scenario).early_soc
    said = (
        f"{measures.early_disconnects} of {measures.disconnects} low-voltage disconnects came with more than "
        f"{limit:.0%} of the charge left: the pump's current sags the voltage under the threshold."
    )
    return Finding("early-cut-off", "caution", said, float(measures.early_disconnects), 0.0, OWN)


def lifted_restart(scenario: Scenario, measures: Measures) -> Finding | None:
    """Reconnects below 40 % charge, made by the charging current that lifts the voltage."""
    if not measures.lifted_reconnects:
        return None
    said = (
        f"The pump restarted {measures.lifted_reconnects} times with less than 40 % of the charge, because charging "
        "lifts the voltage that the controller sees: the reconnect voltage does not mean a full battery."
    )
    return Finding("lifted-restart", "caution", said, float(measures.lifted_reconnects), 0.0, OWN)


def charging_frozen(scenario: Scenario, measures: Measures) -> Finding | None:
    """Hours in which the sun offered charge to lithium cells below their lowest charging temperature."""
    hours = measures.battery.charge_refused_hours
    if not _cell(scenario).lithium or hours == 0.0:
        return None
    said = (
        f"In {hours:.0f} h the sun offered charge and the battery's protection circuit refused it, nearly always for "
        "frost. Never charge lithium below its maker's lowest cell temperature; a warmer place for the box helps."
    )
    source = "battery makers' manuals: no charge below 0 °C"
    return Finding("charging-frozen-lithium", "warning", said, hours, 0.0, source)


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
    days, lithium = measures.battery.days_between_full, _cell(scenario).lithium
    if lithium or days <= 7:
        return None
    said = f"The lead-acid battery is not charged full for {days} days running; it sulphates."
    return Finding("lead-acid-never-full", "warning" if days > 14 else "caution", said, float(days), 7.0, OWN)


def dusk_timer(scenario: Scenario, measures: Measures) -> Finding | None:
    """The lighting timer of many controllers left on: the pump runs at night and not by day."""
    if scenario.controller.load_mode != "after-dusk":
        return None
    said = (
        "The load runs by the after-dusk timer, which is made for lights: the pump runs from the battery in the dark "
        "and stands in the sun."
    )
    return Finding("dusk-timer-left-on", "warning", said, scenario.controller.hours_after_dusk, 0.0, OWN)


def worst_month(scenario: Scenario, measures: Measures) -> Finding | None:
    """A good year that hides a bad month."""
    shares = measures.met_share_by_month
    worst = min(range(12), key=lambda k: shares[k])
    if measures.hours_met_share < 0.9 or shares[worst] >= 0.5:
        return None
    year, month = measures.hours_met_share, float(shares[worst])
    said = f"Over the year {year:.0%} of the wanted hours are met, in month {worst + 1} only {month:.0%}."
    return Finding("sized-on-the-annual-mean", "caution", said, month, 0.5, OWN)


def stop_too_long(scenario: Scenario, measures: Measures) -> Finding | None:
    """A stop longer than the scenario allows."""
    limit = scenario.need.longest_stop_h
    if measures.longest_stop_h <= limit:
        return None
    said = f"The longest stop lasts {measures.longest_stop_h:.0f} h; {limit:g} h was the longest allowed."
    source = "the scenario's need.longest_stop_h"
    return Finding("stop-too-long", "caution", said, measures.longest_stop_h, limit, source)


RULES: tuple[Callable[[Scenario, Measures], Finding | None], ...] = (
    thresholds_too_close,
    short_cycling,
    early_cut_off,
    lifted_restart,
    charging_frozen,
    freezing,
    never_full,
    dusk_timer,
    worst_month,
    stop_too_long,
)
