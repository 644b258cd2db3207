"""The log to the figures people act on. Pure: nothing here simulates."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sim.catalogue.cells import Cell, cell
from sim.figures.availability import Availability, availability_of
from sim.figures.causes import (
    Stops,
    Twins,
    Unplanned,
    fooled_restarts,
    hours_by_cause,
    longest_unplanned,
    starts_within,
    stops_of,
    unplanned_of,
)
from sim.figures.daily import Days, days_of
from sim.figures.events import events_of, lost_from
from sim.figures.lanes import (
    RUNS_AT_LEAST_H,
    full_cycles,
    longest_stop_h,
    lowest_soc,
    met_by_day,
    met_share,
    shortest_run_h,
)
from sim.figures.nights import Nights, nights_of, share_by_month_hour
from sim.figures.planned import Quiet, quiet_of, reach_by_day, unreached_h, wanted_by_day
from sim.figures.series import HOURS_A_DAY, by_day, by_month, longest_without
from sim.figures.stress import Stress, stress_of
from sim.figures.water.year import Still, Water
from sim.figures.wear import FULL_SOC
from sim.figures.wiring import Wiring, wiring_in
from sim.light.sunlight import Sunlight
from sim.plant.lanes import stored_wh
from sim.plant.log import Log
from sim.scenario import Scenario
from sim.weather import Weather
from sim.weather.weather import Doubt

BY_MONTH = ("panel_possible", "panel", "off_maximum_power", "not_harvested", "pump")
HOT_C = 35.0  # from here on a battery ages twice as fast as at 25 °C or faster; our own default
COOL_C = 5.0  # charging lithium below it wants a small current; battery makers' manuals
SHORT_H = 1.0 / 60.0  # a day that lacks less has what it wanted
QUICK_S = 3600.0  # starts closer together wear a pump; our own default
REFILLED = 0.10  # charge that a restart should have gained since the stop; our own default


@dataclass(frozen=True)
class Energy:
    """Where the energy of a year or a month went, Wh; ``in_plane`` is what the rated panel would give at its rating."""

    in_plane: float
    panel_possible: float
    panel: float
    not_harvested: float
    off_maximum_power: float
    cable_loss: float
    controller_loss: float
    battery_loss: float
    pump: float
    own_consumption: float
    heater: float
    stored_change: float
    balance_error: float


@dataclass(frozen=True)
class Battery:
    """The battery's year: charges are 0…1."""

    min_soc: float
    mean_soc: float
    hours_below_20_percent: float
    hours_above_95_percent: float
    charge_refused_hours: float
    cool_charge_hours: float
    coldest_c: float
    hot_hours: float
    freezing_hours: float
    days_between_full: int
    lowest_v: float
    highest_v: float
    stress: Stress


@dataclass(frozen=True)
class Start:
    """How the year began: the charge 0…1, and whether it is the one that the same year left."""

    soc: float
    settled: bool


