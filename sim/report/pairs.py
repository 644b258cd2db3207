"""What the pairs' report says: which two voltages, what every pair does, and what a voltage can mean."""

import json
from dataclasses import dataclass
from importlib.resources import files
from typing import Any

import numpy as np

from sim.report import pair_figures
from sim.report.blocks import Blanks, Found, Heading, Points, Table, Words, tabled, words
from sim.report.pair_figures import MAP_LEGEND, MEASURES, Measure, hours_a_day
from sim.report.pair_words import COLUMNS, cells, pair_name, portion, said, volts
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.assumptions import cautions, closing
from sim.report.sheet import sheet_of
from sim.studies.pairs import Pair, PairsResult
from sim.units import in_units
from sim.words import hours, number, percent

EACH_CELL = (
    "Each cell is one pair of voltages, simulated through the whole year: the pump goes off at the voltage read "
    "below it, and on again at the voltage read beside it. The fuller the colour, the greater the figure."
)
NEVER_AT_REST = (
    "A chart of voltage against charge holds for a battery that has rested for hours. The controller never waits: "
    "it reads the voltage while the pump pulls it down or the sun pushes it up. So one voltage means a wide band of "
    "charge, and a different band each time."
)
TIMER_FIRST = "Set the timer first: it does more than any pair of voltages."
SAME_YEAR = "The same year and the same system, with the load switched in other ways."
ESTIMATE = "This is an estimate, not a guarantee: it is what each pair would have done in one year of weather."
SIGN_OFF = (
    "Date set",
    "Set by (signature)",
    "Voltage on a meter at the battery",
    "Voltage on the controller at the same moment",
    "To be checked again on",
)
FOUND_SET = (
    "“Found set” is for what the controller showed before it was changed. If meter and controller differ, its "
    "thresholds act by its own reading."
)


@dataclass(frozen=True)
class Explorer:
    """The map to move along: what it can show, the tables that hold the same, and its data and script."""

    measures: tuple[str, ...]
    every_pair: Table
    every_month: Table
    data: str
    script: str


def pairs_report(result: PairsResult) -> str:
    """The report of a pairs study as one self-contained HTML page; the same study gives the same text."""
    with in_units(result.scenario.report.units):
        return _of_pairs(result)


def _of_pairs(result: PairsResult) -> str:
    bands, misleads = pair_figures.bands_figure(result), (Heading("Why the chart misleads"), Points(_fooled(result)))
    sections = (
        Section("which", "Which two voltages?", _which(result)),
        Section("maps", "Every pair at a glance", (Words(EACH_CELL), MAP_LEGEND, *pair_figures.maps(result))),
        Section("pairs", "Pair by pair", _explorer(result), "explore"),
        Section("sees", "What your controller really sees", (Words(NEVER_AT_REST), bands, *misleads)),
        Section("gap", "How far apart they must be", (pair_figures.gap_figure(result),)),
        Section("years", "In good years and bad", _years(result)) if result.years else None,
        Section("steady", "Which pairs are steady", (Words(_steady(result)), Points(result.limits))),
        Section("control", "Other ways to control the load", (Words(SAME_YEAR), _controls(result))),
        Section("sheet", "Settings sheet", _sheet(result)),
        closing(result.scenario, result.weather),
        cautions(),
    )
    return render(page_on(result.weather, "The two voltages that switch the pump", result.scenario.title, sections))


def _which(result: PairsResult) -> tuple[object, ...]:
    changes = (Heading("What changes"), Points(result.changes)) if result.changes else ()
    return (
        *words((TIMER_FIRST,) if result.timer else (), "promise"),
        Words(_promise(result), "" if result.timer else "promise"),
        *words(result.reasons),
        *changes,
        *_doubts(result),
        _compared(result),
        pair_figures.months_figure(result),
        Words(ESTIMATE, "estimate"),
    )


def _explorer(result: PairsResult) -> Explorer:
    return Explorer(
        measures=tuple(_scale(measure, result) for measure in MEASURES),
        every_pair=_every_pair(result),
        every_month=pair_figures.every_month(result),
        data=embedded(explored(result)),
        script=files("sim.report").joinpath("templates/pairs.js").read_text(encoding="utf-8"),
    )


