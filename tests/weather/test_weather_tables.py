"""Plain tables of weather: units, missing beam or diffuse, clocks, several years, and tables written here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from sim.errors import InputError
from sim.scenario import parse
from sim.scenario.models import Site
from sim.scenario.weather import Columns, Weather
from sim.weather import weather_for, weathers_for
from sim.weather.samples import read_sample
from sim.weather.stamps import on_full_hours, wrapped
from sim.weather.tables import own_text

TABLE = read_sample("piedmont")[0].to_numpy()
HEADS = "at;G;B;D;T;W"
PLACE = {"latitude_deg": 36.1, "longitude_deg": -79.95, "utc_offset_h": -5.0}
COLUMNS: dict[str, Any] = {
    "time": "at",
    "stamp": "hour-start",
    "ghi": {"column": "G", "unit": "W/m2"},
    "dni": {"column": "B", "unit": "W/m2"},
    "dhi": {"column": "D", "unit": "W/m2"},
    "temp_air": {"column": "T", "unit": "C"},
    "wind_speed": {"column": "W", "unit": "m/s"},
}
Asked = Callable[..., Any]


def lines(first: datetime, hours: int, factors: Sequence[float] = (1, 1, 1, 1, 1), ahead_h: int = 0) -> list[str]:
    """Rows from a moment of the site's clock on, each hour of a year as in the sample, 29 February as the 28th."""
    out = []
    for k in range(hours):
        at = first + timedelta(hours=k)
        like = at.replace(year=2001, day=28) if (at.month, at.day) == (2, 29) else at.replace(year=2001)
        row = TABLE[(like - datetime(2001, 1, 1)) // timedelta(hours=1)] * factors
        out.append(f"{at + timedelta(hours=ahead_h)};{';'.join(f'{value:.6g}' for value in row)}")
    return out


@pytest.fixture
def asked(tmp_path: Path) -> Asked:
    """A scenario that asks for files with these rows."""

    def scenario(
        *files: Sequence[str],
        year: int = 2001,
        site: dict[str, float] = PLACE,
        without: Sequence[str] = (),
        **change: Any,
    ) -> Any:
        for number, rows in enumerate(files):
            (tmp_path / f"{number}.csv").write_text("\n".join([HEADS, *rows]) + "\n")
        columns = {name: told for name, told in (COLUMNS | change).items() if name not in without}
        names = [f"{number}.csv" for number in range(len(files))]
        source = {"file": names[0]} if len(names) == 1 else {"files": names}
        weather = Weather.model_validate(source | {"columns": Columns.model_validate(columns), "year": year})
        return SimpleNamespace(path=tmp_path / "pond.toml", site=Site.model_validate(site), weather=weather)

    return scenario


YEAR = lines(datetime(2001, 1, 1), 8760)


def test_units_of_every_quantity_are_turned(asked: Asked) -> None:
    """kJ/m2, F and km/h read as W/m2, C and m/s (1 W/m2 for an hour is 3.6 kJ/m2; 1 m/s is 3.6 km/h)."""
    rows = [row.split(";") for row in lines(datetime(2001, 1, 1), 8760, (3.6, 3.6, 3.6, 1.8, 3.6))]
    rows = [[*row[:4], f"{float(row[4]) + 32:.6g}", row[5]] for row in rows]
    units = {name: {"column": head, "unit": "kJ/m2"} for name, head in zip(("ghi", "dni", "dhi"), "GBD", strict=True)}
    others = {"temp_air": {"column": "T", "unit": "F"}, "wind_speed": {"column": "W", "unit": "km/h"}}
    weather = weather_for(asked([";".join(row) for row in rows], **units, **others))
    np.testing.assert_allclose(weather.ghi, TABLE[:, 0], rtol=1e-5, atol=1e-3)
    np.testing.assert_allclose(weather.temp_air, TABLE[:, 3], atol=1e-3)
    np.testing.assert_allclose(weather.wind_speed, TABLE[:, 4], atol=1e-4)


@pytest.mark.parametrize(
    ("without", "said"),
    [
        (["dni", "dhi"], "The file has no dni and no dhi: split by the correlation of Erbs, Klein and Duffie."),
        (["dni"], "The file has no dni: worked out of the other two."),
        (["dhi"], "The file has no dhi: worked out of the other two."),
    ],
)
def test_missing_beam_and_diffuse_are_worked_out_and_said(without: list[str], said: str, asked: Asked) -> None:
    """What is worked out adds up to global in every hour; one of the two is near the truth, both are like it."""
    weather = weather_for(asked(YEAR, without=without))
    assert said in weather.notes
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])
    off = np.abs(np.array([weather.dni.sum(), weather.dhi.sum()]) / TABLE[:, 1:3].sum(axis=0) - 1.0)
    assert off.max() < (0.15 if len(without) == 2 else 0.01)  # hourly diffuse by correlation: a bound of our own