@dataclass(frozen=True)
class Measures:
    """A year of one design. Arrays by month are (12,), by day (days,), by hour (hours,)."""

    run_h: np.ndarray  # by hour, 0…1
    months: np.ndarray  # month 1…12 of every hour
    pump_hours: float
    pump_hours_by_month: np.ndarray
    pump_hours_by_day: np.ndarray
    wanted_by_day: np.ndarray  # none in the season's break
    met_by_day: np.ndarray
    reach_by_day: np.ndarray  # wanted hours that the timer leaves
    soc_low_by_day: np.ndarray
    soc_high_by_day: np.ndarray
    starts: int
    disconnects: int
    early_disconnects: int
    fooled_restarts: int
    quick_starts: int
    quick_start_days: int
    daylight_share: float  # of the pump's hours
    shortest_run_h: float | None
    stops: Stops
    stops_by_cause: dict[str, float]
    availability: Availability
    longest_stop_h: float
    unplanned: Unplanned
    unreached_h: float  # the longest time without a run and without the reconnect voltage, the season left out
    start: Start
    end_soc: float
    battery: Battery
    energy: Energy
    energy_months: tuple[Energy, ...]  # the twelve months' books
    ghi_kwh_m2: float
    in_plane_kwh_m2: float
    in_plane_by_month_kwh_m2: np.ndarray
    shade_loss_by_month_kwh_m2: np.ndarray
    temp_mean_c: float
    temp_min_c: float
    bus_high_v_by_day: np.ndarray
    pump_high_v: float  # at the load terminals while the pump runs, peaks of a bus that pulses included
    hot_vmp_v: float  # the array's voltage at maximum power in the hour of its hottest cells
    wiring: Wiring
    nights: Nights
    doubts: tuple[Doubt, ...] = ()  # about the weather
    double_battery_hours: float | None = None  # pump hours with twice the capacity, where a long deficit asks for them
    water: Water | None = None
    still: Still | None = None  # of a pond whose pump has no curve
    quiet: Quiet | None = None

    @property
    def hours_wanted(self) -> float:
        """Hours wanted in the year."""
        return float(self.wanted_by_day.sum())

    @property
    def hours_met_share(self) -> float:
        """Share of wanted hours met: each day counts up to what it wanted, inside its window."""
        return met_share(self.met_by_day.sum(), self.hours_wanted)

    @property
    def days_without_running(self) -> int:
        """Days on which the pump ran less than a minute."""
        return int((self.pump_hours_by_day < RUNS_AT_LEAST_H).sum())

    @property
    def pond(self) -> Still | None:
        """What the pond does whatever the flows are; None where no water is described."""
        return self.water or self.still

    @property
    def days_in_service(self) -> float:
        """Days of the year but for the season's break, at least one."""
        return max(len(self.pump_hours_by_day) - self.stops_by_cause["seasonal"] / HOURS_A_DAY, 1.0)

    @property
    def days_by_month(self) -> np.ndarray:
        """(12,) days in each month."""
        return by_month(np.ones(len(self.pump_hours_by_day)), self.months[::HOURS_A_DAY])

    @property
    def hours_a_day(self) -> np.ndarray:
        """(12,) the pump's mean hours a day, month by month."""
        return np.asarray(self.pump_hours_by_month / self.days_by_month)

    @property
    def wanted_a_day(self) -> np.ndarray:
        """(12,) mean hours a day that are wanted, month by month; days of the season's break count with none."""
        return np.asarray(by_month(self.wanted_by_day, self.months[::HOURS_A_DAY]) / self.days_by_month)

    @property
    def days(self) -> Days:
        """How poor the poor days of each month are."""
        return days_of(self.pump_hours_by_day, self.months[::HOURS_A_DAY])

    @property
    def met_share_by_month(self) -> np.ndarray:
        """(12,) the same month by month; 1 where nothing was wanted."""
        wanted = by_month(self.wanted_by_day, self.months[::HOURS_A_DAY])
        return np.where(wanted > 0.0, self.met_h_by_month / np.maximum(wanted, 1e-9), 1.0)

    @property
    def met_h_by_month(self) -> np.ndarray:
        """(12,) wanted hours that are met."""
        return by_month(self.met_by_day, self.months[::HOURS_A_DAY])

    @property
    def worst_month(self) -> int:
        """The month 1…12 with the least share of its wanted hours met, of equals that with the fewest hours a day.

        Months in which nothing is wanted count only where nothing is wanted at all.
        """
        wanted = by_month(self.wanted_by_day, self.months[::HOURS_A_DAY])
        order = np.lexsort((self.hours_a_day, self.met_share_by_month.round(6), wanted == 0.0))
        return int(order[0]) + 1

    @property
    def longest_deficit_days(self) -> int:
        """Days running on which wanted hours were not met that timer and season leave."""
        return longest_without(self.met_by_day >= self.reach_by_day - SHORT_H)

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        stress, begun_ended = self.battery.stress, longest_unplanned(self.stops) or (0.0, 0.0)
        battery = {name: value for name, value in vars(self.battery).items() if name != "stress"}
        return {
            "pump_hours": self.pump_hours,
            "pump_hours_by_month": self.pump_hours_by_month.tolist(),
            "pump_hours_a_day_by_month": self.days.as_json(),
            "hours_wanted": self.hours_wanted,
            "hours_met_share": self.hours_met_share,
            "running_share_by_month_hour": share_by_month_hour(self.run_h, self.months).tolist(),
            "nights": self.nights.as_json(),
            "starts": self.starts,
            "longest_stop_h": self.longest_stop_h,
            "longest_unplanned_stop_h": begun_ended[1] - begun_ended[0],
            "longest_deficit_days": self.longest_deficit_days,
            "quiet": vars(self.quiet) if self.quiet else None,
            "shortest_run_h": self.shortest_run_h,
            "stops_by_cause": self.stops_by_cause,
            "availability": self.availability.as_json(),
            "start": vars(self.start),
            "end_soc": self.end_soc,
            "battery": battery
            | {
                "equivalent_full_cycles": stress.equivalent_full_cycles,
                "life_years_low": stress.life_years[0],
                "life_years_high": stress.life_years[1],
            },
            "energy_wh": dict(vars(self.energy)),
            "energy_wh_by_month": {name: [getattr(it, name) for it in self.energy_months] for name in BY_MONTH},
            "weather": {
                "ghi_kwh_m2": self.ghi_kwh_m2,
                "in_plane_kwh_m2": self.in_plane_kwh_m2,
                "in_plane_kwh_m2_by_month": self.in_plane_by_month_kwh_m2.tolist(),
                "shade_loss_kwh_m2_by_month": self.shade_loss_by_month_kwh_m2.tolist(),
                "temp_mean_c": self.temp_mean_c,
                "temp_min_c": self.temp_min_c,
                "doubts": [doubt._asdict() for doubt in self.doubts],
            },
            "wiring": self.wiring.as_json(),
            "water": self.water.as_json() if self.water else None,
            "pond": self.pond.pond_json() if self.pond else None,
        }


