"""Rules on what the battery goes through: frost, charge, its protection circuit, and what a bigger one would change."""

from collections.abc import Callable
from dataclasses import dataclass

from sim.catalogue.cells import Cell, cell
from sim.checks.finding import OWN, Finding, Passed, Said
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
MOST_SHIFT_MV_C = -8.0  # a cell; half as much again as the most that makers say; our own default
WORTHWHILE = 0.05  # of the pump's hours
MANUALS = sentence(
    "battery makers' manuals: no charge below {frost}, a small one below {cool}",
    frost=Quantity(0.0, "c", "g"),
    cool=Quantity(5.0, "c", "g"),
)
BY_CHEMISTRY = sentence("battery makers' limits by chemistry")


@dataclass(frozen=True)
class Lifetime:
    """A range of years, which puts itself into words."""

    life_years: tuple[float, float]

    def __str__(self) -> str:
        """The range in the language of now."""
        return years(self.life_years)


def _cell(scenario: Scenario) -> Cell:
    return cell(scenario.battery.chemistry)


def _limit_v(scenario: Scenario, block_v: float, margin: float) -> float:
    """A limit of the protection circuit moved by so many margins, V."""
    return (block_v + margin * PROTECTION_MARGIN_V) * scenario.battery.nominal_v / 12.0


def charging_frozen(scenario: Scenario, measures: Measures) -> Said:
    """Hours in which the sun offered charge to lithium cells too cold for it, or nearly so."""
    year, source = measures.battery, MANUALS
    if not _cell(scenario).lithium:
        return None
    if year.charge_refused_hours == year.cool_charge_hours == 0.0:
        what = f"Hours in which charge was refused for frost, or taken below {Quantity(COOL_C, 'c', 'g')}"
        return Passed("charging-frozen-lithium", what, 0.0, 0.0, source)
    if year.charge_refused_hours > 0.0:
        said = sentence(
            "In {hours} h the sun offered charge and the battery's protection circuit refused it, nearly always for "
            "frost. Never charge lithium below its maker's lowest cell temperature; a warmer place for the box helps.",
            hours=f"{year.charge_refused_hours:.0f}",
        )
        return Finding("charging-frozen-lithium", "warning", said, year.charge_refused_hours, 0.0, source)
    said = sentence(
        "In {hours} the battery is charged with cells below {cool}, where many makers allow a small current only.",
        hours=f"{year.cool_charge_hours:.0f} h",
        cool=Quantity(COOL_C, "c", "g"),
    )
    return Finding("charging-frozen-lithium", "caution", said, year.cool_charge_hours, 0.0, source)


def freezing(scenario: Scenario, measures: Measures) -> Said:
    """Hours in which a lead-acid battery is below the freezing point of its electrolyte at that charge."""
    hours, source = measures.battery.freezing_hours, sentence("freezing point by specific gravity, equipment manual")
    if _cell(scenario).lithium:
        return None
    if hours == 0.0:
        return Passed("lead-acid-freezing", "Hours below the freezing point of the acid", 0.0, 0.0, source)
    said = sentence(
        "In {hours} h the battery is colder than the freezing point of its acid at that charge: ice bursts it. Keep it "
        "charged in frost, or indoors.",
        hours=f"{hours:.0f}",
    )
    return Finding("lead-acid-freezing", "warning", said, hours, 0.0, source)


def never_full(scenario: Scenario, measures: Measures) -> Said:
    """Lead-acid that waits too long for a full charge sulphates."""
    days = measures.battery.days_between_full
    if _cell(scenario).lithium:
        return None
    if days <= FULL_DAYS:
        return Passed("lead-acid-never-full", "Days between full charges", float(days), float(FULL_DAYS), OWN)
    level, limit = ("warning", FULL_DAYS_WARNING) if days > FULL_DAYS_WARNING else ("caution", FULL_DAYS)
    stress = measures.battery.stress
    said = sentence(
        "The lead-acid battery is not charged full for {days} days running; it sulphates: each cycle of the year wears "
        "{times} times as much as from full; the battery may last {life}.",
        days=f"{days}",
        times=f"{stress.sulphation:.1f}",
        life=Lifetime(stress.life_years),
    )
    return Finding("lead-acid-never-full", level, said, float(days), float(limit), OWN)


def nearly_empty(scenario: Scenario, measures: Measures) -> Said:
    """Day after day on which the battery does not come above a fifth of its charge."""
    days = longest_without(measures.soc_high_by_day >= EMPTY_SOC)
    if days <= EMPTY_DAYS:
        what = f"Days running below {EMPTY_SOC:.0%} of the charge"
        return Passed("long-nearly-empty", what, float(days), float(EMPTY_DAYS), OWN)
    level, limit = ("warning", EMPTY_DAYS_WARNING) if days > EMPTY_DAYS_WARNING else ("caution", EMPTY_DAYS)
    harm = (
        sentence("its own protection circuit and self-discharge may then take it below what its cells bear")
        if _cell(scenario).lithium
        else sentence("it sulphates, and its thin acid freezes early")
    )
    said = sentence(
        "For {days} days running the battery does not come above {share} of its charge: {harm}.",
        days=f"{days}",
        share=f"{EMPTY_SOC:.0%}",
        harm=harm,
    )
    return Finding("long-nearly-empty", level, said, float(days), float(limit), OWN)


