"""What a design rule says: a finding where it is broken, and by how much it is kept where it is not."""

from dataclasses import dataclass
from typing import Any

from sim.language import digits
from sim.units import Quantity, sentence

OWN = sentence("our own default")
LEVELS = ("warning", "caution", "note")


@dataclass(frozen=True)
class Finding:
    """A rule that was broken: ``level`` is note, caution or warning.

    Where value and limit have a unit that readers may see otherwise, ``unit`` names it as ``units.READ`` does.
    """

    id: str
    level: str
    message: str
    value: float
    limit: float
    source: str
    unit: str = ""

    def as_json(self) -> dict[str, Any]:
        """Plain data, in SI."""
        return {name: value for name, value in vars(self).items() if name != "unit"}

    def read(self, value: float) -> str:
        """The value or the limit as it is read now."""
        return read(value, self.unit)


@dataclass(frozen=True)
class Passed:
    """A rule that was judged and kept: what was looked at, and the limit, the most or the ``least`` that is allowed."""

    id: str
    what: str
    value: float
    limit: float
    source: str
    unit: str = ""
    least: bool = False

    @property
    def margin(self) -> float:
        """How far the value is on the right side of its limit."""
        return self.value - self.limit if self.least else self.limit - self.value

    def as_json(self) -> dict[str, Any]:
        """Plain data, in SI; the keys are those of a finding, and the margin."""
        return {
            "id": self.id,
            "level": "ok",
            "message": self.what,
            "value": self.value,
            "limit": self.limit,
            "source": self.source,
            "margin": self.margin,
        }


Said = Finding | Passed | None  # None: there was nothing to judge


def read(value: float, unit: str) -> str:
    """A value as it is read now."""
    return str(Quantity(value, unit, ".4g")) if unit else digits(f"{value:.4g}")
