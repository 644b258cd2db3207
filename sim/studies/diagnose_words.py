"""The evidence for each cause in plain numbers, and what to change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sim.catalogue.cells import cell
from sim.plant.lanes import lanes_from, resistance_mohm
from sim.scenario import Scenario
from sim.studies.diagnose_causes import designs_of, pump_a, usual_pair
from sim.studies.diagnose_hand import battery_ohm
from sim.studies.diagnose_weighed import Weighed
from sim.units import Quantity, sentence

HARDLY = "Nothing that was seen calls for it."
TIMERS = {"always": "no timer at all", "daylight": "running by daylight only"}


@dataclass(frozen=True)
class Told:
    """A cause in a scenario: the way in which it holds best, and what hours mending it brings, h a day."""

    scenario: Scenario
    best: Weighed
    mended_h: float
    mended_starts: float

    @property
    def trial(self) -> np.void:
        """What is wrong, and how much of it."""
        return self.best.trial[0]  # type: ignore[no-any-return]

    @property
    def off_v(self) -> float:
        """The disconnect voltage that it has, V."""
        return float(self.scenario.controller.load_disconnect_v + self.trial["off_v"])

    @property
    def on_v(self) -> float:
        """The reconnect voltage that it has, V."""
        return float(self.scenario.controller.load_reconnect_v + self.trial["on_v"])

    @property
    def pump_a(self) -> float:
        """The pump's current that it has, A."""
        return float(pump_a(self.scenario) * self.trial["pump"])

    @property
    def lead_ohm(self) -> float:
        """Resistance between battery and controller as it is written, Ω."""
        return float(lanes_from([self.scenario], [0])["lane"]["lead_ohm"][0])

    @property
    def sag_v(self) -> float:
        """What the pump takes from the voltage that the controller sees, V."""
        ohm = battery_ohm(self.scenario)[0] * self.trial["resistance"]
        return float(self.pump_a * (ohm + self.lead_ohm + self.trial["lead_ohm"]))


def _close(it: Told) -> str:
    gap_v, does = it.on_v - it.off_v, it.best.shown
    alike = "as much as" if abs(it.sag_v - gap_v) < 0.05 else "more than" if it.sag_v > gap_v else "near to"
    return (
        f"The pump's sag of some {it.sag_v:.2f} V is {alike} the gap of {gap_v:.2f} V between stop ({it.off_v:.2f} V) "
        f"and start ({it.on_v:.2f} V), so it clicks: {does.starts_a_day:.0f} starts a day, "
        f"{does.wider_starts:.1f} with a gap {0.8 * it.scenario.battery.nominal_v / 12.0:.1f} V wider."
    )


def _early(it: Told) -> str:
    does, chemistry = it.best.shown, cell(it.scenario.battery.chemistry)
    return (
        f"It stops at {it.off_v:.2f} V; {does.early_share:.0%} of such stops leave more than {chemistry.early_soc:.0%} "
        f"of the charge unused. With a lower cut-off the pump would run {does.lower_h:.1f} of the wanted hours a day, "
        f"not {does.met_h:.1f}."
    )


def _leads(it: Told) -> str:
    added = float(it.trial["lead_ohm"])
    return (
        f"{1000.0 * added:.0f} mΩ more than the {1000.0 * it.lead_ohm:.0f} mΩ that leads and terminals should have: at "
        f"the pump's {it.pump_a:.1f} A they lose {it.pump_a * (added + it.lead_ohm):.2f} V, which the controller takes "
        "for an empty battery."
    )


def _battery(it: Told) -> str:
    battery = it.scenario.battery
    return (
        f"A battery of {battery.capacity_ah * it.trial['capacity']:.0f} Ah in place of {battery.capacity_ah:.0f} Ah, "
        f"with {resistance_mohm(battery) * it.trial['resistance']:.0f} mΩ in place of "
        f"{resistance_mohm(battery):.0f} mΩ, behaves so."
    )


def _shade(it: Told) -> str:
    trial = it.trial
    when = ""
    if trial["shade_from_h"] > 0.0:
        when = f" after {_clock(trial['shade_from_h'])}"
    elif trial["shade_to_h"] < 24.0:
        when = f" before {_clock(trial['shade_to_h'])}"
    return f"{trial['light']:.0%} of the panel's current{when} explains it: {'shade' if when else 'dirt or shade'}."


def _clock(hour: float) -> str:
    return f"{int(hour):02d}:{int(hour % 1.0 * 60.0) // 10 * 10:02d}"


