"""The year's water: what was moved, where it went, what was lost, and how warm the pond was."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from sim.devices.pump import direct
from sim.figures.causes import Stops, whole_stretches
from sim.figures.series import HOURS_A_DAY, by_day, by_month
from sim.figures.water.fish import SMALL_HOURS, ForFish, for_fish, warm_nights
from sim.figures.water.flows import Pipework, pipework_of
from sim.figures.water.pond import Air, Course, cold_season, course, dew_point_c, oxygen_mg_l
from sim.figures.water.radiation import longwave_wm2
from sim.figures.water.stopping import held_back, held_l, longest_at_night, longest_without_h, siphon_l, transit_l
from sim.plant.lanes import pump_path_ohm
from sim.plant.log import Log
from sim.scenario import Scenario
from sim.scenario.models import Pump
from sim.scenario.water import Water as Pond
from sim.weather import Weather

ROUNDING_H = 1e-9  # of an hour that was run through
PONDS = 4  # whose warmth is remembered
NIGHT_STOP_H = 1.0  # without flow between midnight and six that warm water with fish should not have


@dataclass(frozen=True)
class Books:
    """The year's water in litres: pumped = returned + evaporated on the stream + more in transit.

    The level is made up every midnight: by the day's rain as far as that goes, the rest of it runs over, and by what
    is topped up. ``error`` is what pond and
    transit at the year's end differ by from where the flows should have left them.
    """

    pumped: float
    header: float
    branch: float
    returned: float
    evaporated_pond: float
    evaporated_stream: float
    top_up: float
    rain: float
    transit_change: float
    error: float


@dataclass(frozen=True)
class Stopping:
    """What start and stop do, litres; ``freeboard`` and ``basin`` are None where no basin is described."""

    transit: float
    drain_back: float
    siphon: float
    freeboard: float | None
    basin: float | None


@dataclass(frozen=True)
class Level:
    """The level where the pump stands, cm above the ground there: in the basin, or in the pond where there is none.

    It falls at a start by what fills pipes and stream, and rises by as much at a stop.
    """

    standing_cm: float
    fall_cm: float

    @property
    def running_cm(self) -> float:
        """The level while the pump runs."""
        return self.standing_cm - self.fall_cm


@dataclass(frozen=True)
class Temperature:
    """The pond's year: first and last day ("MM-DD") of the season below the cold limit, if there is one, the least
    oxygen at saturation, and nights of warm water, with and without a stop, and hours off in them, from 0 to 6.
    """

    water_c: np.ndarray  # (hours,)
    lowest_c: float
    highest_c: float
    cold_from: str | None
    cold_to: str | None
    least_oxygen_mg_l: float
    warm_nights: int
    warm_night_stops: int
    warm_night_off_h: float


@dataclass(frozen=True)
class Still:
    """What a pond does whatever its pump lifts: (days,) or (12,) where they are arrays."""

    temperature: Temperature
    evaporation_mm_by_day: np.ndarray
    rain_mm: float | None  # in the year; None where the weather data have no rain
    rain_l: float  # of it, what need not be topped up
    top_up_l_by_month: np.ndarray
    top_up_l_per_week: np.ndarray  # in each month
    filter_longest_gap_h: float  # the season's break left out
    siphon_l: float
    for_fish: ForFish

    def pond_json(self) -> dict[str, Any]:
        """Plain data of what asks for no flow."""
        return {
            "evaporation_mm": float(self.evaporation_mm_by_day.sum()),
            "rain_mm": self.rain_mm,
            "top_up_l_by_month": self.top_up_l_by_month.tolist(),
            "filter_longest_gap_h": self.filter_longest_gap_h,
            "siphon_l": self.siphon_l,
            "temperature": {name: value for name, value in vars(self.temperature).items() if name != "water_c"},
            "for_fish": vars(self.for_fish) | {"weights": dict(self.for_fish.weights)},
        }


@dataclass(frozen=True)
class Water(Still):
    """A year of water of one design. Arrays by hour are (hours,), by day (days,), by month (12,)."""

    pipework: Pipework
    flow_lph: np.ndarray  # by hour, while the pump ran; 0 where it did not
    litres_by_hour: np.ndarray
    litres_by_month: np.ndarray
    litres_by_day: np.ndarray
    turnovers_per_day: float
    turnovers_by_month: np.ndarray  # a day
    turnover_days_share: float  # of days with the wanted turnovers
    filter_fed_h: float
    filter_most_lph: float  # the largest flow of any hour, or at the rated voltage if it never ran
    stopping: Stopping
    level: Level
    books: Books
    lost_to_cable_lph: float  # of flow at the rated voltage of a direct pump, by the drop on its way

    @property
    def litres(self) -> float:
        """Litres pumped in the year."""
        return float(self.litres_by_hour.sum())

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        point, warm = self.pipework.point, self.temperature
        return {
            "litres": self.litres,
            "litres_by_month": self.litres_by_month.tolist(),
            "flow_lph": point.flow_lph,
            "filter_flow_lph": point.filter_flow_lph,
            "branch_flow_lph": point.branch_flow_lph,
            "head_m": point.head_m,
            "turnovers_per_day": self.turnovers_per_day,
            "turnovers_per_day_by_month": self.turnovers_by_month.tolist(),
            "turnover_days_share": self.turnover_days_share,
            "filter_fed_hours": self.filter_fed_h,
            "filter_longest_gap_h": self.filter_longest_gap_h,
            "evaporation_mm": float(self.evaporation_mm_by_day.sum()),
            "rain_mm": self.rain_mm,
            "top_up_l_by_month": self.top_up_l_by_month.tolist(),
            "top_up_l_per_week_by_month": self.top_up_l_per_week.tolist(),
            "start_and_stop_l": dict(vars(self.stopping)),
            "level_cm": {name: getattr(self.level, f"{name}_cm") for name in ("standing", "running", "fall")},
            "flow_lost_to_cable_lph": self.lost_to_cable_lph,
            "temperature": {name: value for name, value in vars(warm).items() if name != "water_c"},
            "balance_l": dict(vars(self.books)),
        }


def pump_volts(pump: Pump, run_h: np.ndarray, pump_wh: np.ndarray) -> np.ndarray:
    """Voltage at the pump while it ran, by hour, from its mean power: V = V_rated·(P/P_rated)^(1/3) by affinity.

    A regulated pump turns as at its rated voltage whatever the bus does. Where it stood the rated voltage stands.
    """
    if pump.supply == "regulated":
        return np.full(len(run_h), pump.at_v)
    power_w = np.divide(pump_wh, run_h, out=np.full(len(run_h), pump.power_w), where=run_h > 0.0)
    volts: np.ndarray = pump.at_v * np.cbrt(power_w / pump.power_w)
    return volts


def _books(pond: Pond, moved: np.ndarray, run_h: np.ndarray, transit: float, daily: Daily) -> Books:
    """The year hour by hour; ``moved`` (3, hours) is pumped, header and branch."""
    pumped, header, branch = moved
    hourly_mm = np.repeat(daily.evaporation_mm / HOURS_A_DAY, HOURS_A_DAY)
    from_pond = pond.pond_area_m2 * hourly_mm
    from_stream = stream_m2(pond) * hourly_mm * run_h
    more = np.diff(run_h * transit, prepend=0.0)
    returned = header + branch - from_stream - more
    made_up = np.zeros(len(run_h))
    made_up[HOURS_A_DAY - 1 :: HOURS_A_DAY] = by_day(from_pond + from_stream).sum(axis=1)
    level = pond.pond_volume_l + np.cumsum(returned + made_up - pumped - from_pond)
    top_up, rain = topped_up(by_day(from_pond + from_stream).sum(axis=1), pond.pond_area_m2 * daily.rain_mm)
    return Books(
        pumped=float(pumped.sum()),
        header=float(header.sum()),
        branch=float(branch.sum()),
        returned=float(returned.sum()),
        evaporated_pond=float(from_pond.sum()),
        evaporated_stream=float(from_stream.sum()),
        top_up=float(top_up.sum()),
        rain=float(rain.sum()),
        transit_change=float(more.sum()),
        error=float(level[-1] + run_h[-1] * transit - pond.pond_volume_l),
    )


def stream_m2(pond: Pond) -> float:
    """The stream's surface, wet while the pump runs, m²."""
    return pond.stream.length_m * pond.stream.width_m if pond.stream else 0.0


