"""What a comparison of a log with the design says."""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from sim.studies.measured_log import Readings


@dataclass(frozen=True)
class Estimate:
    """A value with its standard error."""

    value: float
    error: float


@dataclass(frozen=True)
class Measured:
    """What the log says; ``resistance_mohm`` is R0 + R1 of the battery in the scenario's terms, arrays are (n,)."""

    readings: Readings
    simulated_v: np.ndarray  # by the scenario as it is
    fitted_v: np.ndarray
    expected_mohm: float
    resistance_mohm: Estimate
    panel_factor: Estimate
    start_soc: Estimate
    rms_before_v: float
    rms_after_v: float
    differing_days: tuple[tuple[str, float], ...]  # "MM-DD", mean difference in V of the scenario as it is
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return {
            "readings": len(self.readings.at_s),
            "expected_mohm": self.expected_mohm,
            "resistance_mohm": asdict(self.resistance_mohm),
            "panel_factor": asdict(self.panel_factor),
            "start_soc": asdict(self.start_soc),
            "rms_before_v": self.rms_before_v,
            "rms_after_v": self.rms_after_v,
            "differing_days": [list(day) for day in self.differing_days],
            "notes": list(self.notes),
        }

    def in_words(self) -> tuple[str, ...]:
        """What the log says: of the resistance, of the panel, of the days, and what was noticed."""
        days = len(self.differing_days)
        which = ", ".join(f"{day} by {volts:.2f} V" for day, volts in self.differing_days[:10])
        ohms, panel = self.resistance_mohm, self.panel_factor
        return (
            f"Battery and its connections behave like {ohms.value:.0f} ± {2.0 * ohms.error:.1f} mΩ; the scenario has "
            f"{self.expected_mohm:.0f} mΩ.",
            f"The panel's current is {panel.value:.0%} of what the scenario expects, give or take "
            f"{200.0 * panel.error:.1f} points (two standard errors): dirt, shade, ageing, or other weather.".replace(
                "% of", " % of", 1
            ),
            f"On {days} days log and simulation differ by much on average: {which}{' and more' if days > 10 else ''}."
            if days
            else "On no day do log and simulation differ by much on average.",
            *self.notes,
        )