def test_a_table_without_wind_takes_still_air(asked: Asked) -> None:
    """Without a column of wind it is 1 m/s, and the notes say so."""
    weather = weather_for(asked(YEAR, without=["wind_speed"]))
    assert set(weather.wind_speed) == {1.0}
    assert "The file has no wind: 1 m/s is taken throughout." in weather.notes


@pytest.mark.parametrize(
    ("ahead_h", "told"),
    [(5, {"utc_offset_h": 0.0}), (6, {"utc_offset_h": 0.0, "stamp": "hour-end"}), (5, {"time_zone": "Etc/UTC"})],
)
def test_stamps_of_another_clock_are_turned(ahead_h: int, told: dict[str, Any], asked: Asked) -> None:
    """Stamps of universal time, of starts or ends, come to the site's own hours."""
    weather = weather_for(asked(lines(datetime(2001, 1, 1), 8760, ahead_h=ahead_h), **told))
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])
    assert weather.notes == ()


def test_a_year_of_universal_time_is_closed_at_its_end(asked: Asked) -> None:
    """A year from midnight UTC lacks the site's last five hours; its first five, of the year before, stand in."""
    weather = weather_for(asked(lines(datetime(2000, 12, 31, 19), 8760, ahead_h=5), utc_offset_h=0.0))
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])
    assert "5 h of 2000 stand at the end of 2001, where the file has none." in weather.notes


def test_hours_over_the_start_stand_at_the_start() -> None:
    """East of Greenwich it is the start of the year that is missing."""
    import pandas as pd

    starts, order, notes = wrapped(pd.date_range("2001-01-01 02:00", periods=8760, freq="h"))
    assert str(starts[order][0]) == "2001-01-01 00:00:00" and starts[order].is_monotonic_increasing
    assert notes == ["2 h of 2002 stand at the start of 2001, where the file has none."]


def test_summer_time_of_a_named_zone_is_turned(asked: Asked) -> None:
    """Stamps as clocks on the wall show them, one hour missing in spring and one twice in autumn, read as any other."""
    from zoneinfo import ZoneInfo

    rows = []
    for row in YEAR:
        at, rest = row.split(";", 1)
        utc = (datetime.fromisoformat(at) + timedelta(hours=5)).replace(tzinfo=ZoneInfo("UTC"))
        rows.append(f"{utc.astimezone(ZoneInfo('America/New_York')):%d/%m/%Y %H:%M};{rest}")
    away = {name: PLACE[name] for name in ("latitude_deg", "longitude_deg")}
    weather = weather_for(asked(rows, time_zone="America/New_York", site=away))
    np.testing.assert_array_equal(weather.ghi, TABLE[:, 0])
    assert weather.utc_offset_h == -5.0 and weather.notes == ()


LONG = lines(datetime(2018, 12, 20), 24 * (12 + 365 + 366 + 10))


def test_several_years_run_as_they_are(asked: Asked) -> None:
    """Each whole calendar year is a weather year of its own date; pieces at the ends are left out and named."""
    weathers = weathers_for(asked(LONG))
    assert [(int(w.index[0].year), len(w.index)) for w in weathers] == [(2019, 8760), (2020, 8784)]
    assert all("2018 was left out: the file has 288 of its 8760 h." in w.notes for w in weathers)
    assert all("2021 was left out: the file has 240 of its 8760 h." in w.notes for w in weathers)
    np.testing.assert_array_equal(weathers[0].ghi, TABLE[:, 0])
    np.testing.assert_array_equal(np.delete(weathers[1].ghi, np.s_[59 * 24 : 60 * 24]), TABLE[:, 0])


