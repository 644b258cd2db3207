"""A log from site against the design: where they differ, and what explains it best.

The plant of the scenario runs through the days of the log, its pump switched as it was where the log says so. Unknown
are the resistance of battery and leads together, the share of the panel's current that arrives, the charge at the start
and the meter's offset. Where the log is of another year than the weather, the sun is that of its charging current.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import numpy as np

from sim.calendar import DAY_S
from sim.studies.diagnose_light import NOON_SHARE, Light, light_of
from sim.studies.diagnose_log import thinned
from sim.studies.diagnose_seen import NOISE_V
from sim.studies.diagnose_trials import plain
from sim.studies.measured_fit import Fit
from sim.studies.measured_log import Readings, log_beside, through
from sim.studies.measured_misfit import trials_of
from sim.studies.measured_result import Estimate, Measured
from sim.studies.measured_window import Window
from sim.studies.result import YearResult

MOST_READINGS = 4000  # of a longer log so many are taken, evenly
OF_RESISTANCE, OF_PANEL = 0.02, 0.015  # by which the model may be off beside its unknowns, tried on made-up systems
DIFFERS_V = 0.06  # for each 12 V: a day whose mean difference is larger is named
POOR_V = 0.06  # for each 12 V: a fit that is off by more explains nothing; our own default
UNSWITCHED = "The log does not say when the pump ran: its switching was simulated too, by the written load voltages."
POOR = (
    "The fit is poor: something else differs from the scenario, or the weather of these days was another. Its figures "
    "mean little; sunrill diagnose looks for the cause."
)
REFUSED = "No resistance and panel factor explain the log better than the scenario itself does: nothing was fitted."
OWN_SUN = "The sun is taken from the log's own charging current; the panel factor rests on its clear noons."
NO_SUN = "The weather of these days is not known and the log has no charging current: the panel factor means nothing."


def against(path: Path, result: YearResult) -> Measured:
    """A log from site against a simulated year. Raises InputError for a log that cannot be read."""
    scenario, year = result.scenario, result.weather.index[0].year
    readings, notes, known = log_beside(path, scenario, result.weather.index, result.weather.utc_offset_h)
    few = thinned(readings, MOST_READINGS)
    light = light_of(scenario, through(result.sky, few), few, known)
    if not known:
        notes += (OWN_SUN if light.known else NO_SUN,)
    return compared(Window.of(result, few, light.sky), light, year, notes)


def compared(window: Window, light: Light, year: int, notes: tuple[str, ...]) -> Measured:
    """The log against the scenario as it is and as fitted; one that is worse by more than a reading's noise is none."""
    readings, blocks = window.readings, window.scenario.battery.nominal_v / 12.0
    found = Fit(window, light.share is None).cloud()
    as_it_is = window.run(plain(1), as_logged=False).volts[:, 0].astype(float)
    fitted = window.run(trials_of(window, found.best[np.newaxis])).volts[:, 0] + found.best_offset_v
    quiet_before, quiet_after = (_rms(_quiet(volts - readings.voltage_v)) for volts in (as_it_is, fitted))
    better = quiet_after < quiet_before + NOISE_V * blocks
    before, after = _rms(as_it_is - readings.voltage_v), _rms(fitted - readings.voltage_v)
    if readings.pump is None:
        notes += (UNSWITCHED,)
    poor = better and after > POOR_V * blocks
    notes += (POOR,) * poor + (REFUSED,) * (not better)
    return Measured(
        readings=readings,
        simulated_v=as_it_is,
        fitted_v=fitted if better else as_it_is,
        expected_mohm=1000.0 * window.ohm,
        resistance_mohm=_estimate(found.resistance, OF_RESISTANCE, 1000.0 * window.ohm) if better else None,
        panel_factor=_panel(found.panel, light) if better else None,
        start_soc=_estimate(found.charge) if better else None,
        offset_v=_estimate(found.offset) if better else None,
        rms_before_v=before,
        rms_after_v=after if better else before,
        poor=poor,
        differing_days=_differing(readings, as_it_is, year, DIFFERS_V * blocks),
        notes=notes,
    )


def _estimate(found: Estimate, share: float = 0.0, scale: float = 1.0) -> Estimate:
    """One of the unknowns with its error, and the share by which the model itself may be off."""
    value, error = found.value * scale, found.error * scale
    return Estimate(value, float(np.hypot(error, share * value)))


def _panel(found: Estimate, light: Light) -> Estimate | None:
    """The share of the panel's current that arrives, by the fit, or by the log's own clear noons."""
    if light.share is not None:
        return Estimate(light.share, NOON_SHARE * light.share)
    return _estimate(found, OF_PANEL) if light.known else None


def _quiet(misfit: np.ndarray) -> np.ndarray:
    """The nine tenths that are off least: a reading beside a switching of the pump is off by its whole sag."""
    return np.sort(np.abs(misfit))[: -(-9 * len(misfit) // 10)]


def _rms(volts: np.ndarray) -> float:
    return float(np.sqrt(np.mean(volts**2)))


def _differing(readings: Readings, simulated_v: np.ndarray, year: int, limit_v: float) -> tuple[tuple[str, float], ...]:
    """The days on which log and simulation differ by more than a limit on average, and by how much."""
    day = (readings.at_s // DAY_S).astype(int)
    means = {int(one): float(np.abs(readings.voltage_v - simulated_v)[day == one].mean()) for one in np.unique(day)}
    dates = {one: f"{datetime(year, 1, 1) + timedelta(days=one):%m-%d}" for one in means}
    return tuple((dates[one], mean) for one, mean in means.items() if mean > limit_v)
