"""Synthetic years: published pieces, what they hit and never exceed, and what they share with open typical years."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import published
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy.stats import ks_2samp, norm, rankdata

from sim.catalogue import ROOM
from sim.errors import InputError
from sim.light.sunlight import plane_of
from sim.scenario import parse, read_toml
from sim.weather import Weather, clearness, hourly, weather_for
from sim.weather.dates import DAY_H, year_index
from sim.weather.fit import clock_error_min
from sim.weather.monthly import monthly_toml
from sim.weather.samples import SAMPLES
from sim.weather.sun import sun_of_year
from sim.weather.synthesis import MonthlyMeans, monthly_means, normals, synthesise, synthesiser
from sim.weather.weather import COLUMNS, Site

YEARS = 50
MONTHS_INSIDE = 10  # of 12, whose real days must lie inside the spread of the synthetic ones
TILTS_DEG = (0.0, 35.0, 60.0)
BENDT_LOWEST = 0.05  # clearness of the dullest day in the reference rows


@dataclass(frozen=True, eq=False)
class Pair:
    """A typical year, and the synthetic ones made from its monthly means."""

    real: Weather
    made: tuple[Weather, ...]

    @property
    def month(self) -> np.ndarray:
        """(days,) month of each day, from 0."""
        return np.asarray(self.real.index.month.to_numpy()[::DAY_H] - 1)

    def clear(self, weather: Weather) -> np.ndarray:
        """(days,) daily clearness as the reference table defines it."""
        above = sun_of_year(2001, self.real.site).extra_horizontal_wm2
        return np.asarray(weather.ghi.reshape(-1, DAY_H).sum(axis=1) / above.reshape(-1, DAY_H).sum(axis=1))


@pytest.fixture(scope="module", params=SAMPLES)
def pair(request: pytest.FixtureRequest, asking) -> Pair:
    """Each bundled year with fifty made from its means."""
    real = weather_for(asking(sample=request.param))
    make = synthesiser(monthly_means(real), real.site)
    return Pair(real, tuple(make((1, number)) for number in range(YEARS)))


def lag_1(clear: np.ndarray, month: np.ndarray) -> float:
    """Correlation of successive days' ranks within their month, made normal: as REF084 and REF122 say it."""
    score = np.empty(len(clear))
    for number in range(12):
        days = month == number
        score[days] = norm.ppf((rankdata(clear[days]) - 0.5) / days.sum())
    return float(np.corrcoef(score[:-1], score[1:])[0, 1])


def in_spells(dull: np.ndarray) -> np.ndarray:
    """(31,) share of a month's days that lie in a spell of at least 1, 2 … 31 dull days.

    >>> in_spells(np.array([1, 1, 0, 1])).tolist()[:3]
    [0.75, 0.5, 0.0]
    """
    ends = np.flatnonzero(np.diff(np.concatenate(([0], dull.astype(int), [0]))))
    spells = ends[1::2] - ends[::2]
    return np.array([spells[spells >= days].sum() for days in range(1, 32)]) / len(dull)


def days_apart(real: np.ndarray, made: np.ndarray, half: float) -> tuple[float, list[float]]:
    """Kolmogorov and Smirnov's distance between a month's days (days,) and all of many years (years, days).

    And that of each of those years from the others.
    """
    others = (np.delete(made, number, axis=0).ravel() for number in range(len(made)))
    own = [ks_2samp(year, rest).statistic for year, rest in zip(made, others, strict=True)]
    return ks_2samp(real, made.ravel()).statistic, own


def spells_apart(real: np.ndarray, made: np.ndarray, half: float) -> tuple[float, list[float]]:
    """Largest difference in the share of days in dull spells of some length or more, against the mean of many years.

    And that of each of those years from the mean of the others.
    """
    found = np.array([in_spells(year < half) for year in made])
    others = (found.sum(axis=0) - found) / (len(found) - 1)
    return np.abs(in_spells(real < half) - found.mean(axis=0)).max(), np.abs(found - others).max(axis=1).tolist()


