"""Rules on switching and on the hours that were wanted."""

from collections.abc import Callable

import numpy as np

from sim.calendar import overlap
from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.checks.finding import OWN, Finding, Passed, Said
from sim.devices.battery import ohmic_ohm
from sim.figures.measures import REFILLED, Measures
from sim.plant.lanes import lanes_from
from sim.plant.sky import ohm_factor
from sim.scenario import Scenario
from sim.units import Quantity, sentence

ROUNDING_V = 1e-9
LOW_SOC = 0.2  # where a battery is when its pump is switched off in earnest; our own default
STARTS_A_DAY = 6.0
UNREACHED_DAYS = 3.0
DAYLIGHT_SHARE = 0.1
SERVED = 0.95  # of the wanted hours: what is not critical; Applied Photovoltaics, section 7.2
GOOD_YEAR, BAD_MONTH = 0.9, 0.5  # of the wanted hours; our own defaults
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


def thresholds_too_close(scenario: Scenario, measures: Measures) -> Said:
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
        new = sentence(
            "{apart}. That is enough for this battery when new; below {usual} V little is left for ageing.",
            apart=_apart(gap),
            usual=f"{usual:g}",
        )
        return Finding("thresholds-too-close", "caution", new, gap, usual, OWN)
    return Passed("thresholds-too-close", "Gap between the load voltages, V", gap, max(need, usual), OWN, least=True)


def _apart(gap_v: float) -> str:
    return sentence("Disconnect and reconnect are {gap} V apart", gap=f"{gap_v:.2f}")


def short_cycling(scenario: Scenario, measures: Measures) -> Said:
    """More than six starts a day on the mean of the days in service, or two starts within an hour."""
    a_day = measures.starts / measures.days_in_service
    if a_day > STARTS_A_DAY:
        said = sentence(
            "The pump starts {starts} times a day on average; more than {most} wears it and its relay.",
            starts=f"{a_day:.0f}",
            most=f"{STARTS_A_DAY:g}",
        )
        return Finding("short-cycling", "warning", said, a_day, STARTS_A_DAY, OWN)
    if not measures.quick_starts:
        return Passed("short-cycling", "Starts a day in service", a_day, STARTS_A_DAY, OWN)
    said = sentence(
        "The pump starts again within an hour of its last start {times}, {days}: it clicks on and off. The causes "
        "of its stops say why.",
        times=_times(measures.quick_starts),
        days=_days(measures.quick_start_days),
    )
    return Finding("short-cycling", "caution", said, float(measures.quick_starts), 0.0, OWN)


def _times(count: int) -> str:
    return sentence("once") if count == 1 else sentence("{count} times", count=f"{count:,}")


def _days(count: int) -> str:
    return sentence("on 1 day") if count == 1 else sentence("on {days} days", days=f"{count}")


def early_cut_off(scenario: Scenario, measures: Measures) -> Said:
    """Low-voltage disconnects of a battery that still held plenty."""
    limit = cell(scenario.battery.chemistry).early_soc
    if not measures.early_disconnects:
        what = f"Low-voltage disconnects with more than {limit:.0%} of the charge left"
        return Passed("early-cut-off", what, 0.0, 0.0, OWN)
    said = sentence(
        "{early} of {all} low-voltage disconnects came with more than {share} of the charge left: the pump's current "
        "sags the voltage under the threshold.",
        early=f"{measures.early_disconnects}",
        all=f"{measures.disconnects}",
        share=f"{limit:.0%}",
    )
    return Finding("early-cut-off", "caution", said, float(measures.early_disconnects), 0.0, OWN)


def lifted_restart(scenario: Scenario, measures: Measures) -> Said:
    """Restarts with hardly more charge than at the stop: something else lifted the voltage."""
    if not measures.fooled_restarts:
        what = f"Restarts with less than {REFILLED * 100:.0f} points of charge more than at the stop"
        return Passed("lifted-restart", what, 0.0, 0.0, OWN)
    said = sentence(
        "The pump restarted {times} with less than {points} points of charge more than when it stopped, because "
        "charging, or a battery that refuses it, lifts the voltage that the controller sees: the reconnect voltage "
        "does not mean a full battery.",
        times=_times(measures.fooled_restarts),
        points=f"{REFILLED * 100:.0f}",
    )
    return Finding("lifted-restart", "caution", said, float(measures.fooled_restarts), 0.0, OWN)


