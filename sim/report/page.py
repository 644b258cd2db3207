"""What the year's report says, section by section: to add one, write a function that makes it and name it here."""

from collections.abc import Callable, Iterable

from sim.language import ENGLISH, say, speaking
from sim.report.client import client_page
from sim.report.section import Page, Section, page_on
from sim.report.sections import (
    assumptions,
    battery,
    commissioning,
    cost,
    energy,
    expect,
    findings,
    fortnight,
    ledger,
    measured,
    passed,
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
    passed.section,
    cost.section,
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
TRANSLATED: frozenset[Maker] = frozenset((findings.section, commissioning.section, assumptions.cautions))


def page_of(result: YearResult, makers: Iterable[Maker] = SECTIONS) -> Page:
    """The page of a simulated year: the client's page, then each section whose maker makes one.

    The client's page and what is in TRANSLATED are in the scenario's language, all else is English.
    """
    with speaking(result.scenario.report.language):
        client = Section("client", say("What to expect, and what to do"), client_page(result), "client")
        made = (client, *(_made(maker, result) for maker in makers))
        return page_on(result.weather, say("Running on sunlight: a year to expect"), result.scenario.title, made)


def _made(maker: Maker, result: YearResult) -> Section | None:
    with speaking(result.scenario.report.language if maker in TRANSLATED else ENGLISH):
        return maker(result)
