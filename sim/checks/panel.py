"""Rules on the panel and on what it brings to the controller."""

from collections.abc import Callable

from sim.checks.finding import OWN, Finding
from sim.figures.measures import Measures
from sim.figures.wiring import SUN_FACTOR
from sim.scenario import Scenario
from sim.units import Quantity, sentence

MISMATCH_NOTE, MISMATCH = 1.3, 1.5
HOT_MARGIN_V = 1.0  # for each 12 V
THIN_SHADE = 0.8  # no tree lets more through: leafless honey locust 0.79
FLAT_DEG, PUDDLE_DEG = 10.0, 5.0


def mismatch(scenario: Scenario, measures: Measures) -> Finding | None:
    """A panel whose voltage a direct-coupled controller throws away."""
    control, panel, energy = scenario.controller, scenario.panel, measures.energy
    ratio = panel.vmp_v * panel.series / control.absorption_v
    if control.tracks or ratio <= MISMATCH_NOTE:
        return None
    level, limit = ("caution", MISMATCH) if ratio > MISMATCH else ("note", MISMATCH_NOTE)
    lost = energy.off_maximum_power / energy.panel_possible if energy.panel_possible else 0.0
    said = sentence(
        "The panel's best voltage is {ratio} times the charge's {volts} V, and a PWM controller holds it at the "
        "battery's: {lost} of the panel's energy is lost. A tracking controller uses it.",
        ratio=f"{ratio:.2f}",
        volts=f"{control.absorption_v:g}",
        lost=f"{lost:.0%}",
    )
    return Finding("panel-voltage-on-pwm", level, said, ratio, limit, OWN)


def hot_panel(scenario: Scenario, measures: Measures) -> Finding | None:
    """A hot panel whose best voltage hardly reaches the absorption voltage."""
    control, hot_v = scenario.controller, measures.hot_vmp_v
    limit = control.absorption_v + HOT_MARGIN_V * scenario.battery.nominal_v / 12.0
    if control.tracks or hot_v >= limit:
        return None
    least_v = control.absorption_v + control.series_drop_v + measures.wiring.runs[0].drop_v
    level = "caution" if hot_v < least_v else "note"
    slow, little = sentence("The end of the charge is slow on hot days."), sentence("That leaves little on hot days.")
    said = sentence(
        "At its hottest the panel's best voltage falls to {hot} V; absorption with the losses of cable and controller "
        "takes {least} V. {effect}",
        hot=f"{hot_v:.1f}",
        least=f"{least_v:.1f}",
        effect=slow if level == "caution" else little,
    )
    return Finding("hot-panel", level, said, hot_v, limit, OWN)


def cold_voltage(scenario: Scenario, measures: Measures) -> Finding | None:
    """Open-circuit voltage of a cold morning against what the controller bears."""
    wiring, limit = measures.wiring, scenario.controller.max_pv_v
    if limit is None or wiring.array_cold_voc_v <= limit:
        return None
    said = sentence(
        "At {cold}, the coldest of this year, the array's open-circuit voltage is {volts}; the controller bears "
        "{limit}. A record may be colder.",
        cold=Quantity(wiring.air_min_c, "c", ".0f"),
        volts=f"{wiring.array_cold_voc_v:.1f} V",
        limit=f"{limit:g} V",
    )
    source = sentence(
        "the scenario's controller.max_pv_v; the panel's coefficient or NEC table 690.7(A), whichever is higher"
    )
    return Finding("cold-voltage-over-limit", "warning", said, wiring.array_cold_voc_v, limit, source)


def controller_current(scenario: Scenario, measures: Measures) -> Finding | None:
    """More current from the array than the controller is made for."""
    control, wiring = scenario.controller, measures.wiring
    if control.tracks:
        return _clipped(wiring.array_charge_a, control.max_charge_a)
    most = SUN_FACTOR * wiring.array_isc_a
    if most <= control.max_charge_a:
        return None
    said = sentence(
        "With {times} times its short-circuit current the array brings {amps} A; the controller is made for {limit} A.",
        times=f"{SUN_FACTOR:g}",
        amps=f"{most:.1f}",
        limit=f"{control.max_charge_a:g}",
    )
    return Finding("controller-current", "warning", said, most, control.max_charge_a, "NEC 690.8(A)")


def _clipped(charge_a: float, limit: float) -> Finding | None:
    """A tracking controller that holds its limit: nothing breaks, some energy is left."""
    if charge_a <= limit:
        return None
    said = sentence(
        "At full power the array could charge with {amps} A; the controller holds its limit of {limit} A.",
        amps=f"{charge_a:.1f}",
        limit=f"{limit:g}",
    )
    source = sentence("the scenario's controller.max_charge_a")
    return Finding("controller-current", "note", said, charge_a, limit, source)


def shade_by_area(scenario: Scenario, measures: Measures) -> Finding | None:
    """A shade on the whole panel that lets through more than any tree does: a shadow on cells, judged by its area."""
    thin = [max(shade.transmittance) for shade in scenario.panel.shade if shade.cell_strings == "all"]
    through = max((share for share in thin if share < 1.0), default=0.0)
    if through <= THIN_SHADE:
        return None
    said = sentence(
        "A shade lets {share} of the light through to the whole panel, more than a leafless tree. If it is the shadow "
        "of a pole or a branch, judge it by cells: one fully shaded cell costs its whole string, a half or a third of "
        "the panel; say so with cell_strings.",
        share=f"{through:.0%}",
    )
    source = sentence("densest to thinnest crowns, Gardner & Sydnor: honey locust without leaves 0.79")
    return Finding("shade-judged-by-area", "caution", said, through, THIN_SHADE, source)


def laid_flat(scenario: Scenario, measures: Measures) -> Finding | None:
    """A panel that rain does not rinse and snow does not leave."""
    tilt = scenario.panel.tilt_deg
    if tilt >= FLAT_DEG:
        return None
    flat = tilt <= PUDDLE_DEG
    puddle = sentence("water stands on its frame and leaves a rim of dirt on the lowest cells")
    said = sentence(
        "The panel is tilted by {tilt}°: {puddle}, and snow does not slide off. Plan to clean it.",
        tilt=f"{tilt:g}",
        puddle=puddle if flat else sentence("dirt stays on it"),
    )
    return Finding("panel-laid-flat", "note", said, tilt, PUDDLE_DEG if flat else FLAT_DEG, OWN)


RULES: tuple[Callable[[Scenario, Measures], Finding | None], ...] = (
    mismatch,
    hot_panel,
    cold_voltage,
    controller_current,
    shade_by_area,
    laid_flat,
)
