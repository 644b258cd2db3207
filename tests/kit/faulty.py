"""Made-up systems with one fault each: random plants, climates and seasons, and the logs that they leave.

The truth runs through the plant's one door from a changed scenario, with nothing of the search for what is wrong in it.
A system is drawn again until its fault is felt: the pump runs too short or too often, and would not without the fault,
of which the log shows something. Without one it runs well.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
from conftest import COURTYARD, sky_of

from sim.calendar import DAY_S
from sim.catalogue.world import world_climate
from sim.errors import InputError
from sim.plant.lanes import resistance_mohm
from sim.plant.run import How, run
from sim.scenario import Scenario, parse
from sim.studies.measured_log import Readings

KINDS = (
    *("thresholds-too-close", "cut-off-too-high", "leads-or-terminals", "battery-aged-or-small", "shade-or-dirt"),
    *("too-small", "charge-refused", "pump-draw", "timer-or-preset", "nothing"),
)
PLACES = (
    *((40.4, -80.0), (35.2, -97.5), (52.3, -1.6), (48.2, 11.5), (59.5, 15.5), (45.5, -73.6), (28.6, 77.2)),
    *((-33.9, 150.8), (-33.5, 19.2), (11.0, 77.0), (42.0, 12.5), (37.4, -5.0), (50.0, 30.0), (-12.0, -55.0)),
)
COLD = ((40.4, -80.0), (48.2, 11.5), (59.5, 15.5), (45.5, -73.6), (50.0, 30.0), (52.3, 24.0))
AROUND_DEG = 4.0  # to which the places are moved at random
SEASON, WINTER = (1, 346), (300, 440)  # first days of a log; 366 is the first of January again
LEAD_DAYS, DAYS, EVERY_S = 40, 14, 600.0
NOISE_V, OFFSET_V, NOISE_A = 0.02, 0.05, 0.05
LABELS = np.array((0.04, 0.1, 0.03, 0.03))  # by which capacity, resistance, pump and panel are off, in the logarithm
SEEN_V, SEEN_SHARE = 0.1, 0.02  # by which a share of the readings is other than without the fault; 0.1 V for each 12 V
WELL, BADLY, MANY = 0.97, 0.92, 6.0  # share of the wanted hours, and starts a day
TIMES = (0.25, 0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8, 4.0)  # of 100 W


@dataclass(frozen=True)
class Did:
    """What a system did in its two weeks: share of the wanted hours, starts a day, early ones among the stops."""

    met: float
    starts: float
    early: float
    at_s: np.ndarray
    volts: np.ndarray
    amps: np.ndarray
    on: np.ndarray
    load_a: np.ndarray


@dataclass(frozen=True)
class System:
    """A system as it is written down, what is really wrong with it, and its log."""

    kind: str
    written: Scenario
    true: Scenario
    first_day: int
    did: Did
    log: Readings
    sky: np.ndarray


def ran(scenario: Scenario, sky: np.ndarray, first_day: int, light: float = 1.0) -> Did:
    """A scenario through its two weeks, after forty days to settle in."""
    from_s = max(first_day - LEAD_DAYS, 0) * DAY_S
    until_s = (first_day + DAYS) * DAY_S

    def tune(lanes: np.ndarray, _: np.ndarray) -> None:
        lanes["inputs"]["clean"] = light

    ((log, lane),) = run([scenario], sky[np.newaxis], how=How(EVERY_S, between_s=(from_s, until_s), tune=tune))
    begin = np.searchsorted(log.at_s, first_day * DAY_S)
    total = {name: log.totals[name][begin:, lane] for name in ("run_s", "starts", "disconnects", "early_disconnects")}
    window_h = np.diff(log.totals["window_run_s"][begin:, lane][:: round(DAY_S / EVERY_S)]) / 3600.0
    month = min(int(first_day // 30.5), 11)
    wanted_h = scenario.need.hours_per_day[month]
    cuts = total["disconnects"][-1] - total["disconnects"][0]
    early = (total["early_disconnects"][-1] - total["early_disconnects"][0]) / max(cuts, 1.0)
    at = slice(begin + 1, None)
    running = np.diff(total["run_s"]) / EVERY_S
    watts = np.diff(log.totals["pump_wh"][begin:, lane]) * 3600.0 / EVERY_S
    volts = log.totals["bus_v"][at, lane]
    return Did(
        float(np.minimum(window_h, wanted_h).sum() / (wanted_h * DAYS)),
        float((total["starts"][-1] - total["starts"][0]) / DAYS),
        float(early),
        log.at_s[at],
        volts,
        log.totals["battery_a"][at, lane],
        running,
        watts / np.maximum(volts, 1.0),
    )


Keys = dict[str, dict[str, Any]]


def drawn(rng: np.random.Generator, cold: bool) -> tuple[Keys, int]:
    """The keys of a random plant at a random place, without its panel, and the first day of its log."""
    places = COLD if cold else PLACES
    latitude, longitude = np.array(places[rng.integers(len(places))]) + rng.uniform(-AROUND_DEG, AROUND_DEG, 2)
    blocks = 2 if rng.random() < 0.2 else 1
    watts, hours = float(np.round(np.exp(rng.uniform(np.log(8), np.log(45))))), float(rng.integers(7, 20))
    mode = ["always", "always", "daylight", "clock"][rng.integers(4)]
    hours = min(hours, 7.0) if mode == "daylight" else 24.0 if mode == "always" and rng.random() < 0.7 else hours
    ah = watts * hours / (12.0 * blocks) * rng.uniform(1.0, 3.0)
    keys: Keys = {
        "site": {"latitude_deg": float(latitude), "longitude_deg": float(longitude), "elevation_m": 200.0},
        "weather": {"year": 2001, "monthly": _climate(rng, float(latitude), float(longitude))},
        "battery": {
            "chemistry": "lfp" if cold else ["lfp", "lfp", "agm", "flooded", "gel"][rng.integers(5)],
            "nominal_v": 12 * blocks,
            "capacity_ah": float(max(np.round(ah), 12.0)),
        },
        "pump": {"power_w": watts, "supply": ["regulated", "direct"][rng.integers(2)]},
        "controller": {"kind": ["pwm", "mppt"][rng.integers(2)], "load_mode": mode},
        "need": {"hours_per_day": hours},
    }
    if mode == "clock":
        start = int(rng.integers(0, 24 - int(hours)))
        keys["controller"]["load_windows"] = [[f"{start:02d}:00", f"{start + int(hours):02d}:00"]]
    day = int(rng.integers(*(WINTER if cold else SEASON))) % 365
    return keys, int(np.clip(day, *SEASON))


def _climate(rng: np.random.Generator, latitude_deg: float, longitude_deg: float) -> dict[str, Any]:
    """The climate of a place, with a year of its own."""
    found = world_climate(latitude_deg, longitude_deg, 200.0)
    means = {"daily_ghi_kwh_m2": found.daily_ghi_kwh_m2, "temp_air_c": found.temp_air_c}
    return {**means, "seed": int(rng.integers(2**31))}


def scenario_of(keys: Keys, panel_w: float, **panel: Any) -> Scenario:
    """The scenario of these keys with a panel of so many watts."""
    blocks = keys["battery"]["nominal_v"] // 12
    amps = panel_w / 18.0 / blocks
    label = {"power_w": panel_w, "vmp_v": 18.0 * blocks, "imp_a": amps, "voc_v": 22.0 * blocks, "isc_a": 1.06 * amps}
    return parse(keys | {"panel": label | {"cells": 36 * blocks, "tilt_deg": 40.0} | panel}, COURTYARD)


def changed_keys(keys: Keys, **changes: dict[str, Any]) -> Keys:
    """The keys with others in some parts."""
    return keys | {part: keys[part] | values for part, values in changes.items()}


Fault = Callable[[np.random.Generator, Keys, Scenario], tuple[Keys, dict[str, Any], bool]]


def _pump_a(scenario: Scenario) -> float:
    return scenario.pump.power_w / (12.8 * scenario.battery.nominal_v / 12.0)


def close(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """A gap of 0.03 to 0.3 V, often as it is written."""
    gap_v = rng.uniform(0.03, 0.3) * it.battery.nominal_v / 12.0
    on_v = it.controller.load_disconnect_v + gap_v + rng.uniform(0.0, 0.6)
    told = {"load_disconnect_v": on_v - gap_v, "load_reconnect_v": on_v}
    return changed_keys(keys, controller=told), {}, rng.random() < 0.5


def early(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """Both thresholds so high that the battery is hardly used."""
    blocks = it.battery.nominal_v / 12.0
    more_v = rng.uniform(0.3, 0.9) * blocks
    told = {name: getattr(it.controller, name) + more_v for name in ("load_disconnect_v", "load_reconnect_v")}
    return changed_keys(keys, controller=told), {}, rng.random() < 0.5


def leads(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """A joint that takes 0.2 to 1.2 V at the pump's current."""
    mohm = 1000.0 * rng.uniform(0.2, 1.2) * it.battery.nominal_v / 12.0 / _pump_a(it)
    cable = {"extra_mohm": min(it.battery.cable.extra_mohm + mohm, 1000.0)}
    return changed_keys(keys, battery={"cable": cable}), {}, False


