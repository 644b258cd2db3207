"""A year of hourly weather for any place, from the open reanalysis and satellite service of a public agency.

The service gives means over the hour that a stamp of universal time begins, in W/m² (written as Wh/m² for the hour), °C
and m/s, and −999 where it has none. A quarter of a year is asked for at a time and kept on disk, so that a fetch that
broke off goes on where it stopped. ``SUNRILL_WEATHER_SERVICE`` points to another address that answers in the same way.
"""

from __future__ import annotations

import datetime
import hashlib
import io
import os
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
from pvlib.iotools import nasa_power

from sim.catalogue.zones import offset_at
from sim.errors import InputError
from sim.files import write_text
from sim.scenario.models import HEIGHTS_M
from sim.weather.order import BOUNDS, LARGEST_FILLED_SHARE, LONGEST_GAP_H
from sim.weather.readings import Readings
from sim.weather.service import RefusedError, UnreachableError, UnusableError, answer_of, clean
from sim.weather.stamps import dated, on_full_hours
from sim.weather.weather import COLUMNS, Site, Weather
from sim.weather.year import checked_year

VARIABLE = "SUNRILL_WEATHER_SERVICE"
LICENCE = "open data of a public agency, which asks to be named as the source"
YEARS = (2001, 2100)  # its hourly data begin in 2001
RECENT_DAYS = 400  # so long ago hours may still be missing because they are new
LONGEST_WAIT_S = 60.0  # that is waited before another try because the service asks for it
MOST_SOURCES = 8  # that are named
UNITS = {  # by the service's own names for the five columns
    "ALLSKY_SFC_SW_DWN": ("Wh/m^2", "W/m^2"),
    "ALLSKY_SFC_SW_DNI": ("Wh/m^2", "W/m^2"),
    "ALLSKY_SFC_SW_DIFF": ("Wh/m^2", "W/m^2"),
    "T2M": ("C",),
    "WS10M": ("m/s",),
}


_GOES_ON = "Quarters that came are kept: the same command goes on from there"
_NO_NETWORK = (
    "an address that can be reached; without a network the bundled world climate is the way on: the same command "
    "without --year shows it, and a scenario without [weather] takes it"
)


@dataclass(frozen=True)
class Patience:
    """How often an answer is asked for, how long is waited after the first failure (then twice that), and for one."""

    tries: int = 4
    pause_s: float = 2.0
    answer_s: float = 120.0


class Place(NamedTuple):
    """Where: degrees north and east, and the clock, hours ahead of UTC."""

    latitude_deg: float
    longitude_deg: float
    utc_offset_h: float

    @classmethod
    def at(
        cls, latitude_deg: float, longitude_deg: float, utc_offset_h: float | None = None, year: int = 2001
    ) -> Place:
        """A place with its standard time of a year, unless told otherwise.

        >>> Place.at(36.1, -79.95).utc_offset_h, Place.at(27.7, 85.3).utc_offset_h
        (-5.0, 5.75)
        """
        for name, value, most in (("latitude", latitude_deg, 90), ("longitude", longitude_deg, 180)):
            if not abs(value) <= most:
                raise InputError("sunrill weather", f"--{name}", value, f"a number from -{most} to {most}")
        offset_h = offset_at(latitude_deg, longitude_deg, year) if utc_offset_h is None else utc_offset_h
        if not (-12 <= offset_h <= 14 and 4 * offset_h == round(4 * offset_h)):
            raise InputError("sunrill weather", "--utc-offset", utc_offset_h, "quarters of an hour from -12 to 14")
        return cls(latitude_deg, longitude_deg, float(offset_h))


Told = Callable[[int, int], None]


def untold(done: int, of: int) -> None:
    """Nobody listens."""


def fetch_year(place: Place, year: int, patience: Patience | None = None, told: Told = untold) -> Weather:
    """A calendar year of a place by its own clock, checked like a file; InputError if it cannot be had or is no good.

    ``told`` hears how many quarters of how many are there.
    """
    check_year(year)
    url, quarters = service(), quarters_of(year, place.utc_offset_h)
    parts: list[pd.DataFrame] = []
    for number, (first, last) in enumerate(quarters):
        path = _kept_at(url, place, first, last)
        kept = _kept(path, first, last)
        parts.append(_fetched(url, place, first, last, path, patience or Patience()) if kept is None else kept)
        told(number + 1, len(quarters))
    good = False
    try:
        weather = checked_year(_readings(url, place, year, parts), year)
        good = True
    finally:
        for first, last in [] if good else quarters:  # what is no good is not kept
            _kept_at(url, place, first, last).unlink(missing_ok=True)
    return weather


