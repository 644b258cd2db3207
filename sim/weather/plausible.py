"""Air and wind that no place on Earth has: single wrong figures become gaps, whole wrong columns are refused."""

import numpy as np
import pandas as pd

from sim.errors import InputError

SPIKE_K, ZERO_K = 15.0, 10.0  # up and down again within two hours; from 0 to the next figure: choices
JUMP_K = 25.0  # within an hour, and staying there; a choice, beyond what fronts and warm falling winds bring
FROZEN_H = 72  # the same temperature for so long: the sensor stands still; a choice
MEANS = {  # of a year: the hottest and the coldest mean recorded are 34.6 and -58 C; wind: a choice, and the reason
    "temp_air": (-60.0, 36.0, "C as the mean of the year; a column in F or K reads so"),
    "wind_speed": (0.0, 10.0, "m/s as the mean of the year; a column in km/h reads so"),
}


def runs_of(chosen: np.ndarray) -> list[tuple[int, int]]:
    """First place and length of each run of chosen places.

    >>> runs_of(np.array([False, True, True, False, True]))
    [(1, 2), (4, 1)]
    """
    edges = np.flatnonzero(np.diff(np.concatenate(([0], chosen.astype(int), [0]))))
    return [(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def wrong_figures(air: np.ndarray) -> np.ndarray:
    """(hours,) whether a temperature is a spike, or a zero that stands for none between others far from it.

    >>> wrong_figures(np.array([20.0, 55.0, 21.0, 0.0, 0.0, 22.0, 23.0])).tolist()
    [False, True, False, True, True, False, False]
    """
    before, after = air[1:-1] - air[:-2], air[1:-1] - air[2:]
    out = np.zeros(len(air), dtype=bool)
    out[1:-1] = (np.minimum(np.abs(before), np.abs(after)) > SPIKE_K) & (before * after > 0)
    for start, length in runs_of(air == 0.0):
        around = [air[place] for place in (start - 1, start + length) if 0 <= place < len(air)]
        out[start : start + length] |= bool(around) and min(np.abs(around)) > ZERO_K
    return out


def check_columns(file: str, table: pd.DataFrame) -> None:
    """Refuse air or wind whose mean, whose jumps or whose standing still say that something else was recorded."""
    for name, (low, high, words) in MEANS.items():
        mean = float(table[name].mean())
        if not low <= mean <= high:
            raise InputError(file, name, round(mean, 1), f"{low:g} to {high:g} {words}")
    _check_jumps(file, table)
    _check_frozen(file, table)


def _check_jumps(file: str, table: pd.DataFrame) -> None:
    jump = table["temp_air"].diff().abs().to_numpy()
    if np.nanmax(jump) > JUMP_K:
        row = int(np.nanargmax(jump))
        allowed = f"at most {JUMP_K:g} K from one hour to the next; {jump[row]:.1f} K in one: two units in a column?"
        raise InputError(file, f"line {table['line'].iloc[row]:.0f}, temp_air", None, allowed)


def _check_frozen(file: str, table: pd.DataFrame) -> None:
    """A sensor that stands still repeats itself."""
    still = runs_of((table["temp_air"].diff() == 0.0).to_numpy())
    start, length = max(still, key=lambda run: run[1], default=(0, 0))
    if length >= FROZEN_H:
        allowed = f"no figure for {FROZEN_H} h and more; {table['temp_air'].iloc[start]:g} C stands for {length + 1} h"
        raise InputError(file, f"line {table['line'].iloc[start]:.0f}, temp_air", None, allowed)
