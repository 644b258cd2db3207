"""What the comparison says in sentences: gains and losses, their months, money, and what figures cannot show."""

from collections.abc import Sequence

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.studies.compare import CompareResult, Row, Step
from sim.studies.money import Gain
from sim.words import number

NOTABLE_H_A_DAY = 0.05  # less in a month is no difference
SMALLEST_H = 0.5
HIDDEN = (
    "Looks and wind are not in the figures. A flat panel in a pergola is hardly seen, shades the bench below it and "
    "offers the wind no sail; a tilted one stands out and needs a mounting that holds in a storm.",
    "Dirt and snow are kinder to a tilted panel: rain washes it and snow slides off. A panel below about 10° keeps a "
    "rim of dirt, and snow until it melts. The same share of dirt is taken for every tilt here, and no snow, so a flat "
    "panel is shown a little better than it will be.",
    "A larger panel helps on every dull day; a tilt moves light from one season to another. A bigger battery carries "
    "the pump through a night or two and makes no energy: it cannot mend a winter. Behind a small panel it can even "
    "cost wanted hours, because the pump then runs on into the night and waits longer for the reconnect voltage.",
    "A difference of a few hours in a month is within what another order of the same clouds would change: it decides "
    "nothing.",
    "Shade grows. A tree that is trimmed once is back in some years.",
)


def signed(value: float, unit: str = "") -> str:
    """A difference with its sign, and none where it rounds to nothing.

    >>> signed(12.3), signed(-4.04, " h"), signed(0.04)
    ('+12', '−4.0 h', '0')
    """
    words = number(abs(value))
    return "0" + unit if words in ("0", "0.0") else f"{'+' if value > 0.0 else '−'}{words}{unit}"


def spans(chosen: Sequence[bool]) -> str:
    """Months in words, neighbours joined, around the turn of the year too.

    >>> spans([True, True] + [False] * 7 + [True] * 3)
    'October to February'
    >>> spans([False, True, False, True, True] + [False] * 7), spans([True] * 12), spans([False] * 12)
    ('February and April to May', 'every month', 'no month')
    """
    if all(chosen) or not any(chosen):
        return "every month" if all(chosen) else "no month"
    starts = [month for month in range(12) if chosen[month] and not chosen[month - 1]]
    runs = [next(length for length in range(1, 13) if not chosen[(start + length) % 12]) for start in starts]
    words = [
        MONTH_NAMES[start] if length == 1 else f"{MONTH_NAMES[start]} to {MONTH_NAMES[(start + length - 1) % 12]}"
        for start, length in zip(starts, runs, strict=True)
    ]
    return " and ".join(words)


def worst_month_name(result: CompareResult) -> str:
    """The month in which the first design serves least of what is wanted."""
    return MONTH_NAMES[result.first.measures.worst_month - 1]


def seasons(gain: Gain, days: np.ndarray) -> str:
    """When a design runs the pump more, and when less, than the first.

    >>> from types import SimpleNamespace as Gained
    >>> seasons(Gained(pump_h_by_month=[31.0] * 6 + [-31.0] * 6), np.full(12, 31))
    'The pump runs longer in January to June, shorter in July to December.'
    """
    more = np.array(gain.pump_h_by_month) / days
    longer, shorter = (spans((sign * more > NOTABLE_H_A_DAY).tolist()) for sign in (1.0, -1.0))
    if longer == shorter == "no month":
        return "The pump runs as long as with the first in every month."
    told = [f"longer in {longer}"] * (longer != "no month") + [f"shorter in {shorter}"] * (shorter != "no month")
    return f"The pump runs {', '.join(told)}."


def design_sentence(row: Row, result: CompareResult) -> str:
    """What one design changes against the first."""
    gain, days = row.gain, result.first.measures.days_by_month
    return (
        f"{row.name}: {signed(gain.met_worst_month_h, ' h')} of the wanted hours in {worst_month_name(result)}, "
        f"{signed(gain.met_h, ' h')} in the year; {signed(gain.pump_h, ' h')} of all pump hours. "
        f"{seasons(gain, days)}"
    )


def _step_gain(step: Step, month: str) -> str:
    """What a step gains, in words."""
    gain = step.gain
    return (
        f"{step.change.name} ({signed(gain.met_worst_month_h, ' h')} of the wanted hours in {month}, "
        f"{signed(gain.met_h, ' h')} in the year)"
    )


def promise(result: CompareResult) -> str:
    """The next step that gives the most, in a sentence."""
    month, best = worst_month_name(result), result.steps[0]
    if best.gain.met_h < SMALLEST_H and best.gain.met_worst_month_h < SMALLEST_H:
        return "No single step gains a wanted hour: the first design meets what it can."
    return f"The single step that gains most is: {_step_gain(best, month)}."


def money_sentence(result: CompareResult) -> str:
    """The step that gains most for its money, where prices are known."""
    priced = [step for step in result.steps if step.money.met_hours_per_unit]
    if not priced:
        return "No prices are given; with a [cost] section the steps are weighed by what they cost, too."
    best = max(priced, key=lambda step: step.money.met_hours_per_unit or 0.0)
    cost = result.first.design.scenario.cost
    unit = cost.currency or "unit of money"
    return (
        f"For its money the best priced step is: {best.change.name}, {best.money.met_hours_per_unit:.3g} wanted hours "
        f"a year for each {unit} a year, purchases spread over {cost.years:g} years."
    )


def mains_sentence(result: CompareResult) -> str | None:
    """When the first design has paid against mains, where that was asked."""
    cost = result.first.design.scenario.cost
    if cost.mains_per_kwh is None or cost.system is None:
        return None
    kwh = result.first.measures.energy.pump / 1000.0
    begin = f"From mains, the pump's {kwh:.0f} kWh a year would cost {kwh * cost.mains_per_kwh:,.0f} {cost.currency}"
    if result.payback_years == 0.0:
        return f"{begin.strip()}; a line from the house for it would cost more than the system as it is."
    if result.payback_years is None:
        return f"{begin}: less than the system's upkeep, so it never pays in money alone."
    return f"{begin.strip()}; against that the system as it is pays after {result.payback_years:,.0f} years."


def returns_sentence(result: CompareResult) -> str:
    """How the last doubling of the panel compares with the first step up."""
    at, met = np.array(result.hours_by_power.at), result.hours_by_power.met_hours
    now = result.first.design.scenario.panel.power_w * result.first.design.scenario.panel.count
    gains = np.diff(met) / np.diff(at)
    below, above = gains[at[1:] <= now + 1e-6], gains[at[:-1] >= now - 1e-6]
    if not len(below) or not len(above):
        return "The curve flattens where the hours that are wanted are met."
    return (
        f"Up to the present {now:,.0f} W the last watts brought {signed(float(below[-1]))} wanted hours a year each; "
        f"the next ones bring {signed(float(above[0]))}, and the last ones shown {signed(float(above[-1]))}."
    )
