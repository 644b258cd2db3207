"""The settings sheet that is printed and kept in the controller's box."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sim.catalogue import chemistries
from sim.language import mark, say
from sim.report.blocks import Table
from sim.report.pair_words import volts
from sim.report.settings import value_of
from sim.scenario.models import Controller
from sim.words import figure

if TYPE_CHECKING:
    from sim.studies.pairs import PairsResult

LOAD_MODES = {
    "always": mark("always on; only the two voltages switch it"),
    "daylight": mark("on in daylight, and the two voltages"),
    "clock": mark("by the clock, and the two voltages"),
    "after-dusk": mark("for some hours after dusk, and the two voltages"),
}


def load_mode(controller: Controller) -> str:
    """How the load is switched, with its times or hours where it has them."""
    details = {
        "clock": value_of(controller.load_windows),
        "after-dusk": f"{figure(controller.hours_after_dusk, 'g')} h",
    }
    detail = details.get(controller.load_mode)
    return say(LOAD_MODES[controller.load_mode]) + (f" ({detail})" if detail else "")


def sheet_of(result: PairsResult) -> Table:
    """Every setting that belongs in the box: its trade's term, as it is, as it should be, and room for what was set."""
    controller, battery = result.scenario.controller, result.scenario.battery
    now, best = result.present, result.recommended
    kept = (
        ("Absorption voltage", volts(controller.absorption_v)),
        ("Absorption time, at most", f"{controller.absorption_h:g} h"),
        ("Float voltage", volts(controller.float_v)),
        ("Charges again below", volts(controller.recharge_below_v)),
        ("Disconnect delay", f"{controller.disconnect_delay_s:g} s"),
        ("Reconnect delay", f"{controller.reconnect_delay_s:g} s"),
        ("Load mode", load_mode(controller)),
        ("Battery type", chemistries()[battery.chemistry]["words"]),
        ("Battery", f"{battery.nominal_v} V, {battery.capacity_ah:g} Ah"),
    )
    return Table(
        ("Setting", "As it was", "Set to", "Found set"),
        (
            ("Load disconnect voltage (LVD)", volts(now.load_disconnect_v), volts(best.load_disconnect_v), ""),
            ("Load reconnect voltage (LVR)", volts(now.load_reconnect_v), volts(best.load_reconnect_v), ""),
            *((name, value, value, "") for name, value in kept),
        ),
    )
