"""The days of a log in a simulated year, run again with another resistance, panel and charge."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sim.calendar import DAY_S
from sim.plant.engine import Plant, Process, at_times
from sim.plant.faults import INPUT_OF
from sim.plant.lanes import resistance_mohm
from sim.plant.people import processes
from sim.plant.run import How, run
from sim.scenario import Scenario
from sim.studies.diagnose_trials import AT_ONCE, Ran, room_for, sampler, tuned
from sim.studies.measured_log import Readings
from sim.studies.result import YearResult

NEVER_V = -1e9  # a threshold that nothing reaches
NEVER_DAYS = 1e12  # between faults that do not come
PART_ON = 0.03  # a share of an interval that is neither none nor all


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
    def of(cls, result: YearResult, readings: Readings, sky: np.ndarray | None = None) -> Window:
        """The days of a log in a simulated year, which is run again until they begin; then under another sky."""
        scenario, begins = result.scenario, result.log.begins
        first_s, end_s = (float(readings.at_s[k] // DAY_S + more) * DAY_S for k, more in ((0, 0), (-1, 1)))
        if first_s > 0.0:
            how = How(between_s=(0.0, first_s), tune=lambda lanes, _: np.copyto(lanes, begins))
            ((log, _),) = run([scenario], result.sky[np.newaxis], how=how)
            begins = log.lanes
        used = result.sky if sky is None else sky
        return cls(scenario, used[np.newaxis], (first_s, end_s), begins, readings)

    @property
    def ohm(self) -> float:
        """The battery's resistance as it is written, R0 + R1, Ω."""
        return resistance_mohm(self.scenario.battery) / 1000.0

    @property
    def own_charge(self) -> float:
        """The charge that the year has when the log begins."""
        return float(self.begins["state"]["soc"][0])

    def run(self, trials: np.ndarray, as_logged: bool = True) -> Ran:
        """What (trials,) of TRIAL do at the readings; what they count is left out.

        The pump is switched ``as_logged`` where the log says how, else by the controller.
        """
        forced = as_logged and self.readings.pump is not None

        def tune(lanes: np.ndarray, numbers: np.ndarray) -> None:
            lanes["state"], lanes["inputs"] = self.begins["state"], self.begins["inputs"]
            lanes["inputs"]["load_faults"] = lanes["inputs"]["battery_faults"] = 0  # those of now come by themselves
            tuned(lanes, trials[numbers])
            lanes["inputs"]["clean"] *= trials["light"][numbers]
            lanes["state"]["soc"] = np.clip(lanes["state"]["soc"] + trials["soc"][numbers], 0.01, 0.999)
            if as_logged:  # the log's own history of switching is not known
                lanes["state"]["latched"] = 1
            if forced:
                lanes["inputs"]["seasonal"] = 0
                lanes["lane"]["off_v"] = lanes["lane"]["on_v"] = NEVER_V

        kept = room_for(len(self.readings.at_s), len(trials))

        def people(plant: Plant, designs: Sequence[Scenario], numbers: np.ndarray) -> Iterable[Process]:
            logged = [at_times(plant, "scheduled", slice(None), self._switchings())] if forced else []
            read = sampler(plant, self.readings.at_s, kept, numbers)
            return [*processes(plant, designs, trials["light"][numbers].tolist()), *logged, read]

        design = switched_by_hand(self.scenario) if forced else self.scenario
        how = How(DAY_S, at_once=AT_ONCE, tune=tune, people=people, between_s=self.between_s)
        run([design] * len(trials), self.sky, how=how)
        return Ran(trials, *kept, {}, np.zeros(len(trials)), 1)

    def _switchings(self) -> list[tuple[float, float]]:
        """When the logged pump was switched, and to what: half-way between two readings of its state; a share of an
        interval lies at its beginning.
        """
        share, at_s = np.nan_to_num(np.asarray(self.readings.pump)), self.readings.at_s
        changes = [(self.between_s[0], float(share[0] > 0.5))]
        for k in range(1, len(share)):
            before_s, now_s = float(at_s[k - 1]), float(at_s[k])
            if PART_ON < share[k] < 1.0 - PART_ON:
                changes += [(before_s, 1.0), (before_s + float(share[k]) * (now_s - before_s), 0.0)]
            elif (on := float(share[k] > 0.5)) != changes[-1][1]:
                changes.append((0.5 * (before_s + now_s), on))
        return changes


def switched_by_hand(scenario: Scenario) -> Scenario:
    """The scenario with nothing that switches the load by clock, season or chance; the seeds of other faults stay."""
    faults = tuple(
        one.model_copy(update={"mean_days_between": NEVER_DAYS}) if INPUT_OF[one.kind] == "load_faults" else one
        for one in scenario.care.fault
    )
    care = {"shut_down": None, "start_up": None, "fault": faults}
    return scenario.but(controller={"load_mode": "always", "load_windows": ()}, care=care, need={"quiet": None})
