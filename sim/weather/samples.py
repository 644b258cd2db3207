"""The bundled sample years: compressed tables, `#` lines with site, source and licence on top."""

import gzip
import io

import pandas as pd

from sim.catalogue import ROOM, sample_names
from sim.weather.weather import Site

FOLDER = ROOM / "weather"
SAMPLES = {name: FOLDER / f"{name}.csv.gz" for name in sample_names()}


def read_sample(name: str) -> tuple[pd.DataFrame, dict[str, str], Site]:
    """(8760 hours × five columns), the header and the site of a bundled year.

    >>> table, header, site = read_sample("piedmont")
    >>> len(table), site.latitude_deg, float(table["ghi"].max())
    (8760, 36.1, 1013.0)
    """
    text = gzip.decompress(SAMPLES[name].read_bytes()).decode("utf-8")
    lines = [line[1:].split("=", 1) for line in text.split("\n") if line.startswith("#")]
    header = {key.strip(): value.strip() for key, value in lines}
    table = pd.read_csv(io.StringIO(text), comment="#", dtype=float)
    return table, header, Site(*(float(header[key]) for key in Site._fields))
