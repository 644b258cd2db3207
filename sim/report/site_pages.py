"""The work on a site of many: its years, and its reports as texts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

from sim.errors import InputError
from sim.figures.hourly import as_csv
from sim.hands import Told
from sim.report.render import year_report
from sim.report.spread import poor_year_report, spread_report
from sim.studies.site import POOR_OF, row_of
from sim.studies.sites import Site
from sim.studies.yearly import study_year
from sim.units import System, in_units


class Made(NamedTuple):
    """What came of a site: its row, and its reports by the ends of their names."""

    row: dict[str, Any]
    texts: dict[str, str]


@dataclass(frozen=True)
class Pages:
    """The work: reports of the typical and the poor year and of many, and the hourly log where it is asked for.

    ``units`` are those of the list of sites.
    """

    with_log: bool = False
    units: System = "metric"
    years: int = POOR_OF

    def __call__(self, site: Site, told: Told) -> Made | InputError:
        """What a site comes to, or what turned out to be wrong with it; ``told`` hears of one site."""
        try:
            return self._made(site)
        except InputError as error:
            return error
        finally:
            told(1)

    def _made(self, site: Site) -> Made:
        result = study_year(site.scenario, poor_of=self.years, weathers=site.weathers)
        assert result.many is not None
        texts = {
            "year.html": year_report(result),
            "spread.html": spread_report(result.many),
            "poor-year.html": poor_year_report(result.many),
        }
        if self.with_log:
            texts["year.csv"] = as_csv(result.hourly())
        with in_units(self.units):
            row = row_of(result)
        return Made(row, texts)
