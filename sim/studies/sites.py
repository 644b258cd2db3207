"""Many sites: where their scenarios are, what is read for each of them, and all of them, the most worrying first."""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter, OrderedDict
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sim.errors import InputError
from sim.files import read_bytes
from sim.scenario import Scenario, parse, read_toml
from sim.scenario.weather import existing
from sim.weather import Weather, weathers_for

SUFFIX = ".toml"
WEATHERS_KEPT = 4  # of the last distinct weathers; one year has half a megabyte
ERROR_ROW = ("title", "pump_hours", "hours_met_share", "worst_month", "longest_stop_h", "min_soc", "warnings", "worry")


@dataclass(frozen=True)
class Place:
    """Where a scenario is, and the name that its reports bear."""

    path: Path
    name: str


@dataclass(frozen=True)
class Site:
    """A scenario with all that its years need; ``key`` is what its content comes to."""

    place: Place
    scenario: Scenario
    key: str
    weathers: tuple[Weather, ...] = ()


def places_in(given: Sequence[Path], besides: Path) -> list[Place]:
    """The scenarios of files and of folders, subfolders included but ``besides``, each once and with a name of its own.

    Raises InputError for a folder that holds none.
    """
    paths: dict[Path, Path] = {}
    for one in given:
        for path in _found(one, besides.absolute()) if one.is_dir() else [one]:
            paths.setdefault(path.absolute(), path)
    return [Place(path, name) for path, name in zip(paths.values(), names_of(list(paths)), strict=True)]


def _found(folder: Path, besides: Path) -> list[Path]:
    """The scenarios in a folder; what is hidden is none."""
    found = []
    for at, within, names in os.walk(folder):
        within[:] = sorted(one for one in within if not one.startswith(".") and (Path(at) / one).absolute() != besides)
        found += [Path(at) / name for name in sorted(names) if name.endswith(SUFFIX) and not name.startswith(".")]
    if not found:
        raise InputError(str(folder), "", None, f"a folder with scenarios, files that end in {SUFFIX}")
    return found


def names_of(paths: Sequence[Path]) -> list[str]:
    """The files' names without their ends, with as many folders before them as tell them apart.

    >>> names_of([Path("/a/mill/pond.toml"), Path("/a/inn/pond.toml"), Path("/a/inn/rill.toml")])
    ['mill-pond', 'inn-pond', 'rill']
    """
    folders = [list(path.parts[1:-1]) for path in paths]
    names = [path.stem for path in paths]
    while twice := {name for name, times in Counter(names).items() if times > 1}:
        again = [k for k, name in enumerate(names) if name in twice and folders[k]]
        if not again:
            return [f"{name}-{k + 1}" if name in twice else name for k, name in enumerate(names)]
        for k in again:
            names[k] = f"{folders[k].pop()}-{names[k]}"
    return names


@dataclass
class Reader:
    """Reads scenarios and their weather, which sites share where it is the same; ``asked`` is how reports are read."""

    asked: dict[str, Any]
    version: str
    kept: OrderedDict[Hashable, tuple[Weather, ...]] = field(default_factory=OrderedDict)

    def site(self, place: Place) -> Site:
        """A site without its weather; InputError for what is wrong with its scenario."""
        scenario = parse(read_toml(place.path), place.path)
        scenario = scenario.but(report=self.asked) if self.asked else scenario
        return Site(place, scenario, self._key(scenario))

    def _key(self, scenario: Scenario) -> str:
        """What everything that its reports follow from comes to."""
        digest = hashlib.sha256(json.dumps([self.version, self.asked], sort_keys=True).encode())
        for content in (read_bytes(scenario.path, "a scenario file"), *_contents(scenario)):
            digest.update(hashlib.sha256(content).digest())
        return digest.hexdigest()

    def with_weather(self, site: Site) -> Site:
        """The site with the calendar years of its weather; InputError where these cannot be used."""
        scenario = site.scenario
        digests = tuple(hashlib.sha256(content).digest() for content in _contents(scenario))
        nameless = scenario.weather.model_copy(update={"file": None, "files": None})
        key = digests, nameless, scenario.site
        if key not in self.kept:
            self.kept[key] = weathers_for(scenario)
        self.kept.move_to_end(key)
        while len(self.kept) > WEATHERS_KEPT:
            self.kept.popitem(last=False)
        return Site(site.place, scenario, site.key, self.kept[key])


def _contents(scenario: Scenario) -> Iterator[bytes]:
    """What stands in the weather files of a scenario."""
    for key, name in scenario.weather.named_files.items():
        yield read_bytes(existing(scenario.path, key, name), "a weather file")


def read_all(
    places: Iterable[Place], reader: Reader, wrong: Callable[[Place, InputError], None], ready: Callable[[Site], bool]
) -> Iterator[Site]:
    """Sites, each read when it is asked for; those that are ``ready`` are passed over, ``wrong`` ones told."""
    for place in places:
        try:
            site = reader.site(place)
            if not ready(site):
                yield reader.with_weather(site)
        except InputError as error:
            wrong(place, error)


def error_row(place: Place, error: InputError) -> dict[str, Any]:
    """The row of a site that could not be simulated."""
    return {"name": place.name} | dict.fromkeys(ERROR_ROW) | {"report": None, "error": str(error)}


@dataclass(frozen=True)
class Sites:
    """Rows of sites, the most worrying first, and those that could not be simulated last."""

    rows: tuple[dict[str, Any], ...]

    @classmethod
    def of(cls, rows: Iterable[dict[str, Any]]) -> Sites:
        """Rows in their order."""
        return cls(tuple(sorted(rows, key=lambda row: (row["error"] is not None, -(row["worry"] or 0.0), row["name"]))))

    @property
    def simulated(self) -> tuple[dict[str, Any], ...]:
        """Those that were."""
        return tuple(row for row in self.rows if row["error"] is None)

    @property
    def wrong(self) -> tuple[dict[str, Any], ...]:
        """Those that could not be."""
        return tuple(row for row in self.rows if row["error"] is not None)

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        return {"sites": list(self.rows)}
