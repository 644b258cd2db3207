"""What a voltage that was read means."""

from __future__ import annotations

import argparse

from sim.commands.shared import Command, finish, json_argument, scenario_argument, scenario_of, units_argument


def _arguments(command: argparse.ArgumentParser) -> None:
    scenario_argument(command)
    command.add_argument("--volts", type=float, required=True, metavar="V", help="read at the controller's terminals")
    command.add_argument("--pump", choices=("on", "off"), default="off", help="whether the pump ran then (off)")
    command.add_argument("--amps", type=float, metavar="A", help="the pump's current then, if it was measured")
    command.add_argument("--charging", type=float, default=0.0, metavar="A", help="the panel's current then (0)")
    command.add_argument("--volts-off", type=float, metavar="V", help="a second reading, shortly before, pump off")
    command.add_argument(
        "--battery-c", type=float, metavar="C", help="the battery's temperature then, °C, if it may be cold"
    )
    json_argument(command)
    units_argument(command)


def _does(asked: argparse.Namespace) -> None:
    """Say what a voltage that was read on site can mean."""
    scenario = scenario_of(asked)
    from sim.studies.reading import Seen, read_voltage
    from sim.terminal.reading import print_reading

    pump_on = asked.pump == "on"
    seen = Seen(asked.volts, pump_on, asked.amps, asked.volts_off, asked.charging, asked.battery_c)
    found = read_voltage(scenario, seen)
    finish(asked, found, {}, print_reading, scenario)


COMMAND = Command(
    80,
    "reading",
    "say what a voltage read on site can mean, and what its sag says about leads and terminals",
    _arguments,
    _does,
)