def check_year(year: int) -> None:
    """InputError for a year that the service cannot have."""
    if not YEARS[0] <= year <= YEARS[1]:
        allowed = f"a year from {YEARS[0]}, where the hourly data begin, to {YEARS[1]}"
        raise InputError("sunrill weather", "--year", year, allowed)


def service() -> str:
    """The address that is asked."""
    return os.environ.get(VARIABLE) or str(nasa_power.URL)


def quarters_of(year: int, utc_offset_h: float) -> list[tuple[datetime.date, datetime.date]]:
    """First and last day, in universal time, of the quarters that make a local year; the outer ones reach over it.

    >>> [f"{first} {last}" for first, last in quarters_of(2019, -5.0)][::3]
    ['2019-01-01 2019-03-31', '2019-10-01 2020-01-01']
    """
    ends = [datetime.date(year, 3, 31), datetime.date(year, 6, 30), datetime.date(year, 9, 30)]
    over = datetime.timedelta(days=1)
    begin = datetime.date(year, 1, 1) - over * (utc_offset_h > 0)
    end = datetime.date(year, 12, 31) + over * (utc_offset_h < 0)
    return list(zip([begin, *(last + over for last in ends)], [*ends, end], strict=True))


def _kept_at(url: str, place: Place, first: datetime.date, last: datetime.date) -> Path:
    """Where a quarter is kept, by service, place and days."""
    home = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    asked = hashlib.sha256(url.encode()).hexdigest()[:8]
    folder = f"{asked}_{place.latitude_deg:.4f}_{place.longitude_deg:.4f}"
    return home / "sunrill" / "weather" / folder / f"{first}_{last}.csv"


def _kept(path: Path, first: datetime.date, last: datetime.date) -> pd.DataFrame | None:
    """A quarter from disk; None if there is none, or none that is whole."""
    try:
        head, body = path.read_text("utf-8").split("\n", 1)
        kept = pd.read_csv(io.StringIO(body), index_col=0, parse_dates=True)
        _check_rows(kept, first, last)
        source, elevation_m = head[2:].rsplit("; ", 1)
        kept.attrs = {"source": source, "elevation_m": float(elevation_m)}
    except (OSError, ValueError, KeyError, TypeError, UnusableError):
        return None
    return kept


def _fetched(
    url: str, place: Place, first: datetime.date, last: datetime.date, path: Path, patience: Patience
) -> pd.DataFrame:
    """A quarter from the service, asked for again after each passing failure, and kept."""
    failure = UnusableError("")
    for attempt in range(patience.tries):
        if attempt:
            time.sleep(max(patience.pause_s * 2 ** (attempt - 1), failure.wait_s or 0.0))
        try:
            part = _asked(url, place, first, last, patience.answer_s)
        except UnusableError as found:
            failure = found
            if (wait_s := failure.wait_s or 0.0) > LONGEST_WAIT_S:
                allowed = f"another try in {wait_s / 60.0:.0f} minutes, as the service asks. {_GOES_ON}"
                raise InputError(url, "", None, allowed) from None
            continue
        _refuse_unwritten(url, part, first, last)
        head = f"# {part.attrs['source']}; {part.attrs['elevation_m']:g}\n"
        write_text(path, head + part.to_csv(date_format="%Y-%m-%dT%H:%MZ"))
        return part
    allowed = f"an answer for {first} to {last}; {patience.tries} tries, the last: {failure}"
    raise InputError(url, "", None, f"{allowed}. {_GOES_ON}")


def _asked(url: str, place: Place, first: datetime.date, last: datetime.date, answer_s: float) -> pd.DataFrame:
    """One answer, checked: the columns by our names, hours of universal time, where it is from in ``attrs``."""
    try:
        data = answer_of(url, _query(place, first, last), answer_s)
    except RefusedError as refusal:
        allowed = f"what the service accepts; it refuses: {refusal}"
        raise InputError(url, f"{first} to {last}", None, allowed) from None
    except UnreachableError:
        raise InputError(url, "", None, _NO_NETWORK) from None
    try:
        _check_conventions(url, data["header"], data["parameters"])
        part = _table(data)
    except (KeyError, TypeError, ValueError, IndexError, AttributeError, OverflowError) as odd:
        said = clean(repr(odd), 80)
        raise UnusableError(f"an answer that is not what this service gives ({said})") from None
    _check_rows(part, first, last)
    return part


