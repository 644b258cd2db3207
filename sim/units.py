"""Units that a table of weather may come in, and how each becomes W/m², °C or m/s."""

from typing import NamedTuple


class Unit(NamedTuple):
    """A figure becomes ``(figure + shift)·factor``."""

    factor: float
    shift: float = 0.0


LIGHT = {
    "W/m2": Unit(1.0),
    "Wh/m2": Unit(1.0),  # in one hour
    "kW/m2": Unit(1000.0),
    "kWh/m2": Unit(1000.0),
    "J/m2": Unit(1.0 / 3600.0),
    "J/cm2": Unit(1e4 / 3600.0),
    "kJ/m2": Unit(1e3 / 3600.0),
    "MJ/m2": Unit(1e6 / 3600.0),
}
AIR = {"C": Unit(1.0), "K": Unit(1.0, -273.15), "F": Unit(5.0 / 9.0, -32.0)}
WIND = {"m/s": Unit(1.0), "km/h": Unit(1.0 / 3.6), "mph": Unit(0.44704), "kn": Unit(1852.0 / 3600.0)}
UNITS = {**dict.fromkeys(("ghi", "dni", "dhi"), LIGHT), "temp_air": AIR, "wind_speed": WIND}
