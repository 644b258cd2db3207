"""What a weather file says, before it is checked: rows with their stamps and lines, and where they were recorded."""

from dataclasses import dataclass

import pandas as pd

from sim.weather.weather import Site

FOREIGN_LICENCE = "as stated by whoever supplied the file"


@dataclass(frozen=True, eq=False)
class Readings:
    """The rows of a file: stamps and lines of integers, the five columns of floats, and where they were recorded.

    ``absent`` names the columns that the file does not have, ``notes`` says what was made of it so far. A year that is
    whole and in order knows its ``years``, of which a typical one has several.
    """

    file: str
    table: pd.DataFrame
    site: Site
    source: str
    licence: str
    absent: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    years: tuple[int, ...] = ()
