"""The studies as the page offers them: each ends in the very reports that its command writes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import accumulate, groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sim.errors import InputError
from sim.page.text import GONE, data_of, number
from sim.scenario import Scenario, parse
from sim.scenario.choice import AS_IT_IS

if TYPE_CHECKING:
    from sim.page.folder import Folder
    from sim.page.store import Kept, State
    from sim.studies.designs import Design
    from sim.studies.pair import Pair

MAP_STEP_V = 0.2  # of the map, for each 12 V: a few seconds' work
POOR_OF = 200  # synthetic years, as the command takes them
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Asked:
    """What a study is asked about: the scenario as it stood, and the designs that were put aside."""

    scenario: Scenario
    text: str
    kept: tuple[Kept, ...]

    @classmethod
    def about(cls, state: State, path: Path) -> Asked:
        """The state of a scenario; InputError where it is not whole."""
        return cls(parse(data_of(state.text, str(path)), path), state.text, state.kept)


@dataclass(frozen=True)
class Made:
    """What a study came to: HTML by file name, and what it offers to change in the scenario, in words and by keys."""

    reports: dict[str, str]
    offer: str = ""
    changes: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Study:
    """A study: its words, what it makes, and the command that gives the same."""

    words: str
    make: Callable[[Asked, Progress], Made]
    command: Callable[[Asked], str]


def _year(asked: Asked, progress: Progress) -> Made:
    from sim.report.render import year_report
    from sim.studies.yearly import study_year

    progress(0, 1)
    made = year_report(study_year(asked.scenario))
    progress(1, 1)
    return Made({f"{asked.scenario.name}-year.html": made})


def _pairs(asked: Asked, progress: Progress) -> Made:
    from sim.report.pairs import pairs_report
    from sim.studies.pairs import study_pairs

    return Made({f"{asked.scenario.name}-pairs.html": pairs_report(study_pairs(asked.scenario, progress=progress))})


def _compare(asked: Asked, progress: Progress) -> Made:
    from sim.report.compare import compare_report
    from sim.studies.compare import study_compare

    made = study_compare(tuple(designs_of(asked)), progress)
    return Made({f"{asked.scenario.name}-compare.html": compare_report(made)})


def _spread(asked: Asked, progress: Progress) -> Made:
    from sim.report.spread import poor_year_report, spread_report
    from sim.studies.spread import study_spread

    found, name = study_spread(asked.scenario, POOR_OF, progress=progress), asked.scenario.name
    return Made({f"{name}-spread.html": spread_report(found), f"{name}-poor-year.html": poor_year_report(found)})


def _size(asked: Asked, progress: Progress) -> Made:
    from sim.report.size import size_report
    from sim.studies.size import study_size

    found = study_size(next(designs_of(asked)), progress=progress)
    reports = {f"{asked.scenario.name}-size.html": size_report(found)}
    return Made(reports, "take the found design over", found.changes) if found.chosen else Made(reports)


def weather_study(asked: Asked, typed: Mapping[str, str], folder: Folder) -> Study:
    """To fetch a year of the scenario's place into the folder; InputError where the year or the place is none."""
    from sim.weather.fetch import YEARS, Place

    site = asked.scenario.site
    if site.latitude_deg is None or site.longitude_deg is None:
        raise InputError("the page", "site.latitude_deg", None, "the coordinates of the place whose weather is fetched")
    year = number(typed.get("year", ""))
    if not isinstance(year, int) or not YEARS[0] <= year <= YEARS[1]:
        raise InputError("the page", "year", typed.get("year", ""), f"a year from {YEARS[0]} to {YEARS[1]}")
    place = Place.at(site.latitude_deg, site.longitude_deg, site.utc_offset_h, year)

    def fetched(_: Asked, progress: Progress) -> Made:
        from sim.report.weather import weather_report
        from sim.studies.weather import fetch

        result = fetch(place, [year], folder.root, told=progress)
        others = dict.fromkeys(("weather.files", "weather.sample", "weather.monthly"), GONE)
        reports = {f"{result.name}-weather.html": weather_report(result, asked.scenario.report.units)}
        return Made(reports, "take this weather", {**others, "weather.file": result.written[0].name})

    where = f"--latitude {place.latitude_deg:g} --longitude {place.longitude_deg:g}"
    return Study(f"the weather of {year}", fetched, lambda _: f"sunrill weather {where} --year {year}")


READINGS = ("volts_on", "volts_off", "amps", "charging")


