"""The one error that means "the input is wrong": it names file, key, value and what is allowed."""

from dataclasses import dataclass

from sim.words import printable

MOST_KEY = 200  # signs of a key that are shown


@dataclass(eq=False)
class InputError(Exception):
    """Something the user gave cannot be used; the command line prints it and exits with 2.

    >>> print(InputError("pond.toml", "site.latitude_deg", 95, "a number from -90 to 90"))
    pond.toml: site.latitude_deg = 95: allowed is a number from -90 to 90
    >>> print(InputError("year.epw", "", None, "8760 or 8784 hourly rows; the file has 24"))
    year.epw: allowed is 8760 or 8784 hourly rows; the file has 24
    """

    file: str
    key: str
    value: object
    allowed: str

    def __str__(self) -> str:
        shown = "" if self.value is None else f" = {_short(self.value)}"
        where = f"{_cut(self.key, MOST_KEY)}{shown}: " if self.key else ""
        return printable(f"{self.file}: {where}allowed is {self.allowed}")


def _short(value: object, limit: int = 80) -> str:
    """The value as the user would write it, cut to ``limit`` characters; only dots where it is too large to write."""
    try:
        text = f'"{value}"' if isinstance(value, str) else str(value)
    except (ValueError, RecursionError):
        return "…"
    return _cut(text, limit)


def _cut(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"
