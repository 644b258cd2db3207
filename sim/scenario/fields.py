"""What the fields of a section are made of: ranges, choices, times, and the words that say what is allowed."""

from collections.abc import Collection, Iterable
from typing import Annotated, Any, get_args

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, Strict
from pydantic.fields import FieldInfo

from sim.calendar import checked_clock, checked_day, checked_window
from sim.words import printable

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


def field(default: Any, allowed: str = "", says: str = "", unset: str = "", **limits: Any) -> Any:
    """A field with what is allowed; a callable default works it out of the fields before it.

    ``says`` is what reports call it where the key alone does not say it, ``unset`` what holds where it is left out.
    Without ``allowed`` its choices are told from its type.
    """
    given: dict[str, Any] = {"default_factory": default} if callable(default) else {"default": default}
    given |= {"title": says or None, "description": allowed or None, "json_schema_extra": {"unset": unset}}
    return Field(**given, **limits)


def unset_words(info: FieldInfo) -> str:
    """What holds where a field is left out, in words; empty where nothing is said of it."""
    extra = info.json_schema_extra
    return str(extra["unset"]) if isinstance(extra, dict) else ""


def inner_model(field: FieldInfo) -> type[BaseModel] | None:
    """The table that a field is or is a list of, if it is."""
    candidates = (field.annotation, *get_args(field.annotation))
    return next((kind for kind in candidates if isinstance(kind, type) and issubclass(kind, BaseModel)), None)


def between(low: float, high: float, default: Any = REQUIRED, noun: str = "a number", **words: str) -> Any:
    """From ``low`` to ``high``, both included."""
    return field(default, f"{noun} from {low:g} to {high:g}", ge=low, le=high, **words)


def above(low: float, high: float, default: Any = REQUIRED, **words: str) -> Any:
    """Above ``low``, up to ``high``."""
    return field(default, f"a number above {low:g}, up to {high:g}", gt=low, le=high, **words)


def whole(low: int, high: int, default: Any = REQUIRED, **words: str) -> Any:
    """A whole number from ``low`` to ``high``."""
    return between(low, high, default, "a whole number", **words)


def twelve(value: Any) -> Any:
    """A number for the whole year stands for twelve."""
    is_number = isinstance(value, (int, float)) and not isinstance(value, bool)
    return (value,) * 12 if is_number else value


def monthly(low: float, high: float, default: Any, **limits: Any) -> Any:
    """A number, or twelve from January to December; a callable default works the twelve out of the fields before."""
    allowed = f"a number from {low:g} to {high:g}, or twelve of them, one a month"
    return field(default if callable(default) else (default,) * 12, allowed, min_length=12, max_length=12, **limits)


Line = Annotated[str, AfterValidator(printable)]
Clock = Annotated[str, AfterValidator(checked_clock)]
Window = Annotated[tuple[Clock, Clock], Strict(False), AfterValidator(checked_window)]
Day = Annotated[str, AfterValidator(checked_day)]
Share = Annotated[float, Field(ge=0.0, le=1.0)]
Strings = Annotated[int, Field(ge=0, le=3)]
DayHours = Annotated[float, Field(ge=0.0, le=24.0)]


class Section(BaseModel):
    """Frozen, and strict: no unknown keys, no text for a number, no yes/no for a number, no nan or inf."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)
