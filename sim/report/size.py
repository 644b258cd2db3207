"""What the report on sizes says: what to buy, how to run it, what a size less would cost, what it rests on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.catalogue.controllers import KINDS
from sim.figures.ratios import ratios_of
from sim.report import charts
from sim.report.blocks import Figure, Found, Key, Points, Table, Words, tabled, words
from sim.report.charts import Line, Panel
from sim.report.ink import ALARM, INK, WATER
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.assumptions import MANY_YEARS, cautions, closing
from sim.report.size_words import (
    answer,
    asked,
    clock_sentence,
    fresh_sentence,
    less_sentences,
    load,
    money,
    pair,
    panels,
    rests_on,
    way_name,
)
from sim.units import Quantity, in_units
from sim.words import hours, number, percent

if TYPE_CHECKING:
    from sim.figures.wiring import Run
    from sim.studies.size import Sized, SizeResult

HALF, MOST = 0.5, 0.95  # of the years: one in two, all but one in twenty
ESTIMATE = "This is an estimate, not a guarantee: it is what these designs would have done in made-up years."
SIZES_DROP = "The smallest that keeps the drop to 3 % and carries the current; with “or” by area and by gauge."
PICTURE = (
    "From the line upward a panel is large enough for the battery below it, for the promise in so many of the years; "
    "the dot is what to buy."
)


def size_report(result: SizeResult) -> str:
    """The report on sizes as one self-contained HTML page; the same study gives the same text."""
    with in_units(result.scenario.report.units):
        return _page(result)


def _page(result: SizeResult) -> str:
    sections = (
        Section("buy", "What to buy, and how to run it", _answer(result)),
        Section("list", "Shopping list", (_shopping(result), Words(SIZES_DROP, "small"), *_found(result))),
        Section("picture", "Panel against battery", (Words(PICTURE), _picture(result))),
        Section("books", "By the textbook", (Points(textbook(result)),)),
        Section("less", "What one size less would cost", _less(result)),
        Section("run", "Why this clock and this pair", _run(result)),
        Section("rests", "What it rests on", (Points(rests_on(result)), _designs(result), Words(ESTIMATE, "estimate"))),
        closing(result.year.scenario, result.year.weather, MANY_YEARS),
        cautions(),
    )
    return render(page_on(result.year.weather, "What to buy", result.scenario.title, sections))


def _answer(result: SizeResult) -> tuple[object, ...]:
    written = f"The scenario {result.written} holds it, ready for sunrill year." if result.written else ""
    return Words(answer(result), "promise"), *words((fresh_sentence(result), clock_sentence(result), written))


def textbook(result: SizeResult) -> tuple[str, ...]:
    """Days of autonomy and array-to-load ratio of the design, with what they are."""
    scenario, year = result.year.scenario, result.year.measures
    light = year.in_plane_by_month_kwh_m2 / year.days_by_month
    in_service = year.wanted_a_day > 0.0  # a month that a break cuts short has days like the others
    load_wh = scenario.pump.power_w * np.where(in_service, scenario.need.hours_per_day, 0.0)
    store_wh = scenario.battery.capacity_ah * scenario.battery.nominal_v
    it = ratios_of(scenario.panel.power_w * scenario.panel.count, store_wh, light, load_wh)
    return (
        f"Array-to-load ratio {it.array_to_load:.2f}: the mean daily light in the panel's plane in "
        f"{MONTH_NAMES[it.month - 1]}, where it is least for what is wanted, times the rated power, over the pump's "
        "energy of a day (C_A of Egido & Lorenzo 1992, without losses).",
        f"Days of autonomy {it.days_of_autonomy:.1f}: a full battery over the pump's energy of such a day (C_S there, "
        "without a reserve). Neither knows losses, frost or clouds that follow each other, which were simulated here.",
    )


def _shopping(result: SizeResult) -> Table:
    """What to buy, with the ratings and the sizes that the checks ask for."""
    offer, scenario = (result.chosen or result.best).offer, result.year.scenario
    wiring, control = result.year.measures.wiring, scenario.controller
    label = f"Vmp {scenario.panel.vmp_v:g} V, Imp {scenario.panel.imp_a:g} A, Voc {scenario.panel.voc_v:g} V"
    kind = KINDS[offer.way.controller].words
    rows = [
        ("Panel", panels(offer).removeprefix("a "), f"{label} each; tilt {offer.way.tilt_deg:g}°"),
        ("Battery", f"{offer.battery_ah:g} Ah, {scenario.battery.nominal_v} V", _chemistry(result)),
        (
            "Controller",
            f"{kind}, {control.max_charge_a:g} A charge, {control.max_load_a:g} A load",
            f"bears {wiring.array_cold_voc_v:.0f} V from the panel in the cold",
        ),
        ("Timer", load(offer.way.setting), "set on the controller"),
        ("Load voltages", pair(offer.way.setting), "set on the controller"),
        *((f"Cable {run.name}", _size(run), _fuse(run)) for run in wiring.runs),
    ]
    return Table(("For", "What", "Note"), tuple(rows))


def _chemistry(result: SizeResult) -> str:
    from sim.catalogue import chemistries

    return str(chemistries()[result.scenario.battery.chemistry]["words"])


def _size(run: Run) -> str:
    """The sizes of a run that suit, and its length."""
    return f"{str(run.sizes[0]) or 'none of the usual sizes'}, {Quantity(run.length_m, 'm', 'g')}"


def _fuse(run: Run) -> str:
    """The fuses that suit the run as it is written."""
    if not run.fuses_a:
        return f"written with {run.size}: no standard fuse suits it"
    slow = ", slow" if run.fuses_slow else ""
    return f"fuse {run.fuses_a[0]:g} A{slow}, for {run.size} as it is written"


def _found(result: SizeResult) -> tuple[Found, ...]:
    """What the checks find about the design in its typical year."""
    return tuple(Found(one.level, one.message, one.source) for one in result.year.findings)


def _lines(result: SizeResult) -> dict[str, tuple[float, str, bool]]:
    """The lines of the picture: name, share of the years, ink, and whether it is dashed."""
    it = result.promise.of_years
    drawn = {f"{percent(it)} of the years, as asked": (it, INK, False)}
    if it > HALF:
        drawn["one year in two"] = (HALF, WATER, False)
    if it < MOST:
        drawn["all but one year in twenty"] = (MOST, ALARM, True)
    return drawn


def _picture(result: SizeResult) -> Figure:
    """Watts that are needed against ampere-hours, for shares of the years."""
    plane, offer = result.plane, (result.chosen or result.best).offer
    ah, drawn = np.array(plane.batteries_ah), _lines(result)
    found = {name: plane.line(share) for name, (share, _, _) in drawn.items()}
    lines = tuple(
        Line(ah[known], found[name][known], ink, dashed)
        for name, (_, ink, dashed) in drawn.items()
        if (known := np.isfinite(found[name])).any()
    )
    mark = ((offer.battery_ah, offer.array.watts),)
    said = (
        f"Watts of panel for each battery with which {percent(result.promise.met)} of the wanted hours are met, read "
        f"between the sizes that were run in {plane.margins.shape[2]} of the years."
    )
    title = "Panel against battery, with the lines on which the promise holds"
    wide = Line(np.array([ah[0], ah[-1]]), np.array([offer.array.watts] * 2), "none")
    svg = charts.curves("size-plane", (Panel("panel, W", (*lines, wide), mark),), "battery, Ah", (title, said))
    keys = tuple(Key({INK: "ink", WATER: "water", ALARM: "line"}[ink], name) for name, (_, ink, _) in drawn.items())
    columns = ((f"W for {name}", [_watts(value, plane.watts) for value in found[name]], str) for name in drawn)
    return Figure(svg, said, keys, tabled("Battery", (f"{one:g} Ah" for one in ah), *columns))


def _watts(value: float, tried: tuple[float, ...]) -> str:
    """A size read from the picture, or that none of those tried is enough."""
    if not np.isfinite(value):
        return f"more than {tried[-1]:,.0f}"
    return f"{tried[0]:,.0f} or less" if value <= tried[0] * (1.0 + 1e-9) else f"{value:,.0f}"


def _rows(result: SizeResult, named: list[tuple[str, Sized]]) -> Table:
    """Designs by their names."""
    every = [one for _, one in named]
    return tabled(
        "Design",
        (name for name, _ in named),
        ("Keeps it in", (one.share_of_years for one in every), percent),
        ("Wanted hours met, P10", (one.hours_met_share_p10 for one in every), percent),
        ("Worst month, P10", (one.worst_month_met_p10 for one in every), percent),
        ("Wanted h in a usual year", (one.mean_met_h for one in every), number),
        ("Longest stop, P90", (one.longest_stop_h for one in every), hours),
        ("Price", (one.price for one in every), lambda price: money(result, price)),
    )


def _less(result: SizeResult) -> tuple[object, ...]:
    best = result.chosen or result.best
    named = [(_bought_name(one), one) for one in (best, *result.less)]
    return *words(less_sentences(result)), _rows(result, named)


def _bought_name(one: Sized) -> str:
    return f"{panels(one.offer)}, {one.offer.battery_ah:g} Ah"


def _run(result: SizeResult) -> tuple[object, ...]:
    best = result.chosen or result.best
    said = (
        f"The same panel and battery, run in other ways through the same {best.years} years. Ways that differ by less "
        "than a point count as equal; of these the present one is kept, or the one that starts the pump least often. "
        "A way that leaves the battery without its reserve must gain five points to be taken, and one that starts the "
        "pump more than twice a day ten."
    )
    named = [(way_name(one.offer.way), one) for one in (best, *result.otherwise)]
    return *words((said, clock_sentence(result))), _rows(result, named)


def _designs(result: SizeResult) -> Table:
    """The judged designs nearest to the answer in price, the cheapest first."""
    best = result.chosen or result.best
    near = sorted(result.designs, key=lambda one: abs(one.price - best.price))[:12]
    shown = sorted(near, key=lambda one: (one.price, one.offer))
    named = [
        (f"{_bought_name(one)}, {one.offer.way.controller.upper()}, {load(one.offer.way.setting)}", one)
        for one in shown
    ]
    return tabled(
        f"{len(result.designs)} designs judged; those nearest in price",
        (name for name, _ in named),
        ("Price", (one.price for _, one in named), lambda price: money(result, price)),
        ("Years run", (one.years for _, one in named), "d"),
        ("Kept in", (one.share_of_years for _, one in named), percent),
        (f"Keeps {asked(result)}", ("yes" if one.keeps else "no" for _, one in named), str),
    )
