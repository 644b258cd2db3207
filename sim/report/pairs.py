"""What the pairs' report says: which two voltages, what every pair does, and what a voltage can mean."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from sim.report import pair_figures
from sim.report.figures import Figure, Key, Table
from sim.report.pair_figures import MEASURES, Measure, PairMap, hours_a_day
from sim.report.pair_words import COLUMNS, cells, pair_name, portion, reading_sentence, said, volts
from sim.report.render import render
from sim.report.sheet import sheet_of
from sim.weather.weather import place_of
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.studies.pairs import Pair, PairsResult


@dataclass(frozen=True)
class Page:
    """The whole report of a pairs study."""

    title: str
    place: str
    promise: str
    reasons: tuple[str, ...]
    changes: tuple[str, ...]
    doubts: tuple[str, ...]
    compared: Table
    months: Figure
    maps: tuple[PairMap, ...]
    map_legend: tuple[Key, ...]
    measures: tuple[str, ...]
    every_pair: Table
    every_month: Table
    bands: Figure
    seen: Table
    fooled: tuple[str, ...]
    gap: Figure
    limits: tuple[str, ...]
    steady: str
    controls: Table
    sheet: Table
    source: str
    licence: str
    notes: tuple[str, ...]


def pairs_report(result: PairsResult) -> str:
    """The report of a pairs study as one self-contained HTML page; the same study gives the same text."""
    script = files("sim.report").joinpath("templates/pairs.js").read_text(encoding="utf-8")
    return render(page_of_pairs(result), "pairs.html.j2", data=embedded(explored(result)), script=script)


def embedded(data: object) -> str:
    r"""Plain data as JSON that cannot end the script element it stands in.

    >>> embedded({"words": "</script>&"})
    '{"words":"\\u003c/script\\u003e\\u0026"}'
    """
    written = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return written.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def page_of_pairs(result: PairsResult) -> Page:
    """The page of a pairs study."""
    return Page(
        title=result.scenario.title,
        place=place_of(result.weather),
        promise=_promise(result),
        reasons=result.reasons,
        changes=result.changes,
        doubts=_doubts(result),
        compared=_compared(result),
        months=pair_figures.months_figure(result),
        maps=pair_figures.maps(result),
        map_legend=pair_figures.MAP_LEGEND,
        measures=tuple(_scale(measure, result) for measure in MEASURES),
        every_pair=_every_pair(result),
        every_month=pair_figures.every_month(result),
        bands=pair_figures.bands_figure(result),
        seen=pair_figures.seen(result.bands),
        fooled=_fooled(result),
        gap=pair_figures.gap_figure(result),
        limits=result.limits,
        steady=_steady(result),
        controls=_controls(result),
        sheet=sheet_of(result),
        source=result.weather.source,
        licence=result.weather.licence,
        notes=result.weather.remarks,
    )


def _scale(measure: Measure, result: PairsResult) -> str:
    """A measure with its palest and its fullest value."""
    return f"{measure.name}, {' to '.join(pair_figures.extent(measure, result.pairs))}"


def same_pair(one: Pair, other: Pair) -> bool:
    """Whether two pairs are of the same voltages."""
    return pair_name(one) == pair_name(other)


def _promise(result: PairsResult) -> str:
    """The recommended pair and the present one, in a sentence."""
    best, now = result.recommended, result.present
    if same_pair(best, now):
        return (
            f"Leave the two voltages as they are: the pump off at {volts(best.load_disconnect_v)}, "
            f"on again at {volts(best.load_reconnect_v)}."
        )
    return (
        f"Let the controller switch the pump off at {volts(best.load_disconnect_v)} and on again at "
        f"{volts(best.load_reconnect_v)}, instead of {volts(now.load_disconnect_v)} and {volts(now.load_reconnect_v)}."
    )


def _doubts(result: PairsResult) -> tuple[str, ...]:
    """What is not steady about the two pairs that are compared."""
    named = {"present": result.present, "recommended": result.recommended}
    return tuple(
        f"The {name} pair, {pair_name(pair)}, is unsteady: {'; '.join(pair.unsteady_because)}."
        for name, pair in named.items()
        if not pair.steady
    )


def _compared(result: PairsResult) -> Table:
    """The two pairs figure by figure."""
    head = ("In the year", f"Present: {pair_name(result.present)}", f"Recommended: {pair_name(result.recommended)}")
    figures = zip(COLUMNS, cells(result.present), cells(result.recommended), strict=True)
    return Table(head, tuple((column.name, now, then) for column, now, then in figures))


def _every_pair(result: PairsResult) -> Table:
    """Every pair with every figure."""
    return Table(
        ("Off / on", *(column.name for column in COLUMNS)),
        tuple((pair_name(pair), *cells(pair)) for pair in result.pairs),
    )


def _fooled(result: PairsResult) -> tuple[str, ...]:
    """Why the chart of voltage against charge misleads, with this system's own figures."""
    now, grouped = result.present, pair_figures.bands_by_volts(result.bands)
    return (
        *(reading_sentence(reading_v, group) for reading_v, group in grouped.items()),
        f"{portion(now.lifted_restart_share)} of the present pair's restarts in the year are made by a charging "
        f"battery below 40 % of charge. The charging current can lift the voltage to {volts(now.load_reconnect_v)} "
        "long before the battery is as full as that voltage means at rest.",
        f"{portion(now.early_cut_off_share)} of its cut-offs come early, with much charge left. The pump's own current "
        f"can pull the voltage down to {volts(now.load_disconnect_v)} before the battery is as empty as that means.",
    )


