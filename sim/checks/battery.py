"""Rules on what the battery goes through: frost, charge, its protection circuit, and what a bigger one would change."""

from collections.abc import Callable

from sim.catalogue.cells import Cell, cell
from sim.checks.finding import OWN, Finding
from sim.figures.measures import COOL_C, Measures
from sim.figures.series import longest_without
from sim.scenario import Scenario
from sim.units import Quantity, sentence
from sim.words import years

PROTECTION_MARGIN_V = 0.2  # for each 12 V, between a setting and the limit of the protection circuit
FULL_DAYS, FULL_DAYS_WARNING = 7, 14
DEFICIT_DAYS = 10
FAR_TOO_FAST = 1.5  # times the makers' current: a warning; our own default
EMPTY_SOC = 0.20  # nearly empty: where lithium makers' limits for storing begin, and lead-acid sulphates fast; our own
EMPTY_DAYS, EMPTY_DAYS_WARNING = 3, 14
WORTHWHILE = 0.05  # of the pump's hours
MANUALS = sentence(
    "battery makers' manuals: no charge below {frost}, a small one below {cool}",
    frost=Quantity(0.0, "c", "g"),
    cool=Quantity(5.0, "c", "g"),
)


def _cell(scenario: Scenario) -> Cell:
    return cell(scenario.battery.chemistry)


def _limit_v(scenario: Scenario, block_v: float, margin: float) -> float:
    """A limit of the protection circuit moved by so many margins, V."""
    return (block_v + margin * PROTECTION_MARGIN_V) * scenario.battery.nominal_v / 12.0


def charging_frozen(scenario: Scenario, measures: Measures) -> Finding | None:
    """Hours in which the sun offered charge to lithium cells too cold for it, or nearly so."""
    year, source = measures.battery, MANUALS
    if not _cell(scenario).lithium:
        return None
    if year.charge_refused_hours > 0.0:
        said = (
            f"In {year.charge_refused_hours:.0f} h the sun offered charge and the battery's protection circuit refused "
            "it, nearly always for frost. Never charge lithium below its maker's lowest cell temperature; a warmer "
            "place for the box helps."
        )
        return Finding("charging-frozen-lithium", "warning", said, year.charge_refused_hours, 0.0, source)
    if year.cool_charge_hours > 0.0:
        said = sentence(
            "In {hours} the battery is charged with cells below {cool}, where many makers allow a small current only.",
            hours=f"{year.cool_charge_hours:.0f} h",
            cool=Quantity(COOL_C, "c", "g"),
        )
        return Finding("charging-frozen-lithium", "caution", said, year.cool_charge_hours, 0.0, source)
    return None


def freezing(scenario: Scenario, measures: Measures) -> Finding | None:
    """Hours in which a lead-acid battery is below the freezing point of its electrolyte at that charge."""
    hours = measures.battery.freezing_hours
    if hours == 0.0:
        return None
    said = (
        f"In {hours:.0f} h the battery is colder than the freezing point of its acid at that charge: ice bursts it. "
        "Keep it charged in frost, or indoors."
    )
    source = "freezing point by specific gravity, equipment manual"
    return Finding("lead-acid-freezing", "warning", said, hours, 0.0, source)


def never_full(scenario: Scenario, measures: Measures) -> Finding | None:
    """Lead-acid that waits too long for a full charge sulphates."""
    days = measures.battery.days_between_full
    if _cell(scenario).lithium or days <= FULL_DAYS:
        return None
    level, limit = ("warning", FULL_DAYS_WARNING) if days > FULL_DAYS_WARNING else ("caution", FULL_DAYS)
    stress = measures.battery.stress
    said = (
        f"The lead-acid battery is not charged full for {days} days running; it sulphates: each cycle of the year "
        f"wears {stress.sulphation:.1f} times as much as from full; the battery may last {years(stress.life_years)}."
    )
    return Finding("lead-acid-never-full", level, said, float(days), float(limit), OWN)


