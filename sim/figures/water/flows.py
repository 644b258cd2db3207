"""Where pump and pipework meet: the operating point, the split at the tee, flow against voltage and valve opening.

All of it is worked out once for a scenario, outside the simulation, which reads it by interpolation.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

import numpy as np

from sim.catalogue.pipework import fittings, valves
from sim.errors import InputError
from sim.figures.water.pipes import (
    LPH,
    G,
    Leg,
    Piece,
    density,
    joined,
    kinematic,
    leg_flow,
    leg_head_m,
    piece_loss_m,
    reynolds,
    split,
    valve_k,
    velocity,
)
from sim.scenario.models import Pump
from sim.scenario.water import Curve, Pipe, Water

VOLTS = 17  # nodes of flow against voltage
OPENINGS = np.array([0, 5, 10, 15, 20, 25, 30, 40, 50, 60, 70, 80, 90, 100], dtype=float)  # of the branch curve, %
DRAWN = 25  # points of the pump's and the system's curve


@dataclass(frozen=True)
class Network:
    """The main up to the tee, and the one or two legs behind it, header first."""

    main: Leg
    legs: tuple[Leg, ...]
    nu: float


@dataclass(frozen=True)
class Point:
    """Where the pump works: flows in l/h, the pump's head in m. Without a branch all goes through the header."""

    flow_lph: float
    filter_flow_lph: float
    branch_flow_lph: float
    head_m: float


@dataclass(frozen=True)
class PipeFlow:
    """What happens in one length of pipe at the operating point."""

    where: str
    diameter_mm: float
    length_m: float
    flow_lph: float
    velocity_m_s: float
    reynolds: float
    loss_m: float