def _steady(result: PairsResult) -> str:
    """How many pairs are steady."""
    steady = sum(pair.steady for pair in result.pairs)
    return f"{steady} of the {len(result.pairs)} pairs are steady by these limits; the others are hatched in the maps."


def _controls(result: PairsResult) -> Table:
    """Ways to control the load, through the same year."""
    head = (
        *("Load control", "Pump hours", "Wanted hours met", "Hours in the wanted window", "Night hours", "Starts"),
        *("Full cycles", "Lowest charge", "Longest stop"),
    )
    return Table(
        head,
        tuple(
            (
                *(it.name, number(it.pump_hours), percent(it.hours_met_share), number(it.window_hours)),
                *(number(it.night_hours), f"{it.starts:,}", number(it.equivalent_full_cycles)),
                *(percent(it.min_soc), hours(it.longest_stop_h)),
            )
            for it in result.controls
        ),
    )


def explored(result: PairsResult) -> dict[str, Any]:
    """What the page's script shows: the grid, and every pair with its figures in words and its months."""
    ground = pair_figures.ground_of(result)
    off_grid = not any(same_pair(pair, result.present) for pair in result.pairs)
    shown = (*result.pairs, result.present) if off_grid else result.pairs
    names = [pair_name(pair) for pair in shown]
    opaque = [pair_figures.opacities(measure, shown).round(2).tolist() for measure in MEASURES]
    return {
        "offs": ground.columns_v.tolist(),
        "ons": ground.rows_v.tolist(),
        "cells": len(result.pairs),
        "above": list(ground.named_above),
        "figures": [column.name for column in COLUMNS],
        "wanted": list(result.scenario.need.hours_per_day),
        "present": names.index(pair_name(result.present)),
        "recommended": names.index(pair_name(result.recommended)),
        "pairs": [
            {
                "name": pair_name(pair),
                "at": ground.place(pair.load_disconnect_v, pair.load_reconnect_v),
                "steady": pair.steady,
                "said": said(pair),
                "figures": cells(pair),
                "months": hours_a_day(pair, result.weather).round(1).tolist(),
                "opaque": [row[place] for row in opaque],
            }
            for place, pair in enumerate(shown)
        ],
    }
