"""What the comparison's report says, section by section."""

from sim.report import compare_figures as figures
from sim.report.blocks import Heading, Points, Table, Words, tabled, words
from sim.report.compare_words import (
    HIDDEN,
    design_sentence,
    mains_sentence,
    money_sentence,
    promise,
    returns_sentence,
    signed,
)
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.assumptions import cautions, closing
from sim.studies.compare import CompareResult
from sim.units import in_units

SPREAD_OVER = "A purchase is spread over the years that the scenario says it lasts."
ONE_BY_ONE = (
    "One change at a time to the first design, each through the same year. Steps do not add up: two of them "
    "together may give more or less than their sum."
)
ESTIMATE = "These are estimates, not guarantees: what each design would have done in one year of weather."
OTHER_WEATHER = "Not all designs have the same weather: their differences are not the designs' alone."
SHADELESS = {"trimming": "Trimming the foliage away", "moving": "Moving the panel out of all shade"}


def compare_report(result: CompareResult) -> str:
    """The report of a comparison as one self-contained HTML page; the same comparison gives the same text."""
    with in_units(result.first.design.scenario.report.units):
        return _report(result)


def _report(result: CompareResult) -> str:
    scenario, weather = result.first.design.scenario, result.first.weather
    steps = (Words(ONE_BY_ONE), figures.steps_figure(result), figures.steps_table(result), *_by_money(result))
    power = figures.power_figure(result, returns_sentence(result))
    several = len({row.run.weather.source for row in result.designs}) > 1
    hidden = (*HIDDEN, OTHER_WEATHER) if several else HIDDEN
    sections = (
        Section("answer", "What to change", _answer(result)),
        Section("designs", "The designs month by month", _side_by_side(result)),
        Section("steps", "The next step that pays most", steps),
        Section("tilt", "Which tilt?", (figures.tilt_figure(result), _tilts(result))),
        Section("power", "How much panel?", (power,)),
        Section("shade", "What shade takes", _shade(result)) if scenario.panel.shade else None,
        Section("hidden", "What stays hidden", (Points(hidden), Words(ESTIMATE, "estimate"))),
        closing(scenario, weather),
        cautions(),
    )
    return render(page_on(weather, "Designs side by side", scenario.title, sections))


def _by_money(result: CompareResult) -> tuple[object, ...]:
    """The next best money, where prices are known."""
    if not result.by_money or not figures.priced(result):
        return ()
    said = f"Of the steps whose price is known, those first that gain most for it. {SPREAD_OVER}"
    return Heading("The next best money"), Words(said, "small"), figures.by_money_table(result)


def _answer(result: CompareResult) -> tuple[object, ...]:
    """The step that gains most, what money says, and every design against the first."""
    others = tuple(design_sentence(row, result) for row in result.designs[1:])
    said = (Words(promise(result), "promise"), *words((money_sentence(result), mains_sentence(result) or "")))
    against = (Points(others), figures.overview(result), figures.differences(result))
    return *said, *(against if others else (figures.overview(result),))


def _side_by_side(result: CompareResult) -> tuple[object, ...]:
    drawn = figures.months(result)
    left = len(result.designs) - len(drawn.items)
    more = f"The first {len(drawn.items)} designs have a diagram; the other {left} stand in the tables." if left else ""
    return *words((more,)), figures.MONTHS_LEGEND, drawn, *figures.months_tables(result)


def _tilts(result: CompareResult) -> Table:
    """The best tilt for each goal, and the best of all planes."""
    best = result.best.values()
    return tabled(
        "Most light in",
        result.best,
        ("Tilt, present azimuth", (it.tilt_deg for it in best), lambda tilt: f"{tilt:.1f}°"),
        ("kWh/m² there", (it.in_plane_kwh_m2 for it in best), ".0f"),
        ("Best tilt and azimuth", (f"{it.free_tilt_deg:.1f}° towards {it.free_azimuth_deg:.0f}°" for it in best), str),
        ("More, kWh/m²", (it.free_in_plane_kwh_m2 - it.in_plane_kwh_m2 for it in best), signed),
    )


def _shade(result: CompareResult) -> tuple[object, ...]:
    """What shade takes."""
    said = (
        f"{name} would give {signed(step.gain.pump_h, ' h')} of pump hours and "
        f"{signed(step.gain.met_h, ' h')} of the wanted hours in the year."
        for kind, name in SHADELESS.items()
        if (step := result.step(kind))
    )
    return *words(said), figures.shade_figure(result)
