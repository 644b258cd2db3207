"""Whether shade or dirt is to blame for a stop: the same system without it, simulated through the same year."""

from dataclasses import replace

import numpy as np

from sim.figures.causes import Running, Twins
from sim.light.sunlight import sunlight_on
from sim.plant.causes import LOW_VOLTAGE
from sim.plant.log import Log
from sim.plant.run import HOURLY, How, run
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.weather import Weather

KEPT_CLEAN = {"soiling_per_month": 0.0, "snow": ()}  # as ``care``
USUAL_SOILING = 0.05  # share of light lost to a panel's usual film of dirt, which nobody would blame; our own default


def unshaded(scenario: Scenario) -> Scenario | None:
    """The scenario with nothing in front of its sky, or None if there is nothing anyhow."""
    if not scenario.panel.shade:
        return None
    return scenario.but(panel={"shade": ()})


def cleaned(scenario: Scenario) -> Scenario | None:
    """The scenario with no snow and no dirt beyond the usual film on its panel, or None if it has none anyhow."""
    panel, care = scenario.panel, scenario.care
    if not (care.soiling_per_month or care.snow or panel.soiling > USUAL_SOILING):
        return None
    film = panel.soiling if panel.soiling <= USUAL_SOILING else 0.0
    return scenario.but(panel={"soiling": film}, care=KEPT_CLEAN)


WITHOUT = {"shade": unshaded, "dirt or snow": cleaned}


def twins_of(scenario: Scenario, weather: Weather, log: Log, lane: int = 0, how: How = HOURLY) -> Twins:
    """How long the pumps of the twins ran; none where no stop by low voltage leaves a question.

    Of one design alone they begin ``how`` it began.
    """
    designs = {cause: twin for cause, make in WITHOUT.items() if (twin := make(scenario)) is not None}
    if not designs or not np.any(log.events_of(lane)["cause"] == LOW_VOLTAGE):
        return {}
    several = list(designs.values())
    sky = np.array([sky_row(sunlight_on(one, weather), weather, one.battery) for one in several])
    ended = None if how.ended is None else how.ended.repeat(len(several))
    ran = run(several, sky, how=replace(how, places=range(len(several)), ended=ended))
    return {
        cause: Running(log.at_s, log.totals["run_s"][:, row]) for cause, (log, row) in zip(designs, ran, strict=True)
    }