def diagnosis_study(asked: Asked, typed: Mapping[str, str], folder: Folder) -> Study:
    """What may be wrong, by what was read or logged; InputError where that cannot be, or nothing was."""
    from sim.studies.diagnose import moment_of
    from sim.studies.diagnose_hand import Hand, check_hand

    given = {key: value for key in (*READINGS, "at", "log", "symptom") if (value := typed.get(key, ""))}
    read = {key: _number(key, given[key]) for key in READINGS if key in given}
    hand = Hand(**read, at_s=moment_of(given.get("at")), symptom=given.get("symptom"))  # type: ignore[arg-type]
    check_hand(asked.scenario, hand)
    log = folder.inside(given["log"]) if "log" in given else None
    if log is None and not hand.told:
        raise InputError("the page", "what was seen", None, "a reading, a log or a complaint")

    def weighed(_: Asked, progress: Progress) -> Made:
        from sim.report.diagnose import diagnosis_report
        from sim.studies.diagnose import study_diagnose

        found = study_diagnose(asked.scenario, hand, log, progress)
        return Made({f"{asked.scenario.name}-diagnosis.html": diagnosis_report(found)})

    shown = given | {key: f"{value:g}" for key, value in read.items()}
    words = " ".join(f'--{key.replace("_", "-")} "{value}"' for key, value in shown.items())
    return Study("what is wrong", weighed, lambda _: f'sunrill diagnose "{asked.scenario.path.name}" {words}')


def _number(key: str, typed: str) -> float:
    value = number(typed)
    if value is None:
        raise InputError("the page", key.replace("_", " "), typed, "a number")
    return float(value)


def designs_of(asked: Asked) -> Iterator[Design]:
    """The scenario as it stands, its alternatives, and the designs that were put aside."""
    from sim.studies.designs import Design

    path, data = asked.scenario.path, data_of(asked.text)
    first = Design(AS_IT_IS, {key: value for key, value in data.items() if key != "alternative"}, asked.scenario)
    yield first
    yield from (first.changed(it.name, it.changes, it.cost) for it in asked.scenario.alternative)
    taken = {AS_IT_IS, *(it.name for it in asked.scenario.alternative)}
    for one in asked.kept:
        if one.name not in taken:
            yield Design(one.name, data_of(one.text), parse(data_of(one.text), path))


def _command(name: str) -> Callable[[Asked], str]:
    return lambda asked: f'sunrill {name} "{asked.scenario.path.name}"'


def _compare_command(asked: Asked) -> str:
    """The scenario and, once they are saved as files, the designs that were put aside."""
    return " ".join(("sunrill compare", *(f'"{name}"' for name in (asked.scenario.path.name, *files_of(asked)))))


def files_of(asked: Asked) -> dict[str, str]:
    """The designs that were put aside as scenario texts, by the names of files."""
    stem = asked.scenario.path.stem
    return {f"{stem} - {one.name}.toml": one.text for one in asked.kept}


STUDIES = {
    "year": Study("the year's report", _year, _command("year")),
    "pairs": Study("which pair of voltages", _pairs, _command("pairs")),
    "compare": Study("side by side, and what to change next", _compare, _compare_command),
    "size": Study("what to buy", _size, _command("size")),
    "spread": Study("poor years", _spread, _command("spread")),
}


BY_WHAT_IS_TYPED = {"weather": weather_study, "diagnosis": diagnosis_study}


def mapped(asked: Asked, progress: Progress) -> Iterator[Pair]:
    """The pairs of load voltages one after another as they are worked out, a disconnect voltage at a time."""
    from sim.light.sunlight import sunlight_on
    from sim.plant.sky import sky_row
    from sim.studies.pairs import pair_of
    from sim.studies.sweep import grid, reading_error_v, sweep
    from sim.weather import weather_for

    scenario = asked.scenario
    volts = grid(scenario, MAP_STEP_V * scenario.battery.nominal_v / 12.0, None, None)
    progress(0, len(volts))
    weather = weather_for(scenario)
    sky = sky_row(sunlight_on(scenario, weather), weather, scenario.battery)
    months = weather.index.month.to_numpy()[::24]
    columns = [tuple(column) for _, column in groupby(volts, key=lambda pair: pair[0])]
    for done, column in zip(accumulate(map(len, columns)), columns, strict=True):
        swept = sweep(scenario, sky, months, column, lambda part, of: None)
        yield from (pair_of(swept, k, reading_error_v(scenario)) for k in range(len(column)))
        progress(done, len(volts))