def _small(it: Told) -> str:
    does = it.best.shown
    return (
        f"With everything as it is written the pump would run {does.met_h:.1f} of {does.wanted_h:.1f} wanted hours a "
        f"day, {does.lower_h:.1f} with a lower cut-off: the sun of these days does not bring more."
    )


def _frost(it: Told) -> str:
    does, cold = it.best.shown, cell(it.scenario.battery.chemistry).coldest_charge_c + it.trial["frost_c"]
    return str(
        sentence(
            "The battery refuses charge below {cold}, for {refused:.1f} h a day in these days; kept warm it would let "
            "the pump run {warm:.1f} of the wanted hours a day, not {met:.1f}.",
            cold=Quantity(float(cold), "c", ".0f"),
            refused=does.refused_h,
            warm=does.warmer_h,
            met=does.met_h,
        )
    )


def _pump(it: Told) -> str:
    pump = it.scenario.pump
    return (
        f"A pump that takes {pump.power_w * it.trial['pump']:.0f} W, {it.pump_a:.1f} A, in place of "
        f"{pump.power_w:g} W, {pump_a(it.scenario):.1f} A."
    )


def _timer(it: Told) -> str:
    if int(it.trial["timer"]):
        return f"The load seems to be switched otherwise than written: {_timer_words(it)}."
    if it.trial["charge_v"]:
        control = it.scenario.controller
        return (
            f"The charge seems to end at {control.absorption_v + it.trial['charge_v']:.1f} V, not at the written "
            f"{control.absorption_v:.1f} V: the preset of another battery."
        )
    does = it.best.shown
    return f"Without the timer the pump would run {does.timed_h:.1f} of the wanted hours a day, not {does.met_h:.1f}."


def _timer_words(it: Told) -> str:
    control = designs_of(it.scenario)[int(it.trial["timer"])].controller
    if control.load_mode == "after-dusk":
        return f"some {control.hours_after_dusk:g} h after dusk, as for lamps"
    if control.load_mode == "clock":
        return "from {} to {}".format(*control.load_windows[0])
    return TIMERS[control.load_mode]


def _nothing(it: Told) -> str:
    does = it.best.shown
    return (
        f"It does what is to be expected: {does.met_h:.1f} of {does.wanted_h:.1f} wanted hours a day and "
        f"{does.starts_a_day:.1f} starts."
    )


EVIDENCE: dict[str, Callable[[Told], str]] = {
    "thresholds-too-close": _close,
    "cut-off-too-high": _early,
    "leads-or-terminals": _leads,
    "battery-aged-or-small": _battery,
    "shade-or-dirt": _shade,
    "too-small": _small,
    "charge-refused": _frost,
    "pump-draw": _pump,
    "timer-or-preset": _timer,
    "nothing": _nothing,
}


def change_for(cause: str, it: Told) -> str:
    """What to change for a cause, with what effect."""
    off_v, on_v = usual_pair(it.scenario)
    battery = it.scenario.battery
    what = {
        "thresholds-too-close": f"Set controller.load_disconnect_v {off_v:.1f} and load_reconnect_v {on_v:.1f}; "
        "sunrill pairs finds the best pair",
        "cut-off-too-high": f"Set controller.load_disconnect_v {off_v:.1f} and load_reconnect_v {on_v:.1f}",
        "leads-or-terminals": "Clean and tighten battery terminals, fuse holder and lugs, or fit a thicker lead "
        "(battery.cable)",
        "battery-aged-or-small": f"Test the battery's capacity; replace it by one of {battery.capacity_ah:.0f} Ah",
        "shade-or-dirt": "Wipe the panel; look at it every hour of a clear day; cut back or move it (panel.shade)",
        "too-small": "A larger panel, here twice as large, or fewer wanted hours: sunrill size finds what to buy",
        "charge-refused": 'Keep the battery from frost (battery.place = "frost-free" or "heated")',
        "pump-draw": "Clean intake and rotor; a pump that still draws too much is worn (pump.power_w)",
        "timer-or-preset": "Set the controller's load mode and battery type as the scenario has them "
        "(controller.load_mode, absorption_v)",
        "nothing": "Nothing",
    }[cause]
    if cause == "nothing":
        return f"{what}."
    does = it.best.shown
    return (
        f"{what}. In days like these: {it.mended_h:.1f} wanted hours a day in place of {does.met_h:.1f}, "
        f"{it.mended_starts:.1f} starts in place of {does.starts_a_day:.1f}."
    )
