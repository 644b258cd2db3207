"""One design over a region as two maps, of what it does and of the panel that it would need."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.report.blocks import Figure, Key, Points, Table, Words, tabled, words
from sim.report.charts import Said, image
from sim.report.ink import INK, heading, inked, sheet, svg
from sim.report.maps import opacity, scale
from sim.report.render import render
from sim.report.section import Page, Section
from sim.report.sections.assumptions import cautions
from sim.studies.grid import MET, TIMES, GridResult
from sim.units import in_units
from sim.words import number, percent

HEIGHT = 520.0
MOST_COLUMNS, MOST_ROWS = 12, 30  # of the tables behind the maps
AS_IT_IS = (
    "At every place it is the same design: panel, battery, controller, pump and wanted hours. The panel faces the "
    "equator at the tilt that it has; the shades of the scenario belong to its own place and are left out.",
    "The weather is the world climate of each place, one year made from twelve means: coarse, ± 10 % of light a month "
    "and more in hills and on foggy coasts. A map is for a first look; a place that matters wants weather of its own.",
    "Places at sea, outside every country's time zone, are left blank, and so are those whose year cannot be made.",
)
NEEDED = (
    f"The panel that meets {MET:.0%} of the wanted hours in every month of a usual year, all else as it is, with a "
    "controller for it; a poor year asks for more. "
    f"Panels from {TIMES[0]:g} to {TIMES[-1]:g} times the design's were tried. Where none is enough the battery is too "
    "small or too cold, and the place is blank."
)


def grid_report(result: GridResult) -> str:
    """The maps as one self-contained HTML page; the same grid gives the same text."""
    with in_units(result.scenario.report.units):
        sections = (
            Section("met", "Hours met in the worst month", (*words((_promise(result),), "promise"), *_met(result))),
            Section("panel", "The panel it would need", (Words(NEEDED), *_panel(result))),
            Section("how", "What these maps are", (Points(AS_IT_IS),)),
            cautions(),
        )
        return render(Page("One design over a region", result.scenario.title, _where(result), sections))


def _where(result: GridResult) -> str:
    south, north, west, east, step = result.region
    return f"{south:g}° to {north:g}° north, {west:g}° to {east:g}° east, every {step:g}°"


def _promise(result: GridResult) -> str:
    if not result.places:
        return "There is no land in this region."
    enough = sum(one.worst_month_met >= MET for one in result.places)
    of = len(result.places)
    return f"At {enough} of {of} places on land the design meets {MET:.0%} of the wanted hours in every month."


def _met(result: GridResult) -> tuple[object, ...]:
    met = result.table("worst_month_met")
    if not result.places:
        return ()
    hardest = min(result.places, key=lambda one: one.worst_month_met)
    said = (
        f"The hardest place is {hardest.latitude_deg:g}°, {hardest.longitude_deg:g}°: "
        f"{percent(hardest.worst_month_met)} in {MONTH_NAMES[hardest.worst_month - 1]}."
    )
    drawn = np.where(np.isnan(met), 0.0, 0.08 + 0.92 * np.clip(np.nan_to_num(met), 0.0, 1.0))
    title = ("Share of wanted hours met in each place's worst month", said)
    return (_figure(result, "met", drawn, ("none", "all"), title, met, percent),)


def _panel(result: GridResult) -> tuple[object, ...]:
    needed = result.table("panel_w")
    known = np.isfinite(needed)
    if not known.any():
        return words(("No place of this region has a panel that is enough.",))
    drawn = np.zeros(needed.shape)
    drawn[known] = opacity(needed[known], log=True)
    least, most = (float(end) for end in (needed[known].min(), needed[known].max()))
    title = ("Panel for every month", f"From {number(least)} W to {number(most)} W.")
    ends = (f"{number(least)} W", f"{number(most)} W")
    return (
        _figure(result, "panel", drawn, ends, title, np.where(known, needed, np.nan), lambda watts: f"{watts:,.0f} W"),
    )


def _figure(
    result: GridResult,
    key: str,
    drawn: np.ndarray,
    ends: tuple[str, str],
    said: Said,
    table: np.ndarray,
    form: Callable[[float], str],
) -> Figure:
    drawing = region_map(f"{key}-map", result, drawn, ends, said)
    return Figure(drawing, said[1], (Key("none", "blank: sea, or none"),), _table(result, table, form))


def region_map(key: str, result: GridResult, drawn: np.ndarray, ends: tuple[str, str], said: Said) -> str:
    """A map of how opaque each place is, (latitudes, longitudes) 0…1, with the words at its scale's ends."""
    region, half = result.region, result.region.step_deg / 2.0
    rows, columns = region.latitudes_deg, region.longitudes_deg
    with inked():
        figure, axes = sheet(HEIGHT, top=92.0, bottom=80.0)
        extent = (columns[0] - half, columns[-1] + half, rows[0] - half, rows[-1] + half)
        axes.imshow(image(drawn), extent=extent, origin="lower", aspect="auto", interpolation="none")
        axes.grid(False)
        axes.spines["left"].set_visible(True)
        axes.locator_params(nbins=6, steps=[1, 2, 5, 10])
        axes.set_xlabel("longitude, °", labelpad=12.0, color=INK)
        heading(axes, "latitude, °")
        scale(figure, ends)
        return svg(figure, key, *said)


def _table(result: GridResult, values: np.ndarray, form: Callable[[float], str]) -> Table:
    """The figures from north to south, some rows and columns of them where there are many; all stand in the CSV."""
    rows, columns = (_some(count, most) for count, most in zip(values.shape, (MOST_ROWS, MOST_COLUMNS), strict=True))
    latitudes, longitudes = result.region.latitudes_deg, result.region.longitudes_deg
    shown = [
        (f"{longitudes[k]:g}°", ["–" if np.isnan(values[row, k]) else form(values[row, k]) for row in rows[::-1]], str)
        for k in columns
    ]
    return tabled("Latitude", [f"{latitudes[row]:g}°" for row in rows[::-1]], *shown)


def _some(count: int, most: int) -> list[int]:
    """Evenly spaced places.

    >>> _some(5, 12), _some(30, 12)
    ([0, 1, 2, 3, 4], [0, 3, 6, 9, 12, 15, 18, 21, 24, 27])
    """
    return list(range(0, count, -(-count // most)))


def as_csv(result: GridResult) -> str:
    """A row for each place on land; an empty panel is one that no panel tried is enough for."""
    text = io.StringIO()
    rows = [one.as_json() for one in result.places]
    names = ("latitude_deg", "longitude_deg", "hours_met_share", "worst_month", "worst_month_met", "panel_w")
    table = csv.DictWriter(text, names, lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    return text.getvalue()
