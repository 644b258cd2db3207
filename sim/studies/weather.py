"""A weather file or a place looked at: read or fetched, checked, in figures, and as a report."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from sim.catalogue.world import LATITUDES
from sim.errors import InputError
from sim.files import write_text
from sim.scenario.models import HEIGHTS_M, Site
from sim.scenario.place import settled
from sim.scenario.weather import Weather
from sim.weather import weather_for, weathers_for
from sim.weather.fetch import Patience, Place, Told, fetch_year, untold
from sim.weather.summary import Summary, summary_of
from sim.weather.tables import own_text
from sim.weather.weather import Doubt

_NOWHERE: Any = SimpleNamespace(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None)


@dataclass(frozen=True)
class WeatherResult:
    """Weather years in figures, and where report and fetched years were written."""

    name: str
    years: tuple[Summary, ...]
    written: tuple[Path, ...] = ()
    coarse: str = ""  # how coarse the weather is, in words, where it is only known to be coarse

    @property
    def poorest(self) -> Summary:
        """The year with the least light."""
        return self.years[int(np.argmin([year.ghi_kwh_m2.sum() for year in self.years]))]

    @property
    def doubts(self) -> tuple[Doubt, ...]:
        """What is doubtful about any of the years, each once."""
        return tuple(dict.fromkeys(doubt for year in self.years for doubt in year.weather.doubts))

    def as_json(self) -> dict[str, Any]:
        """The figures as plain data."""
        weather = self.years[0].weather
        about: dict[str, Any] = {"source": weather.source, "licence": weather.licence, "site": weather.site._asdict()}
        about["doubts"] = [doubt._asdict() for doubt in self.doubts]
        return about | {"files": [str(path) for path in self.written], "years": [year.as_json() for year in self.years]}


def look_at(path: Path, scenario: Any = None) -> WeatherResult:
    """The weather of a file, or of a scenario that says how to read it, checked."""
    alone = SimpleNamespace(path=path, site=_NOWHERE, weather=SimpleNamespace(file=path.name, year=2001))
    weathers = weathers_for(scenario or alone)
    coarse = scenario.weather.coarse if scenario else ""
    return WeatherResult(path.stem, tuple(map(summary_of, weathers)), coarse=coarse)


def climate_of(place: Place, elevation_m: float | None) -> WeatherResult:
    """The world climate of a place and a year made of it; InputError where the climate does not reach."""
    if not LATITUDES[0] <= place.latitude_deg <= LATITUDES[1]:
        allowed = f"a number from {LATITUDES[0]:g} to {LATITUDES[1]:g}, where the world climate reaches"
        raise InputError("sunrill weather", "--latitude", place.latitude_deg, allowed)
    low, high = HEIGHTS_M
    if elevation_m is not None and not low <= elevation_m <= high:
        raise InputError("sunrill weather", "--elevation", elevation_m, f"a number from {low:g} to {high:g}")
    site, weather = settled(Site(**place._asdict(), elevation_m=elevation_m), Weather())
    made = weather_for(SimpleNamespace(path=Path(_name(place)), site=site, weather=weather))
    return WeatherResult(f"{_name(place)}_climate", (summary_of(made),), coarse=weather.coarse)


def _name(place: Place) -> str:
    """What files of a place are called."""
    return f"weather_{_degrees(place.latitude_deg, 'NS')}_{_degrees(place.longitude_deg, 'EW')}"


def fetch(
    place: Place, years: Sequence[int], out: Path, patience: Patience | None = None, told: Told = untold
) -> WeatherResult:
    """Years of a place from the service, each written as a table that a scenario can name once all are there."""
    weathers = [fetch_year(place, year, patience, told) for year in years]
    name = _name(place)
    paths = tuple(out / f"{name}_{year}.csv" for year in years)
    for path, weather in zip(paths, weathers, strict=True):
        write_text(path, own_text(weather))
    stem = paths[0].stem if len(paths) == 1 else f"{name}_{min(years)}-{max(years)}"
    return WeatherResult(stem, tuple(map(summary_of, weathers)), written=paths)


def _degrees(angle: float, signs: str) -> str:
    """An angle as a file's name has it.

    >>> _degrees(-79.95, "EW")
    '79.95W'
    """
    return f"{abs(angle):.2f}{signs[angle < 0]}"