@pytest.mark.parametrize("ids, mean, below", [(37, 0.3, 0.3), (40, 0.5, 0.3), (43, 0.7, 0.5)])
def test_distribution_of_daily_clearness(ids, mean, below):
    """Clearest day, γ and share of dull days: Bendt et al. 1981 and Hollands & Huget 1983, published rows."""
    highest = float(clearness.clearest(mean))
    width = highest - BENDT_LOWEST
    g = clearness.steepness((mean - BENDT_LOWEST) / width)
    published.check(f"REF{ids:03d}", highest)
    published.check(f"REF{ids + 1:03d}", float(g) / width)
    published.check(f"REF{ids + 2:03d}", clearness.below((below - BENDT_LOWEST) / width, g))


def test_the_quantile_inverts_the_distribution():
    """Below the quantile of a score lies the score's own share of the days, for any steepness."""
    z = np.linspace(-3, 3, 13)
    for g in (-30.0, -2.0, 0.0, 1e-7, 5.0, 60.0):
        np.testing.assert_allclose(clearness.below(clearness.quantile(z, g), g), norm.cdf(z), atol=1e-6)


@pytest.mark.parametrize(
    "id, sunset, angle",
    [("REF030", 60, 7.5), ("REF031", 75, 22.5), ("REF032", 90, 7.5), ("REF033", 90, 37.5), ("REF034", 105, 52.5)],
)
def test_hourly_share_of_a_days_light(id, sunset, angle):
    """Collares-Pereira & Rabl 1979, published rows."""
    published.check(id, hourly.global_share(np.radians(angle), np.radians(sunset)))


def test_hourly_share_of_a_days_diffuse_light_and_the_sum_of_a_day():
    """Liu & Jordan 1960; and the twelve shares of a day of twelve hours do not quite make 1, published rows."""
    published.check("REF035", hourly.diffuse_share(np.radians(7.5), np.radians(90.0)))
    middle = np.radians(np.arange(-82.5, 90.0, 15.0))
    published.check("REF036", hourly.global_share(middle, np.radians(90.0)).sum())


@pytest.mark.parametrize(
    "id, kt", [("REF048", 0.1), ("REF049", 0.3), ("REF050", 0.5), ("REF051", 0.7), ("REF052", 0.85)]
)
def test_the_diffuse_share_by_erbs_as_the_library_has_it(id, kt):
    """Erbs, Klein & Duffie 1982, published rows: what the split that is used is compared with."""
    from pvlib import irradiance

    above = irradiance.get_extra_radiation(1)
    published.check(id, irradiance.erbs(kt * above, 0.0, 1)["dhi"] / (kt * above))


def test_beam_under_a_low_sun(asking):
    """On recorded hourly light at 55° N the split that is used keeps a steep plane's total, Erbs does not."""
    from pvlib import irradiance

    real = weather_for(asking(sample="aleutian"))
    sun, day = sun_of_year(2001, real.site), real.index.day_of_year.to_numpy()
    dni, dhi = hourly.beam_and_diffuse(real.ghi, sun, day, real.elevation_m)
    erbs = irradiance.erbs(real.ghi, sun.apparent_zenith_deg, day)
    split = replace(real, dni=dni, dhi=dhi), replace(real, dni=erbs["dni"], dhi=erbs["dhi"])
    truth, used, other = (plane_of(year, sun, 60.0, 180.0, 0.2, "hay-davies").total.sum() for year in (real, *split))
    assert abs(used / truth - 1) < 0.01 < 0.04 < 1 - other / truth


@pytest.mark.parametrize("name, id", [("piedmont", "REF084"), ("subtropic", "REF122")])
def test_days_remember_the_day_before_in_typical_years(name, id, asking):
    """Lag-1 of made-normal clearness in open years, library rows, which the synthetic years are held against."""
    pair = Pair(weather_for(asking(sample=name)), ())
    clear = pair.clear(pair.real)
    published.check(id, lag_1(clear, pair.month))
    if name == "piedmont":
        published.check("REF085", clear.mean())


