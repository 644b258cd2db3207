"""From what a scenario says about its weather to a checked year."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import pandas as pd

from sim.errors import InputError
from sim.scenario.weather import existing
from sim.weather import fit, order, samples
from sim.weather.dates import year_index
from sim.weather.doubt_light import shaded_hours
from sim.weather.doubts import doubts_of, made_up, with_accepted
from sim.weather.evidence import Evidence
from sim.weather.moisture import extras_of
from sim.weather.place import away_deg, refuse_hemisphere, refuse_slips
from sim.weather.read import read_file
from sim.weather.readings import Readings
from sim.weather.sun import sun_of_year
from sim.weather.synthesis import synthetic_for
from sim.weather.weather import COLUMNS, Doubt, Site, Weather

SITE_NOTE_DEG = 0.5  # further from where the weather was recorded than this is worth a note; a choice


def weather_for(scenario: Any) -> Weather:
    """The weather year of a scenario: its file, its sample, or one made from its monthly means, dated in its year.

    Of data that hold several calendar years it is that year. Raises InputError, naming the file and the rows, where
    the year cannot be used.

    >>> from types import SimpleNamespace as Section
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)
    >>> weather = weather_for(Section(site=nowhere, weather=Section(file=None, sample="subtropic", year=2001)))
    >>> len(weather.index), round(float(weather.ghi.sum()) / 1000)
    (8760, 1793)
    """
    if getattr(scenario.weather, "monthly", None) is not None:
        return with_accepted(made_up(synthetic_for(scenario)), scenario)
    found = _recorded(scenario)
    year = scenario.weather.year
    chosen = [recorded for recorded in found if recorded.years == (year,)] if len(found) > 1 else found
    if not chosen:
        there = ", ".join(str(recorded.years[0]) for recorded in found)
        raise InputError(str(scenario.path), "weather.year", year, f"a year that the data have: {there}")
    return replace(_dated(scenario, chosen[0], year), coldest_c=_coldest_c(found))


def _coldest_c(found: Sequence[Readings]) -> float | None:
    """The coldest hour of several years, °C; None of a single one."""
    return min(float(one.table["temp_air"].min()) for one in found) if len(found) > 1 else None


def weathers_for(scenario: Any) -> tuple[Weather, ...]:
    """Every calendar year of a scenario's data as it was, in order; a typical or a single year as ``weather_for``.

    A year made from monthly means too is the only one. A year at either end of several that is not whole is left out,
    and the notes of the others say so. Each is dated in its own year, ``weather.index[0].year``, whatever
    ``scenario.weather.year`` is.
    """
    if getattr(scenario.weather, "monthly", None) is not None:
        return (weather_for(scenario),)
    found = _recorded(scenario)
    if len(found) == 1:
        return (_dated(scenario, found[0], scenario.weather.year),)
    years = (_dated(scenario, recorded, recorded.years[0]) for recorded in found)
    return tuple(replace(year, coldest_c=_coldest_c(found)) for year in years)


def checked_year(found: Readings, year: int) -> Weather:
    """Readings of one year at their own site, checked like a file's."""
    return _at(_whole(found, ()), year, found.site, [])


def _recorded(scenario: Any) -> list[Readings]:
    kind = next(name for name in _SOURCES if getattr(scenario.weather, name, None) is not None)
    return _SOURCES[kind](scenario)


def _dated(scenario: Any, recorded: Readings, year: int) -> Weather:
    """A recorded year at the scenario's site, dated in a calendar year and held against its sun."""
    site, moved = _chosen_site(scenario.site, recorded.site)
    if moved:
        refuse_slips(str(scenario.path), site, recorded.site)
    return with_accepted(_at(recorded, year, site, moved), scenario)


def _at(recorded: Readings, year: int, site: Site, moved: list[Doubt]) -> Weather:
    table, dated = order.redated(recorded.table, year)
    table, fitting, off = _fitted(recorded, table, year, site)
    notes = [*recorded.notes, *_redating(recorded.years, year), *dated, *fitting]
    weather = _weather(table, year_index(year, site.utc_offset_h), site, recorded, notes)
    return replace(weather, doubts=doubts_of(weather, _place_of(recorded, site), moved + off))


def _place_of(recorded: Readings, site: Site) -> Site:
    """Where a year is judged: at the site or, if that is far, where it was recorded, by the site's own clock."""
    if away_deg(recorded.site, site) <= SITE_NOTE_DEG:
        return site
    return recorded.site._replace(longitude_deg=site.longitude_deg, utc_offset_h=site.utc_offset_h)


def _from_files(scenario: Any) -> list[Readings]:
    """The years of several files; each year stands in one of them."""
    found: dict[int, Readings] = {}
    for place, name in enumerate(scenario.weather.files):
        for recorded in _years_of(scenario, f"files[{place}]", name):
            _refuse_mixture(recorded, found)
            found[recorded.years[0]] = recorded
    return [found[year] for year in sorted(found)]


