"""The drawings of the pairs' report with their words and the tables behind them."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sim.figures.planned import wanted_by_month
from sim.report import charts
from sim.report.blocks import Figure, Key, Legend, Multiples, Table, Titled, Words, across_months, by_month, words
from sim.report.charts import Bar, Bars, Strokes
from sim.report.ink import ALARM, SUN, WATER
from sim.report.maps import Ground, opacity, pair_map
from sim.report.pair_words import band_words, condition, pair_name, rate, threshold, volts
from sim.studies.pairs import Band, Pair, PairsResult
from sim.studies.recommend import gap_v
from sim.weather import Weather
from sim.weather.monthly import days_by_month
from sim.words import number, percent

MAP_LEGEND = Legend(
    (
        Key("square", "present pair"),
        Key("diamond", "recommended pair"),
        Key("hatched", "unsteady: hangs on small errors"),
    )
)
MONTHS_KEYS = (Key("outline", "present pair"), Key("water", "recommended pair"), Key("line", "hours wanted"))


@dataclass(frozen=True)
class Measure:
    """What a map shows of a pair: a name, a unit, the value and how it is said, evenly or by its logarithm."""

    key: str
    name: str
    value: Callable[[Pair], float]
    words: Callable[[float], str]
    log: bool = False


MEASURES = (
    Measure("met", "Share of wanted hours met", lambda pair: pair.hours_met_share, percent),
    Measure("starts", "Starts a day, log scale", lambda pair: pair.starts_a_day, rate, log=True),
    Measure("lowest", "Lowest charge in the year", lambda pair: pair.min_soc, percent),
    Measure("life", "Battery life, lower end in years", lambda pair: pair.life_years_low, "{:.1f}".format),
)


def ground_of(result: PairsResult) -> Ground:
    """The grid under every map."""
    both = [(pair.load_disconnect_v, pair.load_reconnect_v) for pair in (result.present, result.recommended)]
    columns = np.array([(pair.load_disconnect_v, pair.load_reconnect_v, pair.steady) for pair in result.pairs]).T
    return Ground(columns[0], columns[1], columns[2] > 0.0, *both)


def opacities(measure: Measure, pairs: Sequence[Pair]) -> np.ndarray:
    """(n,) how opaque each pair is in a measure's map."""
    return opacity(np.array([measure.value(pair) for pair in pairs]), measure.log)


def maps(result: PairsResult) -> tuple[Multiples | Words, ...]:
    """A map for every measure in which pairs differ, and a sentence for every other."""
    ground = ground_of(result)
    flat = [one for one in MEASURES if len(set(extent(one, result.pairs))) == 1]
    drawn = (Titled(one.name, _map(one, ground, result)) for one in MEASURES if one not in flat)
    alike = (f"{one.name}: {extent(one, result.pairs)[0]} with every pair." for one in flat)
    return Multiples(tuple(drawn)), *words(alike)


def extent(measure: Measure, pairs: Sequence[Pair]) -> tuple[str, str]:
    """The least and the most of a measure, in words."""
    values = [measure.value(pair) for pair in pairs]
    return measure.words(min(values)), measure.words(max(values))


def _map(measure: Measure, ground: Ground, result: PairsResult) -> Figure:
    ends = extent(measure, result.pairs)
    now, best = (measure.words(measure.value(pair)) for pair in (result.present, result.recommended))
    text = f"From {ends[0]} to {ends[1]}; present pair {now}, recommended pair {best}."
    said = (f"{measure.name}, by load disconnect and load reconnect voltage", text)
    svg = pair_map(f"pairs-{measure.key}", ground, opacities(measure, result.pairs), ends, said)
    return Figure(svg, text, (), _matrix(measure, result.pairs))


def _matrix(measure: Measure, pairs: Sequence[Pair]) -> Table:
    """Reconnect voltages down, disconnect voltages across; an asterisk after what is unsteady."""
    offs, ons = (sorted({pair[k] for pair in map(_volts, pairs)}) for k in (0, 1))
    at = {_volts(pair): measure.words(measure.value(pair)) + ("" if pair.steady else "*") for pair in pairs}
    rows = ((volts(on), *(at.get((off, on), "") for off in offs)) for on in reversed(ons))
    return Table(("On at \\ off at (* unsteady)", *(volts(off) for off in offs)), tuple(rows))