def test_days_remember_the_day_before(pair):
    """The mean lag-1 of fifty synthetic years is the published one, REF046 (its 0.29 is from memory)."""
    found = [lag_1(pair.clear(year), pair.month) for year in pair.made]
    published.check("REF046", np.mean(found), "abs 0.02")  # narrower than the row, which is for one place


def residual_lag_1(pair: Pair, weather: Weather) -> float:
    """Correlation of successive hours' clearness about the day's undisturbed course, under a sun that counts."""
    sky = hourly.sky_of(sun_of_year(2001, pair.real.site), pair.real.index, pair.real.site)
    light = weather.ghi.reshape(-1, DAY_H)
    course = sky.profile * light.sum(axis=1, keepdims=True)
    high = sky.extra_wm2 > 200.0
    off = np.where(high, (light - course) / np.maximum(sky.extra_wm2, 200.0), np.nan)
    before, after = off[:, :-1].ravel(), off[:, 1:].ravel()
    both = ~np.isnan(before * after)
    return float(np.corrcoef(before[both], after[both])[0, 1])


def test_hours_remember_the_hour_before(pair):
    """The hourly driver's lag-1 lies in the published range, and what is left of it is what the real year shows."""
    driver = clearness.correlated(normals(5, 20_000), hourly.LAG_1)
    published.check("REF047", np.corrcoef(driver[:-1], driver[1:])[0, 1])
    made = np.mean([residual_lag_1(pair, year) for year in pair.made[:5]])
    assert made == pytest.approx(residual_lag_1(pair, pair.real), abs=0.08)


def test_means_come_back(pair):
    """Every month of light and air has its mean, and the year's light on a plane is within 3 % of the real year's.

    In the mean of the synthetic years; a single one may be 3.5 % off on the steepest plane.
    """
    asked = monthly_means(pair.real)
    for year in pair.made:
        np.testing.assert_allclose(monthly_means(year).daily_ghi_kwh_m2, asked.daily_ghi_kwh_m2, rtol=1e-9)
        np.testing.assert_allclose(monthly_means(year).temp_air_c, asked.temp_air_c, atol=1e-9)
    sun = sun_of_year(2001, pair.real.site)
    for tilt in TILTS_DEG:
        real, *made = (
            plane_of(year, sun, tilt, 180.0, 0.2, "hay-davies").total.sum() for year in (pair.real, *pair.made[::5])
        )
        assert np.mean(made) == pytest.approx(real, rel=0.03)
        np.testing.assert_allclose(made, real, rtol=0.035)


@pytest.mark.parametrize("apart", [days_apart, spells_apart])
def test_a_real_year_lies_inside_the_spread(pair, apart):
    """In 10 months of 12 the real year is no further from the synthetic years than the furthest of those themselves.

    The distance of a synthetic year is to the other forty-nine, that of the real one to all fifty; a dull day has
    less than half the month's mean clearness.
    """
    made, real = np.array([pair.clear(year) for year in pair.made]), pair.clear(pair.real)
    inside = 0
    for number in range(12):
        days = pair.month == number
        mine, own = apart(real[days], made[:, days], 0.5 * real[days].mean())
        inside += mine <= max(own)
    assert inside >= MONTHS_INSIDE


def test_air_varies_as_in_the_real_year(pair):
    """Daily means vary, and days swing, by what the real year shows within a factor of 1.5: our own defaults."""
    real, made = pair.real.temp_air.reshape(-1, DAY_H), pair.made[0].temp_air.reshape(-1, DAY_H)
    for measure in (lambda day: np.std(np.diff(day.mean(axis=1))), lambda day: np.ptp(day, axis=1).mean()):
        assert 1 / 1.5 < measure(made) / measure(real) < 1.5


