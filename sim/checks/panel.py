"""Rules on the panel and on what it brings to the controller."""

from collections.abc import Callable

from sim.checks.finding import OWN, Finding, Passed, Said
from sim.figures.measures import Measures
from sim.figures.wiring import SUN_FACTOR
from sim.language import mark
from sim.scenario import Scenario
from sim.units import Quantity, sentence

MISMATCH_NOTE, MISMATCH = 1.3, 1.5
HOT_MARGIN_V = 1.0  # for each 12 V
THIN_SHADE = 0.8  # no tree lets more through: leafless honey locust 0.79
AT_RECORD = mark(
    "At {cold}, the record low of the place, the array's open-circuit voltage is {volts}; the controller bears {limit}."
)
AT_COLDEST = mark(
    "At {cold}, the coldest hour of the weather data, the array's open-circuit voltage is {volts}; the controller "
    "bears {limit}. A record may be colder."
)
FLAT_DEG, PUDDLE_DEG = 10.0, 5.0


def mismatch(scenario: Scenario, measures: Measures) -> Said:
    """A panel whose voltage a direct-coupled controller throws away."""
    control, panel, energy = scenario.controller, scenario.panel, measures.energy
    ratio = panel.vmp_v * panel.series / control.absorption_v
    if control.tracks:
        return None
    if ratio <= MISMATCH_NOTE:
        return Passed("panel-voltage-on-pwm", "The panel's best voltage over the charge's", ratio, MISMATCH_NOTE, OWN)
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


def hot_panel(scenario: Scenario, measures: Measures) -> Said:
    """A hot panel whose best voltage hardly reaches the absorption voltage."""
    control, hot_v = scenario.controller, measures.hot_vmp_v
    limit = control.absorption_v + HOT_MARGIN_V * scenario.battery.nominal_v / 12.0
    if control.tracks:
        return None
    if hot_v >= limit:
        return Passed("hot-panel", "The hottest panel's best voltage, V", hot_v, limit, OWN, least=True)
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


def cold_voltage(scenario: Scenario, measures: Measures) -> Said:
    """Open-circuit voltage of a cold morning against what the controller bears."""
    wiring, limit = measures.wiring, scenario.controller.max_pv_v
    source = sentence(
        "the scenario's controller.max_pv_v; the panel's coefficient or NEC table 690.7(A), whichever is higher"
    )
    if limit is None:
        return None
    if wiring.array_cold_voc_v <= limit:
        what = f"The array's open-circuit voltage at {Quantity(wiring.air_min_c, 'c', '.0f')}, V"
        return Passed("cold-voltage-over-limit", what, wiring.array_cold_voc_v, limit, source)
    recorded = scenario.site.record_low_c is not None
    said = sentence(
        AT_RECORD if recorded else AT_COLDEST,
        cold=Quantity(wiring.air_min_c, "c", ".0f"),
        volts=f"{wiring.array_cold_voc_v:.1f} V",
        limit=f"{limit:g} V",
    )
    return Finding("cold-voltage-over-limit", "warning", said, wiring.array_cold_voc_v, limit, source)


def controller_current(scenario: Scenario, measures: Measures) -> Said:
    """More current from the array than the controller is made for."""
    control, wiring = scenario.controller, measures.wiring
    if control.tracks:
        return _clipped(wiring.array_charge_a, control.max_charge_a)
    most = SUN_FACTOR * wiring.array_isc_a
    if most <= control.max_charge_a:
        what = f"{SUN_FACTOR:g} times the array's short-circuit current, A"
        return Passed("controller-current", what, most, control.max_charge_a, "NEC 690.8(A)")
    said = sentence(
        "With {times} times its short-circuit current the array brings {amps} A; the controller is made for {limit} A.",
        times=f"{SUN_FACTOR:g}",
        amps=f"{most:.1f}",
        limit=f"{control.max_charge_a:g}",
    )
    return Finding("controller-current", "warning", said, most, control.max_charge_a, "NEC 690.8(A)")


def _clipped(charge_a: float, limit: float) -> Said:
    """A tracking controller that holds its limit: nothing breaks, some energy is left."""
    source = sentence("the scenario's controller.max_charge_a")
    if charge_a <= limit:
        return Passed("controller-current", "Charging current at full power, A", charge_a, limit, source)
    said = sentence(
        "At full power the array could charge with {amps} A; the controller holds its limit of {limit} A.",
        amps=f"{charge_a:.1f}",
        limit=f"{limit:g}",
    )
    return Finding("controller-current", "note", said, charge_a, limit, source)


def shade_by_area(scenario: Scenario, measures: Measures) -> Said:
    """A shade on the whole panel that lets through more than any tree does: a shadow on cells, judged by its area."""
    thin = [max(shade.transmittance) for shade in scenario.panel.shade if shade.cell_strings == "all"]
    through = max((share for share in thin if share < 1.0), default=0.0)
    source = sentence("densest to thinnest crowns, Gardner & Sydnor: honey locust without leaves 0.79")
    if not thin:
        return None
    if through <= THIN_SHADE:
        what = "Light that a shade lets through to the whole panel, at most"
        return Passed("shade-judged-by-area", what, through, THIN_SHADE, source)
    said = sentence(
        "A shade lets {share} of the light through to the whole panel, more than a leafless tree. If it is the shadow "
        "of a pole or a branch, judge it by cells: one fully shaded cell costs its whole string, a half or a third of "
        "the panel; say so with cell_strings.",
        share=f"{through:.0%}",
    )
    return Finding("shade-judged-by-area", "caution", said, through, THIN_SHADE, source)


def laid_flat(scenario: Scenario, measures: Measures) -> Said:
    """A panel that rain does not rinse and snow does not leave."""
    tilt = scenario.panel.tilt_deg
    if tilt >= FLAT_DEG:
        return Passed("panel-laid-flat", "Tilt of the panel, °", tilt, FLAT_DEG, OWN, least=True)
    flat = tilt <= PUDDLE_DEG
    puddle = sentence("water stands on its frame and leaves a rim of dirt on the lowest cells")
    said = sentence(
        "The panel is tilted by {tilt}°: {puddle}, and snow does not slide off. Plan to clean it.",
        tilt=f"{tilt:g}",
        puddle=puddle if flat else sentence("dirt stays on it"),
    )
    return Finding("panel-laid-flat", "note", said, tilt, PUDDLE_DEG if flat else FLAT_DEG, OWN)


RULES: tuple[Callable[[Scenario, Measures], Said], ...] = (
    mismatch,
    hot_panel,
    cold_voltage,
    controller_current,
    shade_by_area,
    laid_flat,
)
