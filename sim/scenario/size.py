"""What may be bought and how it may be set, when a system is sized: lists of what a shop sells, or steps."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, Strict

from sim.catalogue.controllers import KINDS, Kind
from sim.scenario.fields import Section, Window, above, between, field

MOST_SIZES = 200
# What shops sell, from small to large; common practice, no source.
PANELS_W = (20, 30, 40, 50, 60, 70, 80, 100, 120, 150, 175, 200)
COUNTS = (1, 2, 3, 4, 6)
BATTERIES_AH = (7, 12, 18, 20, 25, 30, 40, 50, 60, 75, 100, 120, 150, 200, 250, 300, 400)
_ALLOWED = "a list of numbers above 0, or steps such as { from = 40, to = 200, step = 20 }"
_COUNTS = "a list of whole numbers from 1 to 100, or steps such as { from = 1, to = 4, step = 1 }"
_TILTS = "a list of numbers from 0 to 90, or steps such as { from = 0, to = 60, step = 15 }"


def stepped(given: Any) -> Any:
    """A table of steps as the list that it stands for; anything else as it is. ValueError for steps that make none.

    >>> stepped({"from": 40, "to": 100, "step": 20}), stepped([50, 80])
    ((40, 60, 80, 100), [50, 80])
    """
    if not isinstance(given, Mapping):
        return given
    try:
        first, last, step = (given[key] for key in ("from", "to", "step"))
        count = int((last - first) / step + 1e-9) + 1
    except (KeyError, TypeError, ZeroDivisionError, OverflowError, ValueError):
        raise ValueError(_ALLOWED) from None
    if len(given) != 3 or not 1 <= count <= MOST_SIZES:
        raise ValueError(_ALLOWED)
    return tuple(round(first + k * step, 9) for k in range(count))


def rising(values: tuple[float, ...]) -> tuple[float, ...]:
    """Each value once, the smallest first."""
    return tuple(sorted(set(values)))


_Panel = Annotated[float, Field(gt=0, le=5000)]
_Tilt = Annotated[float, Field(ge=0, le=90)]
_Count = Annotated[int, Field(ge=1, le=100)]
_Volts = Annotated[float, Field(gt=0, le=60)]
_LISTED = (Strict(False), BeforeValidator(stepped), AfterValidator(rising))
Pair = Annotated[tuple[_Volts, _Volts], Strict(False)]
Part = Literal["panel", "tilt", "battery", "controller", "load", "pair"]
Mode = Literal["always", "daylight", "clock"]


class Size(Section):
    """What ``sunrill size`` may vary. ``fixed`` names what stays as the scenario has it.

    Without prices of panel and battery in [cost] the cheapest is found by weights: ``weight_per_w`` for each watt of
    panel, ``weight_per_ah`` for each ampere-hour at 12 V, ``weight_tracker`` for a tracking controller.
    """

    panel_w: Annotated[tuple[_Panel, ...], *_LISTED] = field(PANELS_W, _ALLOWED, min_length=1, max_length=MOST_SIZES)
    panels: Annotated[tuple[_Count, ...], *_LISTED] = field(COUNTS, _COUNTS, min_length=1, max_length=MOST_SIZES)
    tilt_deg: Annotated[tuple[_Tilt, ...], *_LISTED] | None = field(None, _TILTS, min_length=1, max_length=MOST_SIZES)
    battery_ah: Annotated[tuple[_Panel, ...], *_LISTED] | None = field(
        None, _ALLOWED, min_length=1, max_length=MOST_SIZES
    )
    controller: Annotated[tuple[Kind, ...], Strict(False)] = field(tuple(KINDS), json.dumps(list(KINDS)), min_length=1)
    load_mode: Annotated[tuple[Mode, ...], Strict(False)] = field(
        ("always", "daylight", "clock"), '["always", "daylight", "clock"]', min_length=1
    )
    load_windows: Annotated[tuple[Window, ...], Strict(False)] = field((), 'pairs of times: [["08:00", "18:00"]]')
    pairs: Annotated[tuple[Pair, ...], Strict(False)] = field((), "pairs of disconnect and reconnect: [[12.0, 13.2]]")
    fixed: Annotated[tuple[Part, ...], Strict(False)] = field(
        (), 'what stays as it is: "panel", "tilt", "battery", "controller", "load", "pair"'
    )
    worst_month_met: float | None = between(0, 1, None)
    weight_per_w: float = above(0, 1e6, 1.0)  # these three are our own defaults: a shop's prices against each other
    weight_per_ah: float = above(0, 1e6, 2.5)
    weight_tracker: float = between(0, 1e6, 50.0)
