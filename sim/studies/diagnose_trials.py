"""A system with something wrong in it, run through the days of a log: a lane for each way in which it may be wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sim.calendar import DAY_S, HOUR_S
from sim.figures.planned import wanted_by_day
from sim.figures.series import HOURS_A_DAY
from sim.plant.causes import RUNNING
from sim.plant.engine import Plant, Process
from sim.plant.log import Log
from sim.plant.people import light_left, processes
from sim.plant.run import HOURLY, How, run
from sim.scenario import Scenario

LONGEST_SHARE_S = 2700.0  # between readings: over a longer time the pump's state now says more; our own default
LEAD_DAYS = 10  # that a trial runs before the days that are looked at; our own default
AT_ONCE = 128
COUNTED = (
    "run_s schedule_s low_voltage_s protection_s stalled_s refused_s "
    "starts disconnects early_disconnects panel_wh pump_wh spare_wh"
).split()

# What is wrong against the scenario: times or added to what it says.
TRIAL = np.dtype(
    [
        ("lead_ohm", float),  # added between battery and controller
        ("capacity", float),  # times
        ("resistance", float),  # of the battery, times
        ("light", float),  # times
        ("shade_from_h", float),  # the hours of the day in which there is that much light; all day from 0 to 24
        ("shade_to_h", float),
        ("pump", float),  # power, times
        ("off_v", float),  # added to the load disconnect voltage
        ("on_v", float),  # … and to the reconnect voltage
        ("charge_v", float),  # … and to the voltages of the charge
        ("frost_c", float),  # … and to the temperature below which charge is refused
        ("soc", float),  # added to the charge when the days begin
        ("timer", float),  # which of the designs
    ]
)
PLAIN = {"capacity": 1.0, "resistance": 1.0, "light": 1.0, "shade_to_h": 24.0, "pump": 1.0}


def plain(count: int) -> np.ndarray:
    """(count,) of TRIAL with nothing wrong.

    >>> plain(2)["light"].tolist(), plain(1)["lead_ohm"].tolist()
    ([1.0, 1.0], [0.0])
    """
    trials = np.zeros(count, TRIAL)
    for name, value in PLAIN.items():
        trials[name] = value
    return trials


@dataclass(frozen=True)
class Days:
    """The days that are looked at: designs that differ by their timers, the first as written, under a sky (hours,) of
    SKY, read at (n,) seconds of the year, after ``lead_s`` before them with a charge of ``soc`` at first.
    """

    designs: tuple[Scenario, ...]
    sky: np.ndarray
    at_s: np.ndarray
    between_s: tuple[float, float]
    lead_s: float
    soc: float
    daily: np.ndarray  # (days of the year,) the share of light that the scenario's dirt and snow leave
    usual: np.ndarray | None = (
        None  # (hours,) of SKY, the scenario's own weather, where the log's own sun is in ``sky``
    )

    @classmethod
    def of(cls, designs: Sequence[Scenario], sky: np.ndarray, at_s: np.ndarray) -> Days:
        """The days of some moments; the year of the first design tells with what charge the days before begin."""
        first_s, end_s = np.floor(at_s[0] / DAY_S) * DAY_S, np.ceil((at_s[-1] + 1.0) / DAY_S) * DAY_S
        lead_s = min(LEAD_DAYS * DAY_S, first_s)
        calm = tuple(without_chance(one) for one in designs)
        ((log, lane),) = run(calm[:1], sky[np.newaxis], how=HOURLY)
        soc = float(log.totals["soc"][int((first_s - lead_s) // HOUR_S), lane])
        return cls(calm, sky, at_s, (first_s, min(end_s, len(sky) * HOUR_S)), lead_s, soc, daily_light(designs[0], sky))

    def by_own_sun(self, usual: np.ndarray) -> Days:
        """The same under a sky in which the log's own currents stand for panel, dirt and snow."""
        return replace(self, daily=np.ones_like(self.daily), usual=usual)

    @property
    def in_usual_weather(self) -> Days:
        """The same in the scenario's weather: what a cure would bring is not told by the current that was logged."""
        return self if self.usual is None else replace(self, sky=self.usual, usual=None)

    @property
    def count(self) -> int:
        """How many days they are."""
        return round((self.between_s[1] - self.between_s[0]) / DAY_S)

    @property
    def wanted_h(self) -> float:
        """Hours a day that are wanted in their mean."""
        return float(self.wanted_by_day.mean())

    @property
    def wanted_by_day(self) -> np.ndarray:
        """(days,) hours that are wanted on each of them, none in the season's break."""
        first, end = (round(edge_s / DAY_S) for edge_s in self.between_s)
        year = np.datetime64(f"{self.designs[0].weather.year}-01-01") + np.arange(len(self.sky) // HOURS_A_DAY)
        months = year.astype("datetime64[M]").astype(int) % 12 + 1
        return wanted_by_day(self.designs[0], months)[np.arange(first, end) % len(months)]


@dataclass(frozen=True)
class Ran:
    """What trials did: voltage, current into the battery, whether the pump ran and for what share of the time since the
    reading before, (n, trials) each at the readings, and what was counted over the days, (trials,) each.
    """

    trials: np.ndarray
    volts: np.ndarray
    amps: np.ndarray
    on: np.ndarray
    soc: np.ndarray
    share: np.ndarray
    counted: dict[str, np.ndarray]
    met_h: np.ndarray  # (trials,) hours that count: in the wanted time of day, up to what a day wants
    days: int

    def some(self, chosen: np.ndarray) -> Ran:
        """Some of the trials."""
        counted = {name: one[chosen] for name, one in self.counted.items()}
        every = (self.volts, self.amps, self.on, self.soc, self.share)
        volts, amps, on, soc, share = (part[:, chosen] for part in every)
        return Ran(self.trials[chosen], volts, amps, on, soc, share, counted, self.met_h[chosen], self.days)


def without_chance(scenario: Scenario) -> Scenario:
    """The scenario without faults by chance, dirt and snow by the calendar, which trials bring themselves."""
    return scenario.but(care={"fault": (), "soiling_per_month": 0.0, "snow": ()})


def run_trials(days: Days, trials: np.ndarray) -> Ran:
    """The trials (k,) of TRIAL through the days, on every core; the log's own sun is what it is in all of them."""
    count, lanes = len(days.at_s), len(trials)
    lit = trials.copy()
    if days.usual is not None:
        lit["light"] = 1.0
    read = room_for(count, lanes)

    def tune(plant: np.ndarray, numbers: np.ndarray) -> None:
        tuned(plant, trials[numbers])
        plant["state"]["soc"] = plant["totals"]["soc"] = days.soc

    def people(plant: Plant, designs: Sequence[Scenario], numbers: np.ndarray) -> Iterable[Process]:
        yield from processes(plant, designs)
        yield _daylight(plant, lit[numbers], days.daily)
        yield _nudge(plant, days.between_s[0], trials["soc"][numbers])
        yield sampler(plant, days.at_s, read, numbers)

    from_s = days.between_s[0] - days.lead_s
    how = How(DAY_S, -(-lanes // -(-lanes // AT_ONCE)), tune=tune, people=people, between_s=(from_s, days.between_s[1]))
    designs = [days.designs[int(number)] for number in trials["timer"]]
    first, wanted = round(days.lead_s / DAY_S), days.wanted_by_day
    kept = run(designs, days.sky[np.newaxis], lambda log, numbers: _counted(log, first, wanted), how)
    counted = {name: np.array([one[name] for one in kept]) for name in (*COUNTED, "met_h")}
    met_h = counted.pop("met_h")
    return Ran(trials, *read, counted, met_h, days.count)


def _counted(log: Log, first: int, wanted: np.ndarray) -> list[dict[str, float]]:
    """What each lane counted from a day on; hours are ``wanted`` (days,)."""
    gained = {name: log.totals[name][-1] - log.totals[name][first] for name in COUNTED}
    in_window_h = np.diff(log.totals["window_run_s"][first:], axis=0) / HOUR_S
    gained["met_h"] = np.minimum(in_window_h, wanted[:, np.newaxis]).sum(axis=0)
    return [{name: float(gained[name][lane]) for name in gained} for lane in range(log.totals.shape[1])]


def tuned(plant: np.ndarray, trials: np.ndarray) -> None:
    """Make the lanes of the scenario as wrong as the trials have them."""
    lane = plant["lane"]
    lane["lead_ohm"] += trials["lead_ohm"]
    for name in ("r0_ohm", "r1_ohm"):
        lane[name] *= trials["resistance"]
    for name in ("capacity_ah", "self_discharge_a"):
        lane[name] *= trials["capacity"]
    for name in ("acceptance_ohm", "exhaustion_ohm", "scale"):
        lane[name] /= trials["capacity"]
    lane["pump_w"] *= trials["pump"]
    lane["off_v"] += trials["off_v"]
    lane["on_v"] += trials["on_v"]
    for name in ("absorption_v", "float_v", "recharge_below_v", "equalise_v"):
        lane[name] += trials["charge_v"]
    for name in ("coldest_charge_c", "charge_release_c"):
        lane[name] += trials["frost_c"]


def daily_light(scenario: Scenario, sky: np.ndarray) -> np.ndarray:
    """(days of the year,) the share of light that dirt and snow of the scenario leave under a sky (hours,)."""
    days = len(sky) // 24
    shares = light_left(scenario.care, scenario.weather.year, days)
    return np.array([share for _, share in shares]) if shares else np.ones(days)


def _daylight(plant: Plant, trials: np.ndarray, daily: np.ndarray) -> Process:
    """Each hour the light that shade and dirt of the trials leave."""
    clean = plant.lanes["inputs"]["clean"]
    while True:
        hour = (plant.env.now % DAY_S) / HOUR_S
        within = np.clip(np.minimum(trials["shade_to_h"], hour + 1.0) - np.maximum(trials["shade_from_h"], hour), 0, 1)
        plant.advance()
        clean[:] = daily[int(plant.env.now // DAY_S) % len(daily)] * (1.0 - within * (1.0 - trials["light"]))
        yield plant.env.timeout(HOUR_S - plant.env.now % HOUR_S)


def _nudge(plant: Plant, at_s: float, added: np.ndarray) -> Process:
    """When the days begin, the charge may be another than what came before has left."""
    yield plant.env.timeout(at_s - plant.env.now)
    plant.advance()
    plant.lanes["state"]["soc"] = np.clip(plant.lanes["state"]["soc"] + added, 0.01, 0.995)


Read = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def room_for(count: int, lanes: int) -> Read:
    """Room for what is read of so many lanes at so many moments: volts, amperes, whether on, charge, share run."""
    volts, amps, soc, share = np.empty((4, count, lanes), np.float32)
    return volts, amps, np.empty((count, lanes), bool), soc, share


def sampler(plant: Plant, at_s: np.ndarray, kept: Read, numbers: np.ndarray) -> Process:
    """Read voltage, current and the pump at the moments of the log."""
    volts, amps, on, soc, share = kept
    totals, state = plant.lanes["totals"], plant.lanes["state"]
    before_s, ran_s = plant.env.now, totals["run_s"].copy()
    for row, moment in enumerate(at_s.tolist()):
        yield plant.env.timeout(max(moment - plant.env.now, 0.0))
        plant.advance()
        volts[row, numbers], amps[row, numbers] = totals["bus_v"], totals["battery_a"]
        on[row, numbers], soc[row, numbers] = state["cause"] == RUNNING, state["soc"]
        lasted_s = moment - before_s
        since = (totals["run_s"] - ran_s) / lasted_s if 0.0 < lasted_s <= LONGEST_SHARE_S else on[row, numbers]
        share[row, numbers] = since
        before_s, ran_s = moment, totals["run_s"].copy()
