"""The form's fields, made from the scenario's own: name, unit, range, words, help. A new field appears by itself."""

from __future__ import annotations

import re
import types
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic.fields import FieldInfo

from sim.catalogue import template
from sim.errors import InputError
from sim.page.text import GONE, at, data_of, listed, number, steps_of
from sim.report.settings import unit_of, words_of
from sim.scenario.defaults import FILLS
from sim.scenario.fields import listed as listed_words
from sim.scenario.fields import unset_words
from sim.scenario.messages import keys_of, model_at
from sim.scenario.models import Scenario

# In the order in which a builder meets them.
ORDER = (
    "title",
    "site",
    "weather",
    "panel",
    "battery",
    "controller",
    "pump",
    "water",
    "need",
    "care",
    "cost",
    "report",
)
FIRST = {  # what a builder knows or turns first; what has no default is always there, all else folds away
    "site.latitude_deg site.longitude_deg weather.sample weather.file weather.seed panel.tilt_deg panel.azimuth_deg",
    "battery.chemistry battery.nominal_v battery.box battery.place controller.kind controller.load_disconnect_v",
    "controller.load_reconnect_v controller.load_mode controller.load_windows pump.cable.length_m pump.cable.area_mm2",
    "water.pond_volume_l water.static_head_m need.hours_per_day need.between need.longest_stop_h title",
}
_FIRST = frozenset(key for line in FIRST for key in line.split())
FORMS = 4096  # fields are remembered, since a form is made anew at each change
_NUMBERS = (int, float)


@dataclass(frozen=True)
class Field:
    """One value: ``kind`` is number, text, choice or list; ``allowed`` and ``help`` are words."""

    key: str
    words: str
    unit: str
    allowed: str
    kind: str
    options: tuple[str, ...]
    help: str
    needed: bool
    first: bool
    unset: str

    def value_of(self, typed: str) -> Any:
        """What is typed as a plain value; GONE where nothing is. What cannot be one stays text, for the message."""
        if not typed.strip():
            return GONE
        return {"number": _number, "list": _list, "choice": self._choice}.get(self.kind, str)(typed)

    def _choice(self, typed: str) -> Any:
        return {"true": True, "false": False}.get(typed, _number(typed))


@dataclass(frozen=True)
class Part:
    """A part of the system with its fields and the parts within it; ``several`` says that there may be more of it.

    ``place`` is its number among several, and ``there`` whether it is written.
    """

    key: str
    title: str
    fields: tuple[Field, ...]
    parts: tuple[Part, ...]
    several: bool = False
    place: int | None = None
    there: bool = True

    def every_field(self) -> Iterator[Field]:
        """The fields of the part and of all parts within."""
        yield from self.fields
        for part in self.parts:
            yield from part.every_field()


def _number(typed: str) -> Any:
    found = number(typed)
    return typed.strip() if found is None else found


def _list(typed: str) -> Any:
    """A list as TOML has it, or with commas between its items; a single number is the same all year."""
    if (found := number(typed)) is not None:
        return found
    if not typed.lstrip().startswith("["):
        return listed(typed)
    try:
        value = data_of(f"x = {typed}\n")
        return value["x"] if set(value) == {"x"} else typed
    except InputError:
        return typed


def _kinds(annotation: Any) -> tuple[Any, ...]:
    """The plain types that an annotation stands for, without None."""
    origin = get_origin(annotation)
    if origin is Annotated:
        return _kinds(get_args(annotation)[0])
    if origin in (Union, types.UnionType):
        return tuple(kind for one in get_args(annotation) for kind in _kinds(one))
    if origin is Literal:
        return tuple(get_args(annotation))
    return () if annotation is type(None) else (origin or annotation,)


def _options(info: FieldInfo) -> tuple[str, ...]:
    """What there is to choose from; empty where the value is free."""
    kinds = _kinds(info.annotation)
    if kinds and not any(isinstance(kind, type) for kind in kinds):
        return tuple(map(str, kinds))
    if kinds == (bool,):
        return ("true", "false")
    listing = re.fullmatch(r'"[^"]+"(?: or "[^"]+")+', info.description or "") if kinds == (str,) else None
    return tuple(re.findall(r'"([^"]+)"', listing[0])) if listing else ()


def _kind(info: FieldInfo) -> str:
    kinds = _kinds(info.annotation)
    if _options(info):
        return "choice"
    if any(kind in (tuple, list) for kind in kinds):
        return "list"
    return "number" if any(kind in _NUMBERS for kind in kinds) else "text"


@cache
def _written() -> dict[str, Any]:
    """What the commented scenario writes, which is what has no default."""
    return data_of(template())


def _is_needed(info: FieldInfo, path: str) -> bool:
    """Whether a value has no default, of its own or from another part of the system."""
    filled = path.count(".") == 1 and path.partition(".")[0] in FILLS
    return info.is_required() and (not filled or at(_written(), path) is not GONE)


