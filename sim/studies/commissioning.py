"""What a multimeter should show on the day a system is handed over, from the same devices that the year runs on.

Bands, not single figures: the sky, the charge and the temperatures of that day are known only roughly.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from sim.catalogue.cables import conductor
from sim.catalogue.cells import cell
from sim.devices.cable import loop_ohm
from sim.language import mark
from sim.light.sunlight import cell_temperature_c, under_lamp
from sim.plant.engine import circuit_at
from sim.plant.lanes import lanes_from
from sim.plant.sky import sky_with
from sim.scenario import Cable, Scenario
from sim.studies.reading import METER_V

# In-plane irradiance of a sky that an eye can name, W/m²; common practice, no source
SKIES = (
    (mark("clear, sun square on the panel"), 850.0, 1050.0),
    (mark("hazy sun, soft shadows"), 400.0, 700.0),
    (mark("bright cloud, no shadows"), 150.0, 350.0),
    (mark("dull cloud"), 40.0, 120.0),
)
AIR_C = (0.0, 10.0, 20.0, 30.0)
BREEZE_MS = 1.0
VOC_SHARE, AMPS_SHARE = 0.03, 0.05  # label, meter and temperature together; common practice, no source
DARK_CHARGES = (0.3, 0.5, 0.8, 1.0)
LIT_CHARGES = DARK_CHARGES[:3]  # a full battery is held at a voltage that is set
BATTERY_C = (25.0, 10.0)  # temperatures between which the battery is taken to be
CLEAR_WM2, CLEAR_AIR_C = SKIES[0][1:], 20.0  # the sky for readings under charge
REST, PUMP, CHARGE, BOTH = (
    mark("at rest, an hour to a day without sun and pump"),
    mark("pump running in the dark"),
    mark("charging in clear sun, pump off"),
    mark("charging in clear sun, pump running"),
)
STATES = (
    (REST, "dark", False, DARK_CHARGES),
    (PUMP, "dark", True, DARK_CHARGES),
    (CHARGE, "clear", False, LIT_CHARGES),
    (BOTH, "clear", True, LIT_CHARGES),
)
CONDUCTOR_C = (0.0, 50.0)  # temperatures between which a conductor is taken to be
CONTACTS = (0.5, 2.0)  # times the contacts of the scenario; common practice, no source


@dataclass(frozen=True)
class Band:
    """What a reading may be, from low to high."""

    low: float
    high: float

    def __contains__(self, value: float) -> bool:
        """Whether a value lies within, ends included."""
        return self.low <= value <= self.high


@dataclass(frozen=True)
class PanelReading:
    """An array by itself under a sky: short-circuit current, A, and open-circuit voltage, V, at each of AIR_C."""

    sky: str
    low_wm2: float
    high_wm2: float
    isc_a: Band
    voc_v: tuple[Band, ...]


@dataclass(frozen=True)
class StateReading:
    """The connected system at a charge: V at the battery's and at the controller's terminals, currents in A."""

    state: str
    soc: float
    battery_v: Band
    bus_v: Band
    pump_v: Band | None
    panel_a: Band
    pump_a: Band


@dataclass(frozen=True)
class Run:
    """A run of cable: the drop at a current, and per ampere."""

    name: str
    amps: float
    drop_v: Band
    mv_per_a: Band


@dataclass(frozen=True)
class Commissioning:
    """All readings to expect."""

    isc_per_100_wm2_a: float
    panel: tuple[PanelReading, ...]
    states: tuple[StateReading, ...]
    runs: tuple[Run, ...]


def expected_readings(scenario: Scenario) -> Commissioning:
    """The readings to expect of a scenario's system on the day it is handed over.

    >>> from pathlib import Path
    >>> from sim.scenario import load
    >>> found = expected_readings(load(Path("scenarios/courtyard.toml")))
    >>> round(found.isc_per_100_wm2_a, 3)
    0.59
    """
    states = tuple(_states(scenario))
    return Commissioning(
        isc_per_100_wm2_a=scenario.panel.isc_a * scenario.panel.count / scenario.panel.series / 10.0,
        panel=tuple(panel_readings(scenario)),
        states=states,
        runs=tuple(_runs(scenario, states)),
    )


def panel_readings(scenario: Scenario) -> Iterator[PanelReading]:
    """The array disconnected, sky by sky: clean and new, down to the dirt and the ageing of the scenario."""
    ends = [wm2 for _, low, high in SKIES for wm2 in (low, high)]
    light, air_c = map(np.array, zip(*product(ends, AIR_C), strict=True))
    cell_c = cell_temperature_c(light, air_c, np.full(len(light), BREEZE_MS), scenario.panel.mounting)
    given = under_lamp(scenario, light, cell_c)
    left = (1.0 - scenario.panel.soiling) * (1.0 - scenario.panel.mismatch_and_ageing)
    isc_a, voc_v = (values.reshape(len(SKIES), 2, len(AIR_C)) for values in (given.i_sc_a, given.v_oc_v))
    for sky, amps, volts in zip(SKIES, isc_a, voc_v, strict=True):
        low, high = float(amps.min()) * left, float(amps.max())
        by_air = tuple(_around(float(at.min()), float(at.max()), VOC_SHARE) for at in volts.T)
        yield PanelReading(*sky, _around(low, high, AMPS_SHARE), by_air)


def _around(low: float, high: float, share: float) -> Band:
    return Band(low * (1.0 - share), high * (1.0 + share))


def moments(scenario: Scenario) -> np.ndarray:
    """(3, batteries) of SKY: dark, and the two ends of a clear sky, with the battery at each of BATTERY_C."""
    light, battery_c = map(np.array, zip(*product((0.0, *CLEAR_WM2), BATTERY_C), strict=True))
    air_c, wind_ms = np.full(len(light), CLEAR_AIR_C), np.full(len(light), BREEZE_MS)
    cell_c = cell_temperature_c(light, air_c, wind_ms, scenario.panel.mounting)
    return sky_with(under_lamp(scenario, light, cell_c), battery_c, scenario.battery).reshape(3, len(BATTERY_C))


def circuits(lanes: np.ndarray, sky: np.ndarray, soc: float, turning: bool) -> list[dict[str, float]]:
    """Every circuit of a state under moments of SKY (n,): polarisation fresh and settled, rest voltage high and low."""
    found, r1_ohm = [], float(lanes["lane"]["r1_ohm"][0])
    for place, side in product(range(len(sky)), (-1.0, 1.0)):
        moment = sky[place : place + 1]
        fresh = circuit_at(lanes, moment, soc, 0.0, side, turning)
        settled_v = fresh["battery_a"] * r1_ohm * float(moment["ohm_factor"][0])
        found += [fresh, circuit_at(lanes, moment, soc, settled_v, side, turning)]
    return found


def state_reading(scenario: Scenario, state: str, soc: float, found: list[dict[str, float]]) -> StateReading:
    """The bands around the circuits of a state, with a meter's error."""
    meter_v = METER_V * scenario.battery.nominal_v / 12.0

    def band(name: str, extra: float = 0.0, share: float = 0.0) -> Band:
        values = [float(one[name]) for one in found]
        return _around(min(values) - extra, max(values) + extra, share)

    return StateReading(
        state,
        soc,
        band("battery_v", meter_v),
        band("bus_v", meter_v),
        band("pump_v", meter_v) if found[0]["pump_a"] > 0.0 else None,
        band("panel_a", share=AMPS_SHARE),
        band("pump_a", share=AMPS_SHARE),
    )


