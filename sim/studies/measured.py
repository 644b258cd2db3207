"""A log from site against the design: where they differ, and the resistance and panel factor that explain it best.

The plant of the scenario runs through the days of the log, its pump switched as it was where the log says so. Three
unknowns are fitted to the measured voltages (and currents, where there are any) by least squares: the battery's
resistance, the share of the panel's current that arrives, and the charge at the start.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from sim.errors import InputError
from sim.plant.engine import DAY_S, HOUR_S, Plant, Process, at_times
from sim.plant.faults import INPUT_OF
from sim.plant.lanes import resistance_mohm
from sim.plant.people import processes
from sim.plant.run import How, run
from sim.scenario import Scenario
from sim.studies.measured_log import Readings, read_log
from sim.studies.measured_result import Estimate, Measured
from sim.studies.result import YearResult

EVERY_S, MOST_MOMENTS = 60.0, 20_000  # how often the simulation is read, or less often in a long log
NEVER_V = -1e9  # a threshold that nothing reaches
NEVER_DAYS = 1e12  # between faults that do not come
LOWEST, HIGHEST = np.array([0.2, 0.2, 0.02]), np.array([10.0, 1.5, 1.0])  # of resistance, panel, charge
STEPS = np.array([0.05, 0.02, 0.02])  # of the differences that show the way
ROUNDS = 15
NOISE_V = 0.02  # of a reading; this and the next two are our own defaults
VOLTS_PER_A = 0.05  # an ampere of misfit counts as so many volts
DIFFERS_V = 0.06  # for each 12 V: a day whose mean difference is larger is named
UNSWITCHED = (
    "The log does not say when the pump ran. Its switching was simulated too, which the errors leave out: the "
    "resistance may be off by a tenth."
)


@dataclass(frozen=True)
class Window:
    """The days of a log ``between_s`` two midnights of a year with its ``sky`` (1, hours) of SKY, and the plant at the
    first of them, (1,) of PLANT, as the year brought it there.
    """

    scenario: Scenario
    sky: np.ndarray
    between_s: tuple[float, float]
    begins: np.ndarray
    readings: Readings

    @classmethod
    def of(cls, result: YearResult, readings: Readings) -> Window:
        """The days of a log in a simulated year, which is run again until they begin."""
        scenario, sky, begins = result.scenario, result.sky, result.log.begins
        first_s, end_s = (float(readings.at_s[k] // DAY_S + more) * DAY_S for k, more in ((0, 0), (-1, 1)))
        if first_s > 0.0:
            how = How(between_s=(0.0, first_s), tune=lambda lanes, _: np.copyto(lanes, begins))
            ((log, _),) = run([scenario], sky[np.newaxis], how=how)
            begins = log.lanes
        return cls(scenario, sky[np.newaxis], (first_s, end_s), begins, readings)

    def run(self, trials: np.ndarray, as_logged: bool = True) -> tuple[np.ndarray, np.ndarray]:
        """Voltage and current into the battery, (trials, n) at the readings.

        ``trials`` (trials, 3) are resistance and panel current over the scenario's, and the charge at the start. The
        pump is switched ``as_logged`` where the log says how, else by the controller.
        """
        forced = as_logged and self.readings.pump is not None

        def tune(lanes: np.ndarray, _: np.ndarray) -> None:
            lanes["state"], lanes["inputs"] = self.begins["state"], self.begins["inputs"]
            for name in ("r0_ohm", "r1_ohm"):
                lanes["lane"][name] *= trials[:, 0]
            lanes["inputs"]["clean"] *= trials[:, 1]
            lanes["state"]["soc"] = trials[:, 2]
            if as_logged:  # the log's own history of switching is not known
                lanes["state"]["latched"] = 1
            if forced:
                lanes["inputs"]["seasonal"] = lanes["inputs"]["load_faults"] = 0
                lanes["lane"]["off_v"] = lanes["lane"]["on_v"] = NEVER_V

        def people(plant: Plant, designs: Sequence[Scenario], numbers: np.ndarray) -> Iterable[Process]:
            switched = self._switchings() if forced else []
            logged = [at_times(plant, "scheduled", int(lane), switched) for lane in numbers]
            return [*processes(plant, designs, trials[:, 1].tolist()), *logged]

        from_s, until_s = self.between_s
        every_s = EVERY_S * np.ceil((until_s - from_s) / EVERY_S / MOST_MOMENTS)
        how = How(every_s, at_once=len(trials), tune=tune, people=people, between_s=self.between_s)
        design = switched_by_hand(self.scenario) if forced else self.scenario
        ((log, _), *_) = run([design] * len(trials), self.sky, how=how)
        columns = (log.totals["bus_v"][1:], log.totals["battery_a"][1:])  # what stands at the start was never read
        at_s = self.readings.at_s
        volts, amps = (np.array([np.interp(at_s, log.at_s[1:], lane) for lane in one.T]) for one in columns)
        return volts, amps

    def _switchings(self) -> list[tuple[float, float]]:
        """When the logged pump was switched, half-way between two readings, and to what."""
        pump = np.asarray(self.readings.pump)
        pump = (pump > 0.5).astype(int)
        edges = np.flatnonzero(np.diff(pump)) + 1
        halfway = 0.5 * (self.readings.at_s[edges] + self.readings.at_s[edges - 1])
        return [
            (self.between_s[0], float(pump[0])),
            *zip(halfway.tolist(), pump[edges].astype(float).tolist(), strict=True),
        ]

    def misfit(self, trials: np.ndarray) -> np.ndarray:
        """(trials, k) what the simulation lies above the readings, V; currents weighed as so many volts."""
        volts, amps = self.run(trials)
        parts = [volts - self.readings.voltage_v]
        if self.readings.current_a is not None:
            parts.append(VOLTS_PER_A * (amps - self.readings.current_a))
        return np.concatenate(parts, axis=1)


def switched_by_hand(scenario: Scenario) -> Scenario:
    """The scenario with nothing that switches the load by clock, season or chance; the seeds of other faults stay."""
    faults = tuple(
        one.model_copy(update={"mean_days_between": NEVER_DAYS}) if INPUT_OF[one.kind] == "load_faults" else one
        for one in scenario.care.fault
    )
    care = {"shut_down": None, "start_up": None, "fault": faults}
    return scenario.but(controller={"load_mode": "always", "load_windows": ()}, care=care, need={"quiet": None})


def _first_guess(window: Window) -> np.ndarray:
    """The best of a coarse grid over all three unknowns, large misfits counted once only."""
    grid = np.array([(r, p, c) for r in (0.6, 1.0, 1.7, 3.0) for p in (0.5, 0.7, 0.9, 1.1) for c in (0.2, 0.5, 0.8)])
    cost = np.log1p((window.misfit(grid) / NOISE_V) ** 2).sum(axis=1)
    return np.asarray(grid[cost.argmin()])


def fit(window: Window) -> tuple[np.ndarray, np.ndarray]:
    """The three unknowns that explain a log best, and their standard errors.

    Least squares with the soft-l1 loss, since readings next to a switching of the pump are off by its whole sag.
    """
    from scipy.optimize import least_squares

    known: dict[bytes, tuple[np.ndarray, np.ndarray]] = {}

    def around(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Misfit (k,) and its slopes (k, 3), all of one run of lanes."""
        if x.tobytes() not in known:
            steps = np.where(x + STEPS <= HIGHEST, STEPS, -STEPS)
            own, *moved = window.misfit(np.vstack([x, x + np.diag(steps)]))
            known[x.tobytes()] = own, ((np.array(moved) - own) / steps[:, np.newaxis]).T
        return known[x.tobytes()]

    found = least_squares(
        lambda x: around(x)[0],
        np.clip(_first_guess(window), LOWEST + 1e-3, HIGHEST - 1e-3),
        lambda x: around(x)[1],
        bounds=(LOWEST, HIGHEST),
        loss="soft_l1",
        f_scale=2.0 * NOISE_V,
        max_nfev=ROUNDS,
        x_scale=STEPS,
    )
    day = np.resize(window.readings.at_s // DAY_S, len(around(found.x)[0]))
    return found.x, _errors(*around(found.x), day)


def _errors(misfit: np.ndarray, slopes: np.ndarray, day: np.ndarray) -> np.ndarray:
    """(3,) standard errors, clustered by the ``day`` (k,) of a misfit, since what differs within a day is of one cause.

    Sandwich of (JᵀWJ)⁻¹ and the days' own pulls JᵀWr (Liang & Zeger 1986), W the weights of the soft-l1 loss.
    """
    weight = 1.0 / np.sqrt(1.0 + (misfit / (2.0 * NOISE_V)) ** 2)
    weighed = slopes * weight[:, np.newaxis]
    bread = np.linalg.pinv(weighed.T @ slopes)
    pulls = np.array([weighed[day == one].T @ misfit[day == one] for one in np.unique(day)])
    few = len(pulls) / max(len(pulls) - 1, 1)
    return np.sqrt(np.diag(bread @ (pulls.T @ pulls * few) @ bread))


def against(path: Path, result: YearResult) -> Measured:
    """A log from site against a simulated year. Raises InputError for a log that cannot be read."""
    scenario, year = result.scenario, result.weather.index[0].year
    readings, notes = read_log(path, year, result.weather.utc_offset_h, scenario.log.columns if scenario.log else None)
    if readings.at_s[-1] >= len(result.sky) * HOUR_S:
        raise InputError(str(path), "time", None, f"days that the year {year} of the weather has")
    window = Window.of(result, readings)
    own_soc = float(window.begins["state"]["soc"][0])
    best, error = fit(window)
    if readings.pump is None:
        notes += (UNSWITCHED,)
    as_it_is = window.run(np.array([[1.0, 1.0, own_soc]]), as_logged=False)[0][0]
    fitted = window.run(best[np.newaxis])[0][0]
    expected = resistance_mohm(scenario.battery)
    return Measured(
        readings=readings,
        simulated_v=as_it_is,
        fitted_v=fitted,
        expected_mohm=expected,
        resistance_mohm=Estimate(float(best[0] * expected), float(error[0] * expected)),
        panel_factor=Estimate(float(best[1]), float(error[1])),
        start_soc=Estimate(float(best[2]), float(error[2])),
        rms_before_v=_rms(as_it_is - readings.voltage_v),
        rms_after_v=_rms(fitted - readings.voltage_v),
        differing_days=_differing(readings, as_it_is, year, DIFFERS_V * scenario.battery.nominal_v / 12.0),
        notes=notes,
    )


def _rms(volts: np.ndarray) -> float:
    return float(np.sqrt(np.mean(volts**2)))


def _differing(readings: Readings, simulated_v: np.ndarray, year: int, limit_v: float) -> tuple[tuple[str, float], ...]:
    """The days on which log and simulation differ by more than a limit on average, and by how much."""
    day = (readings.at_s // DAY_S).astype(int)
    means = {int(one): float(np.abs(readings.voltage_v - simulated_v)[day == one].mean()) for one in np.unique(day)}
    dates = {one: f"{datetime(year, 1, 1) + timedelta(days=one):%m-%d}" for one in means}
    return tuple((dates[one], mean) for one, mean in means.items() if mean > limit_v)