def test_light_keeps_the_clock(pair):
    """The centre of a synthetic year's light is at most five minutes off the sun."""
    assert abs(clock_error_min(pair.made[0].ghi, sun_of_year(2001, pair.real.site).extra_horizontal_wm2)) < 5


FIRST_NORMALS = (0.029636756666, 1.649366334483, -1.061815998456)


def test_the_same_seed_makes_the_same_year():
    """Another seed makes another year; the first normal numbers of seed 1 are what they were (frozen)."""
    means = MonthlyMeans((1.0,) * 12, (10.0,) * 12)
    first, again, other = (synthesise(means, 45.0, 7.0, 300.0, 1.0, seed=seed) for seed in (7, 7, (7, 1)))
    for name in COLUMNS:
        np.testing.assert_array_equal(getattr(first, name), getattr(again, name))
    assert not np.array_equal(first.ghi, other.ghi)
    np.testing.assert_allclose(normals(1, 3), FIRST_NORMALS, atol=1e-9)


@pytest.mark.parametrize("month, mean", [(0, 9.0), (6, 20.0)])
def test_a_mean_above_the_sky_is_refused(month, mean):
    """More light than the clearest sky gives names the month and the most there can be."""
    light = [1.0] * 12
    light[month] = mean
    name = {0: "January", 6: "July"}[month]
    with pytest.raises(InputError, match=rf"daily_ghi_kwh_m2\[{month}\] = {mean:g}.*0 to [0-9.]+ .* in {name}"):
        synthesise(MonthlyMeans(tuple(light), (10.0,) * 12), 50.0, 0.0, 0.0, 0.0)


def limits(site: Site) -> np.ndarray:
    """(12,) the highest daily means that the sky of a place allows, kWh/m²."""
    index = year_index(2001, site.utc_offset_h)
    sky = hourly.sky_of(sun_of_year(2001, site), index, site)
    month = index.month.to_numpy()[::DAY_H] - 1
    return np.asarray(np.bincount(month, sky.highest_wh, 12) / np.bincount(month, minlength=12) / 1000.0)


PLACES = st.builds(
    Site,
    st.integers(-90, 90).map(float),
    st.just(0.0),
    st.sampled_from([-400.0, 0.0, 4000.0]),
    st.sampled_from([0.0, 3.0, -11.0]),
)


@given(
    PLACES,
    st.lists(st.floats(0, 1), min_size=12, max_size=12),
    st.lists(st.floats(-60, 40), min_size=12, max_size=12),
    st.integers(0, 2**63 - 1),
)
@example(Site(90.0, 0.0, 0.0, 0.0), [1.0] * 12, [-40.0] * 12, 0)
@example(Site(0.0, 0.0, 0.0, 0.0), [0.0] * 12, [25.0] * 12, 1)
@example(Site(-78.0, 0.0, 3000.0, 0.0), [1e-9, 1.0] * 6, [-60.0, 40.0] * 6, 2)
@settings(max_examples=15)
def test_any_place_and_any_means(site, shares, air, seed):
    """From pole to pole: finite, never negative, nothing above what arrives, nothing at night, every mean met."""
    light = limits(site) * shares
    year = synthesise(MonthlyMeans(tuple(light), tuple(air)), *site, seed=seed)
    sun = sun_of_year(2001, site)
    assert all(np.isfinite(getattr(year, name)).all() for name in COLUMNS)
    assert min(year.ghi.min(), year.dni.min(), year.dhi.min()) >= 0.0
    assert (year.ghi <= sun.extra_horizontal_wm2 * (1 + 1e-9)).all()
    assert (year.dni <= sun.extra_normal_wm2).all()
    assert not year.ghi[sun.zenith_deg >= 90.0].any()
    np.testing.assert_allclose(year.dni * sun.cos_zenith + year.dhi, year.ghi, atol=1e-9)
    np.testing.assert_allclose(monthly_means(year).daily_ghi_kwh_m2, light, rtol=1e-6, atol=1e-12)
    np.testing.assert_allclose(monthly_means(year).temp_air_c, air, atol=1e-9)


