"""What a voltage read on site means: a band of charge, and what the sag under the pump says about the resistances.

A voltage is no fuel gauge: it depends on the current, on the meter, on what the battery did before and on its
temperature. Each of them widens the band; the answer is all charges that could show this voltage.
"""

import math
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from functools import cache
from typing import Any

import numpy as np

from sim.catalogue.cells import cell
from sim.devices import battery
from sim.errors import InputError
from sim.plant.engine import pump_current_a
from sim.plant.lanes import lanes_from
from sim.plant.sky import cold_ohm, ohm_factor
from sim.scenario import Scenario
from sim.studies.reading_frost import (
    BATTERY_C,
    Locked,
    Warmth,
    frost_notes,
    locked_warmth,
    warmth_of,
)
from sim.units import Quantity, Sentence, sentence

METER_V = 0.05  # error of a reading where the scenario names none; common practice, no source
BAND_STEP = 0.05  # bands are widened to multiples of this; our own default
LEADS_NORMAL_V = 0.15  # lost in leads and terminals at most, for each 12 V; our own default
LEADS_NORMAL_FACTOR = 2.0  # times the leads of the scenario at most; our own default
COLDEST_C, HOTTEST_C = -60.0, 80.0  # that a battery's temperature is believed; our own default
FROM = "sunrill reading"
USUAL = Warmth(BATTERY_C)
IN_DARK = "Under the pump the reading holds in the dark: sun on the panel lifts the voltage unless its current is told."


@dataclass(frozen=True)
class Seen:
    """What was read at the controller, V, A and °C.

    ``amps`` is the pump's current, taken from its model if None; ``volts_off`` a second reading with the pump off;
    ``charging_a`` what the panel gave meanwhile; ``battery_c`` the battery's temperature if it was measured.
    """

    volts: float
    pump_on: bool = False
    amps: float | None = None
    volts_off: float | None = None
    charging_a: float = 0.0
    battery_c: float | None = None


@dataclass(frozen=True)
class Band:
    """What a voltage can mean: all charges 0…1 from low to high could show it."""

    words: str
    volts: float
    soc_low: float
    soc_high: float


@dataclass(frozen=True)
class Sag:
    """What two readings, pump off and on, say; resistances in mΩ, shares 0…1 of the sag."""

    sag_v: float
    amps: float
    amps_assumed: bool
    total_mohm: float
    battery_low_mohm: float
    battery_high_mohm: float
    battery_share_low: float
    battery_share_high: float
    leads_low_mohm: float
    leads_high_mohm: float
    leads_normal_mohm: float
    leads_heat_low_w: float
    leads_heat_high_w: float
    warning: str | None


@dataclass(frozen=True)
class Reading:
    """A reading and what it means; ``current_a`` is the battery's, positive into it.

    ``charge_locked`` is whether frost has locked the charge at the temperature that was told, ``by_panel`` whether the
    voltage may then be the panel's; ``soc_if_locked`` the band of a locked battery, where no temperature was told.
    """

    volts: float
    pump_on: bool
    current_a: float
    battery_c: float | None
    charge_locked: Locked
    by_panel: bool
    rest_v: float
    rest_low_v: float
    rest_high_v: float
    soc_low: float
    soc_high: float
    soc_if_locked: tuple[float, float] | None
    reading_error_v: float
    hysteresis_v: float
    sag: Sag | None
    notes: tuple[Sentence, ...]

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return asdict(self)


def lane_of(scenario: Scenario) -> np.void:
    """What is fixed of the lane of a scenario, a record of LANE."""
    return lanes_from([scenario], places=[0])["lane"][0]  # type: ignore[no-any-return]


@cache
def _by_temperature(chemistry: str, at_c: tuple[float, ...]) -> tuple[tuple[np.float64, np.float64], ...]:
    """What resistances are multiplied by, and what is added to the discharging one, Ω, at each temperature."""
    entry, cell_c = cell(chemistry), np.array(at_c)
    return tuple(zip(ohm_factor(entry, cell_c), cold_ohm(entry, cell_c), strict=True))