@dataclass(frozen=True)
class Pipework:
    """Everything about the flows that does not depend on the weather; the curves only when somebody draws them."""

    water: Water
    network: Network
    head_at: Callable[[float], float]
    point: Point  # at the pump's rated voltage
    shut_off_m: float
    lift_m: float  # the least that any flow asks for
    volts: np.ndarray  # (VOLTS,) at the pump's terminals
    by_volts: tuple[Point, ...]
    openings: np.ndarray  # per cent; empty without a branch
    drawn_lph: np.ndarray  # (DRAWN,) with both curves over it
    pipes: tuple[PipeFlow, ...]
    hydraulic_w: float

    @cached_property
    def by_opening(self) -> tuple[Point, ...]:
        """Where the pump works at each of the openings of the branch's valve."""
        return tuple(meet(network_of(self.water, opening), self.head_at) for opening in self.openings)

    @cached_property
    def pump_m(self) -> np.ndarray:
        """(DRAWN,) head of the pump, m."""
        return np.array([self.head_at(flow * LPH) for flow in self.drawn_lph])

    @cached_property
    def system_m(self) -> np.ndarray:
        """(DRAWN,) head that the whole pipework asks for, m."""
        return _system(self.network, self.drawn_lph)

    def flows_at(self, volts: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Flow of the pump, the header and the branch at these voltages, l/h."""
        table = np.array([(p.flow_lph, p.filter_flow_lph, p.branch_flow_lph) for p in self.by_volts]).T
        total, header, branch = (np.interp(volts, self.volts, row) for row in table)
        return total, header, branch


def pump_head(curve: Curve, ratio: float = 1.0) -> Callable[[float], float]:
    """Head in m against flow in m³/s of a pump at ``ratio`` of its rated speed; below 0 past its largest flow.

    Between the points a monotone cubic (PCHIP), past the last one straight on. Affinity laws: H(Q) = r²·H₀(Q/r).
    Source: Crane TP-410 worked example 7.33.

    >>> head = pump_head(((0.0, 2.0), (1000.0, 1.0)), 0.5)
    >>> head(0.0), round(head(500 * LPH), 6)
    (0.5, 0.25)
    """
    from scipy.interpolate import PchipInterpolator

    flow, head = np.array(curve).T
    flow = flow * LPH
    inside = PchipInterpolator(flow, head)
    slope = (head[-1] - head[-2]) / (flow[-1] - flow[-2])

    def at(asked: float) -> float:
        rated = max(asked / ratio, flow[0])
        past = max(rated - flow[-1], 0.0)
        return float(ratio**2 * (inside(min(rated, flow[-1])) + slope * past))

    return at


def meet(network: Network, head_at: Callable[[float], float]) -> Point:
    """The operating point: the head at the tee at which the pump, less the main's loss, feeds what the legs take."""
    from scipy.optimize import brentq

    lowest, highest = min(leg.lift_m for leg in network.legs), head_at(0.0)

    def flows(tee_m: float) -> list[float]:
        return [leg_flow(leg, tee_m, network.nu) for leg in network.legs]

    def over(tee_m: float) -> float:
        total = sum(flows(tee_m))
        return head_at(total) - leg_head_m(network.main, total, network.nu) - tee_m

    if highest <= lowest:
        return Point(0.0, 0.0, 0.0, highest)
    header, *branch = flows(float(brentq(over, lowest, highest, xtol=1e-9)))
    total = header + sum(branch)
    return Point(total / LPH, header / LPH, sum(branch) / LPH, head_at(total))


def _pieces(water: Water, where: str, extra_k: Sequence[float]) -> tuple[Piece, ...]:
    """The pipes of a place; fittings count in the first of them, ``extra_k`` are those at both its ends."""
    at_first = sum(fit.count * fit.loss_coefficient for fit in water.fittings if fit.where == where) + extra_k[0]
    pipes = [pipe for pipe in water.pipe if pipe.where == where] or _mere_end(water)
    last = len(pipes) - 1
    return tuple(
        Piece(
            pipe.diameter_mm / 1000.0,
            pipe.length_m,
            pipe.roughness_mm / 1000.0,
            (at_first if place == 0 else 0.0) + (extra_k[1] if place == last else 0.0),
        )
        for place, pipe in enumerate(pipes)
    )


def _mere_end(water: Water) -> list[Pipe]:
    """What stands for a header without pipes of its own: the end of the main, without length."""
    last = [pipe for pipe in water.pipe if pipe.where == "main"][-1]
    return [last.model_copy(update={"length_m": 0.0})]


def network_of(water: Water, opening_percent: float | None = None) -> Network:
    """The pipework of a scenario, with the tee and the velocity head lost at each outlet, at a valve opening.

    Where pipes of different bore meet, that costs head too; behind a tee its own coefficients stand for all of it.
    """
    k, branch = fittings(), water.branch
    tee_k = k["tee-line"] if branch else 0.0
    main, header = _pieces(water, "main", (0.0, 0.0)), _pieces(water, "header", (tee_k, k["exit"]))
    if branch:
        main, header = joined(main), joined(header)
    else:
        whole = joined((*main, *header))
        main, header = whole[: len(main)], whole[len(main) :]
    legs = [Leg(header, water.static_head_m, _filter_s2_m5(water))]
    if branch:
        opening = branch.opening_percent if opening_percent is None else opening_percent
        closing_k = valve_k(valves()[branch.valve], opening)
        lift_m = water.static_head_m if branch.static_head_m is None else branch.static_head_m
        legs.append(Leg(joined(_pieces(water, "branch", (k["tee-branch"] + closing_k, k["exit"]))), lift_m))
    return Network(Leg(main), tuple(legs), kinematic(water.pipe_water_c))


def _filter_s2_m5(water: Water) -> float:
    """The filter's resistance, head over the square of the flow, s²/m⁵."""
    strainer = water.filter
    return strainer.head_m / (strainer.at_flow_lph * LPH) ** 2 if strainer else 0.0


def _system(network: Network, flow_lph: np.ndarray) -> np.ndarray:
    """Head that the whole pipework asks for at each of these flows, m."""

    def asked_m(flow: float) -> float:
        tee_m = split(network.legs, flow, network.nu)[1] if flow > 0.0 else min(leg.lift_m for leg in network.legs)
        return leg_head_m(network.main, flow, network.nu) + tee_m

    return np.array([asked_m(flow * LPH) for flow in flow_lph])


def _pipe_flows(water: Water, network: Network, point: Point) -> tuple[PipeFlow, ...]:
    flows = {"main": point.flow_lph, "header": point.filter_flow_lph, "branch": point.branch_flow_lph}
    pieces = {"main": network.main.pieces, "header": network.legs[0].pieces, "branch": network.legs[-1].pieces}
    found = []
    for where, flow_lph in flows.items():
        for piece in pieces[where] if any(pipe.where == where for pipe in water.pipe) else ():
            flow, wide_m = flow_lph * LPH, piece.diameter_m
            loss_m = piece_loss_m(piece, flow, network.nu)
            speed, re = velocity(flow, wide_m), reynolds(flow, wide_m, network.nu)
            found.append(PipeFlow(where, 1000.0 * wide_m, piece.length_m, flow_lph, speed, re, loss_m))
    return tuple(found)


def hydraulic_w(flow_lph: float, head_m: float, water_c: float) -> float:
    """Power that the water takes up, P = ρ·g·Q·H, W.

    >>> round(hydraulic_w(2000.0, 2.0, 20.0), 2)
    10.88
    """
    return density(water_c) * G * flow_lph * LPH * head_m


@cache
def pipework_of(pump: Pump, water: Water, path: Path) -> Pipework:
    """The flows of a pump with a curve in its pipework. Raises InputError where the curve ends before it is met."""
    curve = pump.curve or ()
    network, head_at = network_of(water), pump_head(curve)
    point = meet(network, head_at)
    _refuse_short(curve, point, path)
    volts = np.linspace(pump.min_v, pump.max_v, VOLTS)
    return Pipework(
        water,
        network,
        head_at,
        point,
        shut_off_m=head_at(0.0),
        lift_m=min(leg.lift_m for leg in network.legs),
        volts=volts,
        by_volts=tuple(meet(network, pump_head(curve, at_v / pump.at_v)) for at_v in volts)
        if pump.supply == "direct"
        else (point,) * VOLTS,
        openings=OPENINGS if water.branch else np.empty(0),
        drawn_lph=np.linspace(0.0, curve[-1][0], DRAWN),
        pipes=_pipe_flows(water, network, point),
        hydraulic_w=hydraulic_w(point.flow_lph, point.head_m, water.pipe_water_c),
    )


def _refuse_short(curve: Curve, point: Point, path: Path) -> None:
    """A curve that ends above the pipework's has no operating point on it."""
    last_lph, last_m = curve[-1]
    if point.flow_lph > last_lph * (1.0 + 1e-9):
        allowed = (
            f"points down to where the curve meets this pipework, towards no head at all; at its last one, "
            f"{last_lph:g} l/h and {last_m:g} m, the pipes ask for less"
        )
        raise InputError(str(path), "pump.curve", [list(pair) for pair in curve], allowed)
