"""Humidity, pressure and rain, from files that have them: taken where they can be believed, else left out."""

from typing import Any

import numpy as np
import pandas as pd

from sim.units import Quantity, sentence
from sim.weather.order import LARGEST_FILLED_SHARE
from sim.weather.weather import EXTRAS

BOUNDS = {"dew_point": (-95.0, 36.0), "pressure": (45.0, 110.0), "rain": (0.0, 998.0)}  # beyond: a mark for "no data"
HEAVIEST_MM_H, WETTEST_MM = 305.0, 3000.0  # in an hour, near the record; in a year, more than nearly anywhere: choices
DAMP_K = 2.0  # a dew point further above the air than this is wrong
WORDS = {"dew_point": "humidity", "pressure": "pressure", "rain": "rain"}


def extras_of(table: pd.DataFrame) -> tuple[dict[str, Any], list[str]]:
    """The columns of ``EXTRAS`` that a table has and that can be believed, each (hours,) and whole, and notes.

    A gap is filled from its neighbours, in the rain with none. A column that is not believed is left out and named;
    rain that never falls is no column at all.
    """
    there = {name: _known(name, table[name].to_numpy(dtype=float)) for name in EXTRAS if name in table}
    there = {name: values for name, values in there.items() if not np.isnan(values).all()}
    why = {name: said for name, values in there.items() if (said := _doubt(name, values, table))}
    kept = {name: _whole(name, values) for name, values in there.items() if name not in why}
    if "dew_point" in kept:
        kept["dew_point"] = np.minimum(kept["dew_point"], table["temp_air"].to_numpy(dtype=float))
    if "rain" in kept and not kept["rain"].any():
        del kept["rain"]
    return kept, [
        sentence("The file's {what} is left out: {why}.", what=WORDS[name], why=said) for name, said in why.items()
    ]


def _known(name: str, values: np.ndarray) -> np.ndarray:
    """The figures, NaN where one stands for "no data"."""
    low, high = BOUNDS[name]
    return np.asarray(np.where((values >= low) & (values <= high), values, np.nan))


def _doubt(name: str, values: np.ndarray, table: pd.DataFrame) -> str:
    """Why a column is not believed; empty where it is."""
    missing = float(np.isnan(values).mean())
    if missing > LARGEST_FILLED_SHARE:
        return f"it is missing in {100.0 * missing:.0f} % of the hours"
    if name == "rain":
        most, total = np.nanmax(values), np.nansum(values)
        too_wet = most > HEAVIEST_MM_H or total > WETTEST_MM
        fell = {"total": Quantity(float(total), "mm", ",.0f"), "most": Quantity(float(most), "mm", ".0f")}
        return sentence("it comes to {total} with {most} in an hour", **fell) if too_wet else ""
    damp = values > table["temp_air"].to_numpy(dtype=float) + DAMP_K
    above = name == "dew_point" and damp.mean() > LARGEST_FILLED_SHARE
    return f"its dew point lies above the air in {100.0 * damp.mean():.0f} % of the hours" if above else ""


def _whole(name: str, values: np.ndarray) -> np.ndarray:
    """Without gaps."""
    if name == "rain":
        return np.asarray(np.nan_to_num(values))
    known = ~np.isnan(values)
    hours = np.arange(len(values))
    return np.asarray(np.interp(hours, hours[known], values[known]))
