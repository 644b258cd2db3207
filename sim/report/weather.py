"""The report of a weather year: its page data and the page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sim.calendar import MONTHS
from sim.figures.series import by_day
from sim.report import charts, weather_charts
from sim.report.figures import Figure, Key, Table
from sim.report.render import render
from sim.report.sections.expect import Fact
from sim.weather.sun import sun_positions
from sim.weather.weather import place_of
from sim.words import percent

if TYPE_CHECKING:
    from sim.studies.weather import WeatherResult
    from sim.weather.summary import Summary
    from sim.weather.weather import Doubt

FULL_SUN_WM2 = 1000.0


@dataclass(frozen=True)
class WeatherPage:
    """The whole report."""

    title: str
    place: str
    promise: str
    coarse: str
    facts: tuple[Fact, ...]
    years: Table | None
    notes: tuple[str, ...]
    doubts: tuple[Doubt, ...]
    light: Figure
    map: Figure
    air: Figure
    clock: Figure
    source: str
    licence: str


def weather_report(result: WeatherResult) -> str:
    """The report as one self-contained HTML page, drawn from the year with the least light."""
    year = result.poorest
    page = WeatherPage(
        title=result.name,
        place=place_of(year.weather),
        promise=_promise(year),
        coarse=result.coarse,
        facts=facts_of(year),
        years=_years(result) if len(result.years) > 1 else None,
        notes=year.weather.notes,
        doubts=result.doubts,
        light=_light(year),
        map=_map(year),
        air=_air(year),
        clock=_clock(year),
        source=year.weather.source,
        licence=year.weather.licence,
    )
    return render(page, "weather.html.j2")


def _promise(year: Summary) -> str:
    daily = year.daily_kwh_m2
    most, least = (year.weather.index[year.weather.index.month == k + 1][0] for k in (daily.argmax(), daily.argmin()))
    return (
        f"A day brings {daily.max():.1f} kWh/m² of light in {most:%B} and {daily.min():.1f} kWh/m² in {least:%B}, "
        "on the level."
    )


def facts_of(year: Summary) -> tuple[Fact, ...]:
    """The figures of a year that tell whether to trust it, in words."""
    weather = year.weather
    late = "late" if year.clock_min > 0 else "early"
    return (
        Fact("Light in the year", f"{year.ghi_kwh_m2.sum():,.0f} kWh/m²", "on the level"),
        Fact("Sunshine", f"{year.sunshine_h.sum():,.0f} h", "with a beam above 120 W/m²"),
        Fact(
            "Darkest five days", year.darkest_days.split(", ")[1].replace("m2", "m²"), year.darkest_days.split(", ")[0]
        ),
        Fact("Coldest hour", f"{weather.temp_air.min():.1f} °C".replace("-", "−"), year.coldest_at),
        Fact("Mean air temperature", f"{weather.temp_air.mean():.1f} °C".replace("-", "−")),
        Fact("Clock", f"{abs(year.clock_min):.0f} min {late}", "recorded light against the sun, on clear days"),
        Fact("Beam and diffuse", percent(year.closure), "of the global light over the year"),
        Fact("Repaired or remarked", f"{len(weather.notes) or 'nothing'}", "see the remarks" if weather.notes else ""),
    )


def _years(result: WeatherResult) -> Table:
    """Every year of several."""
    rows = (
        (
            str(year.weather.index[0].year),
            f"{year.ghi_kwh_m2.sum():,.0f}",
            f"{year.daily_kwh_m2.min():.2f}",
            year.darkest_days.replace("m2", "m²"),
            f"{year.weather.temp_air.min():.1f}".replace("-", "−"),
        )
        for year in result.years
    )
    return Table(("Year", "kWh/m²", "Darkest month, kWh/m² a day", "Darkest five days", "Lowest, °C"), tuple(rows))


def _light(year: Summary) -> Figure:
    total, beam = year.daily_kwh_m2, year.beam_kwh_m2 / year.days
    diffuse = np.maximum(total - beam, 0.0)
    share = percent(float(year.beam_kwh_m2.sum() / year.ghi_kwh_m2.sum()))
    said = f"Mean daily light on the level by month; {share} of the year's comes straight from the sun."
    rows = zip(MONTHS, total, beam, diffuse, year.ghi_kwh_m2, year.sunshine_h, strict=True)
    return Figure(
        weather_charts.light(beam, diffuse, "Light by month", said),
        said,
        (Key("sunny", "beam"), Key("water", "diffuse")),
        Table(
            ("Month", "kWh/m² a day", "Beam", "Diffuse", "kWh/m² in the month", "Sunshine, h"),
            tuple((name, f"{a:.2f}", f"{b:.2f}", f"{c:.2f}", f"{d:.0f}", f"{e:.0f}") for name, a, b, c, d, e in rows),
        ),
    )


def _map(year: Summary) -> Figure:
    weather = year.weather
    days, zenith = by_day(weather.ghi), by_day(sun_positions(weather).apparent_zenith_deg)
    months = weather.index.month.to_numpy()[::24]
    said = (
        "Every column is a day, every row an hour; the fuller the colour, the more light. It must lie inside the lines."
    )
    means = [days[months == month].mean(axis=0) for month in range(1, 13)]
    rows = ((name, *(f"{light:.0f}" for light in mean)) for name, mean in zip(MONTHS, means, strict=True))
    title = "Light day by day and hour by hour"
    return Figure(
        charts.year_map(np.clip(days / FULL_SUN_WM2, 0.0, 1.0), zenith, months, title, said),
        said,
        (Key("water", "1000 W/m² and more"), Key("outline", "dark"), Key("sun", "sunrise and sunset, flat horizon")),
        Table(("Mean light, W/m²", *(f"{hour:02d}" for hour in range(24))), tuple(rows)),
    )


def _air(year: Summary) -> Figure:
    weather = year.weather
    days, months = by_day(weather.temp_air), weather.index.month.to_numpy()[::24]
    frost = int((weather.temp_air < 0.0).sum())
    said = f"Each day's lowest and highest temperature; {frost:,} hours of the year are below 0 °C."
    rows = zip(MONTHS, year.lowest_c, year.mean_c, year.highest_c, strict=True)
    return Figure(
        weather_charts.air(days.min(axis=1), days.max(axis=1), months, "Air temperature through the year", said),
        said,
        (Key("water", "lowest to highest of the day"), Key("dash", "0 °C")),
        Table(
            ("Month", "Lowest, °C", "Mean, °C", "Highest, °C"),
            tuple((name, *(f"{value:.1f}".replace("-", "−") for value in values)) for name, *values in rows),
        ),
    )


def _clock(year: Summary) -> Figure:
    said = (
        f"The mean of the clearest quarter of the days. The light comes {abs(year.clock_min):.0f} minutes "
        f"{'after' if year.clock_min > 0 else 'before'} the sun's own course; 45 minutes and more are refused."
    )
    rows = zip(range(24), year.clear_day_wm2, year.clear_sky_wm2, strict=True)
    return Figure(
        weather_charts.clock(year.clear_day_wm2, year.clear_sky_wm2, "Is noon where it should be?", said),
        said,
        (
            Key("sunny", "recorded"),
            Key("ink", "the sun's course and its noon"),
            Key("dash", "middle of the recorded day"),
        ),
        Table(
            ("Hour from", "Recorded, W/m²", "Above the atmosphere, W/m²"),
            tuple((f"{hour:02d}:00", f"{a:.0f}", f"{b:.0f}") for hour, a, b in rows),
        ),
    )