_BOOKED = ("possible_wh", "panel_wh", "spare_wh", "panel_cable_wh", "lead_wh", "pump_cable_wh", "controller_wh",
           "battery_loss_wh", "pump_wh", "own_wh", "heater_wh")  # fmt: skip


def energy_between(log: Log, in_plane_wh: float, lane: int = 0, span: tuple[int, int] = (0, -1)) -> Energy:
    """Where the energy went between two readings of a log."""
    first, last = (log.totals[at, lane] for at in span)
    fixed = log.lanes["lane"][lane]
    gained = {name: float(last[name] - first[name]) for name in _BOOKED}
    possible, panel, spare, *cables, controller, battery, pump, own, heater = gained.values()
    stored = stored_wh(fixed, last["soc"], last["v1_v"]) - stored_wh(fixed, first["soc"], first["v1_v"])
    return Energy(
        in_plane=in_plane_wh,
        panel_possible=possible,
        panel=panel,
        not_harvested=spare,
        off_maximum_power=possible - panel - spare,
        cable_loss=sum(cables),
        controller_loss=controller,
        battery_loss=battery,
        pump=pump,
        own_consumption=own,
        heater=heater,
        stored_change=stored,
        balance_error=panel - (sum(cables) + controller + battery + pump + own + heater + stored),
    )


def energy_by_month(log: Log, months: np.ndarray, in_plane_wh: np.ndarray, lane: int = 0) -> tuple[Energy, ...]:
    """The same for each of the twelve months; ``months`` (n,) is every hour's month, ``in_plane_wh`` (12,)."""
    edges = np.append(np.searchsorted(months, np.arange(1, 13)), len(months)).tolist()
    spans = zip(edges, edges[1:], strict=False)
    return tuple(energy_between(log, float(wh), lane, span) for wh, span in zip(in_plane_wh, spans, strict=True))


def freezing_hours(chemistry: Cell, soc: np.ndarray, cell_c: np.ndarray) -> float:
    """Hours in which a lead-acid battery is colder than its electrolyte's freezing point at that charge."""
    if not chemistry.freezing:
        return 0.0
    percent, point_c = np.array(chemistry.freezing).T
    return float(np.count_nonzero(cell_c < np.interp(100.0 * soc, percent, point_c)))


def _battery(log: Log, lane: int, chemistry: str, cell_c: np.ndarray) -> Battery:
    last = log.totals[-1, lane]
    soc = log.totals["soc"][:, lane]
    return Battery(
        min_soc=float(lowest_soc(log)[lane]),
        mean_soc=float(last["soc_s"] / log.at_s[-1]),
        hours_below_20_percent=float(last["below_20_s"]) / 3600.0,
        hours_above_95_percent=float(last["above_95_s"]) / 3600.0,
        charge_refused_hours=float(last["refused_s"]) / 3600.0,
        cool_charge_hours=float(np.count_nonzero((log.per_interval("charge_ah", lane) > 0.0) & (cell_c < COOL_C))),
        coldest_c=float(cell_c.min()),
        hot_hours=float(np.count_nonzero(cell_c > HOT_C)),
        freezing_hours=freezing_hours(cell(chemistry), soc[1:], cell_c),
        days_between_full=longest_without(by_day(log.per_interval("soc_high", lane)).max(axis=1) >= FULL_SOC),
        lowest_v=float(log.per_interval("battery_low_v", lane).min()),
        highest_v=float(log.per_interval("battery_high_v", lane).max()),
        stress=stress_of(cell(chemistry), soc, float(full_cycles(log)[lane]), cell_c),
    )


