"""Rules on switching and on the hours that were wanted."""

from collections.abc import Callable

import numpy as np

from sim.calendar import overlap
from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.checks.finding import OWN, Finding
from sim.devices.battery import ohmic_ohm
from sim.figures.measures import REFILLED, Measures
from sim.figures.series import longest_without
from sim.plant.lanes import lanes_from
from sim.plant.sky import ohm_factor
from sim.scenario import Scenario
from sim.units import Quantity, sentence

ROUNDING_V = 1e-9
LOW_SOC = 0.2  # where a battery is when its pump is switched off in earnest; our own default
STARTS_A_DAY = 6.0
UNREACHED_DAYS = 3
DAYLIGHT_SHARE = 0.1
DAY = ("09:00", "15:00")  # daylight at any season


def sag_v(scenario: Scenario, cell_c: float) -> float:
    """What the pump's rated current pulls the controller's terminals down by at a cell temperature and low charge, V.

    I·(R0 + R1 + leads); when the pump stops, the voltage comes back by as much. The breakdown of a battery that is cold
    and all but empty is no sag that a gap could bridge, and is left out.
    """
    lane, chemistry = lanes_from([scenario], places=[0])["lane"][0], cell(scenario.battery.chemistry)
    factor = float(ohm_factor(chemistry, np.array([cell_c]))[0])
    inside_ohm = (ohmic_ohm(LOW_SOC, lane["r0_ohm"], lane["r0_rise"]) + lane["r1_ohm"]) * factor
    return float(scenario.pump.power_w / scenario.pump.at_v * (inside_ohm + lane["lead_ohm"]))


def gap_margin_v(scenario: Scenario) -> float:
    """What two thresholds need between them beyond sag and rebound, V, by chemistry for each 12 V of battery."""
    battery = scenario.battery
    return chemistries()[battery.chemistry]["study"]["gap_margin_v"] * battery.nominal_v / 12.0


def needed_gap_v(scenario: Scenario, coldest_c: float) -> float:
    """The gap two thresholds need: sag or rebound in the year's coldest battery, which are the same, and a margin."""
    return sag_v(scenario, coldest_c) + gap_margin_v(scenario)


def gap_caution_v(scenario: Scenario) -> float:
    """The gap below which two thresholds are close whatever the sag, V."""
    battery = scenario.battery
    return chemistries()[battery.chemistry]["study"]["gap_caution_v"] * battery.nominal_v / 12.0


def quiet_gap_v(scenario: Scenario, coldest_c: float) -> float:
    """The gap from which on nothing is said of it, V."""
    return max(needed_gap_v(scenario, coldest_c), gap_caution_v(scenario))


def thresholds_too_close(scenario: Scenario, measures: Measures) -> Finding | None:
    """The gap between the load voltages against the sag and rebound of this battery under this pump."""
    gap = scenario.controller.load_reconnect_v - scenario.controller.load_disconnect_v
    coldest_c = measures.battery.coldest_c
    need, usual = needed_gap_v(scenario, coldest_c), gap_caution_v(scenario)
    if gap < need - ROUNDING_V:
        said = sentence(
            "{apart}; this battery at {cold}, its leads and this pump need {need}.",
            apart=_apart(gap),
            cold=Quantity(coldest_c, "c", ".0f"),
            need=f"{need:.2f} V",
        )
        return Finding("thresholds-too-close", "warning", said, gap, need, OWN)
    if gap < usual - ROUNDING_V:
        new = f"{_apart(gap)}. That is enough for this battery when new; below {usual:g} V little is left for ageing."
        return Finding("thresholds-too-close", "caution", new, gap, usual, OWN)
    return None


def _apart(gap_v: float) -> str:
    return f"Disconnect and reconnect are {gap_v:.2f} V apart"


def short_cycling(scenario: Scenario, measures: Measures) -> Finding | None:
    """More than six starts a day on the year's mean, or two starts within an hour."""
    a_day = measures.starts / len(measures.pump_hours_by_day)
    if a_day > STARTS_A_DAY:
        said = f"The pump starts {a_day:.0f} times a day on average; more than {STARTS_A_DAY:g} wears it and its relay."
        return Finding("short-cycling", "warning", said, a_day, STARTS_A_DAY, OWN)
    if not measures.quick_starts:
        return None
    said = (
        f"The pump starts again within an hour of its last start {_times(measures.quick_starts)}, on "
        f"{_days(measures.quick_start_days)}: it clicks on and off. The causes of its stops say why."
    )
    return Finding("short-cycling", "caution", said, float(measures.quick_starts), 0.0, OWN)


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count:,} times"


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


def early_cut_off(scenario: Scenario, measures: Measures) -> Finding | None:
    """Low-voltage disconnects of a battery that still held plenty."""
    if not measures.early_disconnects:
        return None
    limit = cell(scenario.battery.chemistry).early_soc
    said = (
        f"{measures.early_disconnects} of {measures.disconnects} low-voltage disconnects came with more than "
        f"{limit:.0%} of the charge left: the pump's current sags the voltage under the threshold."
    )
    return Finding("early-cut-off", "caution", said, float(measures.early_disconnects), 0.0, OWN)


def lifted_restart(scenario: Scenario, measures: Measures) -> Finding | None:
    """Restarts with hardly more charge than at the stop: something else lifted the voltage."""
    if not measures.fooled_restarts:
        return None
    said = (
        f"The pump restarted {_times(measures.fooled_restarts)} with less than {REFILLED * 100:.0f} points of charge "
        "more than when it stopped, because charging, or a battery that refuses it, lifts the voltage that the "
        "controller sees: the reconnect voltage does not mean a full battery."
    )
    return Finding("lifted-restart", "caution", said, float(measures.fooled_restarts), 0.0, OWN)


def restart_unreachable(scenario: Scenario, measures: Measures) -> Finding | None:
    """Days running without a run on which the voltage never came up to the reconnect voltage."""
    control = scenario.controller
    seen_v = measures.bus_high_v_by_day + control.reading_error_v
    days = longest_without((seen_v >= control.load_reconnect_v) | (measures.pump_hours_by_day > 0.0))
    if days <= UNREACHED_DAYS:
        return None
    said = (
        f"For {days} days running the pump stood and the voltage did not come up to the reconnect voltage of "
        f"{control.load_reconnect_v:g} V: in dull weather this battery does not reach it."
    )
    return Finding("restart-unreachable", "caution", said, float(days), float(UNREACHED_DAYS), OWN)


def dusk_timer(scenario: Scenario, measures: Measures) -> Finding | None:
    """The lighting timer of many controllers left on: the pump runs at night and not by day."""
    by_day = overlap([scenario.need.between, DAY])
    if scenario.controller.load_mode != "after-dusk" or not by_day or measures.daylight_share >= DAYLIGHT_SHARE:
        return None
    said = (
        f"The load runs by the after-dusk timer, which is made for lights: {measures.daylight_share:.0%} of the pump's "
        "hours are in daylight; it runs from the battery in the dark and stands in the sun."
    )
    return Finding("dusk-timer-left-on", "warning", said, measures.daylight_share, DAYLIGHT_SHARE, OWN)


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
    restart_unreachable,
    dusk_timer,
    worst_month,
    stop_too_long,
)
