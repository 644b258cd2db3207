"""One design over a region: what it does in the world climate of each place, and what panel it would need."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from sim import hands
from sim.catalogue.world import LATITUDES
from sim.catalogue.zones import zone_at
from sim.errors import InputError
from sim.figures.lanes import figures_of
from sim.figures.planned import wanted_by_day
from sim.light.sunlight import sunlight_on
from sim.plant.records import SKY
from sim.plant.run import How, run, tally
from sim.plant.sky import sky_row
from sim.scenario import Scenario, parse
from sim.studies.common_light import scaled
from sim.studies.common_years import met_shares, wanted_in
from sim.studies.size import crossing
from sim.studies.sweep import steps
from sim.weather import Weather, weather_for

KEY = "--grid"
MET = 0.95  # of the wanted hours of every month: what the panel is to be large enough for
TIMES = tuple(float(round(2.0 ** (k / 2.0), 3)) for k in range(-2, 9))  # of the design's panel: half of it to 16 times
MOST_PLACES = 20_000
LEAST_STEP_DEG = 0.1
AT_SEA = "Etc/"
LABEL = ("power_w", "imp_a", "isc_a")  # what grows with a panel of the same voltages


class Region(NamedTuple):
    """A grid from one corner to the other, both included where the step meets them, in degrees."""

    south_deg: float
    north_deg: float
    west_deg: float
    east_deg: float
    step_deg: float

    @property
    def latitudes_deg(self) -> list[float]:
        """From south to north."""
        return steps(self.south_deg, self.north_deg, self.step_deg)

    @property
    def longitudes_deg(self) -> list[float]:
        """From west to east."""
        return steps(self.west_deg, self.east_deg, self.step_deg)


def region_of(file: str, given: Sequence[float]) -> Region:
    """The region that was asked for; InputError for one that is none, or too large.

    >>> region_of("pond.toml", [50.0, 52.0, -3.0, 1.0, 2.0]).longitudes_deg
    [-3.0, -1.0, 1.0]
    """
    south, north, west, east, step = given
    words = " ".join(f"{value:g}" for value in given)
    if not (LATITUDES[0] <= south <= north <= LATITUDES[1] and -180.0 <= west <= east <= 180.0):
        south_most, north_most = LATITUDES
        allowed = (
            f"two latitudes from {south_most:g} to {north_most:g}, then two longitudes from -180 to 180, lower first"
        )
        raise InputError(file, KEY, words, allowed)
    if not LEAST_STEP_DEG <= step <= 90.0:
        raise InputError(file, KEY, words, f"a step from {LEAST_STEP_DEG:g} to 90 degrees")
    region = Region(south, north, west, east, step)
    if len(region.latitudes_deg) * len(region.longitudes_deg) > MOST_PLACES:
        raise InputError(file, KEY, words, f"a region and a step that make at most {MOST_PLACES} places")
    return region


@dataclass(frozen=True)
class There:
    """What a design does at a place; ``panel_w`` is the panel that is enough in every month, infinite if none is."""

    latitude_deg: float
    longitude_deg: float
    hours_met_share: float
    worst_month: int
    worst_month_met: float
    panel_w: float

    def as_json(self) -> dict[str, Any]:
        """Plain data; no panel that is large enough is null."""
        return vars(self) | {"panel_w": self.panel_w if np.isfinite(self.panel_w) else None}


@dataclass(frozen=True)
class GridResult:
    """A design over a region; ``places`` are those on land, row by row from the south."""

    scenario: Scenario
    region: Region
    places: tuple[There, ...]

    def table(self, name: str) -> np.ndarray:
        """(latitudes, longitudes) of a figure, nan at sea."""
        latitudes, longitudes = self.region.latitudes_deg, self.region.longitudes_deg
        found = np.full((len(latitudes), len(longitudes)), np.nan)
        for one in self.places:
            found[latitudes.index(one.latitude_deg), longitudes.index(one.longitude_deg)] = getattr(one, name)
        return found

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "grid": self.region._asdict() | {"met": MET, "places": [one.as_json() for one in self.places]},
        }


@dataclass(frozen=True)
class At:
    """The work on a place: plain data of the design, and the file that they are from."""

    data: Mapping[str, Any]
    path: Path

    def __call__(self, at: tuple[float, float], told: hands.Told) -> There | None:
        """What the design does there, None at sea and where it can have no year."""
        told(1)
        try:
            return None if at_sea(*at) else self._there(*at)
        except InputError:
            return None

    def _there(self, latitude_deg: float, longitude_deg: float) -> There:
        moved = moved_to(self.data, latitude_deg, longitude_deg)
        designs = [one for one in (larger(moved, times, self.path) for times in TIMES) if one]
        own = parse(moved, self.path)
        weather = weather_for(own)
        share, worst, month = met_by([own, *designs], weather)
        watts = np.log([one.panel.power_w * one.panel.count for one in designs])
        needed = crossing(watts, worst[1:] - MET)
        panel_w = needed if np.isfinite(needed) else np.inf
        return There(latitude_deg, longitude_deg, float(share[0]), int(month[0]), float(worst[0]), panel_w)


def at_sea(latitude_deg: float, longitude_deg: float) -> bool:
    """Whether a place is in no country's time zone.

    >>> at_sea(45.0, -30.0), at_sea(51.5, -2.6)
    (True, False)
    """
    return zone_at(latitude_deg, longitude_deg).startswith(AT_SEA)


def moved_to(data: Mapping[str, Any], latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    """A design at another place, in its world climate and by its clock, on the equator's side, without its shades."""
    moved = copy.deepcopy(dict(data))
    for name in ("alternative", "size", "weather"):
        moved.pop(name, None)
    year = data.get("weather", {}).get("year")
    if year is not None:
        moved["weather"] = {"year": year}
    site, panel = dict(moved.get("site", {})), dict(moved.get("panel", {}))
    for name in ("elevation_m", "utc_offset_h"):
        site.pop(name, None)
    panel.pop("shade", None)
    panel.pop("azimuth_deg", None)
    place = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return moved | {"site": site | place, "panel": panel}


