"""Curves of strings of cells, each with a bypass diode across it, one behind the other and in uneven light."""

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from sim.compiled import compiled

BYPASS_V = 0.5  # across a bypass diode that conducts; common practice, no source
WHOLE = "all"  # what ``cell_strings`` says of a shade that covers all strings


def levels(panel: Any) -> list[tuple[int, tuple[Any, ...]]]:
    """How many of a panel's strings lie behind which shades, the string behind the fewest shades first.

    A shade covers its ``cell_strings`` from one end on, so of two such shades the smaller lies inside the larger.

    >>> from types import SimpleNamespace as Section
    >>> wall, pole = Section(cell_strings="all"), Section(cell_strings=1)
    >>> [(strings, len(shades)) for strings, shades in levels(Section(bypass_strings=3, shade=[wall, pole]))]
    [(2, 1), (1, 2)]
    """
    if not panel.shade:
        return [(1, ())]
    reach = [panel.bypass_strings if shade.cell_strings == WHOLE else shade.cell_strings for shade in panel.shade]
    strings = reversed(range(panel.bypass_strings))
    behind = Counter(tuple(k for k, end in enumerate(reach) if string < end) for string in strings)
    return [(count, tuple(panel.shade[k] for k in places)) for places, count in behind.items()]


def in_series(
    shares: Sequence[float], traces: Sequence[tuple[np.ndarray, np.ndarray]], nodes_v: np.ndarray
) -> dict[str, np.ndarray]:
    """A panel in n hours of which each group of strings has its own light: currents at ``nodes_v`` (m,), and points.

    V(I) = ∑ share·V_group(I). A group's trace is that of a whole panel in its light: currents (n, k), strictly falling
    to 0, and voltages (n, k), rising from where all bypass diodes conduct, a voltage that holds for higher currents.
    Piecewise linear throughout and joined at every point of every group. The maximum power is the highest of all.

    >>> volts = np.array([[-1.0, 18.0, 20.0]])
    >>> sunny, dim = (np.array([[4.19, 4.0, 0.0]]), volts), (np.array([[1.19, 1.0, 0.0]]), volts)
    >>> found = in_series((0.5, 0.5), (sunny, dim), np.array([8.0, 14.0]))
    >>> found["current_a"].round(2), found["p_mp"].round(2), found["v_oc"]
    (array([[4.01, 1.09]]), array([34.]), array([20.]))
    """
    each = range(len(traces[0][0]))
    hours = [_in_one_hour(shares, [(amps[h], volts[h]) for amps, volts in traces], nodes_v) for h in each]
    return {name: np.array([hour[name] for hour in hours]) for name in hours[0]}


def _in_one_hour(
    shares: Sequence[float], traces: Sequence[tuple[np.ndarray, np.ndarray]], nodes_v: np.ndarray
) -> dict[str, Any]:
    common_a = np.sort(np.concatenate([amps for amps, _ in traces]))
    groups_v = [np.interp(common_a, amps[::-1], volts[::-1]) for amps, volts in traces]
    common_v = np.dot(shares, groups_v)
    best = np.argmax(common_a * common_v)
    at = np.interp((0.0, *nodes_v), common_v[::-1], common_a[::-1])
    return {
        "current_a": at[1:],
        "i_sc": at[0],
        "v_oc": common_v[0],
        "v_mp": common_v[best],
        "p_mp": common_a[best] * common_v[best],
    }


def chord_to_zero(current_a: np.ndarray, voltage_v: np.ndarray, v_oc_v: np.ndarray) -> np.ndarray:
    """Replace, in place, what lies beyond open circuit by the line from the last node before it through (V_oc, 0).

    A piecewise-linear reading cut at 0 then ends exactly at V_oc. Curves that end before the first node become 0.

    >>> chord_to_zero(np.array([[4.0, 2.0, -90.0]]), np.array([10.0, 11.0, 12.0]), np.array([11.5]))
    array([[ 4.,  2., -2.]])
    """
    _extend(current_a, voltage_v, v_oc_v)
    return current_a


@compiled
def _extend(current_a, voltage_v, v_oc_v):  # type: ignore[no-untyped-def]
    """Write the straight line into the rows of ``current_a`` (n, m) beyond open circuit."""
    for row in range(len(v_oc_v)):
        last = np.searchsorted(voltage_v, v_oc_v[row], side="right") - 1
        at_v, at_a = (voltage_v[last], current_a[row, last]) if last >= 0 else (voltage_v[0], 0.0)
        room_v = max(v_oc_v[row] - at_v, 1e-9)
        for node in range(last + 1, len(voltage_v)):
            current_a[row, node] = at_a * (1.0 - (voltage_v[node] - at_v) / room_v)


def in_year(lit: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Values of the lit hours in an array of all hours, the others 0."""
    out = np.zeros((len(lit), *values.shape[1:]))
    out[lit] = values
    return out
