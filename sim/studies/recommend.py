"""The pair to recommend, why, and what changes against the present one.

Of the pairs that are steady and so far apart that no check complains, those that keep the reserve of charge, unless
that costs more than five points of hours met; of these the front of hours met, battery life and starts; of these the
ones within one point of the best hours; of these the fewest starts, give or take a tenth; of these the most charge.
"""

from collections.abc import Sequence

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.studies.pair import Pair
from sim.words import percent

MET_POINT = 0.01  # shares of hours met closer than this count as equal; these five are our own defaults
RESERVE_COST = 0.05  # share of hours met that keeping a reserve of charge may cost
STARTS_STEP = 0.1  # starts closer than this share count as equal
LIFE_STEP_YEARS = 0.25
ROUNDING_V = 1e-9
FEWER_STARTS = 10  # a year: a smaller change is not worth a word


def merits(pair: Pair) -> tuple[float, float, float]:
    """Hours met, battery life and few starts, greater where better; 1 is the step that matters."""
    life_years = 0.5 * (pair.life_years_low + pair.life_years_high)
    few_starts = -np.log(max(pair.starts, 1.0)) / np.log1p(STARTS_STEP)
    return pair.hours_met_share / MET_POINT, life_years / LIFE_STEP_YEARS, float(few_starts)


def front(pairs: Sequence[Pair]) -> tuple[Pair, ...]:
    """Those pairs that no other beats: is at least equal in all merits, and better in one by a step that matters."""
    table = np.array([merits(pair) for pair in pairs])
    beaten = [(np.all(table >= own, axis=1) & np.any(table > own + 1.0, axis=1)).any() for own in table]
    return tuple(pair for pair, is_beaten in zip(pairs, beaten, strict=True) if not is_beaten)


def _best_met(pairs: Sequence[Pair]) -> float:
    return max(pair.hours_met_share for pair in pairs)


def _with_reserve(pairs: Sequence[Pair], reserve_soc: float) -> Sequence[Pair]:
    """The pairs that never go below the reserve, if they meet nearly as many hours as all; else all."""
    kept = [pair for pair in pairs if pair.min_soc >= reserve_soc]
    return kept if kept and _best_met(kept) >= _best_met(pairs) - RESERVE_COST else pairs


def choose(pairs: Sequence[Pair], reserve_soc: float) -> Pair:
    """The recommended one of these pairs, by the rule at the head of this module."""
    best = front(_with_reserve(pairs, reserve_soc))
    near = [pair for pair in best if pair.hours_met_share >= _best_met(best) - MET_POINT]
    fewest = min(pair.starts for pair in near)
    calm = [pair for pair in near if pair.starts <= fewest * (1.0 + STARTS_STEP)]
    return max(calm, key=lambda pair: (pair.min_soc, -pair.starts))


def able(pairs: Sequence[Pair], needed_gap_v: float) -> Sequence[Pair]:
    """The pairs that are steady and wide enough; if there are none the steady ones, if there are none all."""
    steady = [pair for pair in pairs if pair.steady]
    wide = [pair for pair in steady if gap_v(pair) >= needed_gap_v - ROUNDING_V]
    return wide or steady or pairs


def gap_v(pair: Pair) -> float:
    """How far the two voltages are apart, V."""
    return pair.load_reconnect_v - pair.load_disconnect_v


def recommend(pairs: Sequence[Pair], reserve_soc: float, needed_gap_v: float) -> tuple[Pair, tuple[str, ...]]:
    """The recommended pair and the reasons in plain sentences."""
    chosen = choose(able(pairs, needed_gap_v), reserve_soc)
    return chosen, reasons_for(chosen, pairs, reserve_soc, needed_gap_v)


def reasons_for(chosen: Pair, pairs: Sequence[Pair], reserve_soc: float, needed_gap_v: float) -> tuple[str, ...]:
    """Why a pair of these is the one, in plain sentences."""
    compared = able(pairs, needed_gap_v)
    return (
        _steadiness(chosen, sum(pair.steady for pair in pairs), len(pairs)),
        _gap(chosen, needed_gap_v),
        _hours(chosen, compared),
        f"It starts the pump {chosen.starts:,} times in the year; of the pairs on the front of hours, battery life and "
        "starts with hours within one point of the best that is the fewest, give or take a tenth.",
        _charge(chosen, reserve_soc),
        *_edges(chosen, pairs),
        *_lifted(chosen),
        *_frost(chosen),
    )


def _steadiness(chosen: Pair, steady: int, of: int) -> str:
    if chosen.steady:
        return f"It is one of {steady} steady pairs of {of}: a small error of the reading or aged leads change little."
    return f"None of the {of} pairs is steady; of all of them this is the best, and it reacts to small errors."


