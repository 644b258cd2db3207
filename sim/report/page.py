"""What the year's report says, section by section: to add one, write a function that makes it and name it here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report.section import Section
from sim.report.sections import (
    assumptions,
    battery,
    causes,
    cautions,
    energy,
    expect,
    findings,
    running,
    settings,
    water,
    wiring,
)
from sim.report.words import place_of

if TYPE_CHECKING:
    from sim.year import YearResult

Maker = Callable[["YearResult"], Section | None]

SECTIONS: tuple[Maker, ...] = (
    expect.section,
    findings.section,
    running.by_month,
    running.by_hour,
    water.section,
    battery.charge,
    battery.worst_fortnight,
    causes.section,
    energy.section,
    battery.stress,
    battery.fading,
    wiring.section,
    settings.section,
    assumptions.section,
    cautions.section,
)


@dataclass(frozen=True)
class Page:
    """The whole report; its table of contents is the list of its sections."""

    title: str
    place: str
    sections: tuple[Section, ...]


def page_of(result: YearResult) -> Page:
    """The page of a simulated year; a section whose maker gives None is left out."""
    made = (maker(result) for maker in SECTIONS)
    return Page(result.scenario.title, place_of(result.weather), tuple(section for section in made if section))
