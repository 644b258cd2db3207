"""A pair's figures in words, and what a voltage can mean as a sentence."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import ceil, floor
from typing import TYPE_CHECKING

from sim.words import hours, number, percent, years

if TYPE_CHECKING:
    from sim.studies.pairs import Band, Pair


@dataclass(frozen=True)
class Column:
    """One figure of a pair: what it is, and how it is said."""

    name: str
    words: Callable[[Pair], str]


def volts(value: float) -> str:
    r"""A voltage that stays on one line.

    >>> volts(12.2), volts(13.25)
    ('12.2\xa0V', '13.25\xa0V')
    """
    return f"{value:.4g}\N{NO-BREAK SPACE}V"


def pair_name(pair: Pair) -> str:
    """A pair by its voltages, disconnect first."""
    return f"{pair.load_disconnect_v:.4g} / {volts(pair.load_reconnect_v)}".replace(
        " / ", "\N{NO-BREAK SPACE}/\N{NO-BREAK SPACE}"
    )


def rate(a_day: float) -> str:
    """How often a day, with two digits below ten.

    >>> rate(0.0137), rate(3.14), rate(120.4), rate(0.0)
    ('0.014', '3.1', '120', '0')
    """
    return f"{a_day:.2g}" if a_day < 9.95 else number(a_day)


def steadiness(pair: Pair) -> str:
    """Whether a pair is steady, and if not, why."""
    return "yes" if pair.steady else f"no: {'; '.join(pair.unsteady_because)}".rstrip(": ")


def _shortest(pair: Pair) -> str:
    """The shortest run that ended; None is either no run at all or one without an end."""
    if pair.shortest_run_h is None:
        return "never stopped" if pair.pump_hours > 0.0 else "never ran"
    return duration(pair.shortest_run_h)


def duration(value_h: float) -> str:
    """Hours, minutes below an hour, seconds below a minute.

    >>> duration(0.00833), duration(0.05), duration(7.5)
    ('30 s', '3 min', '7.5 h')
    """
    if value_h < 1.0 / 60.0:
        return f"{value_h * 3600.0:.0f} s"
    return f"{value_h * 60.0:.0f} min" if value_h < 1.0 else hours(value_h)


def portion(share: float) -> str:
    """A share in per cent that is none only where there is none, to begin a sentence.

    >>> portion(0.0), portion(0.004), portion(0.33)
    ('None', 'Fewer than 1 %', '33 %')
    """
    return "None" if share == 0.0 else "Fewer than 1 %" if share < 0.01 else percent(share)


COLUMNS = (
    Column("Pump hours", lambda pair: hours(pair.pump_hours)),
    Column("Wanted hours met", lambda pair: percent(pair.hours_met_share)),
    Column("Starts", lambda pair: f"{pair.starts:,}"),
    Column("Starts a day", lambda pair: rate(pair.starts_a_day)),
    Column("Shortest run", _shortest),
    Column("Longest stop", lambda pair: hours(pair.longest_stop_h)),
    Column("Lowest charge", lambda pair: percent(pair.min_soc)),
    Column("Hours below 20 % charge", lambda pair: number(pair.hours_below_20_percent)),
    Column("Equivalent full cycles", lambda pair: number(pair.equivalent_full_cycles)),
    Column("Expected battery life", lambda pair: years((pair.life_years_low, pair.life_years_high))),
    Column("Restarts by a charging battery below 40 %", lambda pair: percent(pair.lifted_restart_share)),
    Column("Cut-offs with much charge left", lambda pair: percent(pair.early_cut_off_share)),
    Column("Steady", steadiness),
)


def cells(pair: Pair) -> list[str]:
    """Every figure of a pair, in the order of the columns."""
    return [column.words(pair) for column in COLUMNS]


def said(pair: Pair) -> str:
    """A pair in a sentence, to be heard."""
    return (
        f"Disconnect {pair.load_disconnect_v:.4g} volts, reconnect {pair.load_reconnect_v:.4g} volts: "
        f"{percent(pair.hours_met_share)} of the wanted hours met, {rate(pair.starts_a_day)} starts a day, lowest "
        f"charge {percent(pair.min_soc)}, {'steady' if pair.steady else 'unsteady'}."
    )


def band_words(low: float, high: float) -> str:
    """An estimated charge band in whole per cent, never a single figure; from shares 0…1.

    >>> band_words(0.352, 0.741), band_words(0.0, 0.0), band_words(1.0, 1.0)
    ('35–75 %', '0–1 %', '99–100 %')
    """
    least = min(floor(low * 100.0 + 1e-6), 99)
    return f"{least}–{max(ceil(high * 100.0 - 1e-6), least + 1)} %"


def threshold(band: Band) -> str:
    """Which threshold a band belongs to: what its words say before the battery's condition."""
    return band.words.rpartition(", ")[0]


def condition(band: Band) -> str:
    """What the battery does while it shows the voltage: the end of the band's words."""
    return band.words.rpartition(", ")[2]