def _hours(chosen: Pair, compared: Sequence[Pair]) -> str:
    best = max(compared, key=lambda pair: pair.hours_met_share)
    return (
        f"It meets {1e2 * chosen.hours_met_share:.1f} % of the wanted hours; the most that any such pair meets is "
        f"{1e2 * best.hours_met_share:.1f} %, with a lowest charge of {percent(best.min_soc)} and {best.starts:,} "
        "starts."
    )


def _charge(chosen: Pair, reserve_soc: float) -> str:
    kept = "keeps" if chosen.min_soc >= reserve_soc else "does not keep"
    lowest = percent(chosen.min_soc)
    return f"The lowest charge of the year is {lowest}, which {kept} the reserve of {percent(reserve_soc)}."


def _gap(chosen: Pair, needed_gap_v: float) -> str:
    enough = gap_v(chosen) >= needed_gap_v - ROUNDING_V
    said = "no less than" if enough else "less than"
    return (
        f"Its gap of {gap_v(chosen):.2f} V is {said} the {needed_gap_v:.2f} V that sag and rebound of a cold, low "
        "battery and a margin for ageing need."
    )


def _edges(chosen: Pair, pairs: Sequence[Pair]) -> tuple[str, ...]:
    """A word where the best lies at the end of what was tried."""
    tried = {
        "disconnect": (chosen.load_disconnect_v, {pair.load_disconnect_v for pair in pairs}),
        "reconnect": (chosen.load_reconnect_v, {pair.load_reconnect_v for pair in pairs}),
    }
    ends = [
        f"{name} voltage of {volts:g} V is the {'lowest' if volts == min(all_v) else 'highest'} that was tried"
        for name, (volts, all_v) in tried.items()
        if len(all_v) > 1 and volts in (min(all_v), max(all_v))
    ]
    if not ends:
        return ()
    return (
        f"Its {' and its '.join(ends)}: a pair beyond may do better still, if the battery's maker allows it; "
        "--disconnect and --reconnect try one.",
    )


def _lifted(chosen: Pair) -> tuple[str, ...]:
    if chosen.lifted_restart_share == 0.0:
        return ()
    return (
        f"{percent(chosen.lifted_restart_share)} of its restarts come with less than 40 % of the charge, because "
        "charging lifts the voltage: the reconnect voltage does not mean a full battery.",
    )


def _frost(chosen: Pair) -> tuple[str, ...]:
    """A word where the voltages are not what starts the pump most often."""
    if 2 * chosen.refused_restarts < chosen.starts:
        return ()
    return (
        f"{chosen.refused_restarts:,} of its {chosen.starts:,} starts come while the battery's protection circuit "
        "refuses charge, nearly always for frost: a little sun then lifts the voltage to the reconnect, and the pump "
        "pulls it down again. A warmer place for the battery changes that more than any pair of voltages.",
    )


def changes(present: Pair, recommended: Pair, days: np.ndarray) -> tuple[str, ...]:
    """What the recommended pair changes, in words; ``days`` (12,) of each month."""
    if present == recommended:
        return ("Nothing: the present pair is the recommended one.",)
    said = (
        _met_change(present, recommended),
        _stop_change(present, recommended),
        _hours_change(present, recommended, days),
        _starts_change(present, recommended),
        _charge_change(present, recommended),
    )
    return tuple(words for words in said if words) or ("Nothing that matters.",)


def _met_change(present: Pair, recommended: Pair) -> str:
    new, old = (f"{1e2 * pair.hours_met_share:.1f} %" for pair in (recommended, present))
    return f"{new} of the wanted hours met instead of {old}" if new != old else ""


def _stop_change(present: Pair, recommended: Pair) -> str:
    new, old = (f"{pair.longest_stop_h:.0f} h" for pair in (recommended, present))
    return f"longest stop {new} instead of {old}" if new != old else ""


def _hours_change(present: Pair, recommended: Pair, days: np.ndarray) -> str:
    """The month with the greatest change, in hours a day."""
    more = (np.array(recommended.pump_hours_by_month) - np.array(present.pump_hours_by_month)) / np.maximum(days, 1)
    month = int(np.argmax(np.abs(more)))
    return f"{more[month]:+.1f} h a day in {MONTH_NAMES[month]}" if abs(more[month]) >= 0.05 else ""


def _starts_change(present: Pair, recommended: Pair) -> str:
    more = recommended.starts - present.starts
    return f"{abs(more):,} {'more' if more > 0 else 'fewer'} starts in the year" if abs(more) >= FEWER_STARTS else ""


def _charge_change(present: Pair, recommended: Pair) -> str:
    new, old = f"{percent(recommended.min_soc)}", f"{percent(present.min_soc)}"
    return f"lowest charge {new} instead of {old}" if new != old else ""
