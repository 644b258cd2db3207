"""Every value of a scenario as rows of words, values and units, read off the scenario's own fields."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING, Any

from sim.calendar import MONTHS
from sim.catalogue.cables import Area
from sim.report.blocks import Fact
from sim.scenario.fields import Section, inner_model, unset_words
from sim.scenario.weather import Column
from sim.units import READ, Quantity, sign, system, unit_in

if TYPE_CHECKING:
    from sim.scenario import Scenario
    from sim.weather import Weather

_UNITS = {
    **{f"_{unit}": shown["metric"].sign for unit, shown in READ.items()},
    "_percent": "%",
    "_kwh_m2": "kWh/m²",
    "_mohm": "mΩ",
    "_mm2": "mm²",
    "_deg": "°",
    "_ah": "Ah",
    "_v": "V",
    "_a": "A",
    "_w": "W",
    "_h": "h",
    "_s": "s",
    "hours_per_day": "h",
}
_ENDINGS = sorted(_UNITS, key=len, reverse=True)
_QUANTITY = {"_v": "voltage", "_a": "current"}
_ORDER = ("controller", "panel", "battery", "pump", "need", "care", "site", "weather", "cost", "water")


@dataclass(frozen=True)
class Group:
    """The settings of one part of the system: words, value with unit, and as a remark the key."""

    title: str
    rows: tuple[Fact, ...]


def unit_of(key: str) -> tuple[str, str]:
    """The ending of a key that names its unit, and the SI unit; both empty where there is none.

    >>> unit_of("load_disconnect_v"), unit_of("cells")
    (('_v', 'V'), ('', ''))
    """
    return next(((ending, _UNITS[ending]) for ending in _ENDINGS if key.endswith(ending)), ("", ""))


def words_of(key: str) -> str:
    """A key in words, where its field has none of its own.

    >>> words_of("load_disconnect_v"), words_of("max_charge_a"), words_of("tilt_deg")
    ('load disconnect voltage', 'max charge current', 'tilt')
    """
    ending = unit_of(key)[0]
    stem = key.removesuffix(ending) if ending.startswith("_") else key
    quantity = _QUANTITY.get(ending, "")
    return f"{stem} {quantity if quantity not in stem else ''}".replace("_", " ").strip()


def value_of(value: Any, unit: str = "", nested: bool = False) -> str:
    """A value in words; twelve monthly ones month by month unless they are all the same. ``unit`` is one of READ.

    >>> value_of(12.2), value_of((8.0,) * 12), value_of(("07:00", "19:00")), value_of(())
    ('12.2', '8', '07:00–19:00', 'none')
    >>> value_of((("01-10", "01-14"),)), value_of(("03-15", "09-15"))
    ('01-10–01-14', '03-15, 09-15')
    """
    if isinstance(value, Column):
        return f"{value.column}, in {value.unit}"
    if not isinstance(value, tuple):
        return _figure(value, unit) if isinstance(value, float) else str(value)
    if len(value) == 12 and all(isinstance(item, float) for item in value):
        return value_of(value[0], unit) if len(set(value)) == 1 else _monthly(value, unit)
    pair = len(value) == 2 and all(isinstance(item, str) and (nested or ":" in item) for item in value)
    return ("–" if pair else ", ").join(value_of(item, unit, True) for item in value) or "none"


def _figure(value: float, unit: str) -> str:
    return Quantity(value, unit, "g").bare if unit else f"{value:g}"


def _monthly(values: tuple[float, ...], unit: str) -> str:
    return ", ".join(f"{month} {_figure(value, unit)}" for month, value in zip(MONTHS, values, strict=True))


def _written(key: str, value: Any) -> str:
    """A value with its unit."""
    if key == "curve":
        return "; ".join(f"{Quantity(flow, 'lph', 'g')} {Quantity(head, 'm', 'g')}" for flow, head in value)
    if key == "area_mm2":
        return str(Area(value))
    unit = unit_in(key)
    return f"{value_of(value, unit)} {sign(unit) if unit else unit_of(key)[1]}".strip()


def _rows(section: Section, path: str, weather: Weather) -> Iterator[Fact]:
    """A part's own values; what is not set says what holds instead, or is left out."""
    for key, info in type(section).model_fields.items():
        value, said = getattr(section, key), info.title or words_of(key)
        if _is_gauged(section, key):
            continue
        if value is not None and not _inner(value) and (value != () or not inner_model(info)):
            yield Fact(said, _written(key, value), f"{path}.{key}")
        elif value is None and (instead := unset_words(info) or _of_weather(path, key, weather)):
            yield Fact(said, instead, f"{path}.{key}")


def _is_gauged(section: Section, key: str) -> bool:
    """Whether a cable's gauge says for US readers what its area would."""
    return key == "area_mm2" and system() == "us" and getattr(section, "awg", None) is not None


def _inner(value: Any) -> tuple[Section, ...]:
    """The parts within a part; empty for a plain value."""
    several = value if isinstance(value, tuple) else (value,)
    return tuple(one for one in several if isinstance(one, Section) and not isinstance(one, Column))


def _of_weather(path: str, key: str, weather: Weather) -> str:
    """What the weather data say of the site, and which way the equator lies."""
    if key == "azimuth_deg":
        from sim.weather.sun import facing_deg

        return f"{facing_deg(None, weather.latitude_deg):g} ° (the equator's side)"
    return f"{_written(key, getattr(weather, key))} (from the weather data)" if path == "site" else ""


def _groups(title: str, path: str, section: Section, weather: Weather) -> Iterator[Group]:
    """A part of the system, then the parts within it; several of a kind are numbered."""
    if rows := tuple(_rows(section, path, weather)):
        yield Group(title, rows)
    for key, info in type(section).model_fields.items():
        value = getattr(section, key)
        for place, one in enumerate(_inner(value), 1):
            said = info.title or key.capitalize()
            yield from _groups(f"{said} {place}" if isinstance(value, tuple) else said, f"{path}.{key}", one, weather)


def settings_of(scenario: Scenario, weather: Weather) -> tuple[Group, ...]:
    """Everything that the scenario sets, part by part; of prices those it names."""
    fields = type(scenario).model_fields
    parts = ((name, getattr(scenario, name)) for name in _ORDER)
    named = ((name, part) for name, part in parts if part is not None and (name != "cost" or part.model_fields_set))
    groups = (_groups(fields[name].title or name.capitalize(), name, part, weather) for name, part in named)
    return tuple(chain.from_iterable(groups))
