"""What a comparison of designs is told: the alternatives, and what things cost."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from pydantic import field_validator

from sim.scenario.fields import Line, Section, between, field

AS_IT_IS = "as it is"  # the name of the scenario's own design
_SET = 'a table of changed keys, such as { "panel.tilt_deg" = 45 }'


def flat(changes: Mapping[str, Any], prefix: str = "") -> Iterator[tuple[str, Any]]:
    """Tables within a table of changes as dotted keys, which is what a TOML file makes of keys without quotes.

    >>> list(flat({"panel": {"tilt_deg": 45}, "need.longest_stop_h": 6}))
    [('panel.tilt_deg', 45), ('need.longest_stop_h', 6)]
    """
    for key, value in changes.items():
        if isinstance(value, Mapping):
            yield from flat(value, f"{prefix}{key}.")
        else:
            yield f"{prefix}{key}", value


def clash(keys: list[str]) -> tuple[str, str] | None:
    """Two of the keys that change the same thing: equal, or one inside the other.

    >>> clash(["panel.tilt_deg", "panel.shade", "panel.shade.0.transmittance"])
    ('panel.shade', 'panel.shade.0.transmittance')
    """
    spelt = sorted((key.replace("[", ".").replace("]", "").split("."), key) for key in keys)
    pairs = zip(spelt, spelt[1:], strict=False)
    return next(((one, other) for (a, one), (b, other) in pairs if b[: len(a)] == a), None)


def twice(names: Iterable[str]) -> str | None:
    """A name that stands more than once.

    >>> twice(["flat", "tilted", "flat"]), twice(["flat"])
    ('flat', None)
    """
    return next((name for name, count in Counter(names).items() if count > 1), None)


class Alternative(Section):
    """Another design: what is changed in the scenario, and what the change costs if that is known."""

    name: Line = field(..., "text of 1 to 60 characters", min_length=1, max_length=60)
    set: dict[str, Any] = field(..., _SET, min_length=1)
    cost: float | None = between(0, 1e9, None)

    @field_validator("set")
    @classmethod
    def _is_clear(cls, changes: dict[str, Any]) -> dict[str, Any]:
        keys = [key for key, _ in flat(changes)]
        if found := clash(keys):
            raise ValueError("one value for each key; {} and {} clash".format(*found))
        return changes

    def __hash__(self) -> int:
        """Equal alternatives share it."""
        return hash((self.name, self.cost, repr(self.set)))

    @property
    def changes(self) -> dict[str, Any]:
        """The changed values by their dotted keys."""
        return dict(flat(self.set))


class Cost(Section):
    """Prices in the user's own currency; what is left out is unknown, and nothing is said of it.

    A purchase is spread over ``years``, so that it can stand beside what costs something every year.
    """

    currency: Line = field("", "text of up to 10 characters, such as EUR", max_length=10)
    system: float | None = between(0, 1e9, None)
    panel_per_w: float | None = between(0, 1e6, None)
    pump: float | None = between(0, 1e9, None)
    pump_years: float = between(0.1, 50, 2.0)  # pond keepers: small ones last 1 to 3 years
    battery_per_ah: float | None = between(0, 1e6, None)
    controller: float | None = between(0, 1e9, None)
    cable_per_m: float | None = between(0, 1e6, None)
    mounting: float | None = between(0, 1e9, None)
    cleaning_per_visit: float | None = between(0, 1e6, None)
    trimming_per_visit: float | None = between(0, 1e6, None)
    water_per_m3: float | None = between(0, 1e6, None)
    mains_per_kwh: float | None = between(0, 1e6, None)
    mains_connection: float = between(0, 1e9, 0.0)
    years: float = between(1, 50, 10.0)  # our own default
