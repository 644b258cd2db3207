"""Every value of a scenario as rows of words, values and units, read off the scenario's own fields."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sim.calendar import MONTHS
from sim.scenario.weather import Column
from sim.weather.sun import facing_deg

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.weather import Weather

_UNITS = {
    "_pct_c": "%/°C",
    "_lph": "l/h",
    "_percent": "%",
    "_kwh_m2": "kWh/m²",
    "_m2": "m²",
    "_mm": "mm",
    "_l": "l",
    "_c": "°C",
    "_mohm": "mΩ",
    "_mm2": "mm²",
    "_cm": "cm",
    "_deg": "°",
    "_ah": "Ah",
    "_v": "V",
    "_a": "A",
    "_w": "W",
    "_m": "m",
    "_h": "h",
    "_s": "s",
    "hours_per_day": "h",
}
_QUANTITY = {"_v": "voltage", "_a": "current"}
_WORDS = {
    "vmp_v": "voltage at maximum power (Vmp)",
    "imp_a": "current at maximum power (Imp)",
    "voc_v": "open-circuit voltage (Voc)",
    "isc_a": "short-circuit current (Isc)",
    "at_v": "rated voltage",
    "equalise_every_days": "days between equalisations (0: never)",
    "box_lag_h": "lag of the box behind the air",
    "box_solar_gain_c": "warming of the box at 1000 W/m²",
    "soiling_per_month": "share of light lost to dirt a month",
    "power_w": "rated power",
    "length_m": "length, one way",
    "area_mm2": "area of one conductor",
    "extra_mohm": "contacts and fuse",
    "awg": "American wire gauge",
    "fuse_a": "fuse",
    "fuse_distance_cm": "fuse, from the + pole",
    "fuse_breaks_a": "fuse, breaking capacity",
    "max_pv_v": "highest panel voltage it bears",
    "isc_temperature_pct_c": "temperature coefficient of Isc",
    "voc_temperature_pct_c": "temperature coefficient of Voc",
    "reading_error_v": "error of the controller's reading",
    "place_min_c": "kept at no less than",
    "heater_w": "power of its heater",
    "charge_release_c": "takes charge again after frost from",
    "on_refusal": "when the battery takes no charge, it",
    "absorption_h": "longest absorption",
    "recharge_below_v": "a charge begins anew below",
    "charge_ends_a": "a charge ends at",
    "initial_soc": "charge at the start of the year",
    "utc_offset_h": "ahead of UTC",
    "soiling": "share lost to dirt",
    "mismatch_and_ageing": "share lost to mismatch and ageing",
    "kind": "kind of controller",
    "between": "wanted between",
    "ghi": "global light",
    "dni": "beam",
    "dhi": "diffuse light",
    "temp_air": "air temperature",
    "longest_stop_h": "longest stop allowed",
    "curve": "curve, flow and head",
    "label_flow_lph": "flow on its box",
    "static_head_m": "lift",
    "pipe_water_c": "water in the pipes, for friction",
    "cold_limit_c": "limit of cold water",
    "warm_limit_c": "limit of warm water for fish",
    "opening_percent": "opening of the valve",
    "target_lph": "flow that is wanted",
    "at_flow_lph": "… at this flow",
    "head_m": "head lost …",
    "max_flow_lph": "largest flow",
    "daily_ghi_kwh_m2": "on the level, a day",
    "temp_air_c": "air",
    "year_to_year": "light from year to year, deviation over mean",
    "snow": "snow on the panel, from a day to the morning of another",
    "trimmed_transmittance": "transmittance after trimming",
    "trimmed_days": "days until what was trimmed has grown again",
    "mean_days_between": "mean days from a repair to the next fault",
    "repair_h": "mean time to repair",
}
_UNSET = {
    "shut_down": "never",
    "start_up": "never",
    "resistance_mohm": "from the catalogue",
    "place_min_c": "not kept warm",
    "heater_w": "none",
    "charge_release_c": "no lock for frost",
    "file": "none",
    "files": "none",
    "time_format": "told by the stamps",
    "time_zone": "none",
    "dni": "worked out",
    "dhi": "worked out",
    "wind_speed": "none",
    "sample": "none",
    "year_to_year": "as is usual at such a place",
    "awg": "given by its area",
    "fuse_a": "not stated",
    "fuse_distance_cm": "not stated",
    "fuse_breaks_a": "not stated",
    "max_pv_v": "not stated",
    "curve": "none",
    "label_flow_lph": "the curve's largest",
    "observed_loss_mm_per_day": "none",
    "static_head_m": "as the header's",
    "target_lph": "none",
    "max_flow_lph": "not given",
    "vent_depth_m": "no vent",
    "trimmed_transmittance": "never trimmed",
}
_GROUPS = (
    ("Controller", "controller"),
    ("Panel", "panel"),
    ("Cable, panel to controller", "panel.cable"),
    ("Battery", "battery"),
    ("Cable, battery to controller", "battery.cable"),
    ("Pump", "pump"),
    ("Cable, controller to pump", "pump.cable"),
    ("Extension lead to the pump", "pump.extension"),
    ("What is wanted", "need"),
    ("Care", "care"),
    ("Site", "site"),
    ("Weather", "weather"),
    ("Columns of the weather table", "weather.columns"),
    ("Monthly means", "weather.monthly"),
)
_OWN_GROUP = ("cable", "shade", "extension", "fault", "monthly", "columns")
_WATER_PARTS = ("pipe", "fittings", "branch", "filter", "basin", "stream", "outlet")


@dataclass(frozen=True)
class Setting:
    """One value: what it is, the value with its unit, and its key in the scenario."""

    words: str
    value: str
    key: str


@dataclass(frozen=True)
class Group:
    """The settings of one part of the system."""

    title: str
    rows: tuple[Setting, ...]


def unit_of(key: str) -> tuple[str, str]:
    """The ending of a key that names its unit, and the unit; both empty where there is none.

    >>> unit_of("load_disconnect_v"), unit_of("cells")
    (('_v', 'V'), ('', ''))
    """
    return next(((ending, unit) for ending, unit in _UNITS.items() if key.endswith(ending)), ("", ""))


def words_of(key: str) -> str:
    """A key in words.

    >>> words_of("load_disconnect_v"), words_of("max_charge_a"), words_of("tilt_deg")
    ('load disconnect voltage', 'max charge current', 'tilt')
    """
    if key in _WORDS:
        return _WORDS[key]
    ending = unit_of(key)[0]
    stem = key.removesuffix(ending) if ending.startswith("_") else key
    quantity = _QUANTITY.get(ending, "")
    return f"{stem} {quantity if quantity not in stem else ''}".replace("_", " ").strip()


def value_of(value: Any) -> str:
    """A value in words; twelve monthly ones month by month unless they are all the same.

    >>> value_of(12.2), value_of((8.0,) * 12), value_of(("07:00", "19:00")), value_of(())
    ('12.2', '8', '07:00–19:00', 'none')
    """
    if isinstance(value, Column):
        return f"{value.column}, in {value.unit}"
    if not isinstance(value, tuple):
        return f"{value:g}" if isinstance(value, float) else str(value)
    if len(value) == 12 and all(isinstance(item, float) for item in value):
        return value_of(value[0]) if len(set(value)) == 1 else _monthly(value)
    windowed = len(value) == 2 and all(isinstance(item, str) and ":" in item for item in value)
    return ("–" if windowed else ", ").join(map(value_of, value)) or "none"


def _monthly(values: tuple[float, ...]) -> str:
    return ", ".join(f"{month} {value:g}" for month, value in zip(MONTHS, values, strict=True))


def _row(section: str, key: str, value: Any, weather: Weather) -> Setting:
    if value is None:
        return Setting(words_of(key), _unset(key, weather), f"{section}.{key}")
    if key in _WRITTEN:
        return Setting(words_of(key), _WRITTEN[key](value), f"{section}.{key}")
    return Setting(words_of(key), f"{value_of(value)} {unit_of(key)[1]}".strip(), f"{section}.{key}")


def _curve(points: tuple[tuple[float, float], ...]) -> str:
    return "; ".join(f"{flow:g} l/h {head:g} m" for flow, head in points)


def _days(days: tuple[str, ...]) -> str:
    return ", ".join(days) or "none"


_WRITTEN: dict[str, Callable[[Any], str]] = {
    "curve": _curve,
    "panel_cleaning": _days,
    "trimming": _days,
    "filter_rinse": _days,
}


def _unset(key: str, weather: Weather) -> str:
    if key in _UNSET:
        return _UNSET[key]
    if key == "azimuth_deg":
        return f"{facing_deg(None, weather.latitude_deg):g} ° (the equator's side)"
    return f"{getattr(weather, key):g} {unit_of(key)[1]} (from the weather data)"


def _listed(scenario: Scenario, weather: Weather) -> list[Group]:
    """The tables of which there may be several."""
    tables = (("Shade", "panel.shade", scenario.panel.shade), ("Fault", "care.fault", scenario.care.fault))
    return [
        Group(f"{title} {place}", tuple(_row(path, key, value, weather) for key, value in table if value is not None))
        for title, path, several in tables
        for place, table in enumerate(several, 1)
    ]


def _water(scenario: Scenario, weather: Weather) -> list[Group]:
    """The water's own values, then each of its parts."""
    water = scenario.water
    if water is None:
        return []

    def group(title: str, path: str, part: Any) -> Group:
        own = ((key, value) for key, value in part if key not in _WATER_PARTS)
        return Group(title, tuple(_row(path, key, value, weather) for key, value in own))

    pipes = [group(f"Pipe {place}", "water.pipe", pipe) for place, pipe in enumerate(water.pipe, 1)]
    fittings = [group(f"Fittings {place}", "water.fittings", fit) for place, fit in enumerate(water.fittings, 1)]
    parts = [(name, getattr(water, name)) for name in _WATER_PARTS[2:]]
    others = [group(f"Water: {name}", f"water.{name}", part) for name, part in parts if part is not None]
    return [group("Water", "water", water), *pipes, *fittings, *others]


def settings_of(scenario: Scenario, weather: Weather) -> tuple[Group, ...]:
    """Everything that the scenario sets, part by part; what it leaves open says where it came from."""
    groups = []
    for title, path in _GROUPS:
        section: Any = scenario
        for name in path.split("."):
            section = getattr(section, name)
        if section is None:
            continue
        rows = (_row(path, key, value, weather) for key, value in section if key not in _OWN_GROUP)
        groups.append(Group(title, tuple(rows)))
    return (*groups, *_prices(scenario, weather), *_listed(scenario, weather), *_water(scenario, weather))


def _prices(scenario: Scenario, weather: Weather) -> list[Group]:
    """The prices that the scenario names, if it names any."""
    named = [(key, value) for key, value in scenario.cost if key in scenario.cost.model_fields_set]
    rows = tuple(_row("cost", key, value, weather) for key, value in named if value is not None)
    return [Group("Prices", rows)] if rows else []