def ohms_at(
    scenario: Scenario, lane: np.void, soc: float, current_a: float, at_c: tuple[float, ...] = BATTERY_C
) -> list[float]:
    """Resistance of the battery at a charge, Ω, at each temperature before and after its polarisation has settled."""
    found = []
    for factor, added_ohm in _by_temperature(scenario.battery.chemistry, at_c):
        base = battery.ohmic_ohm(soc, lane["r0_ohm"] * factor, lane["r0_rise"])
        if current_a > 0.0:
            ohm = battery.charging_ohm(soc, base, lane["acceptance_ohm"])
        else:
            ohm = battery.discharging_ohm(soc, base, lane["exhaustion_ohm"], lane["scale"] * added_ohm)
        found += [float(ohm), float(ohm + lane["r1_ohm"] * factor)]
    return found


def _shown(scenario: Scenario, lane: np.void, soc: float, current_a: float, warmth: Warmth) -> tuple[float, float]:
    """The lowest and the highest voltage that the controller can see at a charge and a current of the battery."""
    low_v, high_v = _rest(scenario, lane, soc, current_a)
    taken_a = min(current_a, 0.0) if warmth.by_panel else current_a
    lifted = [taken_a * (ohm + lane["lead_ohm"]) for ohm in ohms_at(scenario, lane, soc, taken_a, warmth.at_c)]
    highest_v = math.inf if warmth.by_panel else high_v - warmth.least_drop_v + max(lifted)
    return low_v - warmth.most_drop_v + min(lifted), highest_v


def _rest(scenario: Scenario, lane: np.void, soc: float, current_a: float) -> tuple[float, float]:
    """The lowest and the highest rest voltage at a charge, by what went before: charge, discharge, a day of rest."""
    rest_v = lane["blocks"] * battery.rest_voltage(soc, lane["rest_v"])
    settled_v = lane["blocks"] * cell(scenario.battery.chemistry).full_day_later_v
    surface_v = surface_charge_v(scenario) if current_a <= 0.0 else 0.0
    return min(rest_v, settled_v) - lane["hysteresis_v"], rest_v + lane["hysteresis_v"] + surface_v


def surface_charge_v(scenario: Scenario) -> float:
    """What a charge may have left on a lead-acid battery, V; it goes within hours, or minutes under a load."""
    return cell(scenario.battery.chemistry).surface_mv / 1000.0 * scenario.battery.nominal_v / 12.0


def error_v(scenario: Scenario) -> float:
    """The error of a reading either way, V: the scenario's, or that of a usual meter."""
    return abs(scenario.controller.reading_error_v) or METER_V * scenario.battery.nominal_v / 12.0


def charge_band(scenario: Scenario, volts: float, current_a: float, warmth: Warmth = USUAL) -> tuple[float, float]:
    """The charges 0…1 that could show a voltage at a current into the battery, widened to steps of 5 %.

    Straight between the charges that are tried: near empty a step of them is worth tenths of a volt.
    """
    lane, tried, charges = lane_of(scenario), np.linspace(0.0, 1.0, 201), np.linspace(0.0, 1.0, 10_001)
    shown_v = np.array([_shown(scenario, lane, float(soc), current_a, warmth) for soc in tried]).T
    low_v, high_v = (np.interp(charges, tried, end_v) for end_v in shown_v)
    error = error_v(scenario)
    possible = charges[(low_v - error <= volts) & (volts <= high_v + error)]
    if not len(possible):
        possible = np.array([1.0 if volts > low_v.mean() else 0.0])
    return widened(float(possible[0]), float(possible[-1]))


def widened(low: float, high: float) -> tuple[float, float]:
    """A band out to the next steps of 5 %, never a single figure.

    >>> widened(0.21, 0.58), widened(1.0, 1.0), widened(0.0, 0.0)
    ((0.2, 0.6), (0.95, 1.0), (0.0, 0.05))
    """
    first, last = math.floor(low / BAND_STEP + 1e-9), math.ceil(high / BAND_STEP - 1e-9)
    if first == last:
        first, last = (first - 1, last) if first > 0 else (first, last + 1)
    return round(first * BAND_STEP, 2), round(last * BAND_STEP, 2)


def common(one: tuple[float, float], other: tuple[float, float]) -> tuple[float, float]:
    """What two bands share, or the second where they share nothing.

    >>> common((0.2, 0.7), (0.25, 0.5)), common((0.0, 0.1), (0.25, 0.5))
    ((0.25, 0.5), (0.25, 0.5))
    """
    low, high = max(one[0], other[0]), min(one[1], other[1])
    return (low, high) if low < high else other


