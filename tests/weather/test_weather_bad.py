"""Weather files that cannot be used, each with the one message that says where and why."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest

from sim.errors import InputError
from sim.weather import weather_for

Lines = list[str]
NOON = 2 + 180 * 24 + 12  # index of the line of 30 June 12:00, 13:00 by its own stamp; its line number is one more
GHI, DNI, DHI, AIR, WIND = 4, 7, 10, 31, 46


def cells(lines: Lines, column: int, change: Callable[[str], str], first: int = NOON, count: int = 1) -> Lines:
    """The lines with one column changed in some rows."""
    out = list(lines)
    for row in range(first, first + count):
        parts = out[row].split(",")
        out[row] = ",".join([*parts[:column], change(parts[column]), *parts[column + 1 :]])
    return out


def cut(lines: Lines) -> Lines:
    """The download broke off in October."""
    return lines[: 2 + 273 * 24]


def cut_in_a_line(lines: Lines) -> Lines:
    """… in the middle of a line."""
    return [*lines[:NOON], lines[NOON][:12]]


def gap(lines: Lines) -> Lines:
    """Four hours are missing."""
    return [*lines[:NOON], *lines[NOON + 4 :]]


def scattered(lines: Lines) -> Lines:
    """Every tenth hour is missing."""
    return [*lines[:2], *(line for k, line in enumerate(lines[2:]) if k % 10)]


def duplicate(lines: Lines) -> Lines:
    """An hour is there twice."""
    return [*lines[:NOON], lines[NOON - 1], *lines[NOON:]]


def unordered(lines: Lines) -> Lines:
    """Two hours have changed places."""
    return [*lines[:NOON], lines[NOON + 1], lines[NOON], *lines[NOON + 2 :]]


def later(hours: int) -> Callable[[Lines], Lines]:
    """Light that comes some hours later than its stamps: the clock is shifted."""

    def shift(lines: Lines) -> Lines:
        rows = [line.split(",") for line in lines[2:]]
        moved = rows[-hours:] + rows[:-hours]
        return [*lines[:2], *(",".join(row[:2] + other[2:]) for row, other in zip(rows, moved, strict=True))]

    return shift


def without_column(lines: Lines) -> Lines:
    """The diffuse column is missing."""
    return [lines[0], *(",".join(cell for k, cell in enumerate(line.split(",")) if k != DHI) for line in lines[1:])]


def swapped(lines: Lines) -> Lines:
    """Beam and diffuse have changed their headings."""
    heads = lines[1].replace("DNI (W", "XXX (W").replace("DHI (W", "DNI (W").replace("XXX (W", "DHI (W")
    return [lines[0], heads, *lines[2:]]


def half_hourly(lines: Lines) -> Lines:
    """Stamps at half past."""
    return [*lines[:2], *(line.replace(":00,", ":30,", 1) for line in lines[2:])]


DAMAGES = {
    "cut": (
        cut,
        r"rows: allowed is gaps of at most 3 h; rows missing for 2208 h, 1 October 00:00 to 31 December 23:00",
    ),
    "cut in a line": (cut_in_a_line, r"line 4335: allowed is 71 cells, as in line 3; it has 2"),
    "gap": (gap, r"rows missing for 4 h, 30 June 12:00 to 30 June 15:00"),
    "scattered gaps": (scattered, r"rows: allowed is at most 438 h missing in all; 876 h are"),
    "duplicate": (
        duplicate,
        r"line 4335: allowed is one row an hour; of 1 repeated hour this is the first, the hour of line 4334",
    ),
    "unordered": (unordered, r"line 4336: allowed is rows in order from 1 January to 31 December; this one is earlier"),
    "nan": (
        lambda lines: cells(lines, AIR, lambda cell: "NaN", count=5),
        r"temp_air missing for 5 h, line 4335 \(30 June 12:00\) to line 4339 \(30 June 16:00\)",
    ),
    "sentinels": (
        lambda lines: cells(lines, GHI, lambda cell: "9999", count=48),
        r"ghi missing for 48 h, line 4335 \(30 June 12:00\) to line 4382 \(2 July 11:00\)",
    ),
    "no temperature": (
        lambda lines: cells(lines, AIR, lambda cell: "99.9", first=2, count=8760),
        r"temp_air missing for 8760 h, line 3 \(1 January 00:00\) to line 8762",
    ),
    "negative": (
        lambda lines: cells(lines, DHI, lambda cell: "-25"),
        r"line 4335 \(30 June 12:00\), dhi = -25.0: allowed is -4 to 1415 W/m2",
    ),
    "above extraterrestrial": (
        lambda lines: cells(lines, GHI, lambda cell: "1150", first=2 + 11, count=4),
        r"line 14 \(1 January 11:00\), ghi = 1150.0: allowed is 0 to 798 W/m2, what arrives above the atmosphere in "
        r"that hour; 3 more rows like it",
    ),
    "beyond any sun": (
        lambda lines: cells(lines, DNI, lambda cell: "2600"),
        r"line 4335 \(30 June 12:00\), dni = 2600.0: allowed is -4 to 1415 W/m2",
    ),
    "light at midnight": (
        lambda lines: cells(lines, GHI, lambda cell: "60", first=2, count=4),
        r"line 3 \(1 January 00:00\), ghi = 60.0: allowed is 0 to 10 W/m2",
    ),
    "hot beyond Earth": (
        lambda lines: cells(lines, AIR, lambda cell: "86"),
        r"line 4335 \(30 June 12:00\), temp_air = 86.0: allowed is -90 to 60 C",
    ),
    "negative wind": (
        lambda lines: cells(lines, WIND, lambda cell: "-1.5"),
        r"wind_speed = -1.5: allowed is 0 to 75 m/s",
    ),
    "clock three hours late": (later(3), r'clock = "178 minutes late": allowed is less than 45 minutes off the sun'),
    "clock an hour early": (later(-1), r'clock = "62 minutes early": allowed is less than 45 minutes off the sun'),
    "missing column": (without_column, r'line 2: allowed is a column "DHI \(W/m\^2\)"; it is missing'),
    "swapped columns": (swapped, r"line 88 \(4 January 13:00\), dhi = 810.0: allowed is 0 to 791 W/m2"),
    "no beam": (
        lambda lines: cells(lines, DNI, lambda cell: "0", first=2, count=8760),
        r"dni\*cos\(zenith\) \+ dhi = \"44 %\": allowed is 85 to 115 % of ghi",
    ),
    "no light": (
        lambda lines: cells(lines, GHI, lambda cell: "0", first=2, count=8760),
        r"ghi: allowed is some light; every hour has 0 W/m2",
    ),
    "words": (
        lambda lines: cells(lines, WIND, lambda cell: "calm"),
        r'line 4335, wind_speed = "calm": allowed is a number',
    ),
    "half hours": (half_hourly, r'line 3, Time \(HH:MM\) = "01:30": allowed is full hours, one row an hour'),
    "no such date": (
        lambda lines: cells(lines, 0, lambda cell: "13/45/1990"),
        r'line 4335 = "month 13, day 45, hour 13": allowed is a date of the calendar',
    ),
    "no such hour": (
        lambda lines: cells(lines, 1, lambda cell: "31:00"),
        r'line 4335 = "month 6, day 30, hour 31": allowed is a date of the calendar and an hour from 0 to 24',
    ),
    "nowhere": (
        lambda lines: [lines[0].replace("36.100", "136.1"), *lines[1:]],
        r"header, latitude_deg = 136.1: allowed is a number from -90 to 90",
    ),
    "header of words": (
        lambda lines: ["Fernhollow", *lines[1:]],
        r"line 1: allowed is 7 cells: station, name, state, clock",
    ),
    "no rows": (lambda lines: lines[:2], r"year.txt: .*allowed is "),
}


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_file_is_refused_with_its_place(damage, asking, saved, tmy3):
    """A damaged file ends in one message with the file, the place, the value and what is allowed."""
    change, message = DAMAGES[damage]
    path = saved(change(list(tmy3)))
    with pytest.raises(InputError, match=message) as caught:
        weather_for(asking(file=path))
    assert str(caught.value).startswith(str(path))
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 400 + len(str(path))


CONTENTS = {
    "empty": (b"", "allowed is a weather file; this one is empty"),
    "blank": (b"\n\n   \n", "allowed is a weather file; this one is empty"),
    "binary": (b"\x7fELF\x02\x01\x01\x00\x00\x00", "allowed is a text file of hourly weather; this one is binary"),
    "a letter": (
        b"Dear gardener,\nthe pond is fine.\n",
        'TMY3 or EPW or TMY2 weather data, or a table with weather.columns in the scenario; the file begins with "Dear',
    ),
    "control characters": (b"\x1b[31mred\n", r'the file begins with " \[31mred'),
    "one line": (b"LOCATION,Fernhollow", "line 9: allowed is 35 columns; there are 0"),
    "a short EPW": (b"LOCATION,A\n" + b"X\n" * 7 + b"1990,1,1,1\n", "line 9: allowed is 35 columns; there are 4"),
}


@pytest.mark.parametrize("content", CONTENTS)
def test_what_is_no_weather_file_is_refused(content, asking, tmp_path):
    """Anything that is not a weather file is named as such."""
    written, message = CONTENTS[content]
    path = tmp_path / "year.epw"
    path.write_bytes(written)
    with pytest.raises(InputError, match=message):
        weather_for(asking(file=path))


def test_a_file_that_is_not_there_names_the_key(asking, tmp_path):
    """A missing file, or a folder, is an error of the scenario's key, with the path that was looked for."""
    for name in ("nowhere.epw", "."):
        with pytest.raises(InputError, match=r"pond.toml: weather.file = .*: allowed is an existing file; looked for "):
            weather_for(asking(file=tmp_path / name if name != "." else tmp_path))


