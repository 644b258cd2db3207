"""Pipes, pumps and what they make of each other, against published figures and against conservation."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import published
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim import cli
from sim.catalogue.pipework import fittings, inside_mm, roughness_mm, valves
from sim.errors import InputError
from sim.figures.water.flows import Network, hydraulic_w, meet, network_of, pipework_of, pump_head
from sim.figures.water.pipes import (
    LPH,
    G,
    Leg,
    Piece,
    bore_change_k,
    density,
    friction_factor,
    joined,
    kinematic,
    leg_head_m,
    piece_loss_m,
    reynolds,
    split,
    valve_k,
    viscosity,
)
from sim.figures.water.stopping import crest_head_m
from sim.scenario import Scenario
from sim.scenario.water import Filter, Water

SCENARIOS = Path(__file__).parents[1] / "scenarios"
NU_15C = 1.1386e-6  # m²/s, of the rows that say so
M3_H = 1000.0 * LPH
FOOT, GPM, HP = 0.3048, 3.785411784e-3 / 60.0, 745.699872

# ------------------------------------------------------------------ published: water, friction, losses


@pytest.mark.parametrize(("id", "water_c"), [("REF381", 5), ("REF383", 15), ("REF385", 20)])
def test_density(id: str, water_c: float) -> None:
    """Published: IAPWS-95."""
    published.check(id, density(water_c))


def test_densest() -> None:
    """Published: water is heaviest just below 4 °C, which is why a pond's bottom stays there."""
    grid = np.arange(0.0, 10.0, 0.001)
    published.check("REF414", grid[np.argmax([density(water_c) for water_c in grid])])


@pytest.mark.parametrize(("id", "water_c"), [("REF382", 5), ("REF384", 15), ("REF386", 20)])
def test_viscosity(id: str, water_c: float) -> None:
    """Published: IAPWS 2008."""
    published.check(id, viscosity(water_c) * 1000.0)


COLEBROOK = [
    ("REF339", 1e4, 0.0),
    ("REF340", 1e5, 0.0),
    ("REF341", 1e6, 0.0),
    ("REF342", 1e5, 0.001),
    ("REF343", 1e6, 0.001),
    ("REF344", 4e4, 0.002),
    ("REF345", 1000.0, 0.0),
]


@pytest.mark.parametrize(("id", "re", "roughness"), COLEBROOK)
def test_friction_factor(id: str, re: float, roughness: float) -> None:
    """Points of Colebrook's equation, and 64/Re where the flow is laminar."""
    published.check(id, friction_factor(re, roughness))


@pytest.mark.parametrize("re", [5e3, 3e4, 1e6])
@pytest.mark.parametrize("roughness", [0.0, 1e-4, 2e-2])
def test_colebrook_is_solved(re: float, roughness: float) -> None:
    """Derived: put back into Colebrook's equation, the factor solves it."""
    f = friction_factor(re, roughness)
    left, right = 1.0 / math.sqrt(f), -2.0 * math.log10(roughness / 3.7 + 2.51 / (re * math.sqrt(f)))
    assert left == pytest.approx(right, rel=1e-4)


def test_crane_smooth_pipe() -> None:
    """Published: Crane TP-410 worked example 7.1, Reynolds number and friction factor of smooth plastic pipe."""
    re = reynolds(0.2 / 60.0, 0.0525, kinematic(30.0))
    published.check("REF346", re)
    published.check("REF347", friction_factor(re, 0.0))


def test_crane_pump_head_and_power() -> None:
    """Published: Crane TP-410 worked example 7.15, 500 ft of 3 in steel pipe with fittings and a lift of 400 ft."""
    from fluids.fittings import K_lift_check_valve_Crane

    pipe_m, factor = 0.07793, 0.0174  # 3 in schedule 40 and Crane's factor for it
    check_k = K_lift_check_valve_Crane(D1=0.06271, D2=pipe_m, fd=0.018, angled=False)  # of 2½ in, with reducers
    piece = Piece(pipe_m, 500 * FOOT, 4.572e-5, 4 * 30 * factor + 8 * factor + check_k + 1.0)
    leg = Leg((piece,), 400 * FOOT)
    flow = 100 * GPM
    head_m = leg_head_m(leg, flow, kinematic(21.1))
    power_hp = hydraulic_w(flow / LPH, head_m, 21.1) / 0.7 / HP
    published.check("REF350", [head_m / FOOT, power_hp])


