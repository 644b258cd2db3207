"""The report of a weather year."""

from dataclasses import replace

import numpy as np

from sim.calendar import MONTH_NAMES
from sim.figures.series import by_day
from sim.report import charts
from sim.report.blocks import Fact, Facts, Figure, Key, Table, Words, by_month, column, tabled, words
from sim.report.ink import SUN, WATER
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.sections.running import map_of
from sim.studies.weather import WeatherResult
from sim.units import Quantity, System, converted, in_units, sign
from sim.weather.summary import Summary
from sim.words import percent

FULL_SUN_WM2 = 1000.0
CLOCK_KEYS = (
    Key("sunny", "recorded"),
    Key("ink", "the sun's course and its noon"),
    Key("dash", "middle of the recorded day"),
)
SHOWN = "The charts below show the year with the least light."
TYPICAL = (
    "A typical year joins typical months; poor years are poorer. Results made from it are planning information, an "
    "estimate and not a guarantee."
)


def weather_report(result: WeatherResult, units: System = "metric") -> str:
    """The report as one self-contained HTML page, drawn from the year with the least light."""
    with in_units(units):
        return _report(result)


def _report(result: WeatherResult) -> str:
    year = result.poorest
    weather = year.weather
    source = words((*(weather.notes or ("Nothing had to be repaired.",)), weather.source))
    coarse = words((result.coarse,))
    licence = words((f"Licence: {weather.licence}", TYPICAL), "small")
    sections = (
        Section("says", "What it says", (Words(_promise(year), "promise"), *coarse, Facts(facts_of(year)))),
        Section("years", "Year by year", (Words(SHOWN), _years(result))) if len(result.years) > 1 else None,
        Section("light", "Light by month", (_light(year),)),
        Section("map", "Light through day and year", (_map(year),)),
        Section("air", "Air", (_air(year),)),
        Section("clock", "Is noon where it should be?", (_clock(year),)),
        Section("remarks", "Remarks and source", (*source, *licence)),
    )
    return render(replace(page_on(weather, "Weather looked at", result.name, sections), doubts=result.doubts))


def _promise(year: Summary) -> str:
    daily = year.daily_kwh_m2
    most, least = (MONTH_NAMES[int(month)] for month in (daily.argmax(), daily.argmin()))
    return (
        f"A day brings {daily.max():.1f} kWh/m² of light in {most} and {daily.min():.1f} kWh/m² in {least}, "
        "on the level."
    )


def facts_of(year: Summary) -> tuple[Fact, ...]:
    """The figures of a year that tell whether to trust it, in words."""
    weather, (days, dark) = year.weather, year.darkest_days.replace("m2", "m²").split(", ")
    late = "late" if year.clock_min > 0 else "early"
    return (
        Fact("Light in the year", f"{year.ghi_kwh_m2.sum():,.0f} kWh/m²", "on the level"),
        Fact("Sunshine", f"{year.sunshine_h.sum():,.0f} h", "with a beam above 120 W/m²"),
        Fact("Darkest five days", dark, days),
        Fact("Coldest hour", str(Quantity(weather.temp_air.min(), "c", ".1f")), year.coldest_at),
        Fact("Mean air temperature", str(Quantity(weather.temp_air.mean(), "c", ".1f"))),
        Fact("Clock", f"{abs(year.clock_min):.0f} min {late}", "recorded light against the sun, on clear days"),
        Fact("Beam and diffuse", percent(year.closure), "of the global light over the year"),
        Fact("Repaired or remarked", f"{len(weather.notes) or 'nothing'}", "see the remarks" if weather.notes else ""),
    )


def _years(result: WeatherResult) -> Table:
    """Every year of several."""
    found = result.years
    return tabled(
        "Year",
        (str(year.weather.index[0].year) for year in found),
        ("kWh/m²", (year.ghi_kwh_m2.sum() for year in found), ",.0f"),
        ("Darkest month, kWh/m² a day", (year.daily_kwh_m2.min() for year in found), ".2f"),
        ("Darkest five days", (year.darkest_days.replace("m2", "m²") for year in found), str),
        column("Lowest", "c", (year.weather.temp_air.min() for year in found), ".1f"),
    )


def _light(year: Summary) -> Figure:
    total, beam = year.daily_kwh_m2, year.beam_kwh_m2 / year.days
    diffuse = np.maximum(total - beam, 0.0)
    share = percent(float(year.beam_kwh_m2.sum() / year.ghi_kwh_m2.sum()))
    said = f"Mean daily light on the level by month; {share} of the year's comes straight from the sun."
    layers = charts.stacked((diffuse, WATER, "full"), (beam, SUN, "full"))
    table = by_month(
        ("kWh/m² a day", total, ".2f"),
        ("Beam", beam, ".2f"),
        ("Diffuse", diffuse, ".2f"),
        ("kWh/m² in the month", year.ghi_kwh_m2, ".0f"),
        ("Sunshine, h", year.sunshine_h, ".0f"),
    )
    drawn = charts.months("light", "light on the level, kWh/m² a day", layers, (), ("Light by month", said))
    return Figure(drawn, said, (Key("sunny", "beam"), Key("water", "diffuse")), table)


def _map(year: Summary) -> Figure:
    said = (
        "Every column is a day, every row an hour; the fuller the colour, the more light. It must lie inside the lines."
    )
    words, ends = ("Light day by day and hour by hour", said), ("1000 W/m² and more", "dark")
    return map_of(year.weather, by_day(year.weather.ghi), words, ends, "Mean light, W/m²", FULL_SUN_WM2)


def _air(year: Summary) -> Figure:
    weather = year.weather
    days, months = by_day(weather.temp_air), weather.index.month.to_numpy()[::24]
    frost = int((weather.temp_air < 0.0).sum())
    freezing = str(Quantity(0.0, "c", "g"))
    said = f"Each day's lowest and highest temperature; {frost:,} hours of the year are below {freezing}."
    band, words = np.array([days.min(axis=1), days.max(axis=1)]), ("Air temperature through the year", said)
    drawn = charts.daily_band("air", f"air, {sign('c')}", converted(band, "c"), months, (converted(0.0, "c"),), words)
    table = by_month(
        column("Lowest", "c", year.lowest_c, ".1f"),
        column("Mean", "c", year.mean_c, ".1f"),
        column("Highest", "c", year.highest_c, ".1f"),
    )
    return Figure(drawn, said, (Key("water", "lowest to highest of the day"), Key("dash", freezing)), table)


def _clock(year: Summary) -> Figure:
    said = (
        f"The mean of the clearest quarter of the days. The light comes {abs(year.clock_min):.0f} minutes "
        f"{'after' if year.clock_min > 0 else 'before'} the sun's own course; 45 minutes and more are refused."
    )
    table = tabled(
        "Hour from",
        (f"{hour:02d}:00" for hour in range(24)),
        ("Recorded, W/m²", year.clear_day_wm2, ".0f"),
        ("Above the atmosphere, W/m²", year.clear_sky_wm2, ".0f"),
    )
    drawn = charts.clear_day(year.clear_day_wm2, year.clear_sky_wm2, ("Is noon where it should be?", said))
    return Figure(drawn, said, CLOCK_KEYS, table)