def _refuse_mixture(recorded: Readings, found: dict[int, Readings]) -> None:
    """Several files are several calendar years at one place."""
    if len(recorded.years) > 1:
        raise InputError(recorded.file, "weather.files", None, "calendar years; this is a typical year of several")
    year = recorded.years[0]
    if year in found:
        raise InputError(recorded.file, "weather.files", year, f"each year once; it is in {found[year].file} too")
    away = [other for other in found.values() if away_deg(other.site, recorded.site) > SITE_NOTE_DEG]
    if away:
        raise InputError(recorded.file, "weather.files", None, f"files of one place; {away[0].file} is of another")


def _years_of(scenario: Any, key: str, name: str) -> list[Readings]:
    """The years of a file, those at its ends only if they are whole."""
    found = read_file(existing(scenario.path, key, name), getattr(scenario.weather, "columns", None), scenario.site)
    years = order.by_year(found)
    kept, notes = order.without_ragged_ends(years)
    return [_whole(part, notes) for part in kept.values()]


def _whole(found: Readings, notes: Sequence[str]) -> Readings:
    table, missing = order.whole_year(found)
    ends_before = (found.table["month"] == 1) & (found.table["day"] == 1) & (found.table["hour_end"] == 0)
    years = tuple(int(year) for year in sorted(set(found.table["year"] - ends_before)))
    return replace(found, table=table, years=years, notes=(*found.notes, *notes, *missing))


def _from_sample(scenario: Any) -> list[Readings]:
    name = scenario.weather.sample
    table, header, site = samples.read_sample(name)
    years = tuple(int(year) for year in header["years"].split())
    return [Readings(f"sample {name}", table, site, header["source"], header["licence"], years=years)]


_SOURCES: dict[str, Callable[[Any], list[Readings]]] = {
    "file": lambda scenario: _years_of(scenario, "file", scenario.weather.file),
    "files": _from_files,
    "sample": _from_sample,
}


def _fitted(
    recorded: Readings, table: pd.DataFrame, year: int, site: Site
) -> tuple[pd.DataFrame, list[str], list[Doubt]]:
    """The table without gaps, notes and doubts, once it fits the sun.

    The clock is held against the scenario's site; the amount of light against the same clock at the latitude at which
    it was recorded, so that a site moved a little is noted and not refused.
    """
    own_sun = sun_of_year(year, site._replace(latitude_deg=recorded.site.latitude_deg))
    table = fit.filled(table, own_sun)
    doubts = (
        []
        if _in_shade(recorded, table, year, site)
        else fit.check_clock(recorded.file, table, sun_of_year(year, site), site)
    )
    refuse_hemisphere(recorded.file, table["ghi"].to_numpy(), own_sun, year, site)
    table, odd = fit.without_impossible(recorded.file, table, own_sun, site)
    fit.check_share(recorded.file, table, own_sun)
    table, dark = fit.without_false_dark(recorded.file, table, own_sun, recorded.absent)
    table, split = fit.with_split(table, own_sun, recorded.absent)
    doubts += fit.check_closure(recorded.file, table, own_sun)
    table, mended, left = fit.without_mismatches(recorded.file, table, own_sun)
    return table, odd + dark + split + mended, doubts + left


def _in_shade(recorded: Readings, table: pd.DataFrame, year: int, site: Site) -> bool:
    """Whether some hours of the day were in shade, which looks like a wrong clock; another doubt is its own."""
    weather = _weather(table, year_index(year, site.utc_offset_h), site, recorded, [])
    return bool(shaded_hours(Evidence(weather, _place_of(recorded, site))).any())


def _chosen_site(asked: Any, recorded: Site) -> tuple[Site, list[Doubt]]:
    """The recorded site with what the scenario puts in its place, and a doubt if that is far away.

    >>> from types import SimpleNamespace as Section
    >>> asked = Section(latitude_deg=37.0, longitude_deg=None, elevation_m=50.0, utc_offset_h=None)
    >>> _chosen_site(asked, Site(36.1, -79.95, 273.0, -5.0))[0]
    Site(latitude_deg=37.0, longitude_deg=-79.95, elevation_m=50.0, utc_offset_h=-5.0)
    """
    given = {name: getattr(asked, name) for name in Site._fields if getattr(asked, name) is not None}
    site = recorded._replace(**given)
    away = away_deg(site, recorded)
    if away <= SITE_NOTE_DEG:
        return site, []
    far = f"The site lies {away:.1f} degrees from where the weather was recorded"
    return site, [Doubt("site-far", f"{far}: neither the sun's positions nor the climate fit the data.")]


def _redating(years: Sequence[int], year: int) -> list[str]:
    """A note when the rows come from other years than the one they are dated in.

    >>> _redating([1980, 1988], 2001)
    ['Rows from 1980, 1988 are dated in 2001.']
    """
    return [] if list(years) == [year] else [f"Rows from {', '.join(map(str, years))} are dated in {year}."]


def _weather(table: pd.DataFrame, index: pd.DatetimeIndex, site: Site, recorded: Readings, notes: list[str]) -> Weather:
    columns: dict[str, Any] = {name: table[name].to_numpy(dtype=float) for name in COLUMNS}
    extras, doubts = extras_of(table)
    about: dict[str, Any] = site._asdict() | {"source": recorded.source, "licence": recorded.licence}
    return Weather(index=index, **columns, **about, notes=(*notes, *doubts), **extras)
