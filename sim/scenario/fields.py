"""What the fields of a section are made of: ranges, choices, times, and the words that say what is allowed."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, Strict

from sim.calendar import checked_clock, checked_day, checked_window

REQUIRED: Any = ...


def listed(words: Iterable[object]) -> str:
    """Choices as a sentence lists them.

    >>> listed(["pwm", "mppt"]), listed([12, 24])
    ('"pwm" or "mppt"', '12 or 24')
    """
    return " or ".join(f'"{word}"' if isinstance(word, str) else str(word) for word in words)


def one_of(names: Collection[str], name: str) -> str:
    """The name itself if it is one of them; ValueError says which there are."""
    if name not in names:
        raise ValueError(listed(names))
    return name


def field(default: Any, allowed: str, **limits: Any) -> Any:
    """A field with what is allowed; a callable default works it out of the fields before it."""
    given = {"default_factory": default} if callable(default) else {"default": default}
    return Field(**given, **limits, description=allowed)


def between(low: float, high: float, default: Any = REQUIRED, noun: str = "a number") -> Any:
    """From ``low`` to ``high``, both included."""
    return field(default, f"{noun} from {low:g} to {high:g}", ge=low, le=high)


def above(low: float, high: float, default: Any = REQUIRED) -> Any:
    """Above ``low``, up to ``high``."""
    return field(default, f"a number above {low:g}, up to {high:g}", gt=low, le=high)


def whole(low: int, high: int, default: Any = REQUIRED) -> Any:
    """A whole number from ``low`` to ``high``."""
    return between(low, high, default, "a whole number")


def twelve(value: Any) -> Any:
    """A number for the whole year stands for twelve."""
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return (value,) * 12 if is_number else value


def monthly(low: float, high: float, default: Any, **limits: Any) -> Any:
    """A number, or twelve from January to December; a callable default works the twelve out of the fields before."""
    allowed = f"a number from {low:g} to {high:g}, or twelve of them, one a month"
    return field(default if callable(default) else (default,) * 12, allowed, min_length=12, max_length=12, **limits)


Clock = Annotated[str, AfterValidator(checked_clock)]
Window = Annotated[tuple[Clock, Clock], Strict(False), AfterValidator(checked_window)]
Day = Annotated[str, AfterValidator(checked_day)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Strings = Annotated[int, Field(ge=0, le=3)]
DayHours = Annotated[float, Field(ge=0.0, le=24.0)]


class Section(BaseModel):
    """Frozen, and strict: no unknown keys, no text for a number, no yes/no for a number, no nan or inf."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)
