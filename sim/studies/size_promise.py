"""What a design is to keep: a share of the wanted hours, in a share of the years, in each year's worst month too."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import ceil

import numpy as np

from sim.studies.chains import parts_of
from sim.studies.common_years import met_shares

ROUNDING = 1e-9


@dataclass(frozen=True)
class Promise:
    """``met`` of the wanted hours, and where asked ``worst_met`` of each month's, in ``of_years`` of so many years."""

    met: float
    of_years: float
    years: int
    worst_met: float | None
    wanted_h: np.ndarray

    @property
    def needed(self) -> int:
        """In how many of the years it is to be kept."""
        return ceil(self.of_years * self.years - ROUNDING)

    @property
    def spare(self) -> int:
        """In how many of the years it need not be kept."""
        return self.years - self.needed

    def margins(self, figures: np.ndarray) -> np.ndarray:
        """(years,) by how much each of the years of FIGURES keeps it, as a share of wanted hours; below 0 it does not.

        A month counts by what it lacks of its own wanted hours.
        """
        share, worst = met_shares(figures, self.wanted_h)
        return share - self.met if self.worst_met is None else np.minimum(share - self.met, worst - self.worst_met)

    def kept(self, figures: np.ndarray) -> np.ndarray:
        """(years,) whether each year keeps it."""
        return np.asarray(self.margins(figures) >= -ROUNDING)

    def share(self, figures: np.ndarray) -> float:
        """The share of years that keep it."""
        return float(self.kept(figures).mean())

    def verdict(self, figures: np.ndarray) -> bool | None:
        """Whether it is kept in enough of the years; None while years that have not been run may still decide it."""
        kept = int(self.kept(figures).sum())
        if kept >= self.needed:
            return True
        return False if len(figures) - kept > self.spare else None

    def level(self, figures: np.ndarray, of_years: float | None = None) -> float:
        """The margin that a share of the years reaches, the share that is asked where none is given."""
        return float(np.quantile(self.margins(figures), 1.0 - (self.of_years if of_years is None else of_years)))

    def at_best(self, figures: np.ndarray, years: int) -> float:
        """The level that so many years can reach at best, of which there are FIGURES of the first; of all, their own.

        A quantile is no more than the next of the ordered margins, and years to come only push that down.
        """
        if len(figures) == years:
            return self.level(figures)
        above = ceil((years - 1) * (1.0 - self.of_years) - ROUNDING)
        return float(np.sort(self.margins(figures))[above]) if len(figures) > above else np.inf

    @property
    def parts(self) -> list[tuple[int, int]]:
        """The chains that make up the years, each with how many of its years."""
        return parts_of(self.years)

    def there(self, parts: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
        """Chains with so many of their years, as far as the years have them."""
        most = dict(self.parts)
        return [(chain, min(years, most[chain])) for chain, years in parts if chain in most]
