"""The world climate: against its own check values, nine measured places, and the years that come with the package."""

from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest

from sim.catalogue.world import LATITUDES, world_climate
from sim.weather.monthly import MonthlyMeans
from sim.weather.samples import read_sample
from sim.weather.synthesis import monthly_means, synthesiser
from sim.weather.weather import Site

# Published with the coefficients: light in kWh/m² a day, air at the sea's level in °C.
CHECKS = {
    (51.5, -2.6): (
        "0.68 1.38 2.58 4.01 5.16 5.43 5.38 4.57 3.15 1.74 0.86 0.51",
        "6.7 6.5 7.8 9.3 12.1 14.6 16.5 16.8 15.4 12.9 9.7 7.6",
    ),
    (-33.9, 18.4): (
        "7.51 6.56 5.23 3.82 2.79 2.34 2.56 3.38 4.59 5.93 7.00 7.54",
        "22.0 22.5 21.6 19.7 17.8 15.7 15.0 15.0 15.9 17.5 19.0 20.8",
    ),
    (40.0, -105.0): (
        "2.29 3.27 4.47 5.68 6.62 7.29 7.12 6.27 5.11 3.73 2.44 1.99",
        "6.1 8.3 12.8 18.0 24.0 30.1 34.5 33.7 28.0 19.8 11.7 5.9",
    ),
}
# Frozen: measured here, rounded up. A year's bias and rms of the months' errors, shares of the measured.
PLACES = {
    "Graz AT (ZAMG)": (-0.03, 0.08),
    "Rothamsted UK": (0.11, 0.10),
    "Carrington ND US": (0.02, 0.05),
    "Hyderabad IN": (-0.02, 0.06),
    "Gainesville FL US": (0.03, 0.08),
    "Pullman WA US": (0.02, 0.08),
    "Kellogg MI US": (0.04, 0.08),
    "Swift Current CA": (-0.03, 0.07),
    "La Estanzuela UY": (0.06, 0.06),
}
# Frozen: lowest and highest error of a month's light as a share, largest error of its air in K. Single typical years.
SAMPLES = {"aleutian": (-0.18, 0.49, 3.0), "piedmont": (-0.23, 0.06, 4.5), "subtropic": (-0.07, 0.14, 2.0)}


def measured() -> dict[str, tuple[float, float, np.ndarray]]:
    """Latitude, longitude and twelve means of light of nine places with 20 to 50 years of records each (published)."""
    rows = defaultdict(list)
    with (Path(__file__).parents[2] / "shared" / "year_to_year.csv").open(encoding="utf-8") as file:
        for row in csv.DictReader(file):
            rows[row["place"]].append(row)
    return {
        place: (
            float(of[0]["latitude"]),
            float(of[0]["longitude"]),
            np.array([float(row["mean_kwh_m2_d"]) for row in of]),
        )
        for place, of in rows.items()
    }


def errors(latitude_deg: float, longitude_deg: float, light: np.ndarray) -> np.ndarray:
    """(12,) the climate's light over the measured, less 1."""
    return np.array(world_climate(latitude_deg, longitude_deg).daily_ghi_kwh_m2) / light - 1.0


@pytest.mark.parametrize("place", CHECKS, ids=str)
def test_it_gives_its_published_check_values(place: tuple[float, float]) -> None:
    """All 72 of them, to the digits that were published."""
    light, air = (np.array(list(map(float, row.split()))) for row in CHECKS[place])
    found = world_climate(*place, 0.0)
    np.testing.assert_allclose(found.daily_ghi_kwh_m2, light, atol=0.0051)
    np.testing.assert_allclose(found.temp_air_c, air, atol=0.051)


@pytest.mark.parametrize("place", PLACES)
def test_it_is_as_good_as_it_says_at_a_measured_place(place: str) -> None:
    """The year's bias and the months' rms error stay within what was found when it was made."""
    latitude, longitude, light = measured()[place]
    wrong = errors(latitude, longitude, light)
    bias, rms = PLACES[place]
    found = float(np.sum((1.0 + wrong) * light) / np.sum(light)) - 1.0
    assert min(bias, 0.0) <= found <= max(bias, 0.0) and np.sqrt(np.mean(wrong**2)) <= rms


def test_over_all_measured_places_it_keeps_its_word() -> None:
    """± 10 % a month for most of the 108 months, ± 20 % for all; hardly any bias (frozen: 87 %, 16 %, +1 %)."""
    wrong = np.array([errors(*place) for place in measured().values()])
    assert (np.abs(wrong) <= 0.10).mean() >= 0.85 and np.abs(wrong).max() <= 0.17
    assert abs(wrong.mean()) <= 0.015 and np.sqrt(np.mean(wrong**2)) <= 0.07 and np.median(np.abs(wrong)) <= 0.045


@pytest.mark.parametrize("name", SAMPLES)
def test_typical_years_lie_further_off(name: str) -> None:
    """Against one typical year of a place the error is larger, most of all on a subarctic island."""
    table, _, site = read_sample(name)
    month = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[h]").astype("datetime64[M]").astype(int) % 12
    light, air = (np.bincount(month, table[key]) / np.bincount(month) for key in ("ghi", "temp_air"))
    found = world_climate(site.latitude_deg, site.longitude_deg, site.elevation_m)
    wrong = np.array(found.daily_ghi_kwh_m2) / (light * 24.0 / 1000.0) - 1.0
    low, high, kelvin = SAMPLES[name]
    assert low <= wrong.min() and wrong.max() <= high
    assert np.abs(np.array(found.temp_air_c) - air).max() <= kelvin


def test_air_is_colder_up_a_hill() -> None:
    """6.5 K a kilometre (ISO 2533); without a height the land's usual one is taken and told."""
    low, high = (np.array(world_climate(47.0, 11.0, height).temp_air_c) for height in (0.0, 2000.0))
    np.testing.assert_allclose(low - high, 13.0)
    usual = world_climate(47.0, 11.0)
    there = world_climate(47.0, 11.0, usual.elevation_m)
    assert np.mean(usual.temp_air_c) == pytest.approx(np.mean(there.temp_air_c), abs=0.0033)  # half a metre
    assert 300.0 < usual.elevation_m < 1500.0


@pytest.mark.parametrize("latitude", [LATITUDES[0], -34.0, 0.0, 45.0, 66.0, LATITUDES[1]])
@pytest.mark.parametrize("longitude", [-180.0, -70.0, 20.0, 180.0])
def test_a_year_can_be_made_of_it_anywhere(latitude: float, longitude: float) -> None:
    """No month asks for more light than its sky has, and the year hits the means, polar nights too."""
    found = world_climate(latitude, longitude)
    site = Site(latitude, longitude, found.elevation_m, float(round(longitude / 15.0)))
    made: MonthlyMeans = monthly_means(synthesiser(MonthlyMeans(*found[:2]), site)(1))
    np.testing.assert_allclose(made.daily_ghi_kwh_m2, found.daily_ghi_kwh_m2, atol=1e-6)


def test_it_joins_at_the_date_line() -> None:
    """180° east is 180° west."""
    np.testing.assert_allclose(world_climate(-17.0, 180.0)[0], world_climate(-17.0, -180.0)[0])
