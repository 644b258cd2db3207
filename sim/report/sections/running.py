"""When the pump runs: by month, and by day and hour."""

from itertools import pairwise

import numpy as np

from sim.calendar import MONTH_NAMES, MONTHS
from sim.figures.lengths import lengths_of, steps_of
from sim.figures.nights import OVER_H, full_share
from sim.figures.series import by_day
from sim.report import charts
from sim.report.blocks import Figure, Heading, Key, Table, Words, by_month, tabled
from sim.report.charts import Bar, Bars, Strokes
from sim.report.seasons import months_of
from sim.report.section import Section
from sim.studies.result import YearResult
from sim.weather import Weather
from sim.weather.sun import sun_positions
from sim.words import hours, number, percent

MONTHS_KEYS = (
    Key("water", "wanted hours that are met"),
    Key("outline", "all hours the pump runs"),
    Key("line", "hours wanted"),
)


def in_months(result: YearResult) -> Section:
    """Hours a day by month against those that are wanted."""
    year = result.measures
    run, met, wanted = year.hours_a_day, year.met_h_by_month / year.days_by_month, year.wanted_a_day
    best, worst = (MONTH_NAMES[int(month)] for month in (run.argmax(), run.argmin()))
    said = f"From {number(run.min())} hours a day in {worst} to {number(run.max())} hours a day in {best}."
    bars, words = (Bars(run, fill="outline"), Bars(met)), ("Expected pump hours a day by month", said)
    drawn = charts.months("months", "hours a day", bars, (Strokes(wanted),), words)
    of_days = year.days
    table = by_month(
        ("Runs, h a day", run, ".1f"),
        ("Wanted, h a day", wanted, ".1f"),
        ("Met, h a day", met, ".1f"),
        ("Share of wanted hours met", year.met_share_by_month, percent),
        ("One day in ten less than, h", of_days.p10, ".1f"),
        ("Half the days less than, h", of_days.p50, ".1f"),
        ("Its poorest day, h", of_days.least, ".1f"),
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
    told = Words(f"{share_of_nights(result)} {said}")
    return Section("nights", "Nights, and long stops", (told, table, *lengths(result)))


def share_of_nights(result: YearResult) -> str:
    """The share of nights without a stop, in the year and in the summer."""
    found = result.measures.nights
    summer = full_share(found, months_of(result.weather.latitude_deg)["Summer"])
    year = full_share(found, range(1, 13))
    if year is None:
        return "There are no nights."
    summers = "" if summer is None else f", of the summer's {percent(summer)}"
    return f"Of the year's nights {percent(year)} pass without a stop{summers}."


def lengths(result: YearResult) -> tuple[Heading | Figure, ...]:
    """How long the stops last, against the hours after which a filter suffers."""
    steps = steps_of(result.scenario)
    found = lengths_of(result.measures.stops, steps)
    between = (f"{low:g} to {high:g} h" for low, high in pairwise(steps))
    names = (f"up to {steps[0]:g} h", *between, f"over {steps[-1]:g} h")
    said = (
        f"{sum(one.stops for one in found):,} times without running, of any cause; {found[-1].stops} of them longer "
        f"than the {steps[-1]:g} h after which a filter is flushed."
    )
    labels = [f"{name}: {one.stops:,} stops, {hours(one.hours)}" for name, one in zip(names, found, strict=True)]
    bars = [Bar(label, 0.0, one.stops) for label, one in zip(labels, found, strict=True)]
    table = tabled(
        "Lasting",
        names,
        ("Stops", (one.stops for one in found), ",d"),
        ("Hours together", (one.hours for one in found), number),
    )
    words = ("Stops by how long they last", said)
    return Heading("How long the stops last"), Figure(charts.bars("lengths", bars, words), said, (), table)


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
