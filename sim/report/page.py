"""What the year's report says, section by section: to add one, write a function that makes it and name it here."""

from collections.abc import Callable

from sim.report.client import client_page
from sim.report.section import Page, Section, page_on
from sim.report.sections import (
    assumptions,
    battery,
    commissioning,
    energy,
    expect,
    findings,
    fortnight,
    ledger,
    measured,
    running,
    settings,
    water,
    wiring,
)
from sim.studies.result import YearResult

Maker = Callable[["YearResult"], Section | None]

SECTIONS: tuple[Maker, ...] = (
    expect.section,
    findings.section,
    running.in_months,
    running.in_hours,
    running.nights,
    water.section,
    battery.charge,
    fortnight.section,
    ledger.section,
    measured.section,
    energy.section,
    battery.stress,
    battery.fading,
    wiring.section,
    settings.section,
    commissioning.section,
    assumptions.section,
    assumptions.cautions,
)


def page_of(result: YearResult) -> Page:
    """The page of a simulated year: the client's page, then each section whose maker makes one."""
    client = Section("client", "What to expect, and what to do", client_page(result), "client")
    made = (client, *(maker(result) for maker in SECTIONS))
    return page_on(result.weather, "Running on sunlight: a year to expect", result.scenario.title, made)
