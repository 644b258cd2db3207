"""Random forms to the page: fields, buttons and noise; numbers, TOML, signs of HTML and more noise; fixed dice."""

from __future__ import annotations

import random
import string
from dataclasses import dataclass
from typing import Any

DOING = ("change", "undo", "redo", "go", "name", "keep", "drop", "again", "take", "add", "remove", "nonsense")
WORKING = ("study", "study year", "map", "stop 1", "stop", "adopt 1", "files", "save")
TEXTS = (
    "[", "[[", "{}", "1e999", "nan", "=", "\\", '"', "[[1,2],[3,", "07:00-09:00", "12,5", "\x00", "é\u2028\ud7ff", "-",
    "9" * 5000, "\u6c60" * 90, "../x", "%00", "<script>", "\u202e", "panel.shade.0", "panel.shade", "12.2 13.1",
)  # fmt: skip
TABLES = ("panel", "panel.shade", "a.b", "", "alternative")


def keys_of(owner: Any) -> list[str]:
    """The fields of the courtyard's form, as the page has them."""
    return list(owner.get("/system/courtyard/answer").json()["fields"])


@dataclass(frozen=True)
class Posts:
    """Forms by the throw of dice, with ``keys`` of fields."""

    dice: random.Random
    keys: list[str]

    def changing(self, doing: tuple[str, ...] = DOING) -> dict[str, str]:
        """A form that changes some fields and presses a button."""
        data = {self._key(): self.noise() for _ in range(self.dice.randint(0, 3))}
        data["do"] = self.dice.choice(doing) + (f" {self.noise()}" if self.dice.random() < 0.5 else "")
        data["_seen"] = self.dice.choice(["", "0", "7", "9" * 20, "-1", "x"])
        return data

    def anywhere(self) -> tuple[str, dict[str, Any]]:
        """An address and what is sent there, most often to the scenario."""
        if self.dice.random() < 0.9:
            return "/system/courtyard", {"data": self.changing(DOING * 4 + WORKING)}
        return self.dice.choice(
            [
                ("/begin", {"data": {"name": self.noise(), "example": self.noise()}}),
                ("/begin", {"data": {"name": "pond"}}),
                ("/upload", {"files": {"file": (self.noise() or "x", self.noise().encode("utf-8", "replace"))}}),
                (f"/system/none-{self.dice.random()}", {"data": self.changing()}),
                ("/nowhere", {"data": self.changing()}),
            ]
        )

    def _key(self) -> str:
        return self.dice.choice(self.keys if self.dice.random() < 0.8 else TABLES)

    def noise(self) -> str:
        """A text that nobody types."""
        made = "".join(self.dice.choice(string.printable) for _ in range(self.dice.randint(0, 12)))
        return self.dice.choice([*TEXTS, made, made, made, str(self.dice.uniform(-1e3, 1e3))])