def restart_unreachable(scenario: Scenario, measures: Measures) -> Said:
    """Any three days without a run in which the voltage never came up to the reconnect voltage."""
    days = measures.unreached_h / 24.0
    if days <= UNREACHED_DAYS:
        what = "Days running without a run and without the reconnect voltage"
        return Passed("restart-unreachable", what, days, UNREACHED_DAYS, OWN)
    said = sentence(
        "For {days} days running the pump stood and the voltage did not come up to the reconnect voltage of {volts} V: "
        "in dull weather this battery does not reach it.",
        days=f"{days:.3g}",
        volts=f"{scenario.controller.load_reconnect_v:g}",
    )
    return Finding("restart-unreachable", "caution", said, days, UNREACHED_DAYS, OWN)


def dusk_timer(scenario: Scenario, measures: Measures) -> Said:
    """The lighting timer of many controllers left on: the pump runs at night and not by day, and too little."""
    by_day, share = overlap([scenario.need.between, DAY]), measures.daylight_share
    if scenario.controller.load_mode != "after-dusk" or not by_day:
        return None
    if share >= DAYLIGHT_SHARE:
        what = "Share of the pump's hours in daylight, by the after-dusk timer"
        return Passed("dusk-timer-left-on", what, share, DAYLIGHT_SHARE, OWN, least=True)
    if measures.hours_met_share >= SERVED:
        what = "Share of the wanted hours met by the after-dusk timer"
        return Passed("dusk-timer-left-on", what, measures.hours_met_share, SERVED, OWN, least=True)
    said = sentence(
        "The load runs by the after-dusk timer, which is made for lights: {share} of the pump's hours are in daylight; "
        "it runs from the battery in the dark and stands in the sun.",
        share=f"{measures.daylight_share:.0%}",
    )
    return Finding("dusk-timer-left-on", "warning", said, measures.daylight_share, DAYLIGHT_SHARE, OWN)


def worst_month(scenario: Scenario, measures: Measures) -> Said:
    """A good year that hides a bad month."""
    shares = measures.met_share_by_month
    worst = min(range(12), key=lambda k: shares[k])
    year, month = measures.hours_met_share, float(shares[worst])
    if year < GOOD_YEAR:
        return None
    if month >= BAD_MONTH:
        what = f"Share of the wanted hours met in the worst month, where {GOOD_YEAR:.0%} of the year's are"
        return Passed("sized-on-the-annual-mean", what, month, BAD_MONTH, OWN, least=True)
    said = sentence(
        "Over the year {year} of the wanted hours are met, in month {worst} only {month}.",
        year=f"{year:.0%}",
        worst=f"{worst + 1}",
        month=f"{month:.0%}",
    )
    return Finding("sized-on-the-annual-mean", "caution", said, month, BAD_MONTH, OWN)


def stop_too_long(scenario: Scenario, measures: Measures) -> Said:
    """More standing in one stop than the scenario allows, beside what timer and season plan."""
    limit, stop = scenario.need.longest_stop_h, measures.unplanned
    source = sentence("the scenario's need.longest_stop_h")
    if stop.unplanned_h <= limit:
        what = "Longest stop, but for what timer and season plan of it, h"
        return Passed("stop-too-long", what, stop.unplanned_h, limit, source)
    said = sentence(
        "The longest stop lasts {hours} h; {limit} h was the longest allowed.",
        hours=f"{stop.hours:.0f}",
        limit=f"{limit:g}",
    )
    return Finding("stop-too-long", "caution", said, stop.hours, limit, source)


RULES: tuple[Callable[[Scenario, Measures], Said], ...] = (
    thresholds_too_close,
    short_cycling,
    early_cut_off,
    lifted_restart,
    restart_unreachable,
    dusk_timer,
    worst_month,
    stop_too_long,
)
