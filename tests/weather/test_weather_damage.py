"""Damaged weather files of every format: read as if whole, repaired and said, or refused; never silently different."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from types import SimpleNamespace
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from weather.whole_files import HEADS, PLACES, put, whole

from sim.errors import InputError
from sim.scenario.models import Site
from sim.scenario.weather import Columns, Weather
from sim.weather import weather_for
from sim.weather.weather import COLUMNS

Lines = list[str]
Change = Callable[[Lines], Lines | bytes]
NOON = 180 * 24 + 12  # 30 June
LIGHT = ("ghi", "dni", "dhi")


class Damage(NamedTuple):
    """A format, what is done to its file, and the one message or note that must come; none if all is read."""

    form: str
    name: str
    change: Change
    refused: str = ""
    said: str = ""


def figures(
    form: str, quantities: Sequence[str], change: Callable[[float], object], hours: slice = slice(None)
) -> Change:
    """Some quantities changed in some hours."""

    def changed(lines: Lines) -> Lines:
        head, rows = lines[: HEADS[form]], lines[HEADS[form] :]
        for quantity in quantities:
            rows[hours] = [put(form, row, quantity, change) for row in rows[hours]]
        return head + rows

    return changed


def hours_moved(form: str, stamp: Callable[[str], int], by: int, hours: slice = slice(None)) -> Change:
    """The figures of some hours move on by an hour or more while the stamps stay."""

    def moved(lines: Lines) -> Lines:
        head, rows = lines[: HEADS[form]], lines[HEADS[form] :]
        part = rows[hours]
        turned = part[-by:] + part[:-by]
        rows[hours] = [at[: stamp(at)] + row[stamp(row) :] for at, row in zip(part, turned, strict=True)]
        return head + rows

    return moved


def rows_out(form: str, first: int, count: int) -> Change:
    """Some hours are missing."""
    start = HEADS[form] + first
    return lambda lines: [*lines[:start], *lines[start + count :]]


def row_twice(form: str) -> Change:
    """An hour is there twice."""
    return lambda lines: [*lines[: HEADS[form] + NOON], lines[HEADS[form] + NOON - 1], *lines[HEADS[form] + NOON :]]


def swapped(form: str, one: str, other: str) -> Change:
    """Two columns have changed places."""

    def changed(lines: Lines) -> Lines:
        head, rows = lines[: HEADS[form]], lines[HEADS[form] :]
        mark, (a, b) = (";" if form == "CSV" else ","), (PLACES[form][one], PLACES[form][other])
        out = []
        for row in rows:
            cells = row.split(mark)
            cells[a], cells[b] = cells[b], cells[a]
            out.append(mark.join(cells))
        return head + out

    return changed


def in_head(number: int, old: str, new: str) -> Change:
    """A word of a header line is another."""

    def changed(lines: Lines) -> Lines:
        assert old in lines[number]
        return [*lines[:number], lines[number].replace(old, new), *lines[number + 1 :]]

    return changed


def encoded(encoding: str, ending: str = "\n", before: str = "") -> Change:
    """The same text in another encoding, with other line ends."""
    return lambda lines: (before + ending.join(lines) + ending).encode(encoding)


def stamps(write: Callable[[datetime], str]) -> Change:
    """The stamps of the table written in another way."""

    def changed(lines: Lines) -> Lines:
        cells = [line.split(";", 1) for line in lines[1:]]
        return [lines[0], *(f"{write(datetime.fromisoformat(at))};{rest}" for at, rest in cells)]

    return changed


def on_the_wall(at: datetime) -> str:
    """A stamp as a clock on the wall shows it, with summer time."""
    moment = (at + timedelta(hours=5)).replace(tzinfo=ZoneInfo("UTC")).astimezone(ZoneInfo("America/New_York"))
    return f"{moment:%Y-%m-%d %H:%M}"


def leap_day(form: str) -> Change:
    """29 February is there too, as the 28th was."""

    def added(lines: Lines) -> Lines:
        end = HEADS[form] + 59 * 24
        day = lines[end - 24 : end]
        old, new = {"EPW": (",2,28,", ",2,29,"), "TMY3": ("02/28/", "02/29/"), "CSV": ("-02-28", "-02-29")}[form]
        return [*lines[:end], *(line.replace(old, new, 1) for line in day), *lines[end:]]

    return added


def day_repeated(lines: Lines) -> Lines:
    """A logger writes the same day for five days."""
    out = list(lines)
    for day in range(181, 186):
        for hour in range(24):
            at, source = 1 + day * 24 + hour, lines[1 + 180 * 24 + hour]
            out[at] = ";".join([lines[at].split(";")[0], *source.split(";")[1:]])
    return out


AFTER_STAMP = {
    "CSV": lambda line: line.index(";"),
    "EPW": lambda line: [k for k, sign in enumerate(line) if sign == ","][3],
    "TMY2": lambda line: 9,
}
CLOCK = r'clock = "\d+ minutes (late|early)": allowed is less than 45 minutes'
GAP = slice(NOON, NOON + 2)
DAMAGES = (
    # the text
    Damage("CSV", "line ends of old desktops", encoded("utf-8", "\r")),
    Damage("CSV", "line ends of other systems", encoded("utf-8", "\r\n")),
    Damage("CSV", "byte order mark", encoded("utf-8-sig")),
    Damage("CSV", "sixteen bits", encoded("utf-16")),
    Damage("TMY3", "sixteen bits", encoded("utf-16")),
    Damage("CSV", "a preamble in the old western encoding", encoded("latin-1", before="Gärtnerei;Süd\n\n")),
    Damage("EPW", "line ends of other systems", encoded("utf-8", "\r\n")),
    Damage("CSV", "blank lines", lambda lines: [part for line in lines for part in (line, "")]),
    Damage("CSV", "decimal commas", lambda lines: [line.replace(".", ",") for line in lines]),
    Damage("CSV", "quotes", lambda lines: [";".join(f'"{cell}"' for cell in line.split(";")) for line in lines]),
    Damage("CSV", "tabs", lambda lines: [line.replace(";", "\t") for line in lines]),
    Damage(
        "CSV",
        "points and commas",
        lambda lines: [*lines[:3000], lines[3000].replace(".", ","), *lines[3001:]],
        refused="decimals: allowed is point or comma",
    ),
    Damage("CSV", "nothing", lambda lines: b"", refused="this one is empty"),
    Damage("CSV", "only headings", lambda lines: lines[:1], refused="rows below the headings"),
    # cut and torn
    Damage("CSV", "cut", lambda lines: lines[:6000], refused="rows missing for 2761 h"),
    Damage("CSV", "cut in a line", lambda lines: [*lines[:6000], lines[6000][:20]], refused="line 6001: .* 6 cells"),
    Damage("EPW", "cut", lambda lines: lines[:6000], refused="rows missing for 2768 h"),
    Damage("TMY2", "cut", lambda lines: lines[:6000], refused="rows missing for 2761 h"),
    Damage("EPW", "a header line lost", lambda lines: [*lines[:7], *lines[8:]], said="Filled: 1 missing row"),
    Damage("CSV", "two hours lost", rows_out("CSV", NOON, 2), said="Filled: 2 missing rows"),
    Damage("TMY2", "three hours lost", rows_out("TMY2", NOON, 3), said="Filled: 3 missing rows"),
    Damage(
        "TMY2",
        "a space too many",
        lambda lines: [*lines[:900], " " + lines[900], *lines[901:]],
        refused="TMY2 data|line 901|month",
    ),
    Damage(
        "CSV",
        "a column lost",
        lambda lines: [line.rsplit(";", 1)[0] for line in lines],
        refused='= "W": allowed is the heading',
    ),
    Damage(
        "CSV",
        "a heading twice",
        lambda lines: [f"{lines[0]};B", *(f"{line};1" for line in lines[1:])],
        refused="heading that stands over one column",
    ),
    # no data
    Damage(
        "CSV", "empty cells", figures("CSV", ["temp_air"], lambda _: "", GAP), said="Filled: 2 hours without temp_air"
    ),
    Damage(
        "CSV", "NaN", figures("CSV", ["ghi"], lambda _: "NaN", slice(NOON, NOON + 5)), refused="ghi missing for 5 h"
    ),
    Damage("EPW", "NaN", figures("EPW", ["temp_air"], lambda _: "NaN", GAP), said="Filled: 2 hours without temp_air"),
    Damage("CSV", "-999", figures("CSV", LIGHT, lambda _: -999, GAP), said="Filled: 2 hours without ghi"),
    Damage("EPW", "9999", figures("EPW", ["ghi"], lambda _: 9999, GAP), said="Filled: 2 hours without ghi"),
    Damage("EPW", "99.9", figures("EPW", ["temp_air"], lambda _: 99.9, GAP), said="Filled: 2 hours without temp_air"),
    Damage("TMY2", "9999", figures("TMY2", ["dhi"], lambda _: 9999, GAP), said="Filled: 2 hours without dhi"),
    Damage(
        "TMY3", "-9900", figures("TMY3", ["ghi"], lambda _: -9900, slice(NOON, NOON + 9)), refused="ghi missing for 9 h"
    ),
    Damage(
        "CSV",
        "zeros for none at noon",
        figures("CSV", ["ghi"], lambda _: 0, GAP),
        said="Taken as missing: ghi in 2 hours",
    ),
    Damage(
        "EPW",
        "zeros for none at noon",
        figures("EPW", LIGHT, lambda _: 0, GAP),
        said="Taken as missing: ghi in 2 hours",
    ),
    Damage(
        "TMY3", "zeros for a day", figures("TMY3", LIGHT, lambda _: 0, slice(4320, 4344)), refused="ghi missing for"
    ),
    Damage(
        "CSV",
        "zero degrees for none",
        figures("CSV", ["temp_air"], lambda _: 0, GAP),
        said="Taken as missing: temp_air",
    ),
    # wrong figures
    Damage(
        "CSV",
        "a slipped decimal of air",
        figures("CSV", ["temp_air"], lambda c: 2 * c, slice(NOON, NOON + 1)),
        said="Taken as missing: temp_air in 1 hour",
    ),
    Damage(
        "CSV",
        "a digit of light lost",
        figures("CSV", ["ghi"], lambda wm2: wm2 // 10, slice(NOON, NOON + 1)),
        said="Taken as missing: ghi, dni, dhi in 1 hour",
    ),
    Damage(
        "TMY3",
        "a digit of light lost",
        figures("TMY3", ["dni"], lambda wm2: wm2 // 10, slice(NOON, NOON + 1)),
        said="Taken as missing: ghi, dni, dhi in 1 hour",
    ),
    Damage(
        "EPW",
        "a dark sensor's offset",
        figures("EPW", ["ghi"], lambda wm2: wm2 - 3, slice(0, 5)),
        said="Set to 0: 5 hours",
    ),
    Damage(
        "CSV",
        "negative light",
        figures("CSV", ["dhi"], lambda wm2: -wm2, GAP),
        refused="dhi = -.*allowed is -4 to|dhi = -.*allowed is",
    ),
    Damage(
        "CSV", "words", figures("CSV", ["wind_speed"], lambda _: "calm", GAP), refused='W = "calm": allowed is a number'
    ),
    Damage(
        "CSV",
        "air that stands still",
        figures("CSV", ["temp_air"], lambda _: 21.5, slice(NOON, NOON + 120)),
        refused="21.5 C stands for 120 h",
    ),
    Damage("CSV", "a day five times over", day_repeated, refused="ghi, .*alike to the watt"),
    Damage(
        "EPW",
        "an hour that no sun explains",
        figures("EPW", LIGHT, lambda wm2: wm2 + 500, slice(47 * 24 + 17, 47 * 24 + 18)),
        said="Taken as missing: ghi, dni, dhi in 1 hour, the first at line 1154 (17 February 17:00): more light than",
    ),
    Damage(
        "TMY3",
        "light at one midnight",
        figures("TMY3", ["ghi"], lambda _: 60, slice(0, 1)),
        said="more light than arrives above the atmosphere",
    ),
    Damage(
        "CSV",
        "many hours that no sun explains",
        figures("CSV", ["ghi"], lambda wm2: wm2 + 60, slice(0, 8760)),
        refused="ghi = .*what arrives above the atmosphere in that hour; .* more rows like it",
    ),
    # units and columns
    Damage("CSV", "air in F", figures("CSV", ["temp_air"], lambda c: c * 1.8 + 32), refused="temp_air = .*allowed is"),
    Damage("EPW", "air in F", figures("EPW", ["temp_air"], lambda c: c * 1.8 + 32), refused="temp_air = .*allowed is"),
    Damage(
        "EPW",
        "air in K",
        figures("EPW", ["temp_air"], lambda c: c + 273.15),
        refused="temp_air = .*allowed is -90 to 60 C",
    ),
    Damage(
        "CSV",
        "air in F from June",
        figures("CSV", ["temp_air"], lambda c: c * 1.8 + 32, slice(3624, None)),
        refused="temp_air",
    ),
    Damage(
        "CSV",
        "light in kW/m2",
        figures("CSV", LIGHT, lambda wm2: wm2 / 1000),
        refused=r"ghi of the year = .*another unit or column",
    ),
    Damage("EPW", "light in kJ/m2", figures("EPW", LIGHT, lambda wm2: wm2 * 3.6), refused="allowed is .* W/m2"),
    Damage(
        "TMY3", "light in Btu/ft2", figures("TMY3", LIGHT, lambda wm2: round(wm2 * 0.317)), refused="ghi of the year"
    ),
    Damage("CSV", "light in cal/cm2", figures("CSV", LIGHT, lambda wm2: wm2 * 0.086), refused="ghi of the year"),
    Damage("CSV", "wind in km/h", figures("CSV", ["wind_speed"], lambda ms: ms * 3.6), refused="wind_speed = .*km/h"),
    Damage("CSV", "global and diffuse swapped", swapped("CSV", "ghi", "dhi"), refused="allowed is"),
    Damage("EPW", "beam and diffuse swapped", swapped("EPW", "dni", "dhi"), refused="allowed is"),
    Damage("CSV", "global and beam swapped", swapped("CSV", "ghi", "dni"), refused="allowed is"),
    Damage("CSV", "air and wind swapped", swapped("CSV", "temp_air", "wind_speed"), refused="allowed is"),
    Damage(
        "EPW",
        "light above the atmosphere as global",
        figures("EPW", ["ghi"], lambda wm2: wm2 * 1.6),
        refused="allowed is",
    ),
    # clock and calendar
    Damage("CSV", "an hour twice", row_twice("CSV"), refused="one row an hour; of 1 repeated hour"),
    Damage("EPW", "an hour twice", row_twice("EPW"), refused="one row an hour; of 1 repeated hour"),
    Damage(
        "CSV",
        "two hours exchanged",
        lambda lines: [*lines[:500], lines[501], lines[500], *lines[502:]],
        refused="rows in order",
    ),
    Damage("CSV", "hours' ends taken for starts", stamps(lambda at: f"{at + timedelta(hours=1)}"), refused=CLOCK),
    Damage("CSV", "universal time taken for local", stamps(lambda at: f"{at + timedelta(hours=5)}"), refused=CLOCK),
    Damage("CSV", "summer time in the stamps", stamps(on_the_wall), refused="one row an hour; of 1 repeated hour"),
    Damage(
        "CSV",
        "summer time in the light",
        hours_moved("CSV", AFTER_STAMP["CSV"], 1, slice(2000, 7000)),
        refused="daylight saving in the stamps",
    ),
    Damage(
        "EPW",
        "summer time in the light",
        hours_moved("EPW", AFTER_STAMP["EPW"], 1, slice(2000, 7000)),
        refused="daylight saving in the stamps",
    ),
    Damage("EPW", "an hour late", hours_moved("EPW", AFTER_STAMP["EPW"], 1), refused=CLOCK),
    Damage("TMY2", "two hours late", hours_moved("TMY2", AFTER_STAMP["TMY2"], 2), refused=CLOCK),
    Damage("CSV", "twelve hours late", hours_moved("CSV", AFTER_STAMP["CSV"], 12), refused="clock|allowed is"),
    Damage("CSV", "day first", stamps(lambda at: f"{at:%d.%m.%Y %H:%M}")),
    Damage(
        "CSV",
        "midnight as 24:00",
        stamps(lambda at: f"{at - timedelta(days=1):%Y-%m-%d} 24:00" if at.hour == 0 else f"{at}"),
    ),
    Damage(
        "CSV",
        "stamps of half hours",
        stamps(lambda at: f"{at + timedelta(minutes=30)}"),
        refused="one row an hour, full hours",
    ),
    Damage(
        "CSV", "29 February of a common year", leap_day("CSV"), refused="a date and a time like those of the other rows"
    ),
    Damage("EPW", "29 February", leap_day("EPW"), said="29 February was left out: 2001 has none."),
    Damage("TMY3", "29 February", leap_day("TMY3"), said="29 February was left out: 2001 has none."),
    # the header
    Damage(
        "EPW",
        "south for north",
        in_head(0, ",36.1,", ",-36.1,"),
        refused="site = .*sun fits the light; it seems that the latitude has the wrong sign",
    ),
    Damage(
        "EPW",
        "places changed",
        in_head(0, ",36.1,-79.95,", ",-79.95,36.1,"),
        refused="clock = .*; what fits: .*latitude and longitude in each other's place",
    ),
    Damage(
        "TMY2",
        "east for west",
        in_head(0, " W ", " E "),
        refused=f"{CLOCK}.*; what fits: the longitude with the other sign",
    ),
    Damage(
        "EPW",
        "east for west",
        in_head(0, ",-79.95,", ",79.95,"),
        refused=f"{CLOCK}.*; what fits: the longitude with the other sign",
    ),
    Damage(
        "TMY3",
        "the clock's sign",
        in_head(0, ",-5.0,", ",5.0,"),
        refused=f"{CLOCK}.*; what fits: .*utc_offset_h with the other sign",
    ),
)


def read(form: str, path: Path) -> Any:
    """The weather of a file of a format, asked for as a scenario does."""
    columns = {
        "time": "at",
        "stamp": "hour-start",
        **{name: {"column": heading, "unit": "W/m2"} for name, heading in zip(LIGHT, "GBD", strict=True)},
        "temp_air": {"column": "T", "unit": "C"},
        "wind_speed": {"column": "W", "unit": "m/s"},
    }
    placed = Site(latitude_deg=36.1, longitude_deg=-79.95, elevation_m=273.0, utc_offset_h=-5.0)
    told = {"columns": Columns.model_validate(columns)} if form == "CSV" else {}
    weather = Weather(file=path.name, **told)
    return weather_for(
        SimpleNamespace(path=path.with_name("pond.toml"), site=placed if told else Site(), weather=weather)
    )


@pytest.fixture(scope="session")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Any]:
    """The weather of the whole file of each format, read once."""
    folder = tmp_path_factory.mktemp("sound")

    @cache
    def of(form: str) -> Any:
        path = folder / f"{form}.txt"
        path.write_text("\n".join(whole(form)) + "\n")
        return read(form, path)

    return of


def values(weather: Any) -> np.ndarray:
    """(hours, 5) of a weather year."""
    return np.column_stack([getattr(weather, name) for name in COLUMNS])


def test_there_are_fifty_kinds_and_all_formats() -> None:
    """The list is what it says: more than fifty, each once, every format, repairs and refusals."""
    names = [(damage.form, damage.name) for damage in DAMAGES]
    assert len(set(names)) == len(names) >= 50
    assert {form for form, _ in names} == set(HEADS)
    assert sum(bool(damage.said) for damage in DAMAGES) >= 15 and sum(bool(damage.refused) for damage in DAMAGES) >= 30


@pytest.mark.parametrize("damage", DAMAGES, ids=[f"{damage.form}: {damage.name}" for damage in DAMAGES])
def test_no_damage_changes_a_result_silently(damage: Damage, sound: Callable[[str], Any], tmp_path: Path) -> None:
    """A refusal names what is wrong; a repair is said and near the truth in a few hours; all else is as it was."""
    path = tmp_path / "year.txt"
    made = damage.change(list(whole(damage.form)))
    path.write_bytes(made if isinstance(made, bytes) else ("\n".join(made) + "\n").encode())
    if damage.refused:
        with pytest.raises(InputError, match=damage.refused) as caught:
            read(damage.form, path)
        assert "\n" not in str(caught.value) and str(path) in str(caught.value)
        return
    found, truth = read(damage.form, path), sound(damage.form)
    new = [note for note in found.notes if note not in truth.notes]
    assert any(damage.said in note for note in new) if damage.said else not new
    off = np.abs(values(found) - values(truth))
    assert (off > 0).any(axis=1).sum() <= (5 if damage.said else 0)
    np.testing.assert_allclose(values(found).mean(axis=0), values(truth).mean(axis=0), rtol=1e-3)
