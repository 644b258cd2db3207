"""What was read off the lanes, at regular moments; and the columns of the hourly log, declared once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sim.records import EVENT, EXTREMES, PLANT, TOTALS

if TYPE_CHECKING:
    from sim.sunlight import Sunlight
    from sim.water.year import Water
    from sim.weather import Weather

# Columns of the hourly log: heading with unit, what is read, divided by.
_COLUMNS = (
    ("pump_run [min]", "run_s", 60.0),
    ("stopped_by_schedule [min]", "schedule_s", 60.0),
    ("stopped_by_low_voltage [min]", "low_voltage_s", 60.0),
    ("stopped_by_protection [min]", "protection_s", 60.0),
    ("stopped_by_pump_voltage [min]", "stalled_s", 60.0),
    ("stopped_by_fault [min]", "fault_s", 60.0),
    ("stopped_by_season [min]", "seasonal_s", 60.0),
    ("stopped_by_overload [min]", "overload_s", 60.0),
    ("starts [1]", "starts", 1.0),
    ("charge_at_end [1]", "soc", 1.0),
    ("charge_lowest [1]", "soc_low", 1.0),
    ("charge_highest [1]", "soc_high", 1.0),
    ("controller_voltage_at_end [V]", "bus_v", 1.0),
    ("controller_voltage_lowest [V]", "bus_low_v", 1.0),
    ("controller_voltage_highest [V]", "bus_high_v", 1.0),
    ("battery_voltage_at_end [V]", "battery_v", 1.0),
    ("charge_in [Ah]", "charge_ah", 1.0),
    ("charge_out [Ah]", "discharge_ah", 1.0),
    ("charge_refused [min]", "refused_s", 60.0),
    ("absorption [min]", "absorption_s", 60.0),
    ("float [min]", "float_s", 60.0),
    ("panel_possible [Wh]", "possible_wh", 1.0),
    ("panel [Wh]", "panel_wh", 1.0),
    ("not_harvested [Wh]", "spare_wh", 1.0),
    ("pump [Wh]", "pump_wh", 1.0),
)
_FLAT = len(TOTALS.names or ())
_MOMENTARY = {"soc", "v1_v", "battery_v", "battery_a", "bus_v", "longest_stop_s", "shortest_run_s", *EXTREMES}


def _flat_totals(lanes: np.ndarray) -> np.ndarray:
    """(lanes, columns) float view of the totals inside the lanes' records: copying it is ten times as fast."""
    offset = PLANT.fields["totals"][1]  # type: ignore[index]
    return np.ndarray((len(lanes), _FLAT), np.float64, buffer=lanes, offset=offset, strides=(PLANT.itemsize, 8))


@dataclass
class Log:
    """Totals of every lane at the start and after every interval.

    ``at_s`` (n+1,) seconds since the year began; ``totals`` (n+1, lanes) of TOTALS, running sums except for the
    momentary values and the extremes, which belong to the interval that ends there.
    """

    at_s: np.ndarray
    totals: np.ndarray
    taken: int = 0
    lanes: np.ndarray = field(default_factory=lambda: np.empty(0))
    events: np.ndarray = field(default_factory=lambda: np.empty((0, 0), EVENT))
    _rows: np.ndarray = field(default_factory=lambda: np.empty(0), repr=False)
    _source: np.ndarray = field(default_factory=lambda: np.empty(0), repr=False)

    @classmethod
    def empty(cls, lanes: np.ndarray, readings: int) -> Log:
        """A log of ``lanes`` with the first moment in it."""
        log = cls(np.zeros(readings + 1), np.zeros((readings + 1, len(lanes)), TOTALS), lanes=lanes)
        log._rows = log.totals.view(np.float64).reshape(readings + 1, len(lanes), _FLAT)
        log._source = _flat_totals(lanes)
        log._rows[0] = log._source
        return log

    def take(self, now_s: float) -> None:
        """Keep the totals of this moment."""
        self.taken += 1
        self.at_s[self.taken] = now_s
        self._rows[self.taken] = self._source

    def close(self, lanes: np.ndarray, events: np.ndarray) -> None:
        """Keep the lanes as they ended, and the events they recorded."""
        self.lanes, self.events = lanes, events

    @classmethod
    def joined(cls, logs: list[Log], numbers: list[np.ndarray]) -> Log:
        """One log of lanes that ran in several; ``numbers`` holds the place of each of their lanes."""
        order = np.argsort(np.concatenate(numbers))
        totals = np.concatenate([log.totals for log in logs], axis=1)[:, order]
        return cls(logs[0].at_s, totals, logs[0].taken, np.concatenate([log.lanes for log in logs])[order])

    def per_interval(self, name: str, lane: int = 0) -> np.ndarray:
        """(n,) what a running total gained in each interval, or the value there of a momentary one."""
        column = self.totals[name][:, lane]
        return column[1:] if name in _MOMENTARY else np.diff(column)

    def events_of(self, lane: int = 0) -> np.ndarray:
        """The starts and stops of a lane in order, (k,) of EVENT."""
        count = min(int(self.lanes["state"]["events"][lane]), self.events.shape[1])
        return self.events[lane, :count]


def as_csv(
    log: Log, weather: Weather, sunlight: Sunlight, sky: np.ndarray, lane: int = 0, water: Water | None = None
) -> str:
    """The hourly log of one lane as text: a heading line with units, then a row an hour, stamped at its start."""
    import pandas as pd

    table = {
        "air [C]": weather.temp_air,
        "battery [C]": sky["cell_c"],
        "in_plane [W/m2]": sunlight.poa_wm2,
    }
    for heading, name, divisor in _COLUMNS:
        table[heading] = log.per_interval(name, lane) / divisor
    if water:
        table |= {"water [l]": water.litres_by_hour, "pond [C]": water.temperature.water_c}
    frame = pd.DataFrame(table, index=weather.index.tz_localize(None))
    return frame.round(5).to_csv(index_label="hour_from [local standard time]", lineterminator="\n")