def _level(pond: Pond, stopping: Stopping) -> Level:
    """The basin's level at a start, or the pond's where there is no basin."""
    area_m2, depth_m = (
        (pond.basin.area_m2, pond.basin.depth_m)
        if pond.basin
        else (pond.pond_area_m2, pond.pond_volume_l / 1000.0 / pond.pond_area_m2)
    )
    return Level(100.0 * depth_m, stopping.drain_back / area_m2 / 10.0)


def _stopping(pond: Pond, header_lph: float) -> Stopping:
    transit, basin, held = transit_l(pond, header_lph), pond.basin, held_back(pond)
    return Stopping(
        transit=transit,
        drain_back=max(transit - held_l(pond), 0.0),
        siphon=siphon_l(pond.outlet) if header_lph > 0.0 and not held else 0.0,
        freeboard=1000.0 * basin.area_m2 * basin.freeboard_m if basin else None,
        basin=basin.water_l if basin else None,
    )


def air_over(pond: Pond, weather: Weather) -> Air:
    """The air over a pond; without measured humidity the dew point is the night's lowest temperature."""
    dew_c = dew_point_c(weather.temp_air) if weather.dew_point is None else weather.dew_point
    longwave = longwave_wm2(weather.temp_air, dew_c, weather.ghi, weather.latitude_deg, weather.elevation_m)
    sun_wm2, wind_m_s = pond.sun_share * weather.ghi, pond.wind_share * weather.wind_speed
    return Air(weather.temp_air, dew_c, sun_wm2, wind_m_s, longwave)


