"""What the page knows of a scenario: its states, which are scenario texts, on disk before they are answered."""

from __future__ import annotations

import json
import threading
from dataclasses import asdict, dataclass, replace
from itertools import accumulate
from typing import Any

from sim.errors import InputError
from sim.files import write_text
from sim.page.folder import Folder

MOST_STATES = 300
MOST_SIGNS = 4_000_000  # of all states of a scenario together
MOST_KEPT = 12


@dataclass(frozen=True)
class Kept:
    """A design that was put aside: a name and its scenario text."""

    name: str
    text: str


@dataclass(frozen=True)
class State:
    """The ``texts`` in the order in which they came, of which the one at ``at`` holds; ``names`` of some of them.

    ``first`` is how many older ones were dropped, ``base`` the text of the file as it was opened or saved last.
    """

    texts: tuple[str, ...]
    at: int = 0
    first: int = 0
    names: tuple[str, ...] = ("",)
    kept: tuple[Kept, ...] = ()
    base: str | None = None

    @property
    def text(self) -> str:
        """The scenario text that holds."""
        return self.texts[self.at]

    @property
    def serial(self) -> int:
        """The number of the state that holds, which stays its own when older ones are dropped."""
        return self.first + self.at

    @property
    def before(self) -> str | None:
        """The text before the last change."""
        return self.texts[self.at - 1] if self.at else None

    @property
    def saved(self) -> bool:
        """Whether the file says the same."""
        return self.base == self.text

    def numbered(self, serial: int) -> str:
        """The text of a number; the one that holds where it is gone."""
        at = serial - self.first
        return self.texts[at] if 0 <= at < len(self.texts) else self.text

    def changed(self, text: str) -> State:
        """A further text, which holds; those that were undone are gone, and the oldest where there are too many.

        >>> State(("a", "b"), 0, names=("", "")).changed("c").texts
        ('a', 'c')
        """
        if text == self.text:
            return self
        texts, names = (*self.texts[: self.at + 1], text), (*self.names[: self.at + 1], "")
        room = accumulate(map(len, reversed(texts)))
        kept = max(1, min(MOST_STATES, sum(signs <= MOST_SIGNS for signs in room)))
        dropped = max(0, len(texts) - kept)
        return replace(
            self, texts=texts[dropped:], names=names[dropped:], at=len(texts) - dropped - 1, first=self.first + dropped
        )

    def moved(self, to: int) -> State:
        """Another of the texts holds; the nearest where there is none of that place."""
        return replace(self, at=min(max(to, 0), len(self.texts) - 1))

    def named(self, name: str) -> State:
        """The text that holds gets a name."""
        return replace(self, names=(*self.names[: self.at], name[:60], *self.names[self.at + 1 :]))

    def keeping(self, name: str) -> State:
        """The text that holds is put aside as a design; another of the same name is replaced."""
        name = name.strip()[:60] or f"design {len(self.kept) + 1}"
        others = tuple(one for one in self.kept if one.name != name)
        if len(others) >= MOST_KEPT:
            raise InputError("the page", "keep", name, f"at most {MOST_KEPT} designs; drop one first")
        return replace(self, kept=(*others, Kept(name, self.text)))

    def dropping(self, name: str) -> State:
        """Without the design of a name."""
        return replace(self, kept=tuple(one for one in self.kept if one.name != name))


def read_state(text: str) -> State | None:
    """A state as it was written; None where it is damaged."""
    try:
        told: dict[str, Any] = json.loads(text)
        kept = tuple(Kept(str(one["name"]), str(one["text"])) for one in told["kept"])
        texts, names = tuple(map(str, told["texts"])), tuple(map(str, told["names"]))
        state = State(texts, int(told["at"]), int(told["first"]), names, kept, told["base"])
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    sound = 0 <= state.at < len(texts) == len(names) and isinstance(state.base, str | None)
    return state if sound else None


class Store:
    """The states of the scenarios of a folder, read from disk and written there, one writer at a time."""

    def __init__(self, folder: Folder) -> None:
        self.folder = folder
        self.lock = threading.RLock()

    def file_text(self, name: str) -> str | None:
        """The text of a scenario's file; None where there is none yet. InputError where it cannot be read."""
        path = self.folder.scenario(name)
        try:
            return path.read_bytes().decode("utf-8-sig") if path.exists() else None
        except (OSError, UnicodeDecodeError) as reason:
            raise InputError(str(path), "", None, f"a scenario file that can be read ({reason})") from None

    def open(self, name: str) -> State:
        """The state of a scenario; a file that was changed by somebody else since is its newest text."""
        path, text = self.folder.state(name), self.file_text(name)
        state = read_state(path.read_text("utf-8", "replace")) if path.is_file() else None
        if state is None and text is None:
            raise InputError(str(self.folder.scenario(name)), "", None, "a scenario that is there")
        if state is None:
            return State((text or "",), base=text)
        if text is not None and text != state.base:
            return replace(state.changed(text), base=text)
        return state

    def write(self, name: str, state: State) -> State:
        """Put a state on disk."""
        with self.lock:
            write_text(self.folder.state(name), json.dumps(asdict(state), ensure_ascii=True))
        return state

    def save(self, name: str, state: State) -> State:
        """Write the scenario itself; the state knows that it is saved."""
        with self.lock:
            write_text(self.folder.scenario(name), state.text)
        return self.write(name, replace(state, base=state.text))
