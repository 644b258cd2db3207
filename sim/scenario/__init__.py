"""From a TOML file to a frozen scenario: everything a user wrote is checked here, and nowhere else.

After reading, every value is final: what the file leaves out has its default, worked out from the other values.
"""

import copy
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from sim.errors import InputError
from sim.files import read_bytes
from sim.scenario import messages
from sim.scenario.cables import Cable
from sim.scenario.defaults import OPTIONAL, ORDER, defaults_of
from sim.scenario.fields import Section
from sim.scenario.models import Scenario
from sim.scenario.place import settled
from sim.scenario.rules import broken
from sim.scenario.syntax import MOST_DEEP, tables_of

MOST_SCENARIO_BYTES = 4_000_000  # a long scenario has some ten thousand

__all__ = ["Cable", "Scenario", "load", "overridden", "parse", "read_toml"]


def load(path: Path | str) -> Scenario:
    """The scenario in a file. Raises InputError, with one message, for whatever is wrong with it.

    >>> from sim.catalogue import ROOM
    >>> load(ROOM / "template.toml").battery.chemistry
    'lfp'
    """
    return parse(read_toml(Path(path)), Path(path))


def parse(data: Mapping[str, Any], path: Path) -> Scenario:
    """The scenario that plain data describe; ``path`` is where they were read, for messages and relative files.

    >>> panel = {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9}
    >>> rest = {"weather": {"sample": "piedmont"}, "battery": {"capacity_ah": 50}, "pump": {"power_w": 20}}
    >>> parse({"panel": panel, **rest}, Path("pond.toml")).controller.load_disconnect_v
    12.2
    """
    keys = messages.keys_of(Scenario)
    for key in data:
        if key not in keys:
            raise messages.unknown([key], data[key], path)
    read: dict[str, Section] = {}
    for name in (name for name in ORDER if name in data or name not in OPTIONAL):
        read[name] = _section(name, data.get(name, {}), read, path)
    read["site"], read["weather"] = settled(read["site"], read["weather"])  # type: ignore[arg-type]
    scenario = _whole(data, read, path)
    for key, allowed in broken(scenario):
        raise _broken(scenario, data, key, allowed)
    alone = {name: given for name, given in data.items() if name != "alternative"}
    for other in scenario.alternative:
        altered(alone, other.name, other.changes, path)
    return scenario


def altered(
    data: Mapping[str, Any], name: str, changes: Mapping[str, Any], path: Path
) -> tuple[dict[str, Any], Scenario]:
    """Plain data with an alternative's values set, and the scenario of them; a message names the alternative."""
    try:
        changed = overridden(data, changes, path)
        return changed, parse(changed, path)
    except InputError as wrong:
        raise InputError(f'{wrong.file}, alternative "{name}"', wrong.key, wrong.value, wrong.allowed) from None


def _section(name: str, given: Any, read: dict[str, Section], path: Path) -> Section:
    """One section, filled from those that were read before it."""
    model = messages.model_at([name])
    filled = {**defaults_of(name, read, given), **given} if isinstance(given, Mapping) else given
    try:
        return model.model_validate(filled)  # type: ignore[return-value]
    except ValidationError as found:
        raise messages.first_error(found, name, given, path) from None


def _whole(data: Mapping[str, Any], read: dict[str, Section], path: Path) -> Scenario:
    rest = {name: data[name] for name in ("title", "alternative") if name in data}
    try:
        return Scenario(**rest, **read, path=path)  # type: ignore[arg-type]
    except ValidationError as found:
        raise messages.first_error(found, "", data, path) from None


def _broken(scenario: Scenario, data: Mapping[str, Any], key: str, allowed: str) -> InputError:
    """The message of a rule that does not hold; it says so if the value is a default, which the user never wrote."""
    section, _, name = key.partition(".")
    value = getattr(getattr(scenario, section), name) if name else None
    is_default = bool(value) and name not in data.get(section, {})
    said = "; the value is the default" if is_default else ""
    return InputError(str(scenario.path), key, value or None, allowed + said)


def read_toml(path: Path) -> dict[str, Any]:
    """The tables of a TOML file as plain data, unchecked. Raises InputError if it cannot be read."""
    try:
        text = read_bytes(path, "a scenario file", MOST_SCENARIO_BYTES).decode("utf-8-sig")
    except UnicodeDecodeError as reason:
        raise InputError(str(path), "", None, f"text in UTF-8; byte {reason.start + 1} is none") from None
    return tables_of(path, text)


def overridden(data: Mapping[str, Any], changes: Mapping[str, Any], path: Path = Path("scenario")) -> dict[str, Any]:
    """A copy of plain data with values set by their dotted keys; ``parse`` checks them later.

    The tables of a list count from 0. Raises InputError where a key leads through something that is no table.

    >>> overridden({"panel": {"tilt_deg": 30}}, {"panel.tilt_deg": 45, "battery.capacity_ah": 50})
    {'panel': {'tilt_deg': 45}, 'battery': {'capacity_ah': 50}}
    >>> overridden({"panel": {"shade": [{"transmittance": 0.2}]}}, {"panel.shade.0.transmittance": 0.5})
    {'panel': {'shade': [{'transmittance': 0.5}]}}
    """
    changed = copy.deepcopy(dict(data))
    for key, value in changes.items():
        try:
            _put(changed, re.sub(r"\[(\d+)\]", r".\1", key).split("."), value)
        except LookupError:
            raise InputError(str(path), key, value, "a key that leads through tables, and lists by number") from None
    return changed


def _put(table: Any, steps: Sequence[str], value: Any) -> None:
    """Set a value some steps below a table, making the tables on the way; LookupError where there can be none."""
    if len(steps) > MOST_DEEP:
        raise LookupError(steps[0])
    if isinstance(table, dict) and len(steps) > 1:
        table.setdefault(steps[0], {})
    at = _entry(table, steps[0])
    if len(steps) == 1:
        table[at] = value
    else:
        _put(table[at], steps[1:], value)


def _entry(table: Any, step: str) -> str | int:
    if isinstance(table, dict):
        return step
    if isinstance(table, list) and step.isdecimal() and int(step) < len(table):
        return int(step)
    raise LookupError(step)