def test_crane_brake_power() -> None:
    """Published: Crane TP-410 worked example 7.34, brake power at an efficiency."""
    published.check("REF349", hydraulic_w(700 * GPM / LPH, 428 * FOOT, 15.6) / 0.707 / HP)


@pytest.mark.parametrize(("id", "flow", "head", "water_c"), [("REF387", 2, 2.0, 20), ("REF388", 1, 1.5, 20)])
def test_hydraulic_power(id: str, flow: float, head: float, water_c: float) -> None:
    """Derived: ρ·g·Q·H."""
    published.check(id, hydraulic_w(1000.0 * flow, head, water_c))


DARCY = [("REF372", 2.0, 0.025, 10.0), ("REF373", 3.0, 0.032, 15.0), ("REF374", 1.5, 0.019, 6.0)]


@pytest.mark.parametrize(("id", "m3_h", "diameter", "length"), DARCY)
def test_darcy_weisbach(id: str, m3_h: float, diameter: float, length: float) -> None:
    """Head lost in hoses of the sizes that ponds have."""
    published.check(id, piece_loss_m(Piece(diameter, length, 1.5e-6), m3_h * M3_H, NU_15C))


HAZEN = [("REF375", 5e-4, 0.02664, 30.0), ("REF376", 1e-3, 0.0409, 20.0)]


@pytest.mark.parametrize(("id", "flow", "diameter", "length"), HAZEN)
def test_hazen_williams(id: str, flow: float, diameter: float, length: float) -> None:
    """Published: what a smooth pipe loses by our law answers to a Hazen-Williams C within the range for new plastic;
    the examples for C 150 lie just under it.
    """
    at_150 = 10.67 * length * flow**1.852 / (150.0**1.852 * diameter**4.8704)
    published.check(id, at_150)
    ours = piece_loss_m(Piece(diameter, length, 0.0), flow, NU_15C)
    published.check("REF377", 150.0 * (at_150 / ours) ** (1.0 / 1.852))


MINOR = [
    ("REF351", "elbow"),
    ("REF352", "bend"),
    ("REF353", "tee-line"),
    ("REF354", "tee-branch"),
    ("REF355", "ball-valve"),
    ("REF356", "gate-valve"),
    ("REF357", "check-valve"),
    ("REF358", "entrance"),
    ("REF359", "exit"),
]


@pytest.mark.parametrize(("id", "kind"), MINOR)
def test_fittings(id: str, kind: str) -> None:
    """Published: the catalogue has the textbook's loss coefficients, exactly."""
    published.check(id, fittings()[kind], "exact")


def test_bends_of_every_kind() -> None:
    """Published, from memory of textbook tables: 45° threaded 0.4; long radius threaded 0.7, flanged 0.2."""
    kinds = ("elbow-45", "long-bend-threaded", "long-bend-flanged")
    assert [fittings()[kind] for kind in kinds] == [0.4, 0.7, 0.2]
    assert fittings()["long-bend-flanged"] < fittings()["bend"] < fittings()["long-bend-threaded"] < fittings()["elbow"]


def test_a_change_of_bore_costs_head() -> None:
    """Published: a sudden expansion from 25 to 50 mm has K 0.5625 on the smaller pipe (Borda-Carnot)."""
    published.check("REF361", bore_change_k(0.025, 0.050))
    narrow, wide = Piece(0.025, 0.0), Piece(0.050, 0.0)
    assert [one.loss_k for one in joined((narrow, wide, narrow))] == [0.5625, 0.0, 0.375]