def larger(data: Mapping[str, Any], times: float, path: Path) -> Scenario | None:
    """The design with a panel of so many times the power, and a controller for it; None where there is none such."""
    panel, controller = dict(data["panel"]), dict(data.get("controller", {}))
    panel |= {name: panel[name] * times for name in LABEL}
    if "max_charge_a" in controller:
        controller["max_charge_a"] *= max(times, 1.0)
    try:
        return parse(dict(data) | {"panel": panel, "controller": controller}, path)
    except InputError:
        return None


def met_by(designs: Sequence[Scenario], weather: Weather) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(designs,) the share of wanted hours met, that of the worst month, and which month 1…12 that is.

    The designs differ by the size of their panel alone: their light is that of the first, scaled.
    """
    table = np.empty((len(designs), len(weather.ghi)), SKY)
    first = designs[0]
    sky_row(sunlight_on(first, weather), weather, first.battery, table[0])
    for row, one in enumerate(designs[1:], 1):
        scaled(table[0], one.panel.power_w / first.panel.power_w, table[row])
    months, wanted_h = weather.index.month.to_numpy()[::24], wanted_in(first, weather)
    wanted = wanted_by_day(first, months)
    how = How(places=range(len(designs)), at_once=len(designs))
    figures = np.array(run(designs, table, lambda log, _: figures_of(log, months, wanted), how))
    by_month = np.where(wanted_h > 0.0, figures["met_h"] / np.maximum(wanted_h, 1e-9), np.inf)
    return *met_shares(figures, wanted_h), by_month.argmin(axis=1) + 1


def study_grid(
    data: Mapping[str, Any],
    path: Path,
    region: Region,
    progress: Callable[[int, int], None] = lambda done, of: None,
) -> GridResult:
    """A design over a region; nothing is written. InputError where it cannot be moved there."""
    scenario = parse(moved_to(data, region.south_deg, region.west_deg), path)
    places = [(one, other) for one in region.latitudes_deg for other in region.longitudes_deg]
    found = hands.in_order(
        hands.now(), At(data, path), places, tally(progress, len(places)), "{0[0]:g}, {0[1]:g}".format
    )
    return GridResult(scenario, region, tuple(one for one in found if one))