def protection_first(scenario: Scenario, measures: Measures) -> Said:
    """A disconnect voltage so low that the battery's own protection acts before the controller."""
    off_v, limit = scenario.controller.load_disconnect_v, _limit_v(scenario, _cell(scenario).protect_low_v, 1.0)
    if off_v >= limit:
        what = "Disconnect voltage above the low limit of the battery's protection circuit, V"
        return Passed("protection-trips-first", what, off_v, limit, OWN, least=True)
    said = sentence(
        "The disconnect voltage of {volts} V is so low that the battery's protection circuit may act first. It takes "
        "the controller down too, which then may not charge on its own.",
        volts=f"{off_v:g}",
    )
    return Finding("protection-trips-first", "warning", said, off_v, limit, OWN)


def wrong_preset(scenario: Scenario, measures: Measures) -> Said:
    """A lithium battery charged up to its protection circuit, or by its temperature, as by a setting for lead-acid."""
    control, limit = scenario.controller, _limit_v(scenario, _cell(scenario).protect_high_v, -1.0)
    charge_v = control.equalise_v if control.equalise_every_days else control.absorption_v
    if not _cell(scenario).lithium:
        return _compensated(control.compensation_mv_c)
    if control.compensation_mv_c:
        return _compensated_lithium(control.compensation_mv_c)
    if charge_v <= limit:
        what = "Charge voltage below the high limit of the battery's protection circuit, V"
        return Passed("wrong-battery-preset", what, charge_v, limit, OWN)
    said = sentence(
        "The charge goes up to {volts} V, where the lithium battery's protection circuit may cut it off: this looks "
        "like a setting for lead-acid. Lithium also wants no equalisation and no temperature compensation.",
        volts=f"{charge_v:g}",
    )
    return Finding("wrong-battery-preset", "warning", said, charge_v, limit, OWN)


def _compensated_lithium(shift_mv_c: float) -> Finding:
    said = sentence(
        "The charge voltages go with the battery's temperature, by {shift} a cell of 2 V: lithium wants none of that. "
        "In frost it lifts them towards the protection circuit's limit, in heat the battery is never full.",
        shift=Quantity(shift_mv_c, "mv_c", "g"),
    )
    return Finding("wrong-battery-preset", "warning", said, shift_mv_c, 0.0, OWN, "mv_c")


def _compensated(shift_mv_c: float) -> Said:
    """What lead-acid is compensated by: a figure several times the usual one is that of the whole battery."""
    if shift_mv_c >= MOST_SHIFT_MV_C:
        what = "Temperature compensation for each cell of 2 V"
        low, high = Quantity(-3.0, "mv_c", "g"), Quantity(-5.0, "mv_c", "g")
        source = sentence("lead-acid makers: {low} to {high} a cell", low=low, high=high)
        return Passed("wrong-battery-preset", what, shift_mv_c, MOST_SHIFT_MV_C, source, "mv_c", least=True)
    said = sentence(
        "The temperature compensation of {shift} is far beyond the {usual} of a lead-acid cell of 2 V: is it that of "
        "the whole battery? A 12 V battery has six cells.",
        shift=Quantity(shift_mv_c, "mv_c", "g"),
        usual=Quantity(-4.0, "mv_c", "g"),
    )
    return Finding("wrong-battery-preset", "caution", said, shift_mv_c, MOST_SHIFT_MV_C, OWN, "mv_c")


def charged_too_fast(scenario: Scenario, measures: Measures) -> Said:
    """More charging current at full sun than the battery's makers allow."""
    charge = min(measures.wiring.array_charge_a, scenario.controller.max_charge_a)
    limit = _cell(scenario).most_charge_rate * scenario.battery.capacity_ah
    if charge <= limit:
        what = "Charging current at full sun, A"
        return Passed("charge-current-too-high", what, charge, limit, BY_CHEMISTRY)
    cut, gassing = sentence("its protection circuit may cut the charge"), sentence("it heats, gasses and dries out")
    said = sentence(
        "At full sun the battery is charged with {amps} A; {size} Ah of this kind take {most} A at most: {harm}. A "
        "bigger battery, or a controller whose current can be set, keeps to it.",
        amps=f"{charge:.1f}",
        size=f"{scenario.battery.capacity_ah:g}",
        most=f"{limit:.1f}",
        harm=cut if _cell(scenario).lithium else gassing,
    )
    level = "warning" if charge > FAR_TOO_FAST * limit else "caution"
    return Finding("charge-current-too-high", level, said, charge, limit, BY_CHEMISTRY)


def winter_battery(scenario: Scenario, measures: Measures) -> Said:
    """A long deficit that more battery would not end: what lacks is sun."""
    days, doubled = measures.longest_deficit_days, measures.double_battery_hours
    if days < DEFICIT_DAYS:
        what = "Days running that lack wanted hours, but for what timer and season plan"
        return Passed("battery-does-not-fix-winter", what, float(days), float(DEFICIT_DAYS), OWN)
    if doubled is None or not measures.pump_hours:
        return None
    gain = doubled / measures.pump_hours - 1.0
    if gain >= WORTHWHILE:
        what = f"Share of hours that a battery of twice the size adds, where {DEFICIT_DAYS} days running lack some"
        return Passed("battery-does-not-fix-winter", what, gain, WORTHWHILE, OWN, least=True)
    said = sentence(
        "For {days} days running the wanted hours are not met, and a battery of twice the size would add {gain} to the "
        "year's hours: what lacks is sun on the panel, not battery.",
        days=f"{days}",
        gain=f"{gain:.1%}",
    )
    return Finding("battery-does-not-fix-winter", "note", said, gain, WORTHWHILE, OWN)


RULES: tuple[Callable[[Scenario, Measures], Said], ...] = (
    charging_frozen,
    freezing,
    never_full,
    nearly_empty,
    protection_first,
    wrong_preset,
    charged_too_fast,
    winter_battery,
)