def _temperature(pond: Pond, weather: Weather, stops: Stops, water_c: np.ndarray, run_h: np.ndarray) -> Temperature:
    warm = warm_nights(pond, water_c)
    cold = cold_season(water_c, pond.cold_limit_c)
    dates = [f"{weather.index[24 * day]:%m-%d}" for day in cold] if cold else [None, None]
    stood = longest_at_night(stops, len(warm)) > NIGHT_STOP_H
    off_h = 1.0 - by_day(run_h)[warm][:, SMALL_HOURS]
    return Temperature(
        water_c=water_c,
        lowest_c=float(water_c.min()),
        highest_c=float(water_c.max()),
        cold_from=dates[0],
        cold_to=dates[1],
        least_oxygen_mg_l=float(oxygen_mg_l(water_c, weather.elevation_m).min()),
        warm_nights=int(warm.sum()),
        warm_night_stops=int((warm & stood).sum()),
        warm_night_off_h=float(off_h[off_h > ROUNDING_H].sum()),
    )


@lru_cache(maxsize=PONDS)
def _warmth(pond: Pond, weather: Weather) -> Course:
    """The pond's temperature and evaporation, which no panel and no pump changes: once for all designs beside it."""
    return course(air_over(pond, weather), pond.pond_volume_l / 1000.0 / pond.pond_area_m2)


def still_of(scenario: Scenario, weather: Weather, log: Log, stops: Stops, lane: int = 0) -> Still | None:
    """What the pond of one lane of an hourly log does whatever is pumped; None where the scenario has no [water]."""
    pond = scenario.water
    if pond is None:
        return None
    warm, run_h = _warmth(pond, weather), log.per_interval("run_s", lane) / 3600.0
    daily = Daily(by_day(warm.evaporated_mm).sum(axis=1), rain_mm(weather))
    lost_l = daily.evaporation_mm * (pond.pond_area_m2 + stream_m2(pond) * by_day(run_h).mean(axis=1))
    topped_l, stays_l = topped_up(lost_l, pond.pond_area_m2 * daily.rain_mm)
    days = weather.index.month.to_numpy()[::HOURS_A_DAY]
    gaps = whole_stretches(stops.but_causes("seasonal"))
    return Still(
        temperature=_temperature(pond, weather, stops, warm.water_c, run_h),
        evaporation_mm_by_day=daily.evaporation_mm,
        rain_mm=None if weather.rain is None else float(daily.rain_mm.sum()),
        rain_l=float(stays_l.sum()),
        **_top_up(topped_l, days),
        filter_longest_gap_h=float((gaps[:, 1] - gaps[:, 0]).max(initial=0.0)),
        siphon_l=0.0 if held_back(pond) else siphon_l(pond.outlet),
        for_fish=for_fish(pond, warm.water_c, run_h),
    )


