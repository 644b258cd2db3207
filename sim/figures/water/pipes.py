"""Head lost in pipes, fittings and valves: Darcy-Weisbach with Colebrook's friction factor.

Flows are m³/s, heads m of water, lengths m. A leg is a line of pieces with a lift and perhaps a filter at its end.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

G = 9.80665  # m/s²
LPH = 1.0 / 3.6e6  # m³/s in a litre per hour
CLOSED_LN_K = 30.0  # of a valve: a metre of head then drives less than 0.01 l/h through the widest pipe


def density(water_c: float) -> float:
    """Density of pure water at atmospheric pressure, kg/m³, 0 to 40 °C.

    ρ = ρmax·(1 − (t + 288.9414)·(t − 3.9863)²/(508929.2·(t + 68.12963))) with ρmax = 999.975 kg/m³. Source: McCutcheon,
    Martin and Barnwell, in Handbook of Hydrology (1993), which rounds ρmax to 1000.

    >>> round(density(15.0), 1)
    999.1
    """
    lighter = (water_c + 288.9414) * (water_c - 3.9863) ** 2 / (508929.2 * (water_c + 68.12963))
    return 999.975 * (1.0 - lighter)


def viscosity(water_c: float) -> float:
    """Dynamic viscosity of water at atmospheric pressure, Pa·s, −20 to 110 °C.

    μ = Σ aᵢ·(T/300 K)^bᵢ in µPa·s. Source: IAPWS SR6-08, properties of liquid water at 0.1 MPa.

    >>> round(viscosity(20.0) * 1000.0, 3)
    1.002
    """
    ratio = (water_c + 273.15) / 300.0
    terms = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
    return float(1e-6 * sum(a * ratio**b for a, b in terms))


def kinematic(water_c: float) -> float:
    """Kinematic viscosity ν = μ/ρ, m²/s.

    >>> round(kinematic(15.0) * 1e6, 4)
    1.1386
    """
    return viscosity(water_c) / density(water_c)


class Piece(NamedTuple):
    """A length of pipe with the sum of the loss coefficients of what is fitted in it."""

    diameter_m: float
    length_m: float
    roughness_m: float = 1.5e-6
    loss_k: float = 0.0


class Leg(NamedTuple):
    """Pieces one behind the other, a lift at their end, and a filter of resistance head/flow² (s²/m⁵)."""

    pieces: tuple[Piece, ...]
    lift_m: float = 0.0
    filter_s2_m5: float = 0.0


def velocity(flow: float, diameter_m: float) -> float:
    """Mean velocity in a round pipe, m/s.

    >>> round(velocity(1000 * LPH, 0.025), 3)
    0.566
    """
    return 4.0 * flow / (math.pi * diameter_m**2)


def reynolds(flow: float, diameter_m: float, nu: float) -> float:
    """Re = v·D/ν."""
    return velocity(flow, diameter_m) * diameter_m / nu


def friction_factor(re: float, relative_roughness: float) -> float:
    """Darcy's factor: 64/Re where laminar (Re below 2040), else the solution of Colebrook's equation.

    >>> friction_factor(1000.0, 0.0)
    0.064
    """
    from fluids.friction import friction_factor as solved

    return float(solved(re, relative_roughness))


def piece_loss_m(piece: Piece, flow: float, nu: float) -> float:
    """Head lost in a piece: h = v²/2g·(f·L/D + ΣK).

    >>> round(piece_loss_m(Piece(0.025, 10.0), 2000 * LPH, 1.1386e-6), 3)
    0.645
    """
    if flow <= 0.0:
        return 0.0
    factor = friction_factor(reynolds(flow, piece.diameter_m, nu), piece.roughness_m / piece.diameter_m)
    head = velocity(flow, piece.diameter_m) ** 2 / (2.0 * G)
    return head * (factor * piece.length_m / piece.diameter_m + piece.loss_k)


def bore_change_k(before_m: float, after_m: float) -> float:
    """Loss coefficient of a sudden change of bore, on the velocity head in the smaller pipe.

    Wider: (1 − β²)², Borda-Carnot; narrower: ½·(1 − β²); β the smaller over the larger diameter. Crane TP-410.

    >>> bore_change_k(0.025, 0.050), bore_change_k(0.050, 0.025), bore_change_k(0.025, 0.025)
    (0.5625, 0.375, 0.0)
    """
    lost = 1.0 - (min(before_m, after_m) / max(before_m, after_m)) ** 2
    return lost**2 if after_m > before_m else 0.5 * lost


def joined(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Pieces one behind the other, each smaller one with the loss where the bore changes beside it."""
    found = list(pieces)
    for k in range(1, len(found)):
        before_m, after_m = found[k - 1].diameter_m, found[k].diameter_m
        smaller = k - 1 if before_m < after_m else k
        more = bore_change_k(before_m, after_m)
        found[smaller] = found[smaller]._replace(loss_k=found[smaller].loss_k + more)
    return tuple(found)


