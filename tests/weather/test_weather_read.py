"""Weather files: three formats, their stamps, leap years, and what is repaired."""

from __future__ import annotations

import numpy as np
import pytest

from sim.weather import weather_for
from sim.weather.fit import clock_error_min
from sim.weather.samples import read_sample
from sim.weather.sun import sun_positions
from sim.weather.weather import COLUMNS


def columns(weather) -> np.ndarray:
    """(hours, 5) of a weather year."""
    return np.column_stack([getattr(weather, name) for name in COLUMNS])


def edited(lines, changes: dict[int, str]) -> list[str]:
    """The lines with some replaced, by their index."""
    return [changes.get(k, line) for k, line in enumerate(lines)]


def with_cell(lines, row: int, column: int, value: str) -> list[str]:
    """The lines with one comma-separated cell replaced."""
    cells = lines[row].split(",")
    return edited(lines, {row: ",".join([*cells[:column], value, *cells[column + 1 :]])})


def test_tmy3_rows_keep_their_order(asking, saved, tmy3):
    """Row k of a TMY3 file, stamped with the hour's end, is hour k of the year, stamped with its start."""
    weather = weather_for(asking(file=saved(tmy3)))
    np.testing.assert_array_equal(columns(weather), read_sample("piedmont")[0].to_numpy())
    assert weather.source == "TMY3 file year.txt, station 723170 GREENSBORO PIEDMONT TRIAD INT"
    assert weather.licence == "as stated by whoever supplied the file"


def test_tmy2_rows_keep_their_order(asking, saved, tmy2):
    """Row k of a TMY2 file is hour k of the year; tenths of degrees and of m/s are read as such."""
    weather = weather_for(asking(file=saved(tmy2)))
    np.testing.assert_array_equal(columns(weather), read_sample("subtropic")[0].to_numpy())
    assert weather.site == pytest.approx((25.8, -(80 + 16 / 60), 2.0, -5.0))


def test_a_tmy2_place_of_two_words_is_read(asking, saved, tmy2):
    """A place name with spaces in a TMY2 header does not shift the columns after it."""
    weather = weather_for(asking(file=saved(edited(tmy2, {0: tmy2[0].replace("MIAMI   ", "OLD MILL")}))))
    assert weather.source.endswith("station 12839 OLD MILL")
    assert weather.latitude_deg == 25.8


def test_epw_hours_are_labelled_by_their_start(asking, saved, epw):
    """EPW hour 1 of 1 January is 00:00, hour 24 of 31 December is 23:00, and every hour between keeps its place."""
    weather = weather_for(asking(file=saved(epw)))
    np.testing.assert_allclose(weather.temp_air, np.arange(8760) / 1000, atol=1e-9)
    at_noon = weather.index.get_loc("2001-07-04 12:00:00-05:00")
    assert epw[8 + at_noon].split(",")[1:4] == ["7", "4", "13"]
    expected = read_sample("piedmont")[0].to_numpy()
    np.testing.assert_array_equal(columns(weather)[:, [0, 1, 2, 4]], expected[:, [0, 1, 2, 4]])
    assert weather.source == "EPW file year.txt, Fernhollow, Typical"


@pytest.mark.parametrize("name", ["tmy3", "tmy2", "epw"])
def test_the_clock_of_every_format_fits_the_sun(name, asking, saved, request):
    """On clear days the light is symmetric about solar noon within 5 minutes: no format is read an hour off."""
    weather = weather_for(asking(file=saved(request.getfixturevalue(name))))
    assert abs(clock_error_min(weather.ghi, sun_positions(weather).extra_horizontal_wm2)) < 5.0


def test_a_byte_order_mark_and_windows_lines_are_read(asking, tmp_path, epw):
    """A file saved by a spreadsheet, with a byte order mark and carriage returns, is read like any other."""
    path = tmp_path / "year.epw"
    path.write_bytes(b"\xef\xbb\xbf" + "\r\n".join(epw).encode() + b"\r\n")
    assert weather_for(asking(file=path)).ghi.sum() == read_sample("piedmont")[0]["ghi"].sum()


def test_a_header_in_latin_1_is_read(asking, tmp_path, epw):
    """A place name in the old western encoding does not stop the reading."""
    path = tmp_path / "year.epw"
    path.write_bytes("\n".join(epw).replace("Fernhollow", "Mühlgrün").encode("latin-1"))
    assert "Mühlgrün" in weather_for(asking(file=path)).source


def test_midnight_written_as_00_of_the_next_day(asking, saved, tmy3):
    """Midnight may be 24:00 of the day that ends or 00:00 of the day that begins, leap Februaries included."""
    lines = list(tmy3)
    for k in range(2, len(lines)):
        if ",24:00," in lines[k]:
            stamp = np.datetime64("{2}-{0}-{1}".format(*lines[k][:10].split("/"))) + 1
            following = stamp.astype(object).strftime("%m/%d/%Y")
            lines[k] = following + lines[k][10:].replace(",24:00,", ",00:00,")
    assert any(line.startswith("02/29") for line in lines)
    weather = weather_for(asking(file=saved(lines)))
    np.testing.assert_array_equal(columns(weather), read_sample("piedmont")[0].to_numpy())


def leap(lines) -> list[str]:
    """A TMY3 file with a 29 February, 1 K warmer than the 28th it repeats."""
    at = 2 + 59 * 24
    extra = []
    for line in lines[at - 24 : at]:
        cells = line.replace("02/28/", "02/29/").split(",")
        cells[31] = f"{float(cells[31]) + 1:.1f}"
        extra.append(",".join(cells))
    return [*lines[:at], *extra, *lines[at:]]