MONTHLY = {
    "daily_ghi_kwh_m2": [0.0, 0.4, 1.5, 3.4, 5.2, 5.9, 5.1, 3.6, 2.0, 0.8, 0.1, 0.0],
    "temp_air_c": [-10.0, -9.0, -5.0, 1.0, 7.0, 12.0, 14.0, 12.0, 7.0, 1.0, -5.0, -9.0],
}
NORTH = {"latitude_deg": 69.0, "longitude_deg": 20.0, "elevation_m": 50.0, "utc_offset_h": 1.0}


@pytest.fixture(scope="module")
def scenario():
    """Makes the template's scenario with a table of weather and one of the site."""
    data = read_toml(ROOM / "template.toml")
    return lambda weather, site: parse(data | {"weather": weather, "site": site}, Path("pond.toml"))


def test_a_scenario_with_monthly_means(scenario):
    """Its year has those means, polar night included, and says that it is synthetic; another seed is another year."""
    year, other = (weather_for(scenario({"monthly": MONTHLY | {"seed": seed}}, NORTH)) for seed in (1, 2))
    np.testing.assert_allclose(monthly_means(year), tuple(MONTHLY.values()), rtol=1e-6, atol=1e-9)
    assert not year.ghi[: 31 * DAY_H].any()
    assert "synthetic" in year.source and "seed 1" in year.source
    assert year.notes[0].startswith("This is no year that was")
    assert not np.array_equal(year.ghi, other.ghi)


@pytest.mark.parametrize(
    "weather, site, message",
    [
        ({"sample": "piedmont", "monthly": MONTHLY}, NORTH, "weather: allowed is exactly one of"),
        ({"monthly": MONTHLY}, {}, "site.latitude_deg: allowed is a number; weather.monthly says nothing"),
        ({"monthly": MONTHLY}, NORTH | {"elevation_m": True}, "site.elevation_m = True"),
        ({"monthly": MONTHLY}, {k: NORTH[k] for k in NORTH if k != "elevation_m"}, "site.elevation_m: allowed"),
        ({"monthly": MONTHLY | {"temp_air_c": [1.0] * 11}}, NORTH, "weather.monthly.temp_air_c .*twelve numbers"),
        ({"monthly": MONTHLY | {"daily_ghi_kwh_m2": [-1.0] * 12}}, NORTH, "daily_ghi_kwh_m2.*twelve numbers from 0"),
        ({"monthly": MONTHLY | {"seed": -1}}, NORTH, "weather.monthly.seed = -1: allowed is a whole number"),
        ({"monthly": {"seed": 1}}, NORTH, "weather.monthly.daily_ghi_kwh_m2: .*no default"),
    ],
)
def test_what_monthly_means_need(scenario, weather, site, message):
    """One source of weather, twelve numbers each, and a place with its height: one message that names the key."""
    with pytest.raises(InputError, match=message):
        scenario(weather, site)


def test_too_much_light_for_the_place_names_the_scenario(scenario):
    """Light in the polar night is refused with the scenario's name, the key and the month."""
    dark = MONTHLY | {"daily_ghi_kwh_m2": [0.0] * 11 + [0.5]}
    with pytest.raises(InputError, match=r"pond.toml: weather.monthly.daily_ghi_kwh_m2\[11\] = 0.5: .* in December"):
        weather_for(scenario({"monthly": dark}, NORTH))


def test_the_table_of_a_real_year_reads_back(pair):
    """The printed table is TOML with the year's place and means to the last figure printed."""
    table = tomllib.loads(monthly_toml(pair.real))
    means = monthly_means(pair.real)
    np.testing.assert_allclose(table["weather"]["monthly"]["daily_ghi_kwh_m2"], means.daily_ghi_kwh_m2, atol=5e-4)
    np.testing.assert_allclose(table["weather"]["monthly"]["temp_air_c"], means.temp_air_c, atol=5e-3)
    assert Site(**table["site"]) == pytest.approx(pair.real.site, abs=1e-3)
