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


WARM_C = 25.0  # at which a sheet's capacity is 1
BOX_W_PER_C = 0.8  # heat that an insulated box loses; our own default
HEATER_BLOCK_V = 13.0  # at which a heater for a 12 V block has its power


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


def spare_v(chemistry: Cell, soc: np.ndarray, factor: np.ndarray) -> np.ndarray:
    """How far a 100 Ah block stands above the sheet's cut-off at the sheet's current, V, but for what breaks it down.

    U_rest(soc) − hysteresis − I·k·(R0(soc) + R1) − U_cut, where k is the resistance's factor in the cold.
    """
    rest_v = np.interp(100.0 * soc, chemistry.rest_percent, chemistry.rest_v) - chemistry.hysteresis_mv / 1000.0
    mohm = chemistry.r0_mohm * (1.0 + chemistry.r0_rise * (1.0 - soc)) + chemistry.r1_mohm
    spare: np.ndarray = rest_v - chemistry.capacity_a * factor * mohm / 1000.0 - chemistry.capacity_cut_v
    return spare


def unused_share(chemistry: Cell) -> float:
    """The share of a warm 100 Ah block left behind at the sheet's current, where I·A/u takes what was spare."""
    unused = np.array(0.0)
    for _ in range(50):
        unused = chemistry.exhaustion_mohm / 1000.0 * chemistry.capacity_a / spare_v(chemistry, unused, np.array(1.0))
    return float(unused)


def cold_ohm(chemistry: Cell, cell_c: np.ndarray) -> np.ndarray:
    """C of the discharging resistance R0 + A/soc + C/soc³ of a 100 Ah block, Ω, from the sheet's capacity in the cold.

    At the sheet's current I the share u = 1 − f·(1 − u at 25 °C) stays unused when the cut-off voltage is met, with
    everything that the circuit has: C = u³·(spare(u)/I − A/u). A small pump's current loses less than the sheet's.
    """
    at_c, share = np.array(chemistry.capacity_at_c).T
    unused = 1.0 - np.interp(cell_c, at_c, share) * (1.0 - unused_share(chemistry))
    unused = np.clip(unused, unused_share(chemistry), 0.9)
    over_ohm = spare_v(chemistry, unused, ohm_factor(chemistry, cell_c)) / chemistry.capacity_a
    ohm: np.ndarray = unused**3 * np.maximum(over_ohm - chemistry.exhaustion_mohm / 1000.0 / unused, 0.0)
    return np.where(cell_c < WARM_C, ohm, 0.0)


def ohm_factor(chemistry: Cell, cell_c: np.ndarray) -> np.ndarray:
    """Resistance against that at 25 °C: 2^((25 − t)/doubling), between 0.8 and 8."""
    factor: np.ndarray = np.clip(2.0 ** ((25.0 - cell_c) / chemistry.ohm_doubles_per_c), 0.8, 8.0)
    return factor


def sky_row(sunlight: Sunlight, weather: Weather, battery: Battery, out: np.ndarray | None = None) -> np.ndarray:
    """(hours,) of SKY for one panel position with a battery in its place; written into ``out`` where that is given."""
    battery_c, heater_w = in_place(box_c(weather, battery), battery)
    row = sky_with(sunlight, battery_c, battery, out)
    row["heater_a"] = heater_w / (HEATER_BLOCK_V * battery.nominal_v / 12.0)
    return row


def scale(row: np.ndarray, times: float) -> None:
    """Make a sky (hours,) that of a panel of so many times the current at the same voltages."""
    row["current_a"] *= times
    row["p_mp_w"] *= times


def box_c(weather: Weather, battery: Battery) -> np.ndarray:
    """(hours,) °C of a battery outdoors: it follows the air, and a share of the sun where its box stands in it."""
    around_c = weather.temp_air + battery.box_solar_gain_c * weather.ghi / 1000.0
    return lagged(around_c, battery.box_lag_h)


def in_place(outdoors_c: np.ndarray, battery: Battery) -> tuple[np.ndarray, np.ndarray]:
    """(hours,) °C of a battery in its place, and what its heater takes for that, W.

    A frost-free place does not get colder than ``place_min_c``. A heater keeps a box there as long as its power
    makes up for what the box loses, ``BOX_W_PER_C`` for each degree above the one it would have.
    """
    nothing = np.zeros(len(outdoors_c))
    if battery.place_min_c is None:
        return outdoors_c, nothing
    kept_c = np.maximum(outdoors_c, battery.place_min_c)
    if battery.heater_w is None:
        return kept_c, nothing
    heater_w = np.minimum((kept_c - outdoors_c) * BOX_W_PER_C, battery.heater_w)
    return outdoors_c + heater_w / BOX_W_PER_C, heater_w


def sky_with(sunlight: Sunlight, battery_c: np.ndarray, battery: Battery, out: np.ndarray | None = None) -> np.ndarray:
    """(hours,) of SKY where the battery's temperature (hours,) is known."""
    chemistry = cell(battery.chemistry)
    row = np.empty(len(battery_c), SKY) if out is None else out
    row["current_a"] = sunlight.current_a
    row["first_v"] = sunlight.voltage_v[0]
    row["step_v"] = sunlight.voltage_v[1] - sunlight.voltage_v[0]
    row["p_mp_w"] = sunlight.p_mp_w
    row["v_mp_v"] = sunlight.v_mp_v
    row["open_v"] = sunlight.v_oc_v
    row["lit"] = sunlight.p_mp_w > 0.0
    row["cell_c"] = battery_c
    row["ohm_factor"] = ohm_factor(chemistry, row["cell_c"])
    row["heater_a"] = 0.0
    row["cold_ohm"] = cold_ohm(chemistry, row["cell_c"])
    return row
