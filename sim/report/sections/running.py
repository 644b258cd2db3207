"""When the pump runs: by month, and by day and hour."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.figures.series import by_day
from sim.figures.series import by_month as summed
from sim.report import charts
from sim.report.blocks import Figure, Key, by_month, tabled
from sim.report.charts import Bars, Strokes
from sim.report.section import Section
from sim.weather.sun import sun_positions
from sim.words import number, percent

if TYPE_CHECKING:
    from sim.studies.result import YearResult
    from sim.weather import Weather


def in_months(result: YearResult) -> Section:
    """Hours a day by month against those that are wanted."""
    year = result.measures
    run, days = year.hours_a_day, year.months[::24]
    met, wanted = (summed(hours, days) / year.days_by_month for hours in (year.met_by_day, year.wanted_by_day))
    best, worst = (MONTH_NAMES[int(month)] for month in (run.argmax(), run.argmin()))
    said = f"From {number(run.min())} hours a day in {worst} to {number(run.max())} hours a day in {best}."
    drawn = charts.months(
        "months", "hours a day", (Bars(run, fill="outline"), Bars(met)), (Strokes(wanted),),
        ("Expected pump hours a day by month", said),
    )  # fmt: skip
    keys = (
        Key("water", "wanted hours that are met"),
        Key("outline", "all hours the pump runs"),
        Key("line", "hours wanted"),
    )
    table = by_month(
        ("Runs, h a day", run, ".1f"),
        ("Wanted, h a day", wanted, ".1f"),
        ("Met, h a day", met, ".1f"),
        ("Share of wanted hours met", year.met_share_by_month, percent),
    )
    return Section("months", "Hours a day by month", (Figure(drawn, said, keys, table),))


def in_hours(result: YearResult) -> Section:
    """Every day and hour of the year."""
    said = "Every column is a day, every row an hour; the fuller the colour, the more of the hour the pump runs."
    words = ("When the pump runs, day by day and hour by hour", said)
    percent_of_hour = by_day(result.measures.run_h) * 100.0
    figure = map_of(
        result.weather, percent_of_hour, words, ("pump runs", "pump stands"), "Mean share of the hour, %", 100.0
    )
    return Section("map", "When the pump runs", (figure,))


def map_of(
    weather: Weather, series: np.ndarray, said: tuple[str, str], ends: tuple[str, str], head: str, full: float
) -> Figure:
    """Something through day and year, (days, 24), the words for ``full`` and none of it, and its means by month."""
    zenith = by_day(sun_positions(weather).apparent_zenith_deg)
    months = weather.index.month.to_numpy()[::24]
    means = np.array([series[months == month].mean(axis=0) for month in range(1, 13)])
    table = tabled(head, MONTHS, *((f"{hour:02d}", means[:, hour], ".0f") for hour in range(24)))
    keys = (Key("water", ends[0]), Key("outline", ends[1]), Key("sun", "sunrise and sunset, flat horizon"))
    drawn = charts.year_map(np.clip(series / full, 0.0, 1.0), zenith, months, said)
    return Figure(drawn, said[1], keys, table)