def leg_head_m(leg: Leg, flow: float, nu: float) -> float:
    """Head that a leg asks for at a flow: lift, pieces and filter."""
    lost = sum(piece_loss_m(piece, flow, nu) for piece in leg.pieces)
    return leg.lift_m + lost + leg.filter_s2_m5 * flow * flow


def leg_flow(leg: Leg, head_m: float, nu: float) -> float:
    """The flow at which a leg asks for just this head, m³/s; none where it does not reach the lift, or is closed."""
    from scipy.optimize import brentq

    if head_m <= leg.lift_m or any(math.isinf(piece.loss_k) for piece in leg.pieces):
        return 0.0
    most = 1e-4
    while leg_head_m(leg, most, nu) < head_m:
        most *= 2.0
    return float(brentq(lambda flow: leg_head_m(leg, flow, nu) - head_m, 0.0, most, xtol=1e-12, rtol=1e-10))


def split(legs: Sequence[Leg], flow: float, nu: float) -> tuple[list[float], float]:
    """How a flow divides over legs that begin at one point, and the head there.

    >>> flows, head = split([Leg((Piece(0.025, 10.0),)), Leg((Piece(0.032, 8.0),))], 3000 * LPH, 1.1386e-6)
    >>> [round(flow / LPH) for flow in flows], round(head, 3)
    ([931, 2069], 0.169)
    """
    from scipy.optimize import brentq

    lowest = min(leg.lift_m for leg in legs)
    most = min(leg_head_m(leg, flow, nu) for leg in legs)  # in which one leg alone takes it all
    over_m = 1.001 * most + 1e-3
    head = brentq(lambda at: sum(leg_flow(leg, at, nu) for leg in legs) - flow, lowest, over_m, xtol=1e-10)
    return [leg_flow(leg, head, nu) for leg in legs], float(head)


def valve_k(points: Sequence[Sequence[float]], opening_percent: float) -> float:
    """Loss coefficient of a valve at an opening, from ``points`` (opening in per cent, K), opening rising.

    Straight in ln K against ln opening, and so on below the lowest point; infinite where closed, and where it lets so
    little through that it is as good as closed.

    >>> valve_k([[25.0, 24.0], [50.0, 4.5]], 50.0), valve_k([[25.0, 24.0], [50.0, 4.5]], 0.0)
    (4.5, inf)
    """
    if opening_percent <= 0.0:
        return math.inf
    opening, k = np.log(np.asarray(points, dtype=float)).T
    at = math.log(opening_percent)
    if at < opening[0]:
        slope = (k[1] - k[0]) / (opening[1] - opening[0])
        beyond = float(k[0] + slope * (at - opening[0]))
        return math.exp(beyond) if beyond < CLOSED_LN_K else math.inf
    return math.exp(np.interp(at, opening, k))
