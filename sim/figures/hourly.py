"""The hourly log of a year as a table: its columns, declared once."""

import numpy as np
import pandas as pd

from sim.figures.water.year import Water
from sim.light.sunlight import Sunlight
from sim.plant.log import Log
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
    ("stopped_by_high_voltage [min]", "overvoltage_s", 60.0),
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
    ("heater [Wh]", "heater_wh", 1.0),
)


def table_of(
    log: Log, weather: Weather, sunlight: Sunlight, sky: np.ndarray, lane: int = 0, water: Water | None = None
) -> pd.DataFrame:
    """The hourly log of one lane: a row an hour, stamped at its start in local standard time, units in the headings."""
    table = {"air [C]": weather.temp_air, "battery [C]": sky["cell_c"], "in_plane [W/m2]": sunlight.poa_wm2}
    for heading, name, divisor in _COLUMNS:
        table[heading] = log.per_interval(name, lane) / divisor
    if water:
        table |= {"water [l]": water.litres_by_hour, "pond [C]": water.temperature.water_c}
    index = weather.index.tz_localize(None).rename("hour_from [local standard time]")
    return pd.DataFrame(table, index=index)


def as_csv(table: pd.DataFrame) -> str:
    """An hourly log as text: a heading line, then a row an hour."""
    return table.round(5).to_csv(lineterminator="\n")