def aged(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """A battery with 15 to 60 % of its capacity and up to three times its resistance."""
    told = {"capacity_ah": it.battery.capacity_ah * rng.uniform(0.15, 0.6)}
    told["resistance_mohm"] = resistance_mohm(it.battery) * rng.uniform(1.3, 3.0)
    return changed_keys(keys, battery=told), {}, False


def shaded(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """Dirt that takes 30 to 80 %, or something that shades the morning or the afternoon."""
    if rng.random() < 0.5:
        return keys, {"soiling": rng.uniform(0.3, 0.8)}, False
    noon = 180.0 if keys["site"]["latitude_deg"] > 0.0 else 0.0
    half = rng.integers(2)
    one, other = sorted((noon + (1 if half else -1) * 140.0, noon + (1 if half else -1) * rng.uniform(-40.0, 30.0)))
    wall = {"from_azimuth_deg": one % 360.0, "to_azimuth_deg": other % 360.0, "below_elevation_deg": 80.0}
    return keys, {"shade": [wall | {"transmittance": float(rng.uniform(0.0, 0.3))}]}, False


def draws(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """A pump that takes 1.4 to 2.5 times its power."""
    return changed_keys(keys, pump={"power_w": it.pump.power_w * rng.uniform(1.4, 2.5)}), {}, False


def timed(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """A lighting timer, or charge voltages of 0.5 to 1.2 V less."""
    blocks, control = it.battery.nominal_v / 12.0, it.controller
    if rng.random() < 0.6:
        mode = {"load_mode": "after-dusk", "hours_after_dusk": float(rng.integers(3, 11)), "load_windows": []}
        return changed_keys(keys, controller=mode), {}, False
    less = rng.uniform(0.5, 1.2) * blocks
    told = {name: getattr(control, name) - less for name in ("absorption_v", "float_v", "recharge_below_v")}
    return changed_keys(keys, controller=told), {}, False


def as_it_is(rng: np.random.Generator, keys: Keys, it: Scenario) -> tuple[Keys, dict[str, Any], bool]:
    """What is written is what is there."""
    return keys, {}, True


FAULTS: dict[str, Fault] = dict(
    zip(KINDS, (close, early, leads, aged, shaded, as_it_is, as_it_is, draws, timed, as_it_is), strict=True)
)
FELT: dict[str, Callable[[Did], bool]] = {
    "thresholds-too-close": lambda did: did.starts > MANY,
    "cut-off-too-high": lambda did: did.met < BADLY,
    "too-small": lambda did: did.early < 0.5 and did.met < BADLY and did.starts < MANY,  # else it has another fault too
    "charge-refused": lambda did: did.met < BADLY,
    "nothing": lambda did: did.met > WELL and did.starts < MANY,
}


OF_THE_COLD = ("charge-refused", "too-small")  # kinds that a warm battery tells apart


def _felt(kind: str, did: Did) -> bool:
    return FELT.get(kind, lambda it: it.met < BADLY or it.starts > MANY)(did)


def _sized(rng: np.random.Generator, keys: Keys, first: int, kind: str) -> float | None:
    """Watts with which the system serves well, or, for one that is too small, does not."""
    plain = scenario_of(keys, 100.0)
    sky = sky_of(scenario_of(_warm(keys), 100.0) if kind == "charge-refused" else plain)
    met = {times: ran(plain, sky, first, times).met for times in TIMES}
    if kind == "too-small":
        few = [times for times, share in met.items() if share < BADLY]
        return 100.0 * max(few) if few else None
    enough = [times for times, share in met.items() if share >= WELL]
    return 100.0 * min(enough) * rng.uniform(1.1, 1.7) if enough else None


def system(kind: str, rng: np.random.Generator) -> System:
    """A system of a kind of fault, drawn until it is felt and shows."""
    while True:
        found = _tried(kind, rng)
        if found is not None:
            return found


def _tried(kind: str, rng: np.random.Generator) -> System | None:
    """A system of a kind of fault, or none where the draw makes none that serves without it and badly with it."""
    keys, first = drawn(rng, cold=kind == "charge-refused")
    watts = _sized(rng, keys, first, kind)
    if watts is None:
        return None
    own, off = scenario_of(keys, watts), rng.normal(0.0, LABELS)
    told, panel, as_written = FAULTS[kind](rng, keys, own)
    try:
        written = scenario_of(told, watts) if as_written else own
        true = _slightly_other(off, told, watts, panel)
    except InputError:  # settings that no scenario may have
        return None
    did = ran(true, sky_of(true), first)
    sound = _slightly_other(off, _warm(keys) if kind in OF_THE_COLD else keys, watts, {})
    if not _felt(kind, did) or not _by_fault(kind, did, ran(sound, sky_of(sound), first), own):
        return None
    return System(kind, written, true, first, did, _logged(rng, did), sky_of(written))


def _warm(keys: Keys) -> Keys:
    return changed_keys(keys, battery={"place": "heated"})


def _by_fault(kind: str, did: Did, sound: Did, own: Scenario) -> bool:
    """Whether it is the fault that is felt: the same system without it serves well, and would leave another log.

    One that is too small is so with a warm battery too.
    """
    if kind in ("too-small", "nothing"):
        return kind == "nothing" or sound.met < BADLY
    apart = np.abs(did.volts - sound.volts) > SEEN_V * own.battery.nominal_v / 12.0
    return bool(sound.met > BADLY and sound.starts < MANY and apart.mean() > SEEN_SHARE)


def _slightly_other(off: np.ndarray, keys: Keys, watts: float, panel: dict[str, Any]) -> Scenario:
    """The system as it really is: no label is quite true, but ``off`` (4,) by so much in its logarithm."""
    capacity, resistance, pump, power = np.exp(off).tolist()
    other = changed_keys(
        keys,
        battery={
            "capacity_ah": keys["battery"]["capacity_ah"] * capacity,
            "resistance_mohm": resistance_mohm(scenario_of(keys, watts, **panel).battery) * resistance,
        },
        pump={"power_w": keys["pump"]["power_w"] * pump},
    )
    return scenario_of(other, watts * power, **panel)


def _logged(rng: np.random.Generator, did: Did) -> Readings:
    """What a logger wrote: noise and an offset, and with the voltage nothing, the pump's state or the currents."""
    count = len(did.at_s)
    volts = did.volts + rng.normal(0.0, NOISE_V, count) + rng.uniform(-OFFSET_V, OFFSET_V)
    columns = rng.integers(3)
    amps = did.amps + rng.normal(0.0, NOISE_A, count) if columns == 2 else None
    pump = (did.on > 0.5).astype(float) if columns else None
    return Readings(did.at_s, volts, amps, pump)


@dataclass(frozen=True)
class Known:
    """A log of a system whose resistance (battery and leads, against the battery's) and panel are known."""

    written: Scenario
    log: Readings
    resistance_mohm: float
    lead_mohm: float
    panel: float


def known_system(rng: np.random.Generator) -> Known:
    """A system that differs from what is written by known resistances and a known share of the panel's current.

    Capacity and pump power are a few per cent off too, as labels are, and the logger's meter by up to 50 mV.
    """
    while True:
        keys, first = drawn(rng, cold=False)
        watts = _sized(rng, keys, first, "")
        if watts is not None:
            break
    written = scenario_of(keys, watts)
    times, panel = float(np.exp(rng.uniform(np.log(0.8), np.log(3.0)))), float(rng.uniform(0.6, 1.05))
    own_mohm = resistance_mohm(written.battery)
    lead_mohm = float(rng.choice((0.0, rng.uniform(0.0, 2.0)))) * own_mohm
    battery = {
        "capacity_ah": keys["battery"]["capacity_ah"] * float(np.exp(rng.normal(0.0, 0.05))),
        "resistance_mohm": own_mohm * times,
        "cable": {"extra_mohm": written.battery.cable.extra_mohm + lead_mohm},
    }
    pump = {"power_w": keys["pump"]["power_w"] * float(np.exp(rng.normal(0.0, 0.04)))}
    did = ran(scenario_of(changed_keys(keys, battery=battery, pump=pump), watts), sky_of(written), first, panel)
    return Known(written, _logged(rng, did), own_mohm * times + lead_mohm, lead_mohm, panel)
