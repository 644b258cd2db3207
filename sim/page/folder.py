"""The one folder that the page may touch: every name that a browser sends is looked up here, and nowhere else."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from sim.errors import InputError
from sim.scenario import Scenario

LONGEST_NAME = 100  # signs
MOST_BYTES = 220  # of a name, so that what is put before and behind it fits the 255 of a file system
ENDING = ".toml"
_UNFIT = re.compile(r'[\x00-\x1f\x7f/\\<>:"|?*]')
_NAME_WORDS = f"a plain name of up to {LONGEST_NAME} signs, without a point in front and without / \\ < > : | ? *"


def fit_name(name: str) -> str:
    """A name for a new file as it is typed, if files may have it on every system; InputError if not.

    >>> fit_name("  pond by the wall ")
    'pond by the wall'
    """
    name = name.strip()
    if not name or is_too_long(name) or name.startswith(".") or _UNFIT.search(name):
        raise InputError("the page", "name", name, _NAME_WORDS)
    return name


def is_too_long(name: str) -> bool:
    """Whether files may not have a name, ending included.

    >>> is_too_long("p" * 100), is_too_long("\u6c60" * 100)
    (False, True)
    """
    signs = len(name.removesuffix(ENDING))
    return signs > LONGEST_NAME or len(name.encode("utf-8", "replace")) > MOST_BYTES


@dataclass(frozen=True)
class Folder:
    """A folder by its real place, and the files directly in it."""

    root: Path

    @classmethod
    def at(cls, path: Path) -> Folder:
        """The folder at a path; InputError where there is none."""
        if not path.is_dir():
            raise InputError(str(path), "", None, "a folder that is there")
        return cls(path.resolve())

    def holds(self, path: Path) -> bool:
        """Whether a path leads to a place inside, wherever links on the way point to."""
        try:
            return path.resolve().is_relative_to(self.root)
        except (OSError, RuntimeError, ValueError):
            return False

    def inside(self, name: str) -> Path:
        """The path of a file by its plain name; InputError for any name that leads elsewhere."""
        path = self.root / name
        plain = bool(name) and not name.startswith(".") and not re.search(r"[/\\\x00]", name)
        if not plain or is_too_long(name) or not self.holds(path):
            raise InputError("the page", "name", name, f"the name of a file in {self.root}")
        return path

    def scenario(self, name: str) -> Path:
        """Where the scenario of a name is, or would be."""
        return self.inside(f"{name}{ENDING}")

    def state(self, name: str) -> Path:
        """Where what the page knows of a scenario is kept: hidden, beside it."""
        path = self.scenario(name).with_name(f".{name}.state")
        if not self.holds(path):
            raise InputError(str(path), "", None, f"a file in {self.root}")
        return path

    def names(self) -> list[str]:
        """The scenarios of the folder and those that were begun and not saved yet, by name."""
        saved = {path.stem for path in self.root.glob(f"*{ENDING}")}
        begun = {path.stem[1:] for path in self.root.glob(".*.state")}
        return sorted(name for name in saved | begun if self._is_plain(name))

    def _is_plain(self, name: str) -> bool:
        try:
            return self.holds(self.state(name))
        except InputError:
            return False

    def latest(self) -> str | None:
        """The name that was worked on last."""
        states = {name: path for name in self.names() if (path := self.state(name)).exists()}
        return max(states, key=lambda name: states[name].stat().st_mtime_ns, default=None)

    def check(self, scenario: Scenario) -> None:
        """Raise InputError where a scenario names a weather file outside."""
        for name in scenario.weather.named_files.values():
            if not self.holds(self.root / name):
                allowed = f"a file inside {self.root}; start the page with --folder to open a wider one"
                raise InputError(str(scenario.path), "weather.file", name, allowed)
