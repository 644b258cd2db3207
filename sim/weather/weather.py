"""One calendar year of hourly weather at one place."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from sim.language import say
from sim.units import Quantity
from sim.words import figure

COLUMNS = ("ghi", "dni", "dhi", "temp_air", "wind_speed")
IRRADIANCES = COLUMNS[:3]
EXTRAS = ("dew_point", "pressure", "rain")  # of some files


class Doubt(NamedTuple):
    """What does not look right about a year: its id, by which a scenario may accept it, and a sentence."""

    id: str
    message: str


class Site(NamedTuple):
    """Where the weather was recorded: degrees north and east, metres above the sea, hours ahead of UTC."""

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float


@dataclass(frozen=True, eq=False)
class Weather:
    """A year of hours in local standard time, each labelled by its start.

    ``index`` has 8760 or 8784 hours of one calendar year at a fixed offset from UTC. ``ghi``, ``dni`` and ``dhi`` are
    mean irradiances of the hour in W/m², ``temp_air`` is in °C and ``wind_speed`` in m/s, each (hours,) of float64.
    ``notes`` says in plain sentences what was repaired or re-dated, ``doubts`` what could not be and looks wrong. Where
    the data have them, ``dew_point`` is in °C, ``pressure`` in kPa and ``rain`` in mm in the hour, (hours,); else None.
    """

    index: pd.DatetimeIndex
    ghi: np.ndarray
    dni: np.ndarray
    dhi: np.ndarray
    temp_air: np.ndarray
    wind_speed: np.ndarray
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    utc_offset_h: float
    source: str
    licence: str
    notes: tuple[str, ...] = ()
    dew_point: np.ndarray | None = None
    pressure: np.ndarray | None = None
    rain: np.ndarray | None = None
    doubts: tuple[Doubt, ...] = ()
    coldest_c: float | None = None  # the coldest hour of all years of the data, where they hold several

    @property
    def site(self) -> Site:
        """The place, as one value."""
        return Site(self.latitude_deg, self.longitude_deg, self.elevation_m, self.utc_offset_h)


def place_of(weather: Weather) -> str:
    """Where a weather was recorded."""
    north = f"{figure(abs(weather.latitude_deg), '.2f')}° {say('N') if weather.latitude_deg >= 0 else say('S')}"
    east = f"{figure(abs(weather.longitude_deg), '.2f')}° {say('E') if weather.longitude_deg >= 0 else say('W')}"
    return f"{north}, {east}, {Quantity(weather.elevation_m, 'm', '.0f')}"
