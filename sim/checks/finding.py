"""What a broken design rule says."""

from dataclasses import dataclass
from typing import Any

from sim.units import Quantity

OWN = "our own default"
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
        return str(Quantity(value, self.unit, ".4g")) if self.unit else f"{value:.4g}"
