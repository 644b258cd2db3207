"""From what a scenario says about its weather to a checked year."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.errors import InputError
from sim.weather import fit, order, samples
from sim.weather.dates import year_index
from sim.weather.read import read_file
from sim.weather.sun import sun_of_year
from sim.weather.synthesis import synthetic_for
from sim.weather.weather import COLUMNS, Site, Weather

if TYPE_CHECKING:
    import pandas as pd

SITE_NOTE_DEG = 0.5  # further from where the weather was recorded than this is worth a note; a choice


@dataclass(frozen=True, eq=False)
class _Recorded:
    """A year as it was recorded: whole and in order, but not yet dated or held against the sun."""

    file: str
    table: pd.DataFrame
    site: Site
    source: str
    licence: str
    years: tuple[int, ...]
    notes: list[str]


def weather_for(scenario: Any) -> Weather:
    """The weather year of a scenario: its file, its sample, or one made from its monthly means, dated in its year.

    Raises InputError, naming the file and the rows, where the year cannot be used.

    >>> from types import SimpleNamespace as Section
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)
    >>> weather = weather_for(Section(site=nowhere, weather=Section(file=None, sample="subtropic", year=2001)))
    >>> len(weather.index), round(float(weather.ghi.sum()) / 1000)
    (8760, 1793)
    """
    asked = scenario.weather
    if getattr(asked, "monthly", None) is not None:
        return synthetic_for(scenario)
    kind = next(name for name in _SOURCES if getattr(asked, name, None) is not None)
    recorded = _SOURCES[kind](scenario)
    site, moved = _chosen_site(scenario.site, recorded.site)
    table, dated = order.redated(recorded.table, asked.year)
    table, fitting = _fitted(recorded, table, asked.year, site)
    notes = recorded.notes + _redating(recorded.years, asked.year) + dated + moved + fitting
    return _weather(table, year_index(asked.year, site.utc_offset_h), site, recorded, notes)


def _from_file(scenario: Any) -> _Recorded:
    path = scenario.path.parent / scenario.weather.file
    if not path.is_file():
        allowed = f"an existing file; looked for {path}"
        raise InputError(str(scenario.path), "weather.file", scenario.weather.file, allowed)
    found = read_file(path)
    table, notes = order.whole_year(found)
    years = tuple(sorted(set(found.table["year"])))
    return _Recorded(found.file, table, found.site, found.source, found.licence, years, notes)


def _from_sample(scenario: Any) -> _Recorded:
    name = scenario.weather.sample
    table, header, site = samples.read_sample(name)
    years = tuple(int(year) for year in header["years"].split())
    return _Recorded(f"sample {name}", table, site, header["source"], header["licence"], years, [])


_SOURCES: dict[str, Callable[[Any], _Recorded]] = {"file": _from_file, "sample": _from_sample}


def _fitted(recorded: _Recorded, table: pd.DataFrame, year: int, site: Site) -> tuple[pd.DataFrame, list[str]]:
    """The table without gaps, and notes, once it fits the sun.

    The clock is held against the scenario's site; the amount of light against the same clock at the latitude at which
    it was recorded, so that a site moved a little is noted and not refused.
    """
    own_sun = sun_of_year(year, site._replace(latitude_deg=recorded.site.latitude_deg))
    table = fit.filled(table, own_sun)
    notes = fit.check_clock(recorded.file, table, sun_of_year(year, site), site)
    fit.check_limits(recorded.file, table, own_sun)
    return table, notes + fit.check_closure(recorded.file, table, own_sun)


def _chosen_site(asked: Any, recorded: Site) -> tuple[Site, list[str]]:
    """The recorded site with what the scenario puts in its place, and a note if that is far away.

    >>> from types import SimpleNamespace as Section
    >>> asked = Section(latitude_deg=37.0, longitude_deg=None, elevation_m=50.0, utc_offset_h=None)
    >>> _chosen_site(asked, Site(36.1, -79.95, 273.0, -5.0))[0]
    Site(latitude_deg=37.0, longitude_deg=-79.95, elevation_m=50.0, utc_offset_h=-5.0)
    """
    given = {name: getattr(asked, name) for name in Site._fields if getattr(asked, name) is not None}
    site = recorded._replace(**given)
    away = max(abs(site.latitude_deg - recorded.latitude_deg), abs(site.longitude_deg - recorded.longitude_deg))
    if away <= SITE_NOTE_DEG:
        return site, []
    far = f"The site lies {away:.1f} degrees from where the weather was recorded"
    return site, [f"{far}: the sun's positions do not fit the data."]


def _redating(years: Sequence[int], year: int) -> list[str]:
    """A note when the rows come from other years than the one they are dated in.

    >>> _redating([1980, 1988], 2001)
    ['Rows from 1980, 1988 are dated in 2001.']
    """
    return [] if list(years) == [year] else [f"Rows from {', '.join(map(str, years))} are dated in {year}."]


def _weather(
    table: pd.DataFrame, index: pd.DatetimeIndex, site: Site, recorded: _Recorded, notes: list[str]
) -> Weather:
    columns: dict[str, Any] = {name: table[name].to_numpy(dtype=float) for name in COLUMNS}
    about = site._asdict() | {"source": recorded.source, "licence": recorded.licence, "notes": tuple(notes)}
    return Weather(index=index, **columns, **about)
