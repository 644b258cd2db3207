"""What the report on a diagnosis says, on one page: the verdict, the evidence, what to measure next, what to change."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import DAY_S
from sim.report import charts
from sim.report.blocks import Figure, Key, Points, Table, Words, tabled, words
from sim.report.charts import Bar
from sim.report.ink import MUTED, WATER
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.measured import by_day, drawn
from sim.studies.diagnose_symptom import CAUTIONS
from sim.units import in_units, told
from sim.words import percent

if TYPE_CHECKING:
    from sim.studies.diagnose import Diagnosis

RESTS_ON = (
    "Each cause was simulated in several strengths, with small differences of panel, battery and pump, through these "
    "days; it is as likely as it comes near to what was seen, a meter being off by some {offset} and the model by some "
    "{model} (our own defaults), for one fault at a time."
)
DRAWN = 0.005
UNDRAWN = "Causes that are not drawn are less likely than one in two hundred."


def diagnosis_report(result: Diagnosis) -> str:
    """The report of a diagnosis as one self-contained HTML page; the same readings give the same text."""
    with in_units(result.scenario.report.units):
        sections = (
            Section("answer", "What is wrong", _answer(result)),
            Section("causes", "How likely each cause is, and why", _causes(result)),
            Section("seen", "What was seen, and what this rests on", (*_overlay(result), *_rests(result))),
        )
        return render(page_on(result.weather, "What is wrong with it?", result.scenario.title, sections))


def _answer(result: Diagnosis) -> tuple[object, ...]:
    first = result.causes[0]
    measure = f"Measure next. {result.next.words}" if result.next else ""
    sure = result.verdict == first.id
    said = (first.evidence, f"What to change: {first.change}") if sure else ()
    cautions = Points(tuple(str(told(it)) for it in CAUTIONS))
    return Words(result.in_words, "promise"), *words((*said, measure)), cautions


def _causes(result: Diagnosis) -> tuple[object, ...]:
    """Bars of all causes, and the evidence for those that are likely."""
    items = tuple(
        Bar(f"{cause.id}: {percent(cause.probability)}", 0.0, cause.probability, WATER if place == 0 else MUTED)
        for place, cause in enumerate(result.causes)
        if place < 2 or cause.probability >= DRAWN
    )
    said = "; ".join(f"{cause.id} {percent(cause.probability)}" for cause in result.causes)
    svg = charts.bars("diagnosis-causes", items, ("How likely each cause is", said))
    columns = (("Probability", (one.probability for one in result.causes), percent),)
    table = tabled("Cause", (one.id for one in result.causes), *columns)
    others = [one for one in result.likely if one.id != result.verdict]  # of which the answer has told everything
    rows = tuple((one.id, percent(one.probability), one.evidence, one.change) for one in others)
    evidence = (Table(("Cause", "Probability", "Evidence", "What to change"), rows),) if rows else ()
    return Figure(svg, UNDRAWN, (), table), *evidence


def _overlay(result: Diagnosis) -> tuple[Figure, ...]:
    """The log, where there is one, beside the scenario and the likeliest cause."""
    if result.overlay is None:
        return ()
    it = result.overlay
    year, days = result.weather.index[0].year, it.at_s / DAY_S
    volts = np.array([it.measured_v, it.as_written_v, it.explained_v])
    said = (
        f"{len(days):,} readings; the scenario as it is written lies {it.rms_written_v:.3f} V from them, "
        f"{result.causes[0].id} {it.rms_explained_v:.3f} V (root of the mean square)."
    )
    first = result.causes[0].id
    legend = (Key("dot", "measured"), Key("dash", "as the scenario is written"), Key("ink", f"with {first}"))
    return (Figure(drawn(days, volts, year, said), said, legend, by_day(days, volts, year)),)


def _rests(result: Diagnosis) -> tuple[object, ...]:
    blocks = result.scenario.battery.nominal_v / 12.0
    rests = RESTS_ON.format(offset=f"{0.05 * blocks:.2f} V", model=f"{0.02 * blocks:.2f} V")
    weather = f"Weather: {result.weather.source}. Licence: {result.weather.licence}"
    return *words(result.notes), *words((rests, weather), "small")