def water_of(scenario: Scenario, weather: Weather, log: Log, stops: Stops, lane: int = 0) -> Water | None:
    """The water of one lane of an hourly log; None where the scenario has no [water] or the pump no curve."""
    pond, pump = scenario.water, scenario.pump
    still = still_of(scenario, weather, log, stops, lane) if pump.curve is not None else None
    if pond is None or still is None:
        return None
    pipework = pipework_of(pump, pond, scenario.path)
    run_h = log.per_interval("run_s", lane) / 3600.0
    flows = np.array(pipework.flows_at(pump_volts(pump, run_h, log.per_interval("pump_wh", lane)))) * (run_h > 0.0)
    moved, daily = flows * run_h, Daily(still.evaporation_mm_by_day, rain_mm(weather))
    stopping = _stopping(pond, float(flows[1].max()))
    days = weather.index.month.to_numpy()[::HOURS_A_DAY]
    in_season = log.per_interval("seasonal_s", lane) == 0.0
    gap_h = max(still.filter_longest_gap_h, longest_without_h(np.where(in_season, moved[1], np.inf)))
    return Water(
        **vars(still) | {"filter_longest_gap_h": gap_h, "siphon_l": stopping.siphon},
        pipework=pipework,
        flow_lph=flows[0],
        litres_by_hour=moved[0],
        **_turnovers(pond, by_day(moved[0]).sum(axis=1), days),
        filter_most_lph=float(flows[1].max() or pipework.point.filter_flow_lph),
        filter_fed_h=float(run_h[flows[1] > 0.0].sum()),
        stopping=stopping,
        level=_level(pond, stopping),
        lost_to_cable_lph=_lost_to_cable_lph(scenario, pipework),
        books=_books(pond, moved, run_h, stopping.transit, daily),
    )


def _lost_to_cable_lph(scenario: Scenario, pipework: Pipework) -> float:
    """What a direct pump moves less behind its cable than at the controller's terminals, at its rated voltage, l/h.

    A regulated pump turns as fast at any voltage that it runs at.
    """
    pump = scenario.pump
    if pump.supply == "regulated":
        return 0.0
    behind_v = direct(pump.at_v, pump.power_w, pump.at_v, pump_path_ohm(pump))[2]
    there, behind = pipework.flows_at(np.array([pump.at_v, behind_v]))[0].tolist()
    return float(there - behind)


class Daily(NamedTuple):
    """What days take and give, (days,) mm."""

    evaporation_mm: np.ndarray
    rain_mm: np.ndarray


def topped_up(lost_l: np.ndarray, rain_l: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """(days,) litres topped up, and litres of rain that stay: a full pond runs over, so no day's rain serves the next.

    >>> [part.tolist() for part in topped_up(np.array([10.0, 10.0]), np.array([4.0, 30.0]))]
    [[6.0, 0.0], [4.0, 10.0]]
    """
    stays = np.minimum(rain_l, lost_l)
    return lost_l - stays, stays


def _turnovers(pond: Pond, litres: np.ndarray, days: np.ndarray) -> dict[str, Any]:
    """Litres and turnovers from litres by day; ``days`` is the month 1…12 of every day."""
    turnovers = litres / pond.pond_volume_l
    return {
        "litres_by_day": litres,
        "litres_by_month": by_month(litres, days),
        "turnovers_per_day": float(turnovers.mean()),
        "turnovers_by_month": by_month(turnovers, days) / by_month(np.ones(len(days)), days),
        "turnover_days_share": float((turnovers >= pond.turnovers_per_day).mean()),
    }


def _top_up(lost_l: np.ndarray, days: np.ndarray) -> dict[str, Any]:
    """What is to be topped up in each month, and in each of its weeks, from the litres of each day."""
    litres = by_month(lost_l, days)
    return {"top_up_l_by_month": litres, "top_up_l_per_week": 7.0 * litres / by_month(np.ones(len(days)), days)}


def rain_mm(weather: Weather) -> np.ndarray:
    """(days,) rain, mm; none where the weather data have none."""
    return np.zeros(len(weather.index) // HOURS_A_DAY) if weather.rain is None else by_day(weather.rain).sum(axis=1)