def test_the_change_of_bore_between_main_and_header_is_counted(design: Callable[..., Any]) -> None:
    """Derived: 32 mm behind 25 mm costs (1 − 0.610)² of the velocity head in the main; behind a tee nothing more."""
    pipes = [{"diameter_mm": 25.0, "length_m": 1.0}, {"where": "header", "diameter_mm": 32.0, "length_m": 1.0}]
    water = {"pond_volume_l": 700.0, "pipe": pipes}
    network = network_of(design({"water": water}).water)
    assert network.main.pieces[0].loss_k == pytest.approx((1.0 - (25.0 / 32.0) ** 2) ** 2)
    forked = water | {"pipe": [*pipes, {"where": "branch"}], "branch": {}}
    assert network_of(design({"water": forked}).water).main.pieces[0].loss_k == 0.0


def test_trade_sizes_have_their_bore(design: Callable[..., Any]) -> None:
    """PE by EN 12201-2, SDR 11, from memory: 32 mm outside are 26.2 mm inside; hose by its inches."""
    for size, bore_mm in {"pe-32": 26.2, "pe-63": 51.4, "hose-1": 25.4}.items():
        assert design({"water": {"pipe": [{"size": size}]}}).water.pipe[0].diameter_mm == bore_mm
    for outside, wall in {"pe-20": 2.0, "pe-25": 2.3, "pe-32": 2.9, "pe-40": 3.7, "pe-50": 4.6, "pe-63": 5.8}.items():
        assert inside_mm()[outside] == pytest.approx(float(outside[3:]) - 2.0 * wall)
    with pytest.raises(InputError, match="the bore or the trade size, not both"):
        design({"water": {"pipe": [{"size": "pe-32", "diameter_mm": 32.0}]}})


def test_roughness_of_plastic() -> None:
    """Published: smooth plastic lies in the published range."""
    published.check("REF371", roughness_mm()["smooth-plastic"])


def test_valves_open_as_the_fittings_say() -> None:
    """Published: a fully open valve has the textbook's coefficient, within the half by which such tables differ."""
    published.check("REF355", valve_k(valves()["ball"], 100.0))
    published.check("REF356", valve_k(valves()["gate"], 100.0))


@pytest.mark.parametrize("kind", sorted(valves()))
def test_valves_fall_with_the_opening(kind: str) -> None:
    """A wider valve never costs more, a closed one lets nothing through; at its own points it has its own figures."""
    k = [valve_k(valves()[kind], opening) for opening in np.linspace(0, 100, 101)]
    assert math.isinf(k[0]) and all(b <= a + 1e-12 for a, b in zip(k, k[1:], strict=False))
    assert all(valve_k(valves()[kind], opening) == pytest.approx(own) for opening, own in valves()[kind])


# ------------------------------------------------------------------ published: split, affinity, operating point


def test_parallel_pipes_with_one_factor() -> None:
    """Published: lecture example, 0.12 m³/s over pipes of 0.30 and 0.15 m with equal factors: losses f·L/D alone."""
    legs = [Leg((Piece(d, 0.0, 0.0, 10.0 / d),)) for d in (0.30, 0.15)]
    published.check("REF378", split(legs, 0.12, NU_15C)[0])


def test_parallel_pipes_of_nine_times_the_factor() -> None:
    """Published: nine times the friction takes a third of the flow."""
    legs = [Leg((Piece(0.1, 0.0, 0.0, k),)) for k in (90.0, 10.0)]
    rough, smooth = split(legs, 0.01, NU_15C)[0]
    published.check("REF379", rough / smooth)


def test_parallel_hoses() -> None:
    """Two hoses side by side share 3 m³/h by their friction."""
    flows, head = split([Leg((Piece(0.025, 10.0),)), Leg((Piece(0.032, 8.0),))], 3.0 * M3_H, NU_15C)
    published.check("REF380", [*(flow / M3_H for flow in flows), head])