def _query(place: Place, first: datetime.date, last: datetime.date) -> dict[str, Any]:
    where = {"latitude": place.latitude_deg, "longitude": place.longitude_deg}
    days = {"start": f"{first:%Y%m%d}", "end": f"{last:%Y%m%d}"}
    how = {"community": "re", "format": "json", "header": "true", "time-standard": "utc"}
    return {**where, **days, **how, "parameters": ",".join(UNITS)}


def _table(data: Any) -> pd.DataFrame:
    """(hours, 5) by our names, with NaN for what the service has not; its sources and its height in ``attrs``.

    Where it is for cannot be told from it: the coordinates in an answer are those that were asked for.
    """
    columns = {ours: data["properties"]["parameter"][name] for ours, name in zip(COLUMNS, UNITS, strict=True)}
    stamps = list(columns[COLUMNS[0]])
    if any(list(column) != stamps for column in columns.values()):
        raise ValueError("columns of different hours")
    index = pd.to_datetime(stamps, format="%Y%m%d%H", utc=True)
    part = pd.DataFrame({name: list(map(float, column.values())) for name, column in columns.items()}, index=index)
    sources = ", ".join(clean(name, 40) for name in list(data["header"].get("sources", ()))[:MOST_SOURCES])
    height_m = float(data["geometry"]["coordinates"][2])
    if not HEIGHTS_M[0] <= height_m <= HEIGHTS_M[1]:
        raise ValueError(f"a height of {height_m:g} m")
    part = part.mask(part == float(data["header"]["fill_value"]))
    part.attrs = {"source": f"Hourly service of a public agency ({sources})", "elevation_m": height_m}
    return part


def _check_conventions(url: str, header: Any, parameters: Any) -> None:
    """Another clock or other units than those that are asked for will not change at the next try: InputError."""
    clock = header["time_standard"]
    if str(clock).upper() != "UTC":
        raise InputError(url, "time_standard", clean(clock, 20), '"UTC"')
    for name, units in UNITS.items():
        unit = parameters[name]["units"]
        if unit not in units:
            raise InputError(url, f"units of {name}", clean(unit, 20), " or ".join(units))


def _check_rows(part: pd.DataFrame, first: datetime.date, last: datetime.date) -> None:
    """Every hour of the days that were asked for, once and in order, with values that can be."""
    hours = pd.date_range(first, last + datetime.timedelta(days=1), freq="h", inclusive="left", tz="UTC")
    if len(part) != len(hours) or not (part.index == hours).all():
        raise UnusableError(f"{len(part)} hours instead of the {len(hours)} that were asked for")
    for name in COLUMNS:
        low, high, _ = BOUNDS[name]
        if ((part[name] < low) | (part[name] > high)).any():
            raise UnusableError(f"figures of {name} that cannot be")


def _refuse_unwritten(url: str, part: pd.DataFrame, first: datetime.date, last: datetime.date) -> None:
    """Hours that the service has no data of: the last months are not there yet, or there is a hole."""
    share, missing = part.isna().mean(), np.asarray(part.isna().any(axis=1))
    unwritten = len(part) if missing.all() else int(missing[::-1].argmin())
    if unwritten > LONGEST_GAP_H and (datetime.date.today() - last).days < RECENT_DAYS:
        there = f"data up to {part.index[-unwritten - 1]:%Y-%m-%d}, " if unwritten < len(part) else ""
        allowed = f"what is there already: {there}the rest is not there yet. The last full year is {first.year - 1}"
        raise InputError(url, f"{first} to {last}", None, allowed)
    if share.max() > LARGEST_FILLED_SHARE:
        allowed = f"days that the service has data of; {share.idxmax()} is missing in {share.max():.0%} of the hours"
        raise InputError(url, f"{first} to {last}", None, allowed)


def _readings(url: str, place: Place, year: int, parts: Sequence[pd.DataFrame]) -> Readings:
    """The local year out of the quarters."""
    clock = datetime.timezone(datetime.timedelta(hours=place.utc_offset_h))
    table = pd.concat(parts).tz_convert(clock)
    table, starts, notes = on_full_hours(table, COLUMNS, pd.DatetimeIndex(table.index).tz_localize(None))
    own = starts.year == year
    rows = table[own].assign(**dated(starts[own]), line=range(1, own.sum() + 1)).reset_index(drop=True)
    site = Site(place.latitude_deg, place.longitude_deg, parts[0].attrs["elevation_m"], place.utc_offset_h)
    return Readings(url, rows, site, parts[0].attrs["source"], LICENCE, notes=tuple(notes))