def _after_a_day(scenario: Scenario, reading: StateReading) -> StateReading:
    """A reading at rest, down to what a full battery falls to within a day."""
    lowest_v = cell(scenario.battery.chemistry).full_day_later_v * scenario.battery.nominal_v / 12.0
    lowest_v -= METER_V * scenario.battery.nominal_v / 12.0

    def down(band: Band) -> Band:
        return Band(min(band.low, lowest_v), band.high)

    return replace(reading, battery_v=down(reading.battery_v), bus_v=down(reading.bus_v))


def _states(scenario: Scenario) -> Iterator[StateReading]:
    lanes, (dark, *clear) = lanes_from([scenario], places=[0]), moments(scenario)
    light = {"dark": dark, "clear": np.concatenate(clear)}
    for state, sky, turning, charges in STATES:
        for soc in charges:
            reading = state_reading(scenario, state, soc, circuits(lanes, light[sky], soc, turning))
            yield _after_a_day(scenario, reading) if soc == 1.0 and sky == "dark" and not turning else reading


def run_ohm(cable: Cable) -> Band:
    """Resistance of a run with cold conductors and good contacts, up to warm ones and poor contacts, Ω."""
    wire = conductor(cable.area_mm2, cable.awg)
    return Band(
        *(
            loop_ohm(cable.length_m, wire.ohm_per_km, cable.extra_mohm * times, at_c)
            for times, at_c in zip(CONTACTS, CONDUCTOR_C, strict=True)
        )
    )


def array_a(scenario: Scenario, charge_a: float) -> float:
    """The current in the panels' cable in clear sun, A: a tracker draws less from the panels than it gives."""
    if not scenario.controller.tracks:
        return charge_a
    brightest = moments(scenario)[-1, 0]
    return float(brightest["p_mp_w"] / brightest["v_mp_v"])


def _runs(scenario: Scenario, states: tuple[StateReading, ...]) -> Iterator[Run]:
    """The runs at the largest currents of a clear day with the battery half full."""
    half = {one.state: one for one in states if one.soc == 0.5}
    charge_a, pump_a = (amps.high / (1.0 + AMPS_SHARE) for amps in (half[CHARGE].panel_a, half[PUMP].pump_a))
    found: list[tuple[str, Cable, float]] = [
        (mark("panel to controller, charging in clear sun"), scenario.panel.cable, array_a(scenario, charge_a)),
        (mark("battery to controller, charging in clear sun"), scenario.battery.cable, charge_a),
        (mark("battery to controller, pump in the dark"), scenario.battery.cable, pump_a),
        (mark("controller to pump, pump running"), scenario.pump.cable, pump_a),
    ]
    if scenario.pump.extension:
        found.append((mark("extension lead, pump running"), scenario.pump.extension, pump_a))
    for name, cable, amps in found:
        ohm = run_ohm(cable)
        yield Run(name, amps, Band(amps * ohm.low, amps * ohm.high), Band(1000.0 * ohm.low, 1000.0 * ohm.high))