def bands_at(scenario: Scenario, name: str, volts: float, charge_a: float) -> Iterator[Band]:
    """What a threshold can mean at rest, under the pump, and while charging at a current."""
    cases = {
        "at rest": 0.0,
        "under pump load": -pump_current_a(lanes_from([scenario], places=[0]), volts),
        f"while charging at {charge_a:.1f} A": charge_a,
    }
    for words, current_a in cases.items():
        yield Band(f"{name} voltage, {words}", volts, *charge_band(scenario, volts, current_a))


def read_voltage(scenario: Scenario, seen: Seen) -> Reading:
    """What a voltage at the controller means. Raises InputError for readings that cannot be."""
    _check(scenario, seen)
    warmth, taken_a = warmth_of(scenario, seen.battery_c, seen.charging_a), _taken_a(scenario, seen)
    current_a = seen.charging_a - taken_a - float(lane_of(scenario)["own_a"])
    low, high = _charges(scenario, seen, taken_a, current_a, warmth)
    cold = locked_warmth(scenario, seen.charging_a) if seen.battery_c is None else None
    if_locked = _charges(scenario, seen, taken_a, current_a, cold) if cold else None
    rest_low_v, rest_v, rest_high_v = _rest_band(scenario, seen, taken_a, (low, high), warmth)
    return Reading(
        volts=seen.volts,
        pump_on=seen.pump_on,
        current_a=current_a,
        battery_c=seen.battery_c,
        charge_locked=warmth.locked,
        by_panel=warmth.by_panel,
        rest_v=rest_v,
        rest_low_v=rest_low_v,
        rest_high_v=rest_high_v,
        soc_low=low,
        soc_high=high,
        soc_if_locked=if_locked,
        reading_error_v=error_v(scenario),
        hysteresis_v=float(lane_of(scenario)["hysteresis_v"]),
        sag=_sag(scenario, seen, taken_a, (low, high), warmth),
        notes=tuple(_notes(scenario, seen, warmth, if_locked)),
    )


def _taken_a(scenario: Scenario, seen: Seen) -> float:
    """The pump's current, as it was measured or by its model, A."""
    if not seen.pump_on:
        return 0.0
    return float(seen.amps or pump_current_a(lanes_from([scenario], places=[0]), seen.volts))


def _charges(scenario: Scenario, seen: Seen, taken_a: float, current_a: float, warmth: Warmth) -> tuple[float, float]:
    """The charges that could show one reading or both."""
    band = charge_band(scenario, seen.volts, current_a, warmth)
    if seen.volts_off is None:
        return band
    return common(band, charge_band(scenario, seen.volts_off, current_a + taken_a, warmth))


def _rest_band(
    scenario: Scenario, seen: Seen, taken_a: float, band: tuple[float, float], warmth: Warmth
) -> tuple[float, float, float]:
    """The battery's voltage at rest, by the reading without the pump where there is one: lowest, likely, highest."""
    lane = lane_of(scenario)
    seen_v = seen.volts if seen.volts_off is None else seen.volts_off
    seen_a = seen.charging_a - (taken_a if seen.volts_off is None else 0.0) - float(lane["own_a"])
    if warmth.by_panel:
        low_v, high_v = (_rest(scenario, lane, soc, seen_a)[side] for side, soc in enumerate(band))
        return float(low_v), float(0.5 * (low_v + high_v)), float(high_v)
    ohms = ohms_at(scenario, lane, 0.5 * sum(band), seen_a, warmth.at_c)
    rest = [seen_v - seen_a * (ohm + lane["lead_ohm"]) for ohm in ohms]
    spread, lost_v = error_v(scenario) + lane["hysteresis_v"], 0.5 * (warmth.least_drop_v + warmth.most_drop_v)
    surface_v = surface_charge_v(scenario) if seen_a <= 0.0 else 0.0
    low_v = min(rest) - spread - surface_v + warmth.least_drop_v
    return float(low_v), float(rest[1] + lost_v), float(max(rest) + spread + warmth.most_drop_v)


