"""From what is wrong with a section to one plain message."""

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from sim.errors import InputError
from sim.scenario.fields import inner_model, listed
from sim.scenario.models import Scenario

Place = Sequence[str | int]
RENAMED = {"controller.rebulk_v": "recharge_below_v", "controller.tail_current_a": "charge_ends_a"}


def dotted(place: Place) -> str:
    """A place as a message names it; the tables of a list count from 0.

    >>> dotted(["panel", "shade", 1, "transmittance"])
    'panel.shade[1].transmittance'
    >>> print(dotted(["site", ""]))
    site.""
    """
    return "".join(f"[{step}]" if isinstance(step, int) else f".{_key(step)}" for step in place).removeprefix(".")


def _key(step: str) -> str:
    """A key as a file has it, in quotes where it needs them."""
    return step if re.fullmatch(r"[\w.-]+", step) else json.dumps(step, ensure_ascii=False)


def first_error(found: ValidationError, root: str, data: Any, path: Path) -> InputError:
    """The most telling of the errors in a section: an unknown key first, since it explains a missing one."""
    errors = sorted(found.errors(), key=lambda error: error["type"] != "extra_forbidden")
    kind, whole = errors[0]["type"], {root: data} if root else data
    place = ([root] if root else []) + [*errors[0]["loc"]]
    if kind == "extra_forbidden":
        return unknown(place, value_at(whole, place)[1], path)
    written, value = value_at(whole, _keys_in(place))
    allowed = str(errors[0]["ctx"]["error"]) if kind == "value_error" else allowed_at(written)
    empty = value is None and kind != "value_error"
    missing = "; this key has no default" if empty else ""
    return InputError(str(path), dotted(written), value, allowed + missing)


def _keys_in(place: Place) -> Place:
    """A place up to the first name that is no key but one of the kinds that a value may be of."""
    kinds = (at for at, step in enumerate(place) if isinstance(step, str) and step not in _fields_at(place[:at]))
    return place[: next(kinds, len(place))]


def _fields_at(place: Place) -> Mapping[str, object]:
    return model_at(place).model_fields


def unknown(place: Place, value: object, path: Path) -> InputError:
    """The message for a key that no section has."""
    if new := RENAMED.get(dotted(place)):
        return InputError(str(path), dotted(place), value, f"{new}, which is this key's new name")
    keys = keys_of(model_at(place[:-1]))
    near = meant(str(place[-1]), place[:-1], keys)
    hint = f"; did you mean {near}?" if near else ""
    return InputError(str(path), dotted(place), value, f"only {', '.join(keys)}{hint}")


def meant(key: str, section: Place, keys: Sequence[str]) -> str | None:
    """The key that was probably meant: a similar one of the section, or the same one of another section."""
    near = get_close_matches(key, keys, 1)
    elsewhere = (place for place in every_key(Scenario) if place.rpartition(".")[2] == key)
    return near[0] if near else next(elsewhere, None)


def value_at(data: Any, place: Place) -> tuple[list[str | int], Any]:
    """How far a place was written as such, and the value there; None for one that is missing.

    >>> value_at({"need": {"hours_per_day": 30}}, ["need", "hours_per_day", 0])
    (['need', 'hours_per_day'], 30)
    """
    written: list[str | int] = []
    for step in place:
        if isinstance(data, Mapping):
            data = data.get(str(step))
        elif isinstance(step, int) and isinstance(data, (list, tuple)) and step < len(data):
            data = data[step]
        else:  # the name of one of several kinds that a value may be of, or what a list is too short for
            break
        written.append(step)
    return written, data


def allowed_at(place: Place) -> str:
    """What is allowed at a place, in words.

    >>> allowed_at(["controller", "kind"]), allowed_at(["need", "hours_per_day", 3])
    ('"pwm" or "mppt"', 'a number from 0 to 24, or twelve of them, one a month')
    """
    last = max(at for at, step in enumerate(place) if isinstance(step, str))
    field = model_at(place[:last]).model_fields[str(place[last])]
    inner = inner_model(field)
    if inner and (last < len(place) - 1 or not field.description):
        return f"a table of {', '.join(keys_of(inner))}"
    return field.description or listed(get_args(field.annotation))


def model_at(place: Place) -> type[BaseModel]:
    """The innermost table that a place lies in."""
    model: type[BaseModel] = Scenario
    for step in place:
        field = model.model_fields.get(str(step))
        model = (inner_model(field) if field else None) or model
    return model


def keys_of(model: type[BaseModel]) -> list[str]:
    """The keys that may be written in a table; the path of a scenario is not one."""
    return [name for name, field in model.model_fields.items() if not field.exclude]


def every_key(model: type[BaseModel], prefix: str = "") -> Iterator[str]:
    """The dotted names of all values below a model."""
    for name in keys_of(model):
        inner = inner_model(model.model_fields[name])
        yield from every_key(inner, f"{prefix}{name}.") if inner else [f"{prefix}{name}"]