def test_crane_affinity() -> None:
    """Published: Crane TP-410 worked example 7.33, a pump at half its speed: flow, head and power."""
    ratio, gpm_lph = 1700 / 3500, GPM / LPH
    curve = ((300 * gpm_lph, 130.0 * FOOT), (400 * gpm_lph, 126.0 * FOOT), (500 * gpm_lph, 120.0 * FOOT))
    flow = 400 * ratio
    head_ft = pump_head(curve, ratio)(flow * GPM) / FOOT
    published.check("REF348", [flow, head_ft, 17.5 * (flow * head_ft) / (400 * 126)])


def parabola(points: int = 201) -> tuple[tuple[float, float], ...]:
    """The curve H = 4·(1 − (Q/4)²) with Q in m³/h."""
    return tuple((1000.0 * q, 4.0 * (1.0 - (q / 4.0) ** 2)) for q in np.linspace(0, 4, points))


def test_operating_point() -> None:
    """A parabola against lift, hose and fittings (ΣK 5, the last velocity head included)."""
    leg = Leg((Piece(0.025, 5.0, 1.5e-6, 5.0),), 1.0)
    point = meet(Network(Leg(()), (leg,), NU_15C), pump_head(parabola()))
    published.check("REF390", [point.flow_lph / 1000.0, point.head_m])


def test_few_points_make_nearly_the_same_pump() -> None:
    """Derived: five points of a parabola read by the monotone cubic are within 1 % of its head at the middle."""
    at = 1500 * LPH
    assert pump_head(parabola(5))(at) == pytest.approx(pump_head(parabola())(at), rel=0.01)


def test_affinity_through_a_system_of_squares() -> None:
    """Derived: with losses that go with the square of the flow and no lift, flow goes with the voltage, head with its
    square (affinity laws).
    """
    squares = [Leg((Piece(0.025, 0.0, 0.0, k),)) for k in (30.0, 5.0)]
    network = Network(squares[0], (squares[1],), NU_15C)
    one = meet(network, pump_head(parabola()))
    for ratio in (0.6, 0.8, 1.25):
        point = meet(network, pump_head(parabola(), ratio))
        assert point.flow_lph == pytest.approx(ratio * one.flow_lph, rel=1e-6)
        assert point.head_m == pytest.approx(ratio**2 * one.head_m, rel=1e-6)


def test_crest_of_a_stream() -> None:
    """Published: the trade's flow per width, and the height over a crest that Francis' formula gives for it."""
    per_cm = published.value("REF394") * 3.785411784 / 2.54
    published.check("REF395", per_cm)
    published.check("REF396", 1000.0 * crest_head_m(per_cm * 30.0, 0.3))


def test_pond_pump_efficiency(design: Callable[..., Scenario]) -> None:
    """Common practice: the demo's invented pump is as good as small pond pumps are."""
    scenario = design({})
    assert scenario.water
    found = pipework_of(scenario.pump, scenario.water, scenario.path)
    published.check("REF391", found.hydraulic_w / scenario.pump.power_w)


# ------------------------------------------------------------------ conservation


