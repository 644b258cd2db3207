"""Wear of lead-acid between full charges, cycles and age together, and what several years of it say."""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from conftest import ROOT, changed
from hypothesis import given
from hypothesis import strategies as st

from sim.catalogue.cells import cell
from sim.figures.stress import stress_of
from sim.figures.wear import since_full, sulphation
from sim.studies import fading
from sim.studies.aged import AgedYear, in_words, replacement_year
from sim.studies.year import simulate_year

WARM_C = np.full(8760, 25.0)


def daily(low: float, high: float) -> np.ndarray:
    """A year that falls from high to low over twelve hours and rises again over twelve, every day."""
    day = np.concatenate((np.linspace(high, low, 12, endpoint=False), np.linspace(low, high, 12, endpoint=False)))
    return np.append(np.tile(day, 365), high)


def test_wear_of_a_discharge_by_hand() -> None:
    """Full, then five hours of 0.1 C down to half: the mean of 1 + (c0 + c·(1 − lowest))·hours (derived).

    c0 and c are Schiffer et al. 2007, from memory of the paper.
    """
    soc = np.array([1.0, 0.9, 0.8, 0.7, 0.6, 0.5, 1.0])
    factors = [1.0 + (6.614e-5 + 3.307e-3 * lack) * hours for hours, lack in enumerate((0.1, 0.2, 0.3, 0.4, 0.5), 1)]
    assert sulphation(soc) == pytest.approx(np.mean(factors), rel=1e-9)


def test_a_quarter_of_the_current_doubles_what_a_cycle_adds() -> None:
    """The current factor is the root of the 10 h current over the current (Schiffer et al. 2007, from memory)."""
    fast, slow = np.array([1.0, 0.9, 0.9, 0.9, 0.9, 1.0]), np.array([1.0, 0.975, 0.95, 0.925, 0.9, 1.0])
    per_hour = [(6.614e-5 + 3.307e-3 * lack) * hours for hours, lack in enumerate((0.025, 0.05, 0.075, 0.1), 1)]
    assert sulphation(fast) - 1.0 == pytest.approx(6.614e-5 + 3.307e-4)
    assert sulphation(slow) - 1.0 == pytest.approx(sqrt(4.0) * np.mean(per_hour))


@given(st.lists(st.floats(0.1, 0.97), min_size=4, max_size=40), st.integers(0, 39))
def test_where_the_year_is_cut_does_not_matter(charges: list[float], turn: int) -> None:
    """A year that ends as it began is a ring: begun at another hour it wears the same."""
    ring = np.array([1.0, *charges])
    turned = np.roll(ring, turn)
    assert sulphation(np.append(turned, turned[0])) == pytest.approx(sulphation(np.append(ring, 1.0)))


@given(st.lists(st.floats(0.0, 1.0), min_size=2, max_size=60))
def test_the_stretch_since_the_last_full_charge_by_a_loop(charges: list[float]) -> None:
    """The same hours and lowest charges as counted one by one, through the year before and the year itself."""
    soc = np.array([*charges, charges[0]])
    hours, lowest = since_full(soc)
    count, least = 0, soc[0]
    for number, one in enumerate([*soc[:-1], *soc] if (soc >= 0.98).any() else soc):
        count = 0 if one >= 0.98 or number == 0 else count + 1
        least = one if count == 0 else min(least, one)
        if number >= (len(soc) - 1 if (soc >= 0.98).any() else 0):
            place = number - (len(soc) - 1 if (soc >= 0.98).any() else 0)
            assert hours[place] == count
            assert lowest[place] == pytest.approx(least)


def test_lead_acid_lives_as_it_is_charged() -> None:
    """Daily cycles of a quarter: from full 2 to 5 times the life of the same cycles at half charge; lithium alike.

    A lowest charge of 14 % lives shorter than one of 62 % (the order is what the paper says, the bound is our own).
    """
    lives = {low: stress_of(cell("agm"), daily(low, low + 0.25), 91.0, WARM_C).life_years for low in (0.14, 0.62, 0.75)}
    assert lives[0.14][1] < lives[0.62][1] < 0.5 * lives[0.75][0]
    alike = {low: stress_of(cell("lfp"), daily(low, low + 0.25), 91.0, WARM_C).life_years for low in (0.14, 0.62)}
    assert alike[0.14] == pytest.approx(alike[0.62], rel=1e-3)


def test_a_battery_full_every_day_keeps_nearly_its_sheet_s_cycles() -> None:
    """A weekly full charge wears little more, a monthly one much more (the paper's finding; bounds are our own)."""

    def full_every(days: int) -> float:
        soc = daily(0.6, 0.9).reshape(-1)[:-1].reshape(365, 24)
        soc[::days, 0] = 1.0
        return sulphation(np.append(soc.reshape(-1), 1.0))

    assert 1.0 < full_every(1) < 1.1 < full_every(7) < 1.3
    assert full_every(30) - 1.0 > 3.0 * (full_every(7) - 1.0)


def test_cycles_and_age_add_up() -> None:
    """At equal lives by cycles and by age the battery lasts half of either (derived)."""
    stress = stress_of(cell("lfp"), daily(0.5, 1.0), 182.5, WARM_C)
    alike = replace(stress, calendar_life_years=stress.cycle_life_years)
    assert alike.life_years == pytest.approx([0.5 * years for years in stress.cycle_life_years])
    assert stress.life_years[0] < min(stress.cycle_life_years[0], stress.calendar_life_years[0])


def aged_year(year: int, worn: float, at_end: float, hours: float, daylight: float) -> AgedYear:
    """One made-up year."""
    return AgedYear(year, worn, at_end, 40.0, hours, hours / 8760.0, 90.0, daylight, 5000.0)


def test_a_worn_battery_that_serves_more_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pergola on AGM serves more with a worn battery, since it runs more by day; the years say so.

    The battery's life is set to six years here, since it would not last one.
    """
    monkeypatch.setattr(fading, "worn_in_a_year", lambda stress: 1.0 / 6.0)
    first = simulate_year(changed({"battery.chemistry": "agm"}, ROOT / "scenarios" / "pergola.toml"))
    years = tuple(fading.fading_years(first, 4))
    assert years[-1].hours_met_share > years[0].hours_met_share + 0.01
    assert years[-1].daylight_share > years[0].daylight_share
    assert "in daylight against" in in_words(years)[1] and "do not count on the gain" in in_words(years)[1]


def test_a_gain_without_a_known_cause_is_not_explained() -> None:
    """More hours without more of them by day: the cause is said to be unknown; fewer hours need no words."""
    new = aged_year(1, 0.0, 0.2, 3800.0, 0.68)
    assert "not known" in in_words((new, aged_year(2, 0.2, 0.4, 3850.0, 0.68)))[1]
    assert len(in_words((new, aged_year(2, 0.2, 0.4, 3790.0, 0.70)))) == 1


def test_a_battery_that_does_not_last_a_year_is_replaced_every_year() -> None:
    """Every year begins with a new one, which is not the same as lasting through all of them."""
    short = (aged_year(1, 0.0, 2.5, 3800.0, 0.68), aged_year(2, 0.0, 2.5, 3800.0, 0.68))
    assert replacement_year(short) == 2
    assert "does not last its first year" in in_words(short)[0]
