"""The commented scenario for readers of other units: its values stay SI, its comments have both."""

import re

from sim.catalogue import template
from sim.catalogue.cables import Area
from sim.units import Quantity, System, in_units, sign, unit_in

_VALUE = re.compile(r"^(#?\s*(\w+) = (-?[\d.]+|\[[-\d., \[\]]+\]))(\s*)(?:# ?(.*))?$")
_DEGREES = re.compile(r"(-?\d+) C\b")
_METRIC = '#units = "metric" '
_BOTH = "square millimetres, _mohm thousandths of an ohm, _deg degrees."
_PLACE = 35  # of the comments
_CURVE = ("lph", "m")


def commented(units: System) -> str:
    r"""The commented scenario, which asks for reports in these units and has its values in them in its comments.

    >>> [line for line in commented("us").split("\n") if "pond_volume_l" in line]
    ['#   pond_volume_l = 1000           # 264 gal']
    """
    if units == "metric":
        return template()
    with in_units(units):
        lines = "\n".join(map(_in_both, template().split("\n")))
    asked = f'units = "{units}"'.ljust(len(_METRIC))
    return lines.replace(_METRIC, asked).replace(_BOTH, f"{_BOTH} US units stand in the comments.")


def _in_both(line: str) -> str:
    """A line with its value, or the degrees that it names, in the units of now too."""
    found = _VALUE.match(line)
    said = _read(found[2], found[3]) if found else ""
    if not found or not said:
        return _DEGREES.sub(lambda at: f"{at[0]} ({Quantity(float(at[1]), 'c', 'g').bare} F)", line)
    begun = f"{found[1]}{found[4] or ' '}".ljust(_PLACE)
    return f"{begun}# {said}{f'; {found[5]}' if found[5] else ''}"


def _read(key: str, value: str) -> str:
    """A value as it is read now; empty where that is no other way."""
    if key == "area_mm2":
        return str(Area(float(value)))
    unit = unit_in(key)
    figures = [float(figure) for figure in re.findall(r"-?\d+\.?\d*", value)]
    if key == "curve":
        read = [Quantity(figure, _CURVE[place % 2], "g").bare for place, figure in enumerate(figures)]
        pairs = ", ".join(f"[{flow}, {head}]" for flow, head in zip(read[::2], read[1::2], strict=True))
        return f"[{pairs}], {sign('lph')} and {sign('m')}"
    return f"{', '.join(Quantity(figure, unit, 'g').bare for figure in figures)} {sign(unit)}" if unit else ""