def measure(
    scenario: Scenario,
    weather: Weather,
    sunlight: Sunlight,
    cell_c: np.ndarray,
    log: Log,
    lane: int = 0,
    twins: Twins | None = None,
) -> Measures:
    """The figures of one lane of an hourly log.

    ``cell_c`` (hours,) is the battery's temperature; ``twins`` are how long the pump ran without shade or dirt.
    """
    from sim.figures.water.year import still_of, water_of

    months = weather.index.month.to_numpy()
    run_h = log.per_interval("run_s", lane) / 3600.0
    last = log.totals[-1, lane]
    wanted = wanted_by_day(scenario, months[::HOURS_A_DAY])
    events = events_of(log, lane)
    quick_s = starts_within(events, QUICK_S)
    stops = stops_of(events, log.at_s[-1], float(log.lanes["lane"]["early_soc"][lane]), twins)
    ring_h = float(log.at_s[-1]) / 3600.0 if log.settled[lane] else None
    stops = replace(stops, by_hour_from=lost_from(log, lane), ring_h=ring_h)
    shortest = float(shortest_run_h(log)[lane])
    in_plane_kwh_m2 = float(sunlight.poa_wm2.sum()) / 1000.0
    rated_w = scenario.panel.power_w * scenario.panel.count
    return Measures(
        run_h=run_h,
        months=months,
        pump_hours=float(last["run_s"]) / 3600.0,
        pump_hours_by_month=by_month(run_h, months),
        pump_hours_by_day=by_day(run_h).sum(axis=1),
        wanted_by_day=wanted,
        met_by_day=met_by_day(log, wanted)[lane],
        reach_by_day=reach_by_day(scenario, log, lane, wanted),
        soc_low_by_day=by_day(log.per_interval("soc_low", lane)).min(axis=1),
        soc_high_by_day=by_day(log.per_interval("soc_high", lane)).max(axis=1),
        starts=int(last["starts"]),
        disconnects=int(last["disconnects"]),
        early_disconnects=int(last["early_disconnects"]),
        fooled_restarts=fooled_restarts(events, REFILLED),
        quick_starts=len(quick_s),
        quick_start_days=len(np.unique(quick_s // (3600.0 * HOURS_A_DAY))),
        daylight_share=float(run_h[sunlight.p_mp_w > 0.0].sum() / run_h.sum()) if run_h.sum() > 0.0 else 1.0,
        shortest_run_h=shortest if np.isfinite(shortest) else None,
        stops=stops,
        stops_by_cause=(by_cause := hours_by_cause(stops)),
        availability=availability_of(by_cause, float(last["run_s"]) / 3600.0),
        longest_stop_h=float(longest_stop_h(log)[lane]),
        unplanned=unplanned_of(stops),
        unreached_h=unreached_h(scenario, log, lane),
        start=Start(float(log.totals["soc"][0, lane]), bool(log.settled[lane])),
        end_soc=float(last["soc"]),
        battery=_battery(log, lane, scenario.battery.chemistry, cell_c),
        energy=energy_between(log, in_plane_kwh_m2 * rated_w, lane),
        energy_months=energy_by_month(log, months, by_month(sunlight.poa_wm2, months) / 1000.0 * rated_w, lane),
        ghi_kwh_m2=float(weather.ghi.sum()) / 1000.0,
        in_plane_kwh_m2=in_plane_kwh_m2,
        in_plane_by_month_kwh_m2=by_month(sunlight.poa_wm2, months) / 1000.0,
        shade_loss_by_month_kwh_m2=by_month(sunlight.shaded_wm2, months) / 1000.0,
        temp_mean_c=float(weather.temp_air.mean()),
        temp_min_c=float(weather.temp_air.min()),
        pump_high_v=float(log.per_interval("pump_high_v", lane).max()),
        bus_high_v_by_day=by_day(log.per_interval("bus_high_v", lane)).max(axis=1),
        hot_vmp_v=float(sunlight.v_mp_v[sunlight.cell_c.argmax()]),
        wiring=wiring_in(scenario, weather, log, lane),
        nights=nights_of(run_h, weather.ghi, months, stops),
        water=water_of(scenario, weather, log, stops, lane),
        still=still_of(scenario, weather, log, stops, lane) if scenario.pump.curve is None else None,
        quiet=quiet_of(scenario, run_h),
        doubts=weather.doubts,
    )