@settings(max_examples=25)
@given(
    opening=st.just(0.0) | st.floats(2.0, 100.0),
    lift=st.floats(0.0, 2.5),
    branch_lift=st.floats(0.0, 2.5),
    diameter=st.floats(8.0, 40.0),
    length=st.floats(0.0, 40.0),
    ratio=st.floats(0.6, 1.3),
)
def test_flows_close(
    opening: float, lift: float, branch_lift: float, diameter: float, length: float, ratio: float
) -> None:
    """Header and branch make up the pump's flow, each open line asks for the head that the pump has left at the tee,
    and no water runs where the lift is out of reach. Where the main turns turbulent its loss jumps, and what the header
    asks for lies within the jump.
    """
    water = Water.model_validate(
        {
            "static_head_m": lift,
            "pipe": [
                {"diameter_mm": diameter, "length_m": length},
                {"where": "header", "diameter_mm": 25.0, "length_m": 2.0},
                {"where": "branch", "diameter_mm": 12.0, "length_m": 3.0},
            ],
            "branch": {"opening_percent": opening, "static_head_m": branch_lift},
            "filter": {},
        }
    )
    network, head_at = network_of(water), pump_head(parabola(5), ratio)
    point = meet(network, head_at)
    assert point.filter_flow_lph + point.branch_flow_lph == pytest.approx(point.flow_lph, abs=1e-9)
    tee_m = point.head_m - leg_head_m(network.main, point.flow_lph * LPH, network.nu)
    if laminar_edge(network.main, point.flow_lph, network.nu):
        low_m, high_m = (
            head_at(flow * LPH) - leg_head_m(network.main, flow * LPH, network.nu) - HEAD_M
            for flow in (1.05 * point.flow_lph, 0.95 * point.flow_lph)
        )
        asked = leg_head_m(network.legs[0], point.filter_flow_lph * LPH, network.nu)
        assert point.filter_flow_lph == 0.0 or low_m <= asked <= high_m + 2.0 * HEAD_M
        return
    for leg, flow in zip(network.legs, (point.filter_flow_lph, point.branch_flow_lph), strict=True):
        if flow > 0.0 and not laminar_edge(leg, flow, network.nu):
            assert leg_head_m(leg, flow * LPH, network.nu) == pytest.approx(tee_m, abs=HEAD_M)
        elif flow == 0.0 and leg.pieces[0].loss_k < math.inf:
            assert tee_m <= leg.lift_m + 1e-6


HEAD_M = 2e-3  # heads agree to this


def laminar_edge(leg: Leg, flow_lph: float, nu: float) -> bool:
    """Whether a pipe is where laminar flow turns turbulent: the head jumps there, and any head in the jump fits."""
    return any(1950.0 < reynolds(flow_lph * LPH, piece.diameter_m, nu) < 2150.0 for piece in leg.pieces)


def test_the_filter_s_resistance_goes_with_the_square() -> None:
    """Derived: a filter of 0.2 m at 1000 l/h costs 0.8 m at 2000 l/h."""
    leg = network_of(Water(filter=Filter(head_m=0.2, at_flow_lph=1000.0))).legs[0]
    assert leg.filter_s2_m5 * (2000.0 * LPH) ** 2 == pytest.approx(0.8)


def test_the_branch_curve_rises_and_the_header_yields(design: Callable[..., Scenario]) -> None:
    """Opening the branch's valve gives the branch more and the header less, from nothing when it is closed; the set
    opening gives the operating point.
    """
    scenario = design({"water.branch.opening_percent": 60.0})
    assert scenario.water
    found = pipework_of(scenario.pump, scenario.water, scenario.path)
    branch = [point.branch_flow_lph for point in found.by_opening]
    header = [point.filter_flow_lph for point in found.by_opening]
    assert branch[0] == 0.0 and np.all(np.diff(branch) >= 0.0) and np.all(np.diff(header) <= 0.0)
    assert found.by_opening[list(found.openings).index(60.0)] == found.point


def test_the_system_curve_meets_the_pump_s_at_the_point(design: Callable[..., Scenario]) -> None:
    """The drawn curves cross where the point was found."""
    scenario = design({})
    assert scenario.water
    found = pipework_of(scenario.pump, scenario.water, scenario.path)
    apart = found.pump_m - found.system_m
    crossing = np.interp(0.0, -apart, found.drawn_lph)
    assert crossing == pytest.approx(found.point.flow_lph, rel=5e-3)
    assert sum(pipe.flow_lph for pipe in found.pipes if pipe.where != "main") == pytest.approx(found.point.flow_lph)


def test_g_is_the_standard_one() -> None:
    """Published: standard gravity."""
    assert G == 9.80665


# ------------------------------------------------------------------ curves that no pump has

