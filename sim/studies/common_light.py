"""The light on designs that differ by tilt and size alone: made once for each tilt and year, and scaled."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

import numpy as np

from sim.light.sunlight import sunlight_on
from sim.plant.records import SKY
from sim.plant.sky import scale, sky_row
from sim.studies.chains import as_in

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.weather import Weather

KEPT = 40  # years of one tilt, some 4 MB each
Key = TypeVar("Key")
Made = TypeVar("Made")


class Light(NamedTuple):
    """What the light on a design follows from: that of others with equal tilt differs by its ``watts`` alone."""

    tilt_deg: float
    watts: float


def light_of(scenario: Scenario) -> Light:
    """What a design's light differs by from that of others with the same panel, larger or smaller."""
    panel = scenario.panel
    return Light(panel.tilt_deg, panel.power_w * panel.count)


def scaled(row: np.ndarray, times: float, out: np.ndarray) -> None:
    """Write the sky (hours,) of a panel of so many times the power, which has the same voltages, into ``out``."""
    out[:] = row
    scale(out, times)


class Lights:
    """The years that ``weather(number)`` makes, and the light that they bring to a panel at any tilt.

    The latest are kept. Another process gets none of them: it makes its own.
    """

    def __init__(self, weather: Callable[[int], Weather], own: Scenario) -> None:
        """Of one scenario's panel: whoever's turn it is, the light is its own, scaled."""
        self.weather, self.own = weather, own
        self.__setstate__(vars(self).copy())

    def __getstate__(self) -> dict[str, Any]:
        """How the years are made."""
        return {"weather": self.weather, "own": self.own}

    def __setstate__(self, state: dict[str, Any]) -> None:
        """Nothing is kept yet."""
        vars(self).update(state)
        self._lock = threading.Lock()
        self._years: OrderedDict[int, Weather] = OrderedDict()
        self._rows: OrderedDict[tuple[int, float], np.ndarray] = OrderedDict()

    def year(self, number: int) -> Weather:
        """A year."""
        return self._kept(self._years, number, lambda: self.weather(number))

    def table(self, number: int, scenarios: Sequence[Scenario], room: Callable[[int, int], np.ndarray]) -> Table:
        """The sky of a year for scenarios, in what ``room(rows, hours)`` gives, a row for each distinct light."""
        lights = sorted({light_of(one) for one in scenarios})
        table = room(len(lights), len(self.year(number).ghi))
        own_w = light_of(self.own).watts
        for light, out in zip(lights, table, strict=True):
            scaled(self._row(number, light.tilt_deg), light.watts / own_w, out)
        return Table(table, [lights.index(light_of(one)) for one in scenarios])

    def _row(self, number: int, tilt_deg: float) -> np.ndarray:
        """(hours,) of SKY of the scenario's own panel at a tilt."""
        return self._kept(self._rows, (number, tilt_deg), lambda: self._made(number, tilt_deg))

    def _made(self, number: int, tilt_deg: float) -> np.ndarray:
        weather = self.year(number)
        tilted = self.own.panel.model_copy(update={"tilt_deg": tilt_deg})
        own = as_in(self.own.model_copy(update={"panel": tilted}), weather, number)
        row = np.empty(len(weather.ghi), SKY)
        sky_row(sunlight_on(own, weather), weather, own.battery, row)
        return row

    def _kept(self, kept: OrderedDict[Key, Made], key: Key, make: Callable[[], Made]) -> Made:
        """What is kept under a key, made if it is not there; the oldest is let go."""
        with self._lock:
            if key in kept:
                kept.move_to_end(key)
                return kept[key]
        made = make()
        with self._lock:
            kept[key] = made
            while len(kept) > KEPT:
                kept.popitem(last=False)
        return made


class Table(NamedTuple):
    """``sky`` (rows, hours) of SKY, and each scenario's row in it."""

    sky: np.ndarray
    rows: list[int]
