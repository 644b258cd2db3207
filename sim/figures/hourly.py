"""The hourly log of a year as a table: its columns, declared once."""

import csv
import io

import numpy as np
import pandas as pd

from sim.figures.water.year import Water
from sim.light.sunlight import Sunlight
from sim.plant.causes import STANDING
from sim.plant.log import Log
from sim.weather import Weather

# Columns of the hourly log: heading with unit, what is read, divided by.
_COLUMNS = (
    ("pump_run [min]", "run_s", 60.0),
    *((cause.column, cause.seconds, 60.0) for cause in STANDING.values()),
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
    text = io.StringIO()
    lines = csv.writer(text, lineterminator="\n")
    lines.writerow([table.index.name, *table.columns])
    columns = (column.tolist() for _, column in table.round(5).items())
    lines.writerows(zip(pd.DatetimeIndex(table.index).strftime("%Y-%m-%d %H:%M:%S"), *columns, strict=True))
    return text.getvalue()