def test_an_epw_with_a_column_too_few_is_refused(asking, saved, epw):
    """A column cut out of an EPW file would shift all that follow, so the number of columns is checked."""
    rows = [",".join(cell for k, cell in enumerate(line.split(",")) if k != 14) for line in epw[8:]]
    with pytest.raises(InputError, match="line 9: allowed is 35 columns; there are 34"):
        weather_for(asking(file=saved([*epw[:8], *rows])))


def test_a_tmy2_with_letters_is_refused(asking, saved, tmy2):
    """Letters in a TMY2 number are an error, not a zero."""
    row = tmy2[50]
    with pytest.raises(InputError, match='line 51, ghi = "ABCD": allowed is a number'):
        weather_for(asking(file=saved([*tmy2[:50], row[:17] + "ABCD" + row[21:], *tmy2[51:]])))


@pytest.mark.parametrize(
    ("row", "message"),
    [
        (lambda row: row * 2, "line 51: allowed is 35 cells, as in line 9; it has 69"),
        (lambda row: '"' + row, "line 51: allowed is quotes that are closed; one stays open"),
        (lambda row: row.replace("2001,1,", "2001,x,", 1), 'line 51, month = "x": allowed is a whole number'),
        (lambda row: row.replace("2001,1,", "2001,1.5,", 1), 'line 51, month = "1.5": allowed is a whole number'),
        (lambda row: row.replace("2001,", "1e400,", 1), 'line 51, year = "1e400": allowed is a whole number'),
        (lambda row: "# remark", "line 51: allowed is 35 cells, as in line 9; it has 1"),
    ],
)
def test_a_bad_row_is_named_by_line_and_column_in_our_words(asking, saved, epw, row, message):
    """No word of a reading library reaches the user."""
    first = [line.replace(line[:4], "2001", 1) for line in epw[8:]]
    first[42] = row(first[42])
    with pytest.raises(InputError, match=re.escape(message)):
        weather_for(asking(file=saved([*epw[:8], *first])))


def test_a_clock_of_half_an_hour_may_be_written_with_a_comma(asking, saved, epw):
    """A national service writes 5,5 for 5.5, which moves the height into a cell too many: read as meant, and said."""
    cells = epw[0].split(",")
    head = ",".join([*cells[:8], "-5", "0", cells[9]])
    with pytest.raises(InputError, match="line 1: allowed is 10 cells; there are 11"):
        weather_for(asking(file=saved([head, *epw[1:]])))
    head = ",".join([*cells[:8], "-5", "25", cells[9]])
    weather = weather_for(asking(file=saved([head, *epw[1:]])))
    assert (weather.utc_offset_h, weather.elevation_m) == (-5.25, 273.0)
    assert any('The clock "-5,25" in the header is read as -5.25 h from UTC' in note for note in weather.notes)
