"""One change at a time: what could be done next to a design, and what it would cost if its prices are known."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sim.catalogue.cables import Conductor, gauges, metric
from sim.errors import InputError
from sim.scenario import Cable, Scenario
from sim.studies.clock import windows_of
from sim.studies.cost import times
from sim.studies.designs import Design
from sim.studies.tilt import Best
from sim.units import sentence

PANEL_MORE = (0.25, 0.5, 1.0)
BATTERY_MORE = (0.5, 1.0)
AZIMUTH_STEP_DEG = 3.0  # a panel that is turned by less gains nothing worth a step
TILT_STEP_DEG = 1.0
VISITS = 12  # cleanings a year, on the first of each month
TRIMS = 1  # trimmings a year
LEADS = {"cable": "pump cable", "extension": "extension lead"}
CLOCK = "clock"  # the kind of step of which the best is shown, since all cost nothing
PER_CENT = "\N{NO-BREAK SPACE}%"


@dataclass(frozen=True)
class Change:
    """A step: a name, its kind, changed keys with their values, and its price once and every year, None if unknown."""

    name: str
    kind: str
    changes: Mapping[str, Any]
    once: float | None = 0.0
    a_year: float | None = 0.0


def panel_changes(scenario: Scenario, more: float) -> dict[str, Any]:
    """A panel with a share more of current, and so of power, at the same voltage."""
    panel = scenario.panel
    return {f"panel.{key}": getattr(panel, key) * (1.0 + more) for key in ("power_w", "imp_a", "isc_a")}


def _panels(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    rated_w = scenario.panel.power_w * scenario.panel.count
    for more in PANEL_MORE:
        price = times(scenario.cost.panel_per_w, more * rated_w)
        yield Change(f"panel +{more * 100:.0f}{PER_CENT}", "panel", panel_changes(scenario, more), price)


def _tilts(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    seen = [scenario.panel.tilt_deg]
    for goal, found in best.items():
        tilt, mounting = round(found.tilt_deg), scenario.cost.mounting
        if min(abs(tilt - other) for other in seen) >= TILT_STEP_DEG:
            seen.append(float(tilt))
            yield Change(f"tilt {tilt}°, best for {goal}", "tilt", {"panel.tilt_deg": float(tilt)}, mounting)
    found = best["the wanted months"]
    turned_deg = abs((found.free_azimuth_deg - found.azimuth_deg + 180.0) % 360.0 - 180.0)
    if turned_deg >= AZIMUTH_STEP_DEG and found.free_tilt_deg >= TILT_STEP_DEG:
        there = {"panel.tilt_deg": round(found.free_tilt_deg, 1), "panel.azimuth_deg": round(found.free_azimuth_deg, 1)}
        name = f"tilt {found.free_tilt_deg:.0f}° and turn to {found.free_azimuth_deg:.0f}°"
        yield Change(name, "tilt", there, scenario.cost.mounting)


def _controllers(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    if not scenario.controller.tracks:
        yield Change("PWM to MPPT controller", "controller", {"controller.kind": "mppt"}, scenario.cost.controller)


def _batteries(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    battery = scenario.battery
    for more in BATTERY_MORE:
        changes = {"battery.capacity_ah": battery.capacity_ah * (1.0 + more)}
        if battery.resistance_mohm is not None:
            changes["battery.resistance_mohm"] = battery.resistance_mohm / (1.0 + more)
        price = times(scenario.cost.battery_per_ah, more * battery.capacity_ah)
        yield Change(f"battery +{more * 100:.0f}{PER_CENT}", "battery", changes, price)


def _places(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    if scenario.battery.place == "outdoors":
        yield Change("battery in a frost-free place", "place", {"battery.place": "frost-free"}, once=None)


def _cables(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    for what, cable in (("cable", scenario.pump.cable), ("extension", scenario.pump.extension)):
        if cable is not None and (found := thicker(cable, f"pump.{what}")):
            name, changes = found
            price = times(scenario.cost.cable_per_m, cable.length_m)
            yield Change(sentence(f"{LEADS[what]} {{size}}", size=name), "cable", changes, price)


def thicker(cable: Cable, key: str = "pump.cable") -> tuple[str, dict[str, Any]] | None:
    """The name of the conductor one size up, by gauge where the cable is given by gauge, and the key that sets it."""
    by_gauge = cable.awg is not None
    gauged: list[tuple[str, Any, Conductor]] = [("awg", awg, one) for awg, one in gauges().items()]
    sizes = gauged if by_gauge else [("area_mm2", one.area_mm2, one) for one in metric()]
    return next(
        ((one.name, {f"{key}.{unit}": value}) for unit, value, one in sizes if one.area_mm2 > cable.area_mm2 + 1e-9),
        None,
    )


def _cleaning(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    """Monthly cleaning where dirt is said to grow; where only a constant share is, what a clean panel would give."""
    price = times(scenario.cost.cleaning_per_visit, VISITS - len(scenario.care.panel_cleaning))
    if scenario.care.soiling_per_month > 0.0:
        days = [f"{month:02d}-01" for month in range(1, 13)]
        yield Change("panel cleaned every month", "cleaning", {"care.panel_cleaning": days}, a_year=price)
    elif scenario.panel.soiling > 0.0:
        yield Change("panel always clean (the most cleaning can give)", "cleaning", {"panel.soiling": 0.0}, a_year=None)


def shades_left(scenario: Scenario, data: Mapping[str, Any]) -> list[Any]:
    """The shades that stay when foliage is trimmed away, as they were written."""
    written = data["panel"].get("shade", [])
    return [table for table, shade in zip(written, scenario.panel.shade, strict=True) if not shade.is_foliage]


def _day_only(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    if scenario.controller.load_mode != "daylight":
        changes = {"controller.load_mode": "daylight", "controller.load_windows": []}
        yield Change("pump by daylight only", "control", changes)


def _clocked(scenario: Scenario, best: Mapping[str, Best]) -> Iterator[Change]:
    """The timer over the wanted time of day, and over windows in it that are as long as the hours wanted."""
    for window in windows_of(scenario):
        if scenario.controller.load_windows != (window,):
            changes = {"controller.load_mode": "clock", "controller.load_windows": [list(window)]}
            yield Change(f"pump by the clock, {window[0]} to {window[1]}", CLOCK, changes)


def shade_changes(design: Design) -> Iterator[Change]:
    """What trimming and what a place without shade would change, where there is something to change."""
    scenario = design.scenario
    shades = scenario.panel.shade
    if any(shade.is_foliage for shade in shades):
        price = times(scenario.cost.trimming_per_visit, TRIMS)
        left = shades_left(scenario, design.data)
        yield Change("foliage trimmed away", "trimming", {"panel.shade": left}, a_year=price)
    if shades:
        yield Change("panel moved out of all shade", "moving", {"panel.shade": []}, once=None)


_KINDS: tuple[Callable[[Scenario, Mapping[str, Best]], Iterator[Change]], ...] = (
    _panels,
    _tilts,
    _controllers,
    _batteries,
    _places,
    _cables,
    _cleaning,
    _day_only,
    _clocked,
)


def steps_for(design: Design, best: Mapping[str, Best]) -> tuple[tuple[Change, Design], ...]:
    """Every step that the scenario's own rules allow, with the design that it makes."""
    changes = [change for kind in _KINDS for change in kind(design.scenario, best)]
    made = []
    for change in (*changes, *shade_changes(design)):
        try:
            made.append((change, design.changed(change.name, change.changes)))
        except InputError:
            continue
    return tuple(made)
