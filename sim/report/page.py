"""What the year's report says, section by section: to add one, write a function that makes it and name it here."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sim.report.client import ClientPage, client_page
from sim.report.section import Section
from sim.report.sections import (
    assumptions,
    battery,
    cautions,
    commissioning,
    energy,
    expect,
    findings,
    ledger,
    measured,
    running,
    settings,
    water,
    wiring,
)
from sim.weather.weather import place_of

if TYPE_CHECKING:
    import numpy as np

    from sim.studies.result import YearResult
    from sim.weather.weather import Doubt

Maker = Callable[["YearResult"], Section | None]

SECTIONS: tuple[Maker, ...] = (
    expect.section,
    findings.section,
    running.by_month,
    running.by_hour,
    water.section,
    battery.charge,
    battery.worst_fortnight,
    ledger.section,
    measured.section,
    energy.section,
    battery.stress,
    battery.fading,
    wiring.section,
    settings.section,
    commissioning.section,
    assumptions.section,
    cautions.section,
)


@dataclass(frozen=True)
class Page:
    """The whole report: doubts about its weather, the client's page, then the sections.

    The table of contents is made of the sections.
    """

    title: str
    place: str
    doubts: tuple[Doubt, ...]
    client: ClientPage
    sections: tuple[Section, ...]


def page_of(result: YearResult, poor: np.ndarray | None = None) -> Page:
    """The page of a simulated year; a section whose maker gives None is left out.

    ``poor`` (12,) is the hours a day of a poor year, for the client's twelve bars.
    """
    made = (maker(result) for maker in SECTIONS)
    return Page(
        title=result.scenario.title,
        place=place_of(result.weather),
        doubts=result.weather.doubts,
        client=client_page(result, poor),
        sections=tuple(section for section in made if section),
    )
