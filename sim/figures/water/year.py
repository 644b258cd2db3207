"""The year's water: what was moved, where it went, what was lost, and how warm the pond was."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from sim.figures.causes import Stops
from sim.figures.series import HOURS_A_DAY, by_day, by_month
from sim.figures.water.flows import Pipework, pipework_of
from sim.figures.water.pond import Air, Course, cold_season, course, dew_point_c, oxygen_mg_l
from sim.figures.water.radiation import longwave_wm2
from sim.figures.water.stopping import held_back, held_l, longest_at_night, longest_without_h, siphon_l, transit_l
from sim.plant.log import Log
from sim.scenario import Scenario
from sim.scenario.models import Pump
from sim.scenario.water import Water as Pond
from sim.weather import Weather

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
class Temperature:
    """The pond's year: first and last day ("MM-DD") of the season below the cold limit, if there is one, the least
    oxygen at saturation, and nights of warm water, with and without a stop.
    """

    water_c: np.ndarray  # (hours,)
    lowest_c: float
    highest_c: float
    cold_from: str | None
    cold_to: str | None
    least_oxygen_mg_l: float
    warm_nights: int
    warm_night_stops: int


@dataclass(frozen=True)
class Water:
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
    filter_longest_gap_h: float
    evaporation_mm_by_day: np.ndarray
    rain_mm: float | None  # in the year; None where the weather data have no rain
    top_up_l_by_month: np.ndarray
    top_up_l_per_week: np.ndarray  # in each month
    stopping: Stopping
    temperature: Temperature
    books: Books

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


def _temperature(pond: Pond, weather: Weather, stops: Stops, water_c: np.ndarray) -> Temperature:
    warm = by_day(water_c)[:, :6].mean(axis=1) > pond.warm_limit_c
    cold = cold_season(water_c, pond.cold_limit_c)
    dates = [f"{weather.index[24 * day]:%m-%d}" for day in cold] if cold else [None, None]
    stood = longest_at_night(stops, len(warm)) > NIGHT_STOP_H
    return Temperature(
        water_c=water_c,
        lowest_c=float(water_c.min()),
        highest_c=float(water_c.max()),
        cold_from=dates[0],
        cold_to=dates[1],
        least_oxygen_mg_l=float(oxygen_mg_l(water_c, weather.elevation_m).min()),
        warm_nights=int(warm.sum()),
        warm_night_stops=int((warm & stood).sum()),
    )


@lru_cache(maxsize=PONDS)
def _warmth(pond: Pond, weather: Weather) -> Course:
    """The pond's temperature and evaporation, which no panel and no pump changes: once for all designs beside it."""
    return course(air_over(pond, weather), pond.pond_volume_l / 1000.0 / pond.pond_area_m2)


def water_of(
    scenario: Scenario, weather: Weather, log: Log, stops: Stops, longest_stop_h: float, lane: int = 0
) -> Water | None:
    """The water of one lane of an hourly log; None where the scenario has no [water] or the pump no curve."""
    pond, pump = scenario.water, scenario.pump
    if pond is None or pump.curve is None:
        return None
    pipework = pipework_of(pump, pond, scenario.path)
    warm = _warmth(pond, weather)
    run_h = log.per_interval("run_s", lane) / 3600.0
    flows = np.array(pipework.flows_at(pump_volts(pump, run_h, log.per_interval("pump_wh", lane)))) * (run_h > 0.0)
    moved, daily = flows * run_h, Daily(by_day(warm.evaporated_mm).sum(axis=1), rain_mm(weather))
    lost_l = daily.evaporation_mm * (pond.pond_area_m2 + stream_m2(pond) * by_day(run_h).mean(axis=1))
    stopping = _stopping(pond, float(flows[1].max()))
    days = weather.index.month.to_numpy()[::HOURS_A_DAY]
    return Water(
        pipework=pipework,
        flow_lph=flows[0],
        litres_by_hour=moved[0],
        **_turnovers(pond, by_day(moved[0]).sum(axis=1), days),
        filter_most_lph=float(flows[1].max() or pipework.point.filter_flow_lph),
        filter_fed_h=float(run_h[flows[1] > 0.0].sum()),
        filter_longest_gap_h=max(longest_stop_h, longest_without_h(moved[1])),
        evaporation_mm_by_day=daily.evaporation_mm,
        rain_mm=None if weather.rain is None else float(daily.rain_mm.sum()),
        **_top_up(topped_up(lost_l, pond.pond_area_m2 * daily.rain_mm)[0], days),
        stopping=stopping,
        temperature=_temperature(pond, weather, stops, warm.water_c),
        books=_books(pond, moved, run_h, stopping.transit, daily),
    )


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
