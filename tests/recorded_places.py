"""Nine places with 21 to 53 recorded years, in published figures, and chains of years made from their means alone."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np

from sim.weather.many import Chain, Climate, many_years
from sim.weather.monthly import MonthlyMeans
from sim.weather.weather import Site

SHARED = Path(__file__).parent.parent / "shared"
STEADY = ("A", "A-")  # quality of records without drift, steps or splices
# Mean temperature of the year and its range of monthly means, °C, to the nearest degree or so: common knowledge, no
# source. Only the air depends on them.
AIR_C = {
    "Graz": (9.0, 19.0),
    "Rothamsted": (10.0, 12.0),
    "Carrington": (5.0, 31.0),
    "Hyderabad": (26.0, 10.0),
    "Gainesville": (20.0, 13.0),
    "Pullman": (8.0, 22.0),
    "Kellogg": (9.0, 27.0),
    "Swift": (4.0, 30.0),
    "La": (17.0, 13.0),
}


@dataclass(frozen=True, eq=False)
class Place:
    """A place in the published tables: ``months`` are (12,) by the column's name, ``year`` and ``needs`` are rows."""

    name: str
    quality: str
    site: Site
    months: dict[str, np.ndarray]
    year: dict[str, str]
    needs: tuple[dict[str, str], ...]

    @property
    def climate(self) -> Climate:
        """Its twelve means of light, and a made-up course of the air with about the right range."""
        mean, swing = AIR_C[self.name.split()[0]]
        turn = np.cos(2.0 * np.pi * (np.arange(12) - 0.5) / 12.0) * np.sign(self.site.latitude_deg)
        light = tuple(self.months["mean_kwh_m2_d"].tolist())
        return Climate(MonthlyMeans(light, tuple((mean - 0.5 * swing * turn).tolist())))


def _rows(name: str) -> list[dict[str, str]]:
    with (SHARED / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def _place(name: str, rows: list[dict[str, str]]) -> Place:
    columns = [key for key in rows[0] if key not in ("place", "quality", "source")]
    months = {key: np.array([float(row[key]) for row in rows]) for key in columns}
    longitude = float(rows[0]["longitude"])
    site = Site(float(rows[0]["latitude"]), longitude, 200.0, float(round(longitude / 15.0)))
    (year,) = (row for row in _rows("year_to_year_annual.csv") if row["place"] == name)
    needs = tuple(row for row in _rows("loss_of_load.csv") if row["place"] == name)
    return Place(name, rows[0]["quality"], site, months, year, needs)


def recorded_places() -> tuple[Place, ...]:
    """All nine."""
    rows = _rows("year_to_year.csv")
    names = dict.fromkeys(row["place"] for row in rows)
    return tuple(_place(name, [row for row in rows if row["place"] == name]) for name in names)


PLACES = recorded_places()


@cache
def chain_of(name: str, seed: int = 1) -> Chain:
    """Years of a place, from its twelve means alone."""
    (place,) = (place for place in PLACES if place.name == name)
    return many_years(place.climate, place.site, seed=seed)


@dataclass(frozen=True, eq=False)
class Made:
    """Many years of a place: clearness (years, days), light of the days in kWh/m², months of days (days,)."""

    clear: np.ndarray
    light: np.ndarray
    month: np.ndarray

    @property
    def months(self) -> np.ndarray:
        """(years, 12) mean daily light."""
        return np.stack([self.light[:, self.month == month].mean(axis=1) for month in range(12)], axis=1)

    @property
    def coefficients(self) -> np.ndarray:
        """(12,) standard deviation of the months over the years, over the mean."""
        return self.months.std(axis=0, ddof=1) / self.months.mean(axis=0)

    @property
    def annual(self) -> float:
        """Coefficient of variation of the years' light."""
        years = self.light.mean(axis=1)
        return float(years.std(ddof=1) / years.mean())

    @property
    def anomalies(self) -> np.ndarray:
        """(years, 12) of the months' light, over the mean."""
        return self.months / self.months.mean(axis=0) - 1.0

    @property
    def lag_1(self) -> np.ndarray:
        """(12,) of daily clearness about the month's mean over the years, within the month."""
        found = []
        for month in range(12):
            days = self.clear[:, self.month == month]
            days = days - days.mean()
            found.append(float(np.corrcoef(days[:, :-1].ravel(), days[:, 1:].ravel())[0, 1]))
        return np.array(found)


@cache
def made(name: str, years: int, seed: int = 1) -> Made:
    """The days of many years of a place."""
    chain = chain_of(name, seed)
    days = chain.maker.days
    clear = np.array([chain.clearness(number) for number in range(years)])
    return Made(clear, clear * days.extra_wh / 1000.0, days.month)


def lost(light: np.ndarray, worst: float, store_days: np.ndarray, array: np.ndarray) -> np.ndarray:
    """(stores, arrays) share of the load that a textbook's daily balance leaves unserved; light (days,) in kWh/m².

    s = min(C_S, s + C_A·g/g_worst − 1); what is below 0 is unserved, and s is 0 then.
    """
    most = np.repeat(store_days[:, np.newaxis], len(array), axis=1)
    stored, unserved = most.copy(), np.zeros(most.shape)
    for day in (light / worst).tolist():
        stored = np.minimum(stored + (array * day - 1.0), most)
        unserved -= np.minimum(stored, 0.0)
        stored = np.maximum(stored, 0.0)
    return unserved / len(light)


def arrays_needed(light: np.ndarray, worst: float, store_days: np.ndarray, shares: list[float]) -> np.ndarray:
    """(stores, shares) the array ratio C_A for each store and share of the load that may be lost."""
    array = np.geomspace(0.35, 3.0, 80)
    found = lost(light, worst, store_days, array)
    return np.exp([np.interp(-np.array(shares), -row, np.log(array)) for row in found])
