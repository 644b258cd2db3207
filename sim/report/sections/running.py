"""When the pump runs: by month, and by day and hour."""

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.figures.nights import OVER_H
from sim.figures.series import by_day
from sim.figures.series import by_month as summed
from sim.report import charts
from sim.report.blocks import Figure, Key, Table, Words, by_month, tabled
from sim.report.charts import Bars, Strokes
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.weather import Weather
from sim.weather.sun import sun_positions
from sim.words import number, percent

MONTHS_KEYS = (
    Key("water", "wanted hours that are met"),
    Key("outline", "all hours the pump runs"),
    Key("line", "hours wanted"),
)


def in_months(result: YearResult) -> Section:
    """Hours a day by month against those that are wanted."""
    year = result.measures
    run, days = year.hours_a_day, year.months[::24]
    met, wanted = (summed(hours, days) / year.days_by_month for hours in (year.met_by_day, year.wanted_by_day))
    best, worst = (MONTH_NAMES[int(month)] for month in (run.argmax(), run.argmin()))
    said = f"From {number(run.min())} hours a day in {worst} to {number(run.max())} hours a day in {best}."
    bars, words = (Bars(run, fill="outline"), Bars(met)), ("Expected pump hours a day by month", said)
    drawn = charts.months("months", "hours a day", bars, (Strokes(wanted),), words)
    table = by_month(
        ("Runs, h a day", run, ".1f"),
        ("Wanted, h a day", wanted, ".1f"),
        ("Met, h a day", met, ".1f"),
        ("Share of wanted hours met", year.met_share_by_month, percent),
    )
    return Section("months", "Hours a day by month", (Figure(drawn, said, MONTHS_KEYS, table),))


def in_hours(result: YearResult) -> Section:
    """The chance of running in each hour of the day, month by month."""
    share = monthly_means(result.weather, by_day(result.measures.run_h))
    zenith = monthly_means(result.weather, by_day(sun_positions(result.weather).apparent_zenith_deg))
    month, hour = divmod(int(share.argmin()), 24)
    said = (
        f"The fuller the colour, the likelier the pump runs in that hour of that month; it is least likely in "
        f"{MONTH_NAMES[month]} in the hour from {hour:02d}:00, {percent(float(share.min()))}."
    )
    title = "The chance that the pump runs, by month and hour of the day"
    keys = (Key("water", "runs every day"), Key("none", "never"), Key("sun", "sunrise and sunset, flat horizon"))
    drawn = charts.year_map(share, zenith, np.arange(1, 13), (title, said))
    table = _hourly("Chance of running, %", share * 100.0)
    return Section("map", "When the pump runs", (Figure(drawn, said, keys, table),))


def nights(result: YearResult) -> Section:
    """Nights without a stop, and long stops, by month."""
    found = result.measures.nights
    shares = [share if np.isfinite(share) else "no nights" for share in found.full]
    table = by_month(
        ("Nights without a stop", shares, percent),
        *((f"Stops over {most:g} h", row, "d") for most, row in zip(OVER_H, found.over, strict=True)),
    )
    said = (
        "A night lasts from dusk to dawn and belongs to the day on which it begins. Stops of every cause count, those "
        "of a timer too, in the month in which they begin: a filter does not ask why the water stands."
    )
    return Section("nights", "Nights, and long stops", (Words(said), table))


def monthly_means(weather: Weather, series: np.ndarray) -> np.ndarray:
    """(12, 24) means by month of something through day and year, (days, 24)."""
    months = weather.index.month.to_numpy()[::24]
    return np.array([series[months == month].mean(axis=0) for month in range(1, 13)])


def _hourly(head: str, means: np.ndarray) -> Table:
    """A row a month, a column for each hour of the day, of (12, 24)."""
    return tabled(head, MONTHS, *((f"{hour:02d}", means[:, hour], ".0f") for hour in range(24)))


def map_of(
    weather: Weather, series: np.ndarray, said: tuple[str, str], ends: tuple[str, str], head: str, full: float
) -> Figure:
    """Something through day and year, (days, 24), the words for ``full`` and none of it, and its means by month."""
    zenith = by_day(sun_positions(weather).apparent_zenith_deg)
    table = _hourly(head, monthly_means(weather, series))
    keys = (Key("water", ends[0]), Key("none", ends[1]), Key("sun", "sunrise and sunset, flat horizon"))
    drawn = charts.year_map(np.clip(series / full, 0.0, 1.0), zenith, weather.index.month.to_numpy()[::24], said)
    return Figure(drawn, said[1], keys, table)
