"""Humidity, pressure and rain of files that have them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim.figures.water.pond import Air, course
from sim.figures.water.radiation import longwave_wm2
from sim.weather import Weather, weather_for

Asking, Saved = Callable[..., Any], Callable[[Sequence[str]], Path]
DEW, PRESSURE, RAIN = 7, 9, 33  # cells of an EPW row


def with_cells(lines: Sequence[str], place: int, value: Callable[[int], str]) -> list[str]:
    """The lines of an EPW file with one cell of every hour changed."""
    rows = [line.split(",") for line in lines[8:]]
    return [*lines[:8], *(",".join([*row[:place], value(k), *row[place + 1 :]]) for k, row in enumerate(rows))]


@pytest.fixture
def read(asking: Asking, saved: Saved) -> Callable[[Sequence[str]], Weather]:
    """The weather of a file with these lines."""
    return lambda lines: weather_for(asking(file=saved(lines)))


def test_an_epw_file_brings_all_three(read: Any, epw: Any) -> None:
    """Dew point in °C, pressure from Pa to kPa, millimetres of rain; a file without a drop has no rain."""
    weather = read(with_cells(epw, RAIN, lambda hour: "1.5" if hour % 100 == 0 else "0"))
    np.testing.assert_allclose(weather.dew_point, np.arange(8760) / 1000 - 5, atol=0.0006)
    assert set(weather.pressure) == {99.0} and weather.rain.sum() == pytest.approx(1.5 * 88)
    assert weather.notes == read(epw).notes and read(epw).rain is None


def test_tmy_files_bring_humidity_and_pressure(asking: Asking, pvlib_data: Path) -> None:
    """Both kinds have dew point and mbar, TMY2 in tenths: the columns' own means, in °C and kPa (frozen)."""
    tmy3, tmy2 = (weather_for(asking(file=pvlib_data / name)) for name in ("723170TYA.CSV", "12839.tm2"))
    means = [(weather.dew_point.mean(), weather.pressure.mean()) for weather in (tmy3, tmy2)]
    np.testing.assert_allclose(means, [(8.2, 98.7), (18.8, 101.7)], atol=0.05)
    assert (tmy3.dew_point <= tmy3.temp_air).all() and tmy2.rain is None


def test_rain_that_cannot_be_is_left_out_and_said(asking: Asking, pvlib_data: Path) -> None:
    """A typical year of a place with 1.1 m of rain says 8.3 m: it would fill every pond."""
    weather = weather_for(asking(file=pvlib_data / "723170TYA.CSV"))
    assert weather.rain is None
    assert any("rain is left out: it comes to 8,345 mm with 500 mm in an hour" in note for note in weather.notes)


@pytest.mark.parametrize(
    ("place", "value", "name", "said"),
    [
        (DEW, "99.9", "dew_point", ""),
        (DEW, "30.0", "dew_point", "humidity is left out: its dew point lies above the air in 100 %"),
        (PRESSURE, "999999", "pressure", ""),
        (RAIN, "999", "rain", ""),
        (RAIN, "-9900", "rain", ""),
        (RAIN, "0.5", "rain", "rain is left out: it comes to 4,380 mm"),
    ],
)
def test_marks_and_nonsense_are_no_column(place: int, value: str, name: str, said: str, read: Any, epw: Any) -> None:
    """Marks for "no data" leave the column out in silence, figures that cannot be with a note; the year is read."""
    weather = read(with_cells(epw, place, lambda _: value))
    assert getattr(weather, name) is None
    assert any(said in note for note in weather.notes) if said else weather.notes == read(epw).notes


def test_gaps_are_filled(read: Any, epw: Any) -> None:
    """Hours without a dew point lie on the line between their neighbours; hours without rain are dry."""
    lines = with_cells(epw, DEW, lambda hour: "99.9" if hour in (5000, 5001) else f"{hour / 1000 - 5:.3f}")
    weather = read(with_cells(lines, RAIN, lambda hour: "999" if hour == 7 else "1" if hour == 8 else "0"))
    np.testing.assert_allclose(weather.dew_point[[5000, 5001]], [0.0, 0.001], atol=0.001)
    assert weather.rain[7] == 0.0 and weather.rain.sum() == 1.0


def test_damp_air_takes_less_water(read: Any, epw: Any) -> None:
    """A dew point 20 K below the air takes more than one at it (derived)."""
    weather = read(epw)
    taken = []
    for below in (0.0, 20.0):
        air_c, dew_c = weather.temp_air, weather.temp_air - below
        longwave = longwave_wm2(air_c, dew_c, weather.ghi, weather.latitude_deg, weather.elevation_m)
        taken.append(course(Air(air_c, dew_c, weather.ghi, weather.wind_speed, longwave), 0.6).evaporated_mm.sum())
    damp, dry = taken
    assert dry > 1.2 * damp