def test_one_of_several_years_is_the_scenarios(asked: Asked) -> None:
    """Commands of one year take weather.year; a year that is not there is an error that lists those that are."""
    assert str(weather_for(asked(LONG, year=2020)).index[0]) == "2020-01-01 00:00:00-05:00"
    with pytest.raises(InputError, match="weather.year = 2001: allowed is a year that the data have: 2019, 2020"):
        weather_for(asked(LONG, year=2001))


def test_a_gap_within_several_years_is_refused(asked: Asked) -> None:
    """A year between others that is not whole is an error, not left out."""
    with pytest.raises(InputError, match="rows missing for 48 h"):
        weathers_for(asked([*LONG[:5000], *LONG[5048:]]))


def test_several_files_are_several_years(asked: Asked) -> None:
    """Files of a year each, in any order, are read as one series; the same year twice is refused."""
    first, second = lines(datetime(2019, 1, 1), 8760), lines(datetime(2018, 1, 1), 8760)
    assert [int(w.index[0].year) for w in weathers_for(asked(first, second))] == [2018, 2019]
    with pytest.raises(
        InputError, match=r"1.csv: weather.files = 2019: allowed is each year once; it is in .*0.csv too"
    ):
        weathers_for(asked(first, first))


def test_a_single_year_is_dated_as_ever(asked: Asked) -> None:
    """One year is dated in weather.year, whatever the file says."""
    (weather,) = weathers_for(asked(lines(datetime(2019, 1, 1), 8760), year=2005))
    assert weather.index[0].year == 2005 and "Rows from 2019 are dated in 2005." in weather.notes


def test_a_written_table_reads_back(asked: Asked, tmp_path: Path) -> None:
    """A table written here says itself where it was recorded and by which clock, and reads back the same."""
    weather = weather_for(asked(YEAR))
    (tmp_path / "own.txt").write_text(own_text(weather))
    own = SimpleNamespace(path=tmp_path / "pond.toml", site=Site(), weather=Weather(file="own.txt"))
    again = weather_for(own)
    assert (again.site, again.source, again.licence) == (weather.site, weather.source, weather.licence)
    np.testing.assert_allclose(again.ghi, weather.ghi, atol=0.051)
    (tmp_path / "own.txt").write_text(own_text(weather).replace("# latitude_deg", "# latitude"))
    with pytest.raises(InputError, match="header: allowed is lines such as"):
        weather_for(own)


def test_columns_for_a_format_that_needs_none_are_refused(asked: Asked, tmp_path: Path, tmy3: Sequence[str]) -> None:
    """A table of columns beside a file that says itself what is what would be ignored, so it is refused."""
    scenario = asked(YEAR)
    (tmp_path / "0.csv").write_text("\n".join(tmy3) + "\n")
    with pytest.raises(InputError, match="weather.columns: allowed is nothing for a file of TMY3 weather data"):
        weather_for(scenario)


BAD: list[tuple[dict[str, Any], str]] = [
    ({"sample": "piedmont"}, "weather: allowed is exactly one of"),
    ({"columns": COLUMNS | {"ghi": {"column": "G", "unit": "W"}}}, 'weather.columns.ghi.unit = "W": allowed is "W/m2"'),
    ({"columns": COLUMNS | {"temp_air": {"column": "T", "unit": "R"}}}, 'temp_air.unit = "R": allowed is "C" or "K"'),
    ({"columns": COLUMNS | {"stamp": "start"}}, 'weather.columns.stamp = "start": allowed is "hour-start" or'),
    ({"columns": COLUMNS | {"time_zone": "Atlantis"}}, 'time_zone = "Atlantis": allowed is the name of a time zone'),
    ({"columns": COLUMNS | {"time_zone": "UTC", "utc_offset_h": 0}}, "nothing beside utc_offset_h"),
    ({"columns": {name: COLUMNS[name] for name in COLUMNS if name != "stamp"}}, "weather.columns.stamp: .*no default"),
    ({"columns": COLUMNS | {"rain": "R"}}, 'weather.columns.rain = "R": allowed is only time, stamp'),
    ({"files": []}, "weather.files.*allowed is a list of paths"),
]