def test_a_leap_year_is_read_whole(asking, saved, tmy3):
    """8784 rows are taken as they are when the year asked for has a 29 February."""
    weather = weather_for(asking(file=saved(leap(tmy3)), year=2004))
    assert len(weather.index) == len(weather.ghi) == 8784
    day = (weather.index.month == 2) & (weather.index.day == 29)
    before = (weather.index.month == 2) & (weather.index.day == 28)
    np.testing.assert_allclose(weather.temp_air[day], weather.temp_air[before] + 1)
    assert not [note for note in weather.notes if "February" in note]


def test_a_leap_day_is_left_out_of_a_common_year(asking, saved, tmy3):
    """8784 rows dated in a year without 29 February lose that day and nothing else, and the notes say so."""
    weather = weather_for(asking(file=saved(leap(tmy3)), year=2001))
    np.testing.assert_array_equal(columns(weather), read_sample("piedmont")[0].to_numpy())
    assert "29 February was left out: 2001 has none." in weather.notes


def test_a_leap_year_is_filled_from_a_common_one(asking, saved, tmy3):
    """8760 rows dated in a leap year repeat 28 February, and the notes say so."""
    weather = weather_for(asking(file=saved(tmy3), year=2004))
    assert (len(weather.index), str(weather.index[-1])) == (8784, "2004-12-31 23:00:00-05:00")
    np.testing.assert_array_equal(weather.ghi[59 * 24 : 60 * 24], weather.ghi[58 * 24 : 59 * 24])
    np.testing.assert_array_equal(np.delete(weather.ghi, np.s_[59 * 24 : 60 * 24]), read_sample("piedmont")[0]["ghi"])
    assert "29 February 2004 repeats the 28th: the file has none." in weather.notes


def test_three_missing_rows_are_filled_and_said(asking, saved, tmy3):
    """Three hours missing at noon are filled along the day's course, and a note names them."""
    first = 2 + 180 * 24 + 11
    weather = weather_for(asking(file=saved([*tmy3[:first], *tmy3[first + 3 :]])))
    gap, true = slice(first - 2, first + 1), read_sample("piedmont")[0]
    around = weather.temp_air[[first - 3, first + 1]]
    np.testing.assert_allclose(weather.temp_air[gap], np.linspace(*around, 5)[1:4])
    assert np.all(np.abs(weather.ghi[gap] / true["ghi"][gap] - 1) < 0.25)
    said = "Filled: 3 missing rows, the first at 30 June 11:00; light as clear as the hours around, at most 85 %"
    assert any(note.startswith(said) for note in weather.notes)
    kept = np.delete(np.arange(8760), np.r_[gap])
    np.testing.assert_array_equal(columns(weather)[kept], true.to_numpy()[kept])


def test_a_gap_over_sunset_gets_no_light_in_the_dark(asking, saved, tmy3):
    """Filled hours in which the sun is below the horizon have no light."""
    first = 2 + 180 * 24 + 18
    weather = weather_for(asking(file=saved([*tmy3[:first], *tmy3[first + 3 :]])))
    light = weather.ghi[first - 2 : first + 1]
    assert light[0] > light[2] == 0.0


@pytest.mark.parametrize(
    ("column", "name", "marker"),
    [
        (4, "ghi", "9999"),
        (7, "dni", "-9900"),
        (10, "dhi", "9900"),
        (31, "temp_air", "-9900"),
        (46, "wind_speed", "999"),
    ],
)
def test_a_marked_value_is_filled_and_said(column, name, marker, asking, saved, tmy3):
    """A single number that stands for "no data" is filled from its neighbours, and a note says which."""
    row = 2 + 180 * 24 + 12
    weather = weather_for(asking(file=saved(with_cell(tmy3, row, column, marker))))
    said = f"Filled: 1 hour without {name}, the first at line {row + 1} (30 June 12:00)"
    assert any(note.startswith(said) for note in weather.notes)
    values = getattr(weather, name)
    assert min(values[row - 3], values[row - 1]) * 0.8 <= values[row - 2] <= max(values[row - 3], values[row - 1]) * 1.2


def test_the_offset_of_a_dark_sensor_is_cut(asking, saved, tmy3):
    """An irradiance of -3 W/m2 at night becomes 0 and is noted."""
    weather = weather_for(asking(file=saved(with_cell(tmy3, 3, 4, "-3"))))
    assert weather.ghi.min() == 0.0
    assert "Set to 0: 1 hour with an irradiance from -4 to 0 W/m2." in weather.notes


def test_a_clock_half_an_hour_off_is_doubted_with_what_to_write(asking, saved, tmy3):
    """A file whose header puts its site 7.5 degrees of longitude off is used; the doubt names the clock that fits."""
    weather = weather_for(asking(file=saved(edited(tmy3, {0: tmy3[0].replace("-79.950", "-72.450")}))))
    assert [doubt.id for doubt in weather.doubts] == ["clock"]
    assert "29 minutes late against the sun" in weather.doubts[0].message
    assert "utc_offset_h = -4.5 under [site] fits the light" in weather.doubts[0].message


def test_the_site_of_the_scenario_comes_first(asking, saved, tmy3):
    """A wrong offset from UTC in the header is put right by the scenario."""
    wrong = saved(edited(tmy3, {0: tmy3[0].replace("-5.0", "-8.0")}))
    weather = weather_for(asking(file=wrong, utc_offset_h=-5.0))
    assert str(weather.index[0]) == "2001-01-01 00:00:00-05:00"