def _sheet(result: PairsResult) -> tuple[object, ...]:
    kept = f"Print this page and keep it in the controller's box. {result.scenario.title}"
    return (Words(kept, "small"), sheet_of(result), Blanks(SIGN_OFF), Words(FOUND_SET, "small"))


def embedded(data: object) -> str:
    r"""Plain data as JSON that cannot end the script element it stands in.

    >>> embedded({"words": "</script>&"})
    '{"words":"\\u003c/script\\u003e\\u0026"}'
    """
    written = json.dumps(data, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    return written.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


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


def _doubts(result: PairsResult) -> tuple[Found, ...]:
    """What is not steady about the two pairs that are compared."""
    named = {"present": result.present, "recommended": result.recommended}
    unsteady = ((f"{name} pair, {pair_name(pair)}", pair) for name, pair in named.items() if not pair.steady)
    said = (f"The {which}, is unsteady: {'; '.join(pair.unsteady_because)}." for which, pair in unsteady)
    return tuple(Found("caution", sentence) for sentence in said)


def _compared(result: PairsResult) -> Table:
    """The two pairs figure by figure."""
    pairs = {"Present": result.present, "Recommended": result.recommended}
    columns = ((f"{name}: {pair_name(pair)}", cells(pair), str) for name, pair in pairs.items())
    return tabled("In the year", (column.name for column in COLUMNS), *columns)


def _every_pair(result: PairsResult) -> Table:
    """Every pair with every figure."""
    rows = ((pair_name(pair), *cells(pair)) for pair in result.pairs)
    return Table(("Off / on", *(column.name for column in COLUMNS)), tuple(rows))


def _fooled(result: PairsResult) -> tuple[str, ...]:
    """Why the chart of voltage against charge misleads, with this system's own figures."""
    now = result.present
    return (
        f"{portion(now.lifted_restart_share)} of the present pair's restarts in the year are made by a charging "
        f"battery below 40 % of charge. The charging current can lift the voltage to {volts(now.load_reconnect_v)} "
        "long before the battery is as full as that voltage means at rest.",
        f"{portion(now.early_cut_off_share)} of its cut-offs come early, with much charge left. The pump's own current "
        f"can pull the voltage down to {volts(now.load_disconnect_v)} before the battery is as empty as that means.",
    )


def _years(result: PairsResult) -> tuple[object, ...]:
    """The candidates through many years, the one that meets most in poor years first."""
    many = result.years
    assert many is not None
    order = np.argsort(-many.p10)
    low, middle, high = np.quantile(many.met, (0.1, 0.5, 0.9), axis=1)[:, order]
    pairs = [many.candidates[k] for k in order]
    table = tabled(
        "Off / on",
        map(pair_name, pairs),
        ("Wanted hours met, P10", low, percent),
        ("P50", middle, percent),
        ("P90", high, percent),
        ("Years near the best", (many.good_years(pair) for pair in pairs), "d"),
    )
    said = (
        "The pairs that met most in the year above, one for each disconnect voltage, and the present one. A year is "
        "near the best where the pair is within a point of what any of these met in it."
    )
    return Words(many.in_words(result.recommended, result.present)), Words(said), table


def _steady(result: PairsResult) -> str:
    """How many pairs are steady."""
    steady = sum(pair.steady for pair in result.pairs)
    return f"{steady} of the {len(result.pairs)} pairs are steady by these limits; the others are hatched in the maps."


def _controls(result: PairsResult) -> Table:
    """Ways to control the load, through the same year."""
    ways = result.controls
    return tabled(
        "Load control",
        (it.name for it in ways),
        ("Pump hours", (it.pump_hours for it in ways), number),
        ("Wanted hours met", (it.hours_met_share for it in ways), percent),
        ("Hours in the wanted window", (it.window_hours for it in ways), number),
        ("Night hours", (it.night_hours for it in ways), number),
        ("Starts", (it.starts for it in ways), ",d"),
        ("Full cycles", (it.equivalent_full_cycles for it in ways), number),
        ("Lowest charge", (it.min_soc for it in ways), percent),
        ("Longest stop", (it.longest_stop_h for it in ways), hours),
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