def _volts(pair: Pair) -> tuple[float, float]:
    return round(pair.load_disconnect_v, 4), round(pair.load_reconnect_v, 4)


def hours_a_day(pair: Pair, weather: Weather) -> np.ndarray:
    """(12,) a pair's mean hours a day, month by month."""
    return np.asarray(np.array(pair.pump_hours_by_month) / days_by_month(weather))


def months_figure(result: PairsResult) -> Figure:
    """Hours a day by month of the present and the recommended pair."""
    now, best = (hours_a_day(pair, result.weather) for pair in (result.present, result.recommended))
    days = result.weather.index.month.to_numpy()[::24]
    wanted = wanted_by_month(result.scenario, days) / days_by_month(result.weather)
    text = (
        f"Worst month: {number(now.min())} hours a day with the present pair, {number(best.min())} with the "
        f"recommended one. Best month: {number(now.max())} and {number(best.max())}."
    )
    table = by_month(
        ("Present, h a day", now, ".1f"),
        ("Recommended, h a day", best, ".1f"),
        ("Wanted, h a day", wanted, ".1f"),
        ("Present met", result.present.met_share_by_month, percent),
        ("Recommended met", result.recommended.met_share_by_month, percent),
    )
    pair = charts.side_by_side(Bars(now, fill="outline"), Bars(best))
    said = ("Hours a day by month, present and recommended pair", text)
    drawn = charts.months("pair-months", "hours a day", pair, (Strokes(wanted),), said)
    return Figure(drawn, text, MONTHS_KEYS, table)


def every_month(result: PairsResult) -> Table:
    """Every pair's hours a day, month by month."""
    run = np.array([hours_a_day(pair, result.weather) for pair in result.pairs])
    return across_months("Off / on: hours a day", map(pair_name, result.pairs), run, ".1f")


def bands_by_volts(bands: Sequence[Band]) -> dict[float, list[Band]]:
    """The bands of each voltage together, in the order in which they come, each condition of the battery once."""
    found: dict[float, dict[str, Band]] = {}
    for band in bands:
        found.setdefault(round(band.volts, 3), {}).setdefault(condition(band), band)
    return {reading_v: list(group.values()) for reading_v, group in found.items()}


def bands_figure(result: PairsResult) -> Figure:
    """What charge each voltage can mean, at rest, under the pump's load and under charge."""
    shown = [band for group in bands_by_volts(result.bands).values() for band in group]
    labels = [f"{volts(band.volts)} {condition(band)}: {band_words(band.soc_low, band.soc_high)}" for band in shown]
    text = "Each bar reaches from the lowest to the highest charge at which the controller can read that voltage."
    low, high = np.array([(band.soc_low, band.soc_high) for band in shown]).T
    words = ("Estimated charge band at each voltage", text)
    head = ("Threshold", "Reads", "While the battery is", "Estimated charge band")
    rows = (
        (threshold(band), volts(band.volts), condition(band), band_words(band.soc_low, band.soc_high))
        for band in result.bands
    )
    drawn = charts.ranges("bands", labels, low, high, "estimated charge, %", words)
    return Figure(drawn, text, (), Table(head, tuple(rows)))


def gap_figure(result: PairsResult) -> Figure:
    """What the gap between the two voltages must cover, and what it is."""
    sag, rebound = result.sag_v, result.rebound_v
    bars = (
        ("sag while the pump runs", 0.0, sag, SUN),
        ("rebound when it stops", 0.0, rebound, SUN),
        ("margin", rebound, result.margin_v, SUN),
        ("needed gap", 0.0, result.needed_gap_v, ALARM),
        ("gap of the present pair", 0.0, gap_v(result.present), WATER),
        ("gap of the recommended pair", 0.0, gap_v(result.recommended), WATER),
    )
    text = (
        f"The pump's current pulls the voltage down by {sag:.2f} V. When the pump stops, the voltage rises by "
        f"{rebound:.2f} V by itself. With a margin of {result.margin_v:.2f} V the two voltages must lie at least "
        f"{result.needed_gap_v:.2f} V apart, or the pump starts again without any new sun."
    )
    items = [Bar(f"{name}: {length:.2f} V", start, length, ink) for name, start, length, ink in bars]
    table = Table(("Part", "V"), tuple((name, f"{length:.2f}") for name, _, length, _ in bars))
    return Figure(charts.bars("gap", items, ("The gap that the two voltages need", text)), text, (), table)
