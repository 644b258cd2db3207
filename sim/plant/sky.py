"""What does not depend on the state of the system, worked out once for the year: the sky table."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sim.catalogue.cells import Cell, cell
from sim.compiled import compiled
from sim.plant.records import SKY

if TYPE_CHECKING:
    from sim.light.sunlight import Sunlight
    from sim.scenario.models import Battery
    from sim.weather import Weather


def lagged(temperature_c: np.ndarray, lag_h: float) -> np.ndarray:
    """First-order lag behind an hourly series, at the middle of each hour, °C; the year is taken as a ring.

    Over an hour of constant air temperature the box closes the share 1 − e^(−1/lag) of the gap.

    >>> lagged(np.full(24, 7.0), 4.0)[-1]
    np.float64(7.0)
    """
    out = np.empty_like(temperature_c)
    _lag(temperature_c, float(np.mean(temperature_c[-48:])), np.exp(-0.5 / lag_h), out)
    return out


@compiled
def _lag(air_c, state_c, half, out):  # type: ignore[no-untyped-def]
    """Fill ``out`` (n,) with what follows the air and has ``half`` left of a gap after half an hour."""
    for hour in range(len(air_c)):
        out[hour] = air_c[hour] + (state_c - air_c[hour]) * half
        state_c = air_c[hour] + (state_c - air_c[hour]) * half * half


def unused_share(chemistry: Cell, ohm: float) -> float:
    """The share of a 100 Ah block left behind at the sheet's current I, when U_rest(u) − I·B/u meets the cut-off."""
    unused = 0.0
    for _ in range(50):
        over_v = np.interp(100.0 * unused, chemistry.rest_percent, chemistry.rest_v) - chemistry.capacity_cut_v
        unused = ohm * chemistry.capacity_a / over_v
    return float(unused)


def exhaustion_ohm(chemistry: Cell, cell_c: np.ndarray) -> np.ndarray:
    """B of the discharging resistance R0 + B/soc of a 100 Ah block, Ω, from the data sheet's capacity in the cold.

    At the sheet's current I the share u = 1 − f·(1 − u at 25 °C) stays unused when the cut-off voltage is met:
    B = u·(U_rest(u) − U_cut)/I. A small pump's current therefore loses far less than the sheet's figure.
    """
    warm_ohm = chemistry.exhaustion_mohm / 1000.0
    at_c, share = np.array(chemistry.capacity_at_c).T
    left = np.interp(cell_c, at_c, share) * (1.0 - unused_share(chemistry, warm_ohm))
    unused = np.clip(1.0 - left, 0.0, 0.9)
    over_v = np.interp(100.0 * unused, chemistry.rest_percent, chemistry.rest_v) - chemistry.capacity_cut_v
    ohm: np.ndarray = np.maximum(unused * over_v / chemistry.capacity_a, warm_ohm)
    return ohm


def ohm_factor(chemistry: Cell, cell_c: np.ndarray) -> np.ndarray:
    """Resistance against that at 25 °C: 2^((25 − t)/doubling), between 0.8 and 8."""
    factor: np.ndarray = np.clip(2.0 ** ((25.0 - cell_c) / chemistry.ohm_doubles_per_c), 0.8, 8.0)
    return factor


def sky_row(sunlight: Sunlight, weather: Weather, battery: Battery, out: np.ndarray | None = None) -> np.ndarray:
    """(hours,) of SKY for one panel position with a battery in its box; written into ``out`` where that is given.

    The box follows the air, and where it stands in the sun a share of the global irradiance, with its lag.
    """
    around_c = weather.temp_air + battery.box_solar_gain_c * weather.ghi / 1000.0
    return sky_with(sunlight, lagged(around_c, battery.box_lag_h), battery, out)


def sky_with(sunlight: Sunlight, battery_c: np.ndarray, battery: Battery, out: np.ndarray | None = None) -> np.ndarray:
    """(hours,) of SKY where the battery's temperature (hours,) is known."""
    chemistry, blocks = cell(battery.chemistry), battery.nominal_v / 12.0
    row = np.empty(len(battery_c), SKY) if out is None else out
    row["current_a"] = sunlight.current_a
    row["first_v"] = sunlight.voltage_v[0]
    row["step_v"] = sunlight.voltage_v[1] - sunlight.voltage_v[0]
    row["p_mp_w"] = sunlight.p_mp_w
    row["v_mp_v"] = sunlight.v_mp_v
    row["lit"] = sunlight.p_mp_w > 0.0
    row["cell_c"] = battery_c
    row["ohm_factor"] = ohm_factor(chemistry, row["cell_c"])
    row["exhaustion_ohm"] = exhaustion_ohm(chemistry, row["cell_c"])
    row["set_shift_v"] = chemistry.set_shift_mv_per_c / 1000.0 * 6.0 * blocks * (row["cell_c"] - 25.0)
    return row