@lru_cache(maxsize=FORMS)
def _field(place: str, name: str) -> Field:
    info = model_at(_steps(place)).model_fields[name]
    path = re.sub(r"\.\d+", "", f"{place}.{name}").lstrip(".")
    options = _options(info)
    return Field(
        key=f"{place}.{name}".lstrip("."),
        words=info.title or words_of(name),
        unit=unit_of(name)[1],
        allowed=info.description or listed_words(options),
        kind=_kind(info),
        options=options,
        help=helps().get(path, ""),
        needed=_is_needed(info, path),
        first=path in _FIRST or _is_needed(info, path),
        unset=unset_words(info),
    )


def _steps(place: str) -> tuple[str | int, ...]:
    return steps_of(place) if place else ()


@lru_cache(maxsize=FORMS)
def is_part(place: str, name: str) -> bool:
    """Whether a key stands for a table or a list of tables."""
    return model_at([*_steps(place), name]) is not model_at(_steps(place))


def is_optional(place: str) -> bool:
    """Whether a table may be missing, so that an empty one means nothing.

    >>> is_optional("water.branch"), is_optional("panel.cable"), is_optional("panel")
    (True, False, False)
    """
    above, _, name = place.rpartition(".")
    info = model_at(_steps(above)).model_fields.get(name)
    return info is not None and info.default is None and is_part(above, name)


@lru_cache(maxsize=FORMS)
def _names(place: str) -> tuple[tuple[Field, ...], tuple[str, ...]]:
    """The fields of a place, and the names of the parts within it."""
    model = model_at(_steps(place))
    names = [name for name in keys_of(model) if dict not in _kinds(model.model_fields[name].annotation)]
    fields = tuple(_field(place, name) for name in names if not is_part(place, name))
    return fields, tuple(name for name in names if is_part(place, name))


def _part(data: Mapping[str, Any], place: str, title: str, number_of: int | None = None) -> Part:
    """The part at a place with all that lies in it."""
    fields, parts = _names(place)
    inner = tuple(one for name in parts for one in _inner(data, place, name))
    return Part(place, title, fields, inner, place=number_of, there=at(data, place) is not GONE)


def _inner(data: Mapping[str, Any], place: str, name: str) -> Iterator[Part]:
    """A part within a part; of a list of tables the list, with a part for each."""
    info, key = model_at(_steps(place)).model_fields[name], f"{place}.{name}"
    title = info.title or words_of(name)
    if tuple not in _kinds(info.annotation):
        yield _part(data, key, title)
        return
    several = at(data, key)
    count = len(several) if isinstance(several, list) else 0
    each = tuple(_part(data, f"{key}.{place}", f"{title} {place + 1}", place) for place in range(count))
    yield Part(key, title, (), each, several=True, there=count > 0)


def parts_of(data: Mapping[str, Any]) -> tuple[Part, ...]:
    """The parts of the form for a scenario as it is written; the title stands in the first."""
    known = [name for name in keys_of(Scenario) if name != "alternative"]
    names = sorted(known, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER))
    fields = Scenario.model_fields
    parts = tuple(_part(data, name, fields[name].title or name) for name in names if is_part("", name))
    plain = tuple(_field("", name) for name in names if not is_part("", name))
    return (Part("", "name", plain, ()), *parts)


def fields_of(data: Mapping[str, Any]) -> dict[str, Field]:
    """Every field of the form by its key."""
    return {field.key: field for part in parts_of(data) for field in part.every_field()}


@cache
def helps() -> dict[str, str]:
    """A sentence for each key: what the commented scenario says beside it.

    >>> helps()["panel.tilt_deg"]
    '0 lies flat, 90 stands upright; steeper catches more in winter'
    """
    found: dict[str, str] = {}
    section = last = ""
    for line in template().split("\n"):
        if heading := re.match(r"\s*(?:#\s+)?\[+([\w.]+)\]+", line):
            section, last = heading[1], ""
        elif told := re.match(r"#?\s*(\w+)\s*=\s[^#]+#\s*(.+)$", line):
            last = f"{section}.{told[1]}".lstrip(".")
            found.setdefault(last, told[2])
        elif last and (more := re.match(r"#?\s{24,}#\s*(.+)$", line)):
            found[last] += f" {more[1]}"
        else:
            last = ""
    return found


def default_of(field: Field, resolved: Any) -> str:
    """What holds where a field is left empty, in words; ``resolved`` is what the finished scenario has there."""
    from sim.report.settings import value_of

    if resolved is None or resolved is GONE or field.needed:
        return "" if field.needed else field.unset
    return str(resolved).lower() if isinstance(resolved, bool) else value_of(resolved)


def resolved_at(scenario: Any, key: str) -> Any:
    """What a finished scenario has at a key; GONE where it has nothing."""
    for step in _steps(key):
        try:
            scenario = scenario[step] if isinstance(step, int) else getattr(scenario, step)
        except (AttributeError, LookupError, TypeError):
            return GONE
    return scenario
