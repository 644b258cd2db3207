"""What a comparison of a log with the design says."""

from __future__ import annotations

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
    """What the log says; resistances are R0 + R1 of the battery in the scenario's terms, arrays are (n,).

    Where a fit would be worse than the scenario itself there is none, and what it would give is None.
    """

    readings: Readings
    simulated_v: np.ndarray  # by the scenario as it is
    fitted_v: np.ndarray
    expected_mohm: float
    resistance_mohm: Estimate | None  # of the battery with what its leads have beyond the scenario's
    panel_factor: Estimate | None
    start_soc: Estimate | None
    offset_v: Estimate | None
    rms_before_v: float
    rms_after_v: float
    poor: bool
    differing_days: tuple[tuple[str, float], ...]  # "MM-DD", mean difference in V of the scenario as it is
    notes: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        estimates = {
            "resistance_mohm": self.resistance_mohm,
            "panel_factor": self.panel_factor,
            "start_soc": self.start_soc,
            "offset_v": self.offset_v,
        }
        return {
            "readings": len(self.readings.at_s),
            "expected_mohm": self.expected_mohm,
            **{name: asdict(one) if one else None for name, one in estimates.items()},
            "rms_before_v": self.rms_before_v,
            "rms_after_v": self.rms_after_v,
            "poor": self.poor,
            "differing_days": [list(day) for day in self.differing_days],
            "notes": list(self.notes),
        }

    def in_words(self) -> tuple[str, ...]:
        """What the log says: of the resistances, of the panel, of the days, and what was noticed."""
        days = len(self.differing_days)
        which = ", ".join(f"{day} by {volts:.2f} V" for day, volts in self.differing_days[:10])
        return (
            *self._of_resistances(),
            *self._of_panel(),
            f"On {days} days log and simulation differ by much on average: {which}{' and more' if days > 10 else ''}."
            if days
            else "On no day do log and simulation differ by much on average.",
            *self.notes,
        )

    def _of_resistances(self) -> tuple[str, ...]:
        if self.resistance_mohm is None:
            return ()
        it = self.resistance_mohm
        return (
            f"Battery and its connections behave like {it.value:.0f} ± {2.0 * it.error:.1f} mΩ; the scenario has "
            f"{self.expected_mohm:.0f} mΩ.",
        )

    def _of_panel(self) -> tuple[str, ...]:
        said: tuple[str, ...] = ()
        if self.panel_factor:
            said = (
                f"The panel's current is {100.0 * self.panel_factor.value:.0f} % of what the scenario expects, give or "
                f"take {200.0 * self.panel_factor.error:.1f} points (two standard errors): dirt, shade, ageing, or "
                "other weather.",
            )
        if self.offset_v and abs(self.offset_v.value) > 2.0 * self.offset_v.error:
            more = "more" if self.offset_v.value > 0.0 else "less"
            said += (f"The logger's meter reads {1000.0 * abs(self.offset_v.value):.0f} mV {more} than is there.",)
        return said
