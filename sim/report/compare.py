"""What the comparison's report says, section by section."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report import compare_figures as figures
from sim.report.compare_figures import Titled
from sim.report.compare_words import (
    HIDDEN,
    design_sentence,
    mains_sentence,
    money_sentence,
    promise,
    returns_sentence,
    signed,
)
from sim.report.figures import Figure, Key, Table
from sim.report.render import render
from sim.weather.weather import place_of

if TYPE_CHECKING:
    from sim.studies.compare import CompareResult


@dataclass(frozen=True)
class Part:
    """A section of the comparison: sentences, charts under headings side by side, charts, tables, remarks."""

    key: str
    title: str
    lead: str = ""
    sentences: tuple[str, ...] = ()
    legend: tuple[Key, ...] = ()
    multiples: tuple[Titled, ...] = ()
    charts: tuple[Figure, ...] = ()
    tables: tuple[Table, ...] = ()
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Page:
    """The whole report of a comparison."""

    title: str
    place: str
    parts: tuple[Part, ...]
    source: str
    licence: str
    notes: tuple[str, ...]


def compare_report(result: CompareResult) -> str:
    """The report of a comparison as one self-contained HTML page; the same comparison gives the same text."""
    return render(page_of_compare(result), "compare.html.j2")


def page_of_compare(result: CompareResult) -> Page:
    """The page of a comparison."""
    weather = result.first.weather
    made = (_answer(result), _side_by_side(result), _next_step(result), _tilt(result), _power(result), _shade(result))
    return Page(
        title=result.first.design.scenario.title,
        place=place_of(weather),
        parts=(*(part for part in made if part), _hidden(result)),
        source=weather.source,
        licence=weather.licence,
        notes=weather.remarks,
    )


def _answer(result: CompareResult) -> Part:
    others = tuple(design_sentence(row, result) for row in result.designs[1:])
    said = (money_sentence(result), mains_sentence(result))
    tables = (figures.overview(result), *((figures.differences(result),) if len(result.designs) > 1 else ()))
    return Part(
        "answer", "What to change", promise(result), tuple(text for text in said if text), tables=tables, remarks=others
    )


def _side_by_side(result: CompareResult) -> Part:
    drawn = figures.months(result)
    left = len(result.designs) - len(drawn)
    more = (f"The first {len(drawn)} designs have a diagram; the other {left} stand in the tables.",) if left else ()
    return Part(
        "designs", "The designs month by month", sentences=more, legend=figures.MONTHS_LEGEND, multiples=drawn,
        tables=figures.by_month(result),
    )  # fmt: skip


def _next_step(result: CompareResult) -> Part:
    said = (
        "One change at a time to the first design, each through the same year. Steps do not add up: two of them "
        "together may give more or less than their sum.",
    )
    return Part("steps", "The next step that pays most", "", said, (), (), (figures.steps_figure(result),),
                (figures.steps_table(result),))  # fmt: skip


def _tilt(result: CompareResult) -> Part:
    rows = tuple(
        (
            goal,
            f"{best.tilt_deg:.1f}°",
            f"{best.in_plane_kwh_m2:.0f}",
            f"{best.free_tilt_deg:.1f}° towards {best.free_azimuth_deg:.0f}°",
            f"{signed(best.free_in_plane_kwh_m2 - best.in_plane_kwh_m2)}",
        )
        for goal, best in result.best.items()
    )
    head = ("Most light in", "Tilt, present azimuth", "kWh/m² there", "Best tilt and azimuth", "More, kWh/m²")
    return Part("tilt", "Which tilt?", charts=(figures.tilt_figure(result),), tables=(Table(head, rows),))


def _power(result: CompareResult) -> Part:
    return Part("power", "How much panel?", charts=(figures.power_figure(result, returns_sentence(result)),))


def _shade(result: CompareResult) -> Part | None:
    """What shade takes; nothing where there is none."""
    if not result.first.design.scenario.panel.shade:
        return None
    names = {"trimming": "Trimming the foliage away", "moving": "Moving the panel out of all shade"}
    said = tuple(
        f"{name} would give {signed(step.gain.pump_h, ' h')} of pump hours and "
        f"{signed(step.gain.met_h, ' h')} of the wanted hours in the year."
        for kind, name in names.items()
        if (step := result.step(kind))
    )
    return Part("shade", "What shade takes", sentences=said, charts=(figures.shade_figure(result),))


def _hidden(result: CompareResult) -> Part:
    weathers = {row.run.weather.source for row in result.designs}
    other = ("Not all designs have the same weather: their differences are not the designs' alone.",)
    return Part("hidden", "What stays hidden", remarks=(*HIDDEN, *(other if len(weathers) > 1 else ())))