def nearly_empty(scenario: Scenario, measures: Measures) -> Finding | None:
    """Day after day on which the battery does not come above a fifth of its charge."""
    days = longest_without(measures.soc_high_by_day >= EMPTY_SOC)
    if days <= EMPTY_DAYS:
        return None
    level, limit = ("warning", EMPTY_DAYS_WARNING) if days > EMPTY_DAYS_WARNING else ("caution", EMPTY_DAYS)
    harm = (
        "its own protection circuit and self-discharge may then take it below what its cells bear"
        if _cell(scenario).lithium
        else "it sulphates, and its thin acid freezes early"
    )
    said = f"For {days} days running the battery does not come above {EMPTY_SOC:.0%} of its charge: {harm}."
    return Finding("long-nearly-empty", level, said, float(days), float(limit), OWN)


def protection_first(scenario: Scenario, measures: Measures) -> Finding | None:
    """A disconnect voltage so low that the battery's own protection acts before the controller."""
    off_v, limit = scenario.controller.load_disconnect_v, _limit_v(scenario, _cell(scenario).protect_low_v, 1.0)
    if off_v >= limit:
        return None
    said = (
        f"The disconnect voltage of {off_v:g} V is so low that the battery's protection circuit may act first. It "
        "takes the controller down too, which then may not charge on its own."
    )
    return Finding("protection-trips-first", "warning", said, off_v, limit, OWN)


def wrong_preset(scenario: Scenario, measures: Measures) -> Finding | None:
    """A lithium battery charged up to its protection circuit, as by a setting made for lead-acid."""
    control, limit = scenario.controller, _limit_v(scenario, _cell(scenario).protect_high_v, -1.0)
    charge_v = control.equalise_v if control.equalise_every_days else control.absorption_v
    if not _cell(scenario).lithium or charge_v <= limit:
        return None
    said = (
        f"The charge goes up to {charge_v:g} V, where the lithium battery's protection circuit may cut it off: this "
        "looks like a setting for lead-acid. Lithium also wants no equalisation and no temperature compensation."
    )
    return Finding("wrong-battery-preset", "warning", said, charge_v, limit, OWN)


def charged_too_fast(scenario: Scenario, measures: Measures) -> Finding | None:
    """More charging current at full sun than the battery's makers allow."""
    charge = min(measures.wiring.array_charge_a, scenario.controller.max_charge_a)
    limit = _cell(scenario).most_charge_rate * scenario.battery.capacity_ah
    if charge <= limit:
        return None
    harm = "its protection circuit may cut the charge" if _cell(scenario).lithium else "it heats, gasses and dries out"
    said = (
        f"At full sun the battery is charged with {charge:.1f} A; {scenario.battery.capacity_ah:g} Ah of this kind "
        f"take {limit:.1f} A at most: {harm}. A bigger battery, or a controller whose current can be set, keeps to it."
    )
    level = "warning" if charge > FAR_TOO_FAST * limit else "caution"
    return Finding("charge-current-too-high", level, said, charge, limit, "battery makers' limits by chemistry")


def winter_battery(scenario: Scenario, measures: Measures) -> Finding | None:
    """A long deficit that more battery would not end: what lacks is sun."""
    days, doubled = measures.longest_deficit_days, measures.double_battery_hours
    if days < DEFICIT_DAYS or doubled is None or not measures.pump_hours:
        return None
    gain = doubled / measures.pump_hours - 1.0
    if gain >= WORTHWHILE:
        return None
    said = (
        f"For {days} days running the wanted hours are not met, and a battery of twice the size would add {gain:.1%} "
        "to the year's hours: what lacks is sun on the panel, not battery."
    )
    return Finding("battery-does-not-fix-winter", "note", said, gain, WORTHWHILE, OWN)


RULES: tuple[Callable[[Scenario, Measures], Finding | None], ...] = (
    charging_frozen,
    freezing,
    never_full,
    nearly_empty,
    protection_first,
    wrong_preset,
    charged_too_fast,
    winter_battery,
)