BAD: list[tuple[str, Any, str]] = [
    ("one point", [[0, 2.0]], "here is only 1"),
    ("none", [], "here is only 0"),
    ("rising", [[0, 1.0], [1000, 2.0]], "from 0 to 1000 l/h it does not fall"),
    ("level", [[0, 1.0], [1000, 1.0]], "from 0 to 1000 l/h it does not fall"),
    ("negative head", [[0, 1.0], [1000, -0.5]], "nothing in it may be negative"),
    ("negative flow", [[-5, 1.0], [1000, 0.5]], "nothing in it may be negative"),
    ("unordered", [[0, 2.0], [1000, 1.5], [500, 0.5]], "500 l/h does not follow 1000 l/h"),
    ("endless", [[0, 2e9], [1000, 0.5]], "nothing in it may be above"),
    ("triples", [[0, 2.0, 1.0], [1000, 0.5, 1.0]], "two or more points"),
    ("words", "steep", "two or more points"),
]


@pytest.mark.parametrize(("curve", "said"), [case[1:] for case in BAD], ids=[case[0] for case in BAD])
def test_bad_curves_are_told(design: Callable[..., Scenario], curve: Any, said: str) -> None:
    """A curve that no pump has is one message with the key and what is wrong."""
    with pytest.raises(InputError) as caught:
        design({"pump.curve": curve})
    assert caught.value.key.startswith("pump.curve") and said in caught.value.allowed


def test_a_curve_that_ends_above_the_pipes_is_told(design: Callable[..., Scenario]) -> None:
    """A curve that stops before it meets the pipework crosses nowhere, and the message says where it ends."""
    scenario = design({"pump.curve": [[0, 3.0], [300, 2.9]]})
    assert scenario.water
    with pytest.raises(InputError, match=r"pump.curve = .* no head at all; at its last one, 300 l/h and 2.9 m"):
        pipework_of(scenario.pump, scenario.water, Path("pond.toml"))


HEADLESS = [{}, {"where": "branch"}]
UNFIT: list[tuple[dict[str, Any], str, str]] = [
    ({"water.pipe": [{"where": "header"}]}, "water", 'where = "main"'),
    ({"water.pipe": [{"where": "main"}]}, "water", "both a [water.branch]"),
    ({"water.fittings": [{"kind": "bend", "where": "header"}], "water.pipe": HEADLESS}, "water", "at every place"),
    ({"water.pipe": [{"material": "bamboo"}]}, "water.pipe[0].material", '"smooth-plastic"'),
    ({"water.fittings": [{"kind": "knee"}]}, "water.fittings[0].kind", '"elbow"'),
    ({"water.branch.valve": "tap"}, "water.branch.valve", '"ball" or "gate"'),
    ({"water.branch.opening_percent": 101}, "water.branch.opening_percent", "from 0 to 100"),
    ({"water.pond_volume": 5}, "water.pond_volume", "did you mean pond_volume_l?"),
]  # fmt: skip


@pytest.mark.parametrize(("changes", "key", "said"), UNFIT)
def test_pipework_that_does_not_fit_is_told(
    design: Callable[..., Scenario], changes: dict[str, Any], key: str, said: str
) -> None:
    """Pipes, fittings and branch must belong together, and names must be known."""
    with pytest.raises(InputError) as caught:
        design(changes)
    assert caught.value.key == key and said in caught.value.allowed


def test_a_curve_that_crosses_nowhere_ends_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The command ends with 2 and one message, and has written nothing."""
    text = (SCENARIOS / "courtyard.toml").read_text(encoding="utf-8")
    curve = re.sub(r"^curve = .*$", "curve = [[0, 3.0], [300, 2.9]]", text, flags=re.MULTILINE)
    (tmp_path / "pond.toml").write_text(curve, encoding="utf-8")
    assert cli.main(["year", str(tmp_path / "pond.toml"), "--out", str(tmp_path / "out")]) == 2
    said = capsys.readouterr()
    assert "pump.curve" in said.err and said.err.count("\n") == 1 and not said.out
    assert not (tmp_path / "out").exists()
