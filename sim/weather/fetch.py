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
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from sim.catalogue.zones import offset_at
from sim.errors import InputError
from sim.files import write_text
from sim.weather.order import BOUNDS, LARGEST_FILLED_SHARE
from sim.weather.readings import Readings
from sim.weather.stamps import dated, on_full_hours
from sim.weather.weather import COLUMNS, Site, Weather
from sim.weather.year import checked_year

if TYPE_CHECKING:
    import pandas as pd

VARIABLE = "SUNRILL_WEATHER_SERVICE"
LICENCE = "open data of a public agency, which asks to be named as the source"
YEARS = (1980, 2100)  # the service itself has fewer, and says so
NEAR_DEG = 1.5  # the service answers for a cell of its grid; one further off is not the place that was asked for
UNITS = {  # by the service's own names for the five columns
    "ALLSKY_SFC_SW_DWN": ("Wh/m^2", "W/m^2"),
    "ALLSKY_SFC_SW_DNI": ("Wh/m^2", "W/m^2"),
    "ALLSKY_SFC_SW_DIFF": ("Wh/m^2", "W/m^2"),
    "T2M": ("C",),
    "WS10M": ("m/s",),
}


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


class _UnusableError(Exception):
    """An answer that another try may better; it says why."""


Told = Callable[[int, int], None]


def untold(done: int, of: int) -> None:
    """Nobody listens."""


def fetch_year(place: Place, year: int, patience: Patience | None = None, told: Told = untold) -> Weather:
    """A calendar year of a place by its own clock, checked like a file; InputError if it cannot be had or is no good.

    ``told`` hears how many quarters of how many are there.
    """
    if not YEARS[0] <= year <= YEARS[1]:
        raise InputError("sunrill weather", "--year", year, f"a year from {YEARS[0]} to {YEARS[1]}")
    url, quarters = service(), quarters_of(year, place.utc_offset_h)
    parts: list[pd.DataFrame] = []
    for number, (first, last) in enumerate(quarters):
        path = _kept_at(url, place, first, last)
        kept = _kept(path, first, last)
        parts.append(_fetched(url, place, first, last, path, patience or Patience()) if kept is None else kept)
        told(number + 1, len(quarters))
    try:
        return checked_year(_readings(url, place, year, parts), year)
    except InputError:
        for first, last in quarters:  # what is no good is not kept
            _kept_at(url, place, first, last).unlink(missing_ok=True)
        raise


def service() -> str:
    """The address that is asked."""
    from pvlib.iotools import nasa_power

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
    import pandas as pd

    try:
        head, body = path.read_text("utf-8").split("\n", 1)
        kept = pd.read_csv(io.StringIO(body), index_col=0, parse_dates=True)
        _check_rows(kept, first, last)
        source, elevation_m = head[2:].rsplit("; ", 1)
        kept.attrs = {"source": source, "elevation_m": float(elevation_m)}
    except (OSError, ValueError, KeyError, TypeError, _UnusableError):
        return None
    return kept


def _fetched(
    url: str, place: Place, first: datetime.date, last: datetime.date, path: Path, patience: Patience
) -> pd.DataFrame:
    """A quarter from the service, asked for again after each failure, and kept."""
    reason = ""
    for attempt in range(patience.tries):
        if attempt:
            time.sleep(patience.pause_s * 2 ** (attempt - 1))
        try:
            part = _asked(url, place, first, last, patience.answer_s)
        except _UnusableError as failure:
            reason = str(failure)
            continue
        _refuse_unwritten(url, part, first, last)
        head = f"# {part.attrs['source']}; {part.attrs['elevation_m']:g}\n"
        write_text(path, head + part.to_csv(date_format="%Y-%m-%dT%H:%MZ"))
        return part
    allowed = f"an answer for {first} to {last}; {patience.tries} tries, the last: {reason}"
    raise InputError(url, "", None, f"{allowed}. Quarters that came are kept: the same command goes on from there")


def _asked(url: str, place: Place, first: datetime.date, last: datetime.date, answer_s: float) -> pd.DataFrame:
    """One answer, checked: the columns by our names, hours of universal time, where it is from in ``attrs``."""
    part: pd.DataFrame
    data, about = _within(answer_s, lambda: _answer(url, place, first, last))
    _check_conventions(url, about)
    try:
        far = abs(about["latitude"] - place.latitude_deg), abs(about["longitude"] - place.longitude_deg)
        part = data[list(COLUMNS)].astype(float)
        elevation_m, sources = float(about["altitude"]), ", ".join(map(str, about.get("sources", ())))
    except (KeyError, TypeError, ValueError) as odd:
        raise _UnusableError(f"the answer is not what this service gives ({odd!r:.80})") from None
    if max(far) > NEAR_DEG:
        raise _UnusableError("the answer is for another place")
    _check_rows(part, first, last)
    part.attrs = {"source": f"Hourly service of a public agency ({sources})", "elevation_m": elevation_m}
    return part


