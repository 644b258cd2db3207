"""Whether a pair still does the same when the controller reads a little wrong or the leads have aged."""

import numpy as np

from sim.studies.sweep import AGED, VARIANTS

HOURS_CHANGE = 0.05  # of the year's pump hours; these four limits are our own defaults
STARTS_CHANGE = 0.50  # of the year's starts, and
STARTS_AT_LEAST = 100
CHARGE_CHANGE = 0.10  # of the lowest charge, as a share of the capacity


def limits_in_words(error_v: float) -> tuple[str, ...]:
    """How pairs were varied, and what makes one unsteady.

    >>> len(limits_in_words(0.1))
    4
    """
    return (
        f"Each pair also ran with the controller reading {error_v:g} V high, {error_v:g} V low, and with "
        f"{AGED - 1:.0%} more resistance in battery and leads.",
        f"Unsteady: the pump hours of the year change by more than {HOURS_CHANGE:.0%};",
        f"or the starts change by more than {STARTS_CHANGE:.0%} and by more than {STARTS_AT_LEAST};",
        f"or the lowest charge changes by more than {100 * CHARGE_CHANGE:.0f} points.",
    )


def _variant_in_words(variant: str, error_v: float) -> str:
    words = {"reading high": f"reading {error_v:g} V high", "reading low": f"reading {error_v:g} V low"}
    return words.get(variant, "aged battery and leads")


def changes(set_to: np.void, varied: np.void) -> tuple[str, ...]:
    """What changes beyond the limits between two FIGURES, in words."""
    found = []
    if abs(varied["hours"] - set_to["hours"]) > HOURS_CHANGE * set_to["hours"]:
        found.append(f"pump hours {set_to['hours']:.0f} become {varied['hours']:.0f}")
    if abs(varied["starts"] - set_to["starts"]) > max(STARTS_CHANGE * set_to["starts"], STARTS_AT_LEAST):
        found.append(f"starts {set_to['starts']:.0f} become {varied['starts']:.0f}")
    if abs(varied["min_soc"] - set_to["min_soc"]) > CHARGE_CHANGE:
        found.append(f"lowest charge {set_to['min_soc']:.0%} becomes {varied['min_soc']:.0%}")
    return tuple(found)


def unsteady_because(figures: np.ndarray, error_v: float) -> tuple[str, ...]:
    """What makes a pair unsteady, in words, from its (variants,) of FIGURES; nothing if it is steady."""
    return tuple(
        f"{_variant_in_words(variant, error_v)}: {change}"
        for variant, varied in zip(VARIANTS[1:], figures[1:], strict=True)
        for change in changes(figures[0], varied)
    )
