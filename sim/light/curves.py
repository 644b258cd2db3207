"""Single-diode curves of many hours at once: their points, and their currents at given voltages."""

from typing import Any

import numpy as np

from sim.compiled import compiled
from sim.light.diode import Curve, best_diode_v, flow_at, open_circuit_v, place_at

TRACED = 256  # points of a curve that is joined with others
POINTS = ("i_sc", "v_oc", "i_mp", "v_mp", "p_mp")


@compiled
def _points(curves, out):  # type: ignore[no-untyped-def]
    """Fill ``out`` (n, 5) with the POINTS of n curves (n, 5)."""
    for k in range(len(curves)):
        curve = Curve(curves[k, 0], curves[k, 1], curves[k, 2], curves[k, 3], curves[k, 4])
        open_v = open_circuit_v(curve)
        best_v = best_diode_v(curve, open_v)
        best_a = flow_at(curve, best_v).current_a
        out[k, 0] = place_at(curve, 0.0, open_v).current_a
        out[k, 1] = open_v
        out[k, 2], out[k, 3] = best_a, best_v - best_a * curve.series_ohm
        out[k, 4] = out[k, 2] * out[k, 3]


@compiled
def _currents(curves, voltage_v, out):  # type: ignore[no-untyped-def]
    """Fill ``out`` (n, m) with the currents of n curves (n, 5) at m rising voltages, from the highest down.

    Each search begins where the last place's derivatives point to.
    """
    last = len(voltage_v) - 1
    for k in range(len(curves)):
        curve = Curve(curves[k, 0], curves[k, 1], curves[k, 2], curves[k, 3], curves[k, 4])
        place = place_at(curve, voltage_v[last], max(voltage_v[last], open_circuit_v(curve)))
        out[k, last] = place.current_a
        for node in range(last - 1, -1, -1):
            fall_v = voltage_v[node + 1] - voltage_v[node]
            start_v = place.diode_v - fall_v * (place.rise - 0.5 * fall_v * place.turn_per_v)
            place = place_at(curve, voltage_v[node], start_v)
            out[k, node] = place.current_a


@compiled
def _traced(curves, lowest_v, current_a, voltage_v):  # type: ignore[no-untyped-def]
    """Fill (n, m) currents and voltages along n curves (n, 5), from a voltage to open circuit."""
    last = current_a.shape[1] - 1
    for k in range(len(curves)):
        curve = Curve(curves[k, 0], curves[k, 1], curves[k, 2], curves[k, 3], curves[k, 4])
        open_v = open_circuit_v(curve)
        first_v = place_at(curve, lowest_v, open_v).diode_v
        for place in range(last + 1):
            diode_v = first_v + place / last * (open_v - first_v)
            current = flow_at(curve, diode_v).current_a
            current_a[k, place], voltage_v[k, place] = max(current, 0.0), diode_v - current * curve.series_ohm


def _curves(parameters: tuple[Any, ...]) -> np.ndarray:
    """(n, 5) of Curve from De Soto's five parameters, any of them a number or (n,)."""
    light, dark, series, shunt, thermal = np.broadcast_arrays(*parameters)
    columns = (light, dark, series, 1.0 / shunt, 1.0 / thermal)
    return np.stack([np.ravel(column).astype(float) for column in columns], axis=1)


def points(parameters: tuple[Any, ...]) -> dict[str, np.ndarray]:
    """The points ``i_sc``, ``v_oc``, ``i_mp``, ``v_mp`` and ``p_mp`` of single-diode curves, shaped as the parameters.

    >>> found = points((5.0, 1e-9, 0.1, 100.0, 1.0))
    >>> bool(found["p_mp"] == found["i_mp"] * found["v_mp"])
    True
    """
    curves = _curves(parameters)
    out = np.empty((len(curves), len(POINTS)))
    _points(curves, out)
    shape = np.broadcast_shapes(*map(np.shape, parameters))
    return {name: out[:, k].reshape(shape) for k, name in enumerate(POINTS)}


def currents(parameters: tuple[Any, ...], voltage_v: np.ndarray) -> np.ndarray:
    """(n, m) currents of n single-diode curves at m rising voltages; negative beyond open circuit."""
    curves = _curves(parameters)
    out = np.empty((len(curves), len(voltage_v)))
    _currents(curves, voltage_v, out)
    return out


def traced(parameters: tuple[Any, ...], lowest_v: float) -> tuple[np.ndarray, np.ndarray]:
    """(n, TRACED) currents and (n, TRACED) voltages along n single-diode curves, from a voltage to open circuit.

    Evenly spaced in the voltage of the diode.
    """
    curves = _curves(parameters)
    current_a, voltage_v = (np.empty((len(curves), TRACED)) for _ in range(2))
    _traced(curves, lowest_v, current_a, voltage_v)
    return current_a, voltage_v
