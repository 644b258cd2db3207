"""Kinds of charge controllers: what the rest asks about each. How a kind draws from the panel is in plant/bus.py."""

from typing import Any, Literal, NamedTuple

Kind = Literal["pwm", "mppt"]
OnRefusal = Literal["pulses", "holds", "cuts-load"]


class Controller(NamedTuple):
    """A kind in words, whether it looks for the panel's best voltage, what it uses itself, and what it does whose
    battery takes no charge.
    """

    words: str
    tracks: bool
    own_current_a: float  # common practice, no source
    on_refusal: OnRefusal  # what such controllers mostly do; common practice, no source


KINDS: dict[str, Controller] = {
    "pwm": Controller("direct-coupled (PWM) controller", False, 0.010, "pulses"),
    "mppt": Controller("tracking (MPPT) controller", True, 0.020, "holds"),
}


def tracks(kind: Any) -> bool:
    """Whether a kind, known or not, looks for the panel's best voltage.

    >>> tracks("mppt"), tracks("pwm"), tracks(["pwm"])
    (True, False, False)
    """
    return any(kind == name and one.tracks for name, one in KINDS.items())