def _notes(scenario: Scenario, seen: Seen, warmth: Warmth, if_locked: tuple[float, float] | None) -> Iterator[Sentence]:
    warm, cold = (Quantity(warmth.at_c[end], "c", "g") for end in (0, -1))
    if seen.battery_c is None:
        yield sentence("The rest voltage is taken as at {warm}; the resistance as anywhere from {warm} to {cold}.",
                       warm=warm, cold=cold)  # fmt: skip
    else:
        yield sentence("The rest voltage is taken as at {warm}; the resistance as at {cold}.",
                       warm=Quantity(BATTERY_C[0], "c", "g"), cold=cold)  # fmt: skip
    if seen.pump_on:
        yield sentence(IN_DARK)
    yield from frost_notes(scenario, warmth, if_locked)


def _check(scenario: Scenario, seen: Seen) -> None:
    """Raise InputError for a reading that cannot be."""
    blocks, volts, volts_off, amps = scenario.battery.nominal_v / 12.0, seen.volts, seen.volts_off, seen.amps
    allowed = f"a voltage from {8 * blocks:g} to {16 * blocks:g} V for a battery of {scenario.battery.nominal_v} V"
    for key, value in (("--volts", volts), ("--volts-off", volts_off)):
        if value is not None and not 8.0 * blocks <= value <= 16.0 * blocks:
            raise InputError(FROM, key, value, allowed)
    if volts_off is not None and not (seen.pump_on and volts_off > volts):
        raise InputError(FROM, "--volts-off", volts_off, f"more than --volts ({volts:g} V), which needs --pump on")
    if amps is not None and not (seen.pump_on and 0.0 < amps <= 1000.0):
        raise InputError(FROM, "--amps", amps, "the pump's current above 0, up to 1000 A, which needs --pump on")
    if not 0.0 <= seen.charging_a <= 1000.0:
        raise InputError(FROM, "--charging", seen.charging_a, "the panel's current from 0 to 1000 A")
    if seen.battery_c is not None and not COLDEST_C <= seen.battery_c <= HOTTEST_C:
        raise InputError(FROM, "--battery-c", seen.battery_c, f"a temperature from {COLDEST_C:g} to {HOTTEST_C:g} °C")


def _sag(scenario: Scenario, seen: Seen, amps: float, band: tuple[float, float], warmth: Warmth) -> Sag | None:
    """What part of a sag the battery, its surface charge and a locked one's diode can explain; leads and terminals have
    the rest. None without two readings of the battery.
    """
    lane = lane_of(scenario)
    if seen.volts_off is None or warmth.by_panel:
        return None
    sag_v = seen.volts_off - seen.volts
    ohms = [ohm for soc in band for ohm in ohms_at(scenario, lane, soc, -amps, warmth.at_c)]
    beside_v = surface_charge_v(scenario) + warmth.most_drop_v - warmth.least_drop_v
    total, low, high = sag_v / amps, min(ohms), max(ohms) + beside_v / amps
    leads_low, leads_high = max(total - high, 0.0), max(total - low, 0.0)
    return Sag(
        sag_v=sag_v,
        amps=amps,
        amps_assumed=seen.amps is None,
        total_mohm=1000.0 * total,
        battery_low_mohm=1000.0 * low,
        battery_high_mohm=1000.0 * high,
        battery_share_low=min(low / total, 1.0),
        battery_share_high=min(high / total, 1.0),
        leads_low_mohm=1000.0 * leads_low,
        leads_high_mohm=1000.0 * leads_high,
        leads_normal_mohm=1000.0 * float(lane["lead_ohm"]),
        leads_heat_low_w=amps**2 * leads_low,
        leads_heat_high_w=amps**2 * leads_high,
        warning=_warning(amps, leads_low, leads_high, float(lane["lead_ohm"]), float(lane["blocks"])),
    )


def _warning(amps: float, low_ohm: float, high_ohm: float, normal_ohm: float, blocks: float) -> str | None:
    """A sentence if leads and terminals surely lose more than is normal, whatever the battery; a meter's error is no
    reason for it.
    """
    lost_v = amps * low_ohm
    too_much = low_ohm > LEADS_NORMAL_FACTOR * normal_ohm and lost_v > METER_V * blocks
    if not too_much and lost_v <= LEADS_NORMAL_V * blocks:
        return None
    return (
        f"Leads and terminals lose at least {lost_v:.2f} V ({1000 * low_ohm:.0f} mΩ, {1000 * normal_ohm:.0f} mΩ would "
        f"be normal) and make {amps**2 * low_ohm:.1f} to {amps**2 * high_ohm:.1f} W of heat: look for a loose "
        "terminal, a corroded contact or a poor fuse holder before anything is set."
    )
