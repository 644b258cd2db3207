"""Whatever is missing, and wherever: short gaps are filled within reason, long ones are refused."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sim.errors import InputError
from sim.weather.fit import check_limits, filled
from sim.weather.order import CLEAREST, LONGEST_GAP_H, redated, whole_year
from sim.weather.read import Readings
from sim.weather.samples import SAMPLES, read_sample
from sim.weather.sun import sun_of_year
from sim.weather.weather import COLUMNS, IRRADIANCES

HOURS = st.integers(0, 8759)
SITE = read_sample("aleutian")[2]


def readings(keep: np.ndarray | None = None, leap: bool = False) -> Readings:
    """A bundled year as if it had been read from a file, with some of its rows."""
    table, _, _ = read_sample("aleutian")
    ends = pd.date_range("2001-01-01", periods=8760, freq="h")
    stamps = {"month": ends.month, "day": ends.day, "hour_end": ends.hour + 1, "year": 2001}
    table = table.assign(**stamps, line=np.arange(8760) + 2)
    return Readings("year.csv", table if keep is None else table[keep], SITE, "a test", "none")


@settings(max_examples=40, deadline=None)
@given(first=HOURS, length=st.integers(1, LONGEST_GAP_H), column=st.sampled_from(COLUMNS))
def test_a_short_gap_is_filled_with_what_the_sun_allows(first, length, column):
    """Up to three hours of one column, anywhere in the year, become plausible: no light at night, none too bright."""
    recorded = readings()
    recorded.table.loc[first : first + length - 1, column] = np.nan
    table, notes = whole_year(recorded)
    sun = sun_of_year(2001, SITE)
    full = filled(table, sun)
    check_limits("year.csv", full, sun)
    assert len(notes) == 1
    gap = slice(first, first + length)
    values, true = full[column].to_numpy()[gap], read_sample("aleutian")[0][column].to_numpy()
    assert np.all(np.isfinite(values))
    if column in IRRADIANCES:
        assert np.all(values[~sun.up[gap]] == 0.0)
    else:
        near = true[max(first - 1, 0) : first + length + 1]
        assert near.min() - 1e-9 <= values.min() <= values.max() <= near.max() + 1e-9
    kept = np.arange(8760)
    kept = (kept < first) | (kept >= first + length)
    np.testing.assert_array_equal(full[column].to_numpy()[kept], true[kept])


@pytest.mark.parametrize("name", sorted(SAMPLES))
def test_a_single_missing_hour_is_never_brighter_than_the_sky_allows(name):
    """Whichever hour of the year is missing, sunrise and sunset too: at most 85 % of what is above the atmosphere.

    *Frozen*: hours filled above it by the former way, which divided by the sun of the neighbours, 9 to 49 a year, the
    brightest at 16,374 W/m2.
    """
    table, _, site = read_sample(name)
    sun = sun_of_year(2001, site)
    above, ghi = sun.extra_horizontal_wm2, table["ghi"].to_numpy()
    for shift in range(0, 24, 2):
        gone = np.arange(8760) % 24 == shift
        found = filled(table.assign(ghi=np.where(gone, np.nan, ghi)), sun)["ghi"].to_numpy()
        assert np.all(found <= np.maximum(CLEAREST * above, np.where(gone, 0.0, ghi)) + 1e-9)
        lit = gone & (above > 400.0)
        assert not lit.any() or abs(found[lit].sum() / ghi[lit].sum() - 1.0) < 0.1


@settings(max_examples=20, deadline=None)
@given(first=st.integers(0, 8756), length=st.integers(LONGEST_GAP_H + 1, 400))
def test_a_long_gap_is_refused_wherever_it_lies(first, length):
    """Four or more missing rows, at either end of the year too, are an error that gives their number."""
    keep = np.ones(8760, bool)
    keep[first : first + length] = False
    with pytest.raises(InputError, match=f"rows missing for {8760 - keep.sum()} h"):
        whole_year(readings(keep))


def test_an_empty_table_is_a_year_of_missing_rows():
    """No rows at all are refused as one gap."""
    with pytest.raises(InputError, match="rows missing for 8760 h, 1 January 00:00 to 31 December 23:00"):
        whole_year(readings(np.zeros(8760, bool)))


@settings(max_examples=20, deadline=None)
@given(year=st.integers(1950, 2100))
def test_dating_a_year_keeps_every_value_but_the_leap_day(year):
    """Any year gets its number of hours; without its 29 February it is the recorded year."""
    table, _ = whole_year(readings())
    dated, notes = redated(table, year)
    index = pd.date_range(f"{year}-01-01", f"{year}-12-31 23:00", freq="h")
    assert len(dated) == len(index)
    common = ~((index.month == 2) & (index.day == 29))
    np.testing.assert_array_equal(dated["ghi"].to_numpy()[common], table["ghi"].to_numpy())
    assert len(notes) == int(not common.all())