@pytest.mark.parametrize(("weather", "message"), BAD, ids=[message[:30] for _, message in BAD])
def test_a_wrong_weather_section_is_named(weather: dict[str, Any], message: str) -> None:
    """Columns, units, stamps and clocks that cannot be are errors of their key."""
    data = {
        "site": PLACE,
        "weather": {"file": "year.csv", "columns": COLUMNS} | weather,
        "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
        "battery": {"capacity_ah": 50},
        "pump": {"power_w": 20},
    }
    with pytest.raises(InputError, match=message):
        parse(data, Path("pond.toml"))


def place_without(name: str) -> dict[str, Any]:
    """A scenario with a table whose place lacks a value."""
    return {
        "site": {key: value for key, value in PLACE.items() if key != name},
        "weather": {"file": "year.csv", "columns": COLUMNS},
        "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
        "battery": {"capacity_ah": 50},
        "pump": {"power_w": 20},
    }


@pytest.mark.parametrize("name", ["latitude_deg", "longitude_deg"])
def test_a_table_needs_a_place(name: str) -> None:
    """A table does not say where it was recorded: latitude and longitude are asked for."""
    with pytest.raises(InputError, match=f"site.{name}: allowed is a number"):
        parse(place_without(name), Path("pond.toml"))


def test_a_clock_that_nobody_tells_is_the_place_s() -> None:
    """Eastern standard time by the coordinates; a table that tells its own clock is left to it."""
    data = place_without("utc_offset_h")
    assert parse(data, Path("pond.toml")).site.utc_offset_h == -5.0
    data["weather"]["columns"] = COLUMNS | {"time_zone": "Etc/UTC"}
    assert parse(data, Path("pond.toml")).site.utc_offset_h is None


@pytest.mark.parametrize(
    ("told", "form"), [({"utc_offset_h": 0.0}, "{:%Y-%m-%d %H:%M}"), ({}, "{:%Y-%m-%dT%H:%M+00:00}")]
)
def test_clocks_a_quarter_apart_share_the_hours_out(told: dict[str, Any], form: str, asked: Asked) -> None:
    """Universal hours at a place 5 h 15 min behind: an hour takes a quarter of the row that begins in it.

    Written with an offset of each stamp's own too. The sums stay (derived: a mean of neighbours moves nothing).
    """
    rows = [
        f"{form.format(datetime.fromisoformat(row.split(';', 1)[0]) + timedelta(hours=5))};{row.split(';', 1)[1]}"
        for row in YEAR
    ]
    weather = weather_for(asked(rows, site=PLACE | {"utc_offset_h": -5.25}, **told))
    light = TABLE[:, 0]
    np.testing.assert_allclose(weather.ghi[2:-6], (0.75 * light + 0.25 * np.roll(light, -1))[2:-6], atol=0.01)
    assert weather.utc_offset_h == -5.25 and any("45 minutes past" in note for note in weather.notes)


def test_half_hours_of_one_and_the_same_clock_are_no_hours(asked: Asked) -> None:
    """Stamps of the middle that are said to be starts are refused: no clock explains them."""
    rows = [f"{datetime.fromisoformat(r.split(';', 1)[0]) + timedelta(minutes=30)};{r.split(';', 1)[1]}" for r in YEAR]
    with pytest.raises(InputError, match="one row an hour, full hours on a clock -5 h from UTC"):
        weather_for(asked(rows))


def test_an_hour_after_a_gap_stands_for_itself() -> None:
    """Where the row before is not the hour before, nothing is mixed in (derived by hand)."""
    import pandas as pd

    starts = pd.DatetimeIndex(["2001-01-01 00:30", "2001-01-01 01:30", "2001-01-01 04:30"])
    rows = pd.DataFrame({"ghi": [100.0, 200.0, 400.0]})
    shared, hours, notes = on_full_hours(rows, ["ghi"], starts)
    assert shared["ghi"].tolist() == [100.0, 150.0, 400.0] and hours.hour.tolist() == [0, 1, 4]
    assert "30 minutes past" in notes[0]