def _answer(url: str, place: Place, first: datetime.date, last: datetime.date) -> tuple[pd.DataFrame, dict[str, Any]]:
    """What the client reads of one answer; _UnusableError if it cannot."""
    import requests
    from pvlib import iotools

    try:
        return iotools.get_nasa_power(place.latitude_deg, place.longitude_deg, first, last, url=url)  # type: ignore[no-any-return]
    except requests.exceptions.JSONDecodeError:
        raise _UnusableError("an answer that is no data, or is cut") from None
    except requests.HTTPError as refusal:
        raise _UnusableError(f"an error, {' '.join(str(refusal).split()):.120}") from None
    except (requests.exceptions.ChunkedEncodingError, requests.exceptions.ContentDecodingError):
        raise _UnusableError("an answer that breaks off") from None
    except requests.RequestException:
        raise _UnusableError("no connection") from None
    except (ValueError, KeyError, TypeError, IndexError, AttributeError) as odd:
        raise _UnusableError(f"an answer that is not what this service gives ({odd!r:.80})") from None


def _within(limit_s: float, work: Callable[[], Any]) -> Any:
    """The result of some work, if it is there in time; the client itself would wait without end."""
    done: list[Any] = []
    failed: list[_UnusableError] = []

    def run() -> None:
        try:
            done.append(work())
        except _UnusableError as failure:
            failed.append(failure)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(limit_s)
    if failed:
        raise failed[0]
    if not done:
        raise _UnusableError(f"no whole answer within {limit_s:g} s")
    return done[0]


def _check_conventions(url: str, about: dict[str, Any]) -> None:
    """Another clock or other units than those that are asked for will not change at the next try: InputError."""
    clock = about.get("time_standard")
    if str(clock).upper() != "UTC":
        raise InputError(url, "time_standard", clock, '"UTC"')
    for name, units in UNITS.items():
        there = about["parameters"].get(name) if isinstance(about["parameters"], dict) else None
        unit = there.get("units") if isinstance(there, dict) else None
        if unit not in units:
            raise InputError(url, f"units of {name}", unit, " or ".join(units))


def _check_rows(part: pd.DataFrame, first: datetime.date, last: datetime.date) -> None:
    """Every hour of the days that were asked for, once and in order, with values that can be."""
    import pandas as pd

    hours = pd.date_range(first, last + datetime.timedelta(days=1), freq="h", inclusive="left", tz="UTC")
    if len(part) != len(hours) or not (part.index == hours).all():
        raise _UnusableError(f"{len(part)} hours instead of the {len(hours)} that were asked for")
    for name in COLUMNS:
        low, high, _ = BOUNDS[name]
        if ((part[name] < low) | (part[name] > high)).any():
            raise _UnusableError(f"figures of {name} that cannot be")


def _refuse_unwritten(url: str, part: pd.DataFrame, first: datetime.date, last: datetime.date) -> None:
    """Days that the service has no data of, as a rule because they are too recent."""
    share = part.isna().mean()
    if share.max() > LARGEST_FILLED_SHARE:
        allowed = f"days that the service has data of; {share.idxmax()} is missing in {share.max():.0%} of the hours"
        raise InputError(url, f"{first} to {last}", None, allowed)


def _readings(url: str, place: Place, year: int, parts: Sequence[pd.DataFrame]) -> Readings:
    """The local year out of the quarters."""
    import pandas as pd

    clock = datetime.timezone(datetime.timedelta(hours=place.utc_offset_h))
    table = pd.concat(parts).tz_convert(clock)
    table, starts, notes = on_full_hours(table, COLUMNS, pd.DatetimeIndex(table.index).tz_localize(None))
    own = starts.year == year
    rows = table[own].assign(**dated(starts[own]), line=range(1, own.sum() + 1)).reset_index(drop=True)
    site = Site(place.latitude_deg, place.longitude_deg, parts[0].attrs["elevation_m"], place.utc_offset_h)
    return Readings(url, rows, site, parts[0].attrs["source"], LICENCE, notes=tuple(notes))
