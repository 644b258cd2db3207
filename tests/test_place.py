"""What coordinates alone are enough for: a coarse climate, the equator's side, the clock."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sim import cli
from sim.catalogue.world import COARSE, world_climate
from sim.catalogue.zones import offset_at
from sim.errors import InputError
from sim.light.sunlight import sunlight_on
from sim.report.client_words import COARSE_WEATHER
from sim.scenario import overridden, parse
from sim.studies.year import simulate_year
from sim.weather import weather_for
from sim.weather.synthesis import monthly_means

POND = Path("pond.toml")
SYSTEM: dict[str, Any] = {
    "panel": {"power_w": 100, "vmp_v": 18.0, "imp_a": 5.56, "voc_v": 22.0, "isc_a": 5.9},
    "battery": {"capacity_ah": 100},
    "pump": {"power_w": 20},
}


def at(latitude_deg: float, longitude_deg: float, **more: Any) -> Any:
    """The system at coordinates, with nothing said of its weather; two underscores stand for a dot."""
    site = {"latitude_deg": latitude_deg, "longitude_deg": longitude_deg}
    return parse(overridden(SYSTEM | {"site": site}, {k.replace("__", "."): v for k, v in more.items()}), POND)


class TestWithoutWeather:
    """A scenario with coordinates and no weather."""

    def test_the_world_climate_is_its_monthly_means(self) -> None:
        """The year made of it, with seed 1, hits the climate's means (to 0.01) and says how coarse they are."""
        scenario = at(52.0, 9.0, site__elevation_m=100.0)
        weather, climate = weather_for(scenario), world_climate(52.0, 9.0, 100.0)
        assert scenario.weather.monthly.seed == 1 and weather.site == (52.0, 9.0, 100.0, 1.0)
        np.testing.assert_allclose(monthly_means(weather).daily_ghi_kwh_m2, climate.daily_ghi_kwh_m2, atol=0.0051)
        np.testing.assert_allclose(monthly_means(weather).temp_air_c, climate.temp_air_c, atol=0.0051)
        assert weather.notes[0] == COARSE and weather.source.startswith("World climate")

    def test_a_height_that_is_not_given_is_said(self) -> None:
        """The usual height of the land is taken, and that it was guessed stands beside the rest."""
        scenario = at(52.0, 9.0)
        assert scenario.site.elevation_m == world_climate(52.0, 9.0).elevation_m
        assert "height of the place is not given" in scenario.weather.coarse
        assert "height" not in at(52.0, 9.0, site__elevation_m=80).weather.coarse

    def test_other_keys_of_the_weather_may_stand(self) -> None:
        """Year and sky model without a source go with the world climate."""
        scenario = at(52.0, 9.0, weather__year=2004, weather__sky="perez")
        assert weather_for(scenario).index[0].year == 2004 and scenario.weather.sky == "perez"

    @pytest.mark.parametrize("site", [{}, {"latitude_deg": 52.0}, {"latitude_deg": -70.0, "longitude_deg": 0.0}])
    def test_without_a_place_in_reach_a_source_is_asked_for(self, site: dict[str, float]) -> None:
        """No coordinates, half of them, and those beyond the table are refused in one message."""
        with pytest.raises(InputError, match="weather: allowed is exactly one of .* or none of them where .site. has"):
            parse(SYSTEM | {"site": site}, POND)

    def test_weather_of_any_kind_is_not_called_coarse(self) -> None:
        """Neither a sample nor means that the user wrote."""
        means = {"daily_ghi_kwh_m2": [3.0] * 12, "temp_air_c": [10.0] * 12}
        written = at(40.0, 9.0, weather__monthly=means, site__elevation_m=0)
        assert written.weather.coarse == at(36.1, -79.95, weather__sample="piedmont").weather.coarse == ""

    def test_every_page_and_the_terminal_say_so(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """The client reads of a first estimate, the report has the words, and the terminal too."""
        path = tmp_path / "pond.toml"
        text = "".join(
            f"[{section}]\n" + "".join(f"{key} = {value}\n" for key, value in values.items())
            for section, values in (SYSTEM | {"site": {"latitude_deg": 52.0, "longitude_deg": 9.0}}).items()
        )
        path.write_text(text)
        assert cli.main(["year", str(path), "--out", str(tmp_path / "out"), "--no-log"]) == 0
        page = (tmp_path / "out" / "pond-year.html").read_text("utf-8")
        assert "As a first estimate, expect the water" in page and COARSE_WEATHER in page and COARSE in page
        assert "world climate of this place" in " ".join(capsys.readouterr().out.split())


class TestClimateOfAPlace:
    """The weather command with coordinates and no year."""

    COMMAND = ("weather", "--latitude", "27.7", "--longitude", "85.3", "--elevation", "1400")

    def test_it_shows_the_climate(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """Twelve means, how coarse they are, and a report; nothing is fetched and no table of hours is written."""
        assert cli.main([*self.COMMAND, "--out", str(tmp_path)]) == 0
        said = " ".join(capsys.readouterr().out.split())
        climate = world_climate(27.7, 85.3, 1400.0)
        assert (
            "kWh/m2 a day " + " ".join(f"{light:.1f}" for light in climate.daily_ghi_kwh_m2) in said and COARSE in said
        )
        assert [path.name for path in tmp_path.iterdir()] == ["weather_27.70N_85.30E_climate-weather.html"]
        assert COARSE in next(tmp_path.iterdir()).read_text("utf-8")

    def test_its_tables_make_the_same_year(self, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
        """Pasted into a scenario, its monthly means give the year that the coordinates alone give."""
        assert cli.main([*self.COMMAND, "--monthly", "--out", str(tmp_path)]) == 0
        text = capsys.readouterr().out
        tables = tomllib.loads(text)
        pasted, alone = parse(SYSTEM | tables, POND), at(27.7, 85.3, site__elevation_m=1400.0)
        assert text.startswith(f"# {COARSE}\n") and pasted.site == alone.site
        np.testing.assert_allclose(weather_for(pasted).ghi, weather_for(alone).ghi, atol=1e-6)


class TestEquatorSide:
    """A panel whose azimuth is left open."""

    @pytest.mark.parametrize(("latitude_deg", "side_deg"), [(-33.9, 0.0), (52.0, 180.0), (0.0, 180.0)])
    def test_it_looks_to_the_equator(self, latitude_deg: float, side_deg: float) -> None:
        """The light on it is that on a panel turned there; on the equator itself it looks south."""
        left, turned = (at(latitude_deg, 18.0, **more) for more in ({}, {"panel__azimuth_deg": side_deg}))
        weather = weather_for(left)
        np.testing.assert_array_equal(sunlight_on(left, weather).poa_wm2, sunlight_on(turned, weather).poa_wm2)

    def test_the_south_has_its_sun_in_the_north(self) -> None:
        """At 34° S the left-open panel gets a quarter more light than one that looks south, and more hours."""
        left, south = at(-33.9, 151.2), at(-33.9, 151.2, panel__azimuth_deg=180.0)
        gain = [simulate_year(scenario).measures for scenario in (left, south)]
        assert gain[0].in_plane_kwh_m2 > 1.25 * gain[1].in_plane_kwh_m2
        assert gain[0].pump_hours > 1.2 * gain[1].pump_hours

    def test_the_weather_s_place_counts_where_the_site_has_none(self) -> None:
        """A sample's latitude decides, which is known only once it is read."""
        scenario = parse(SYSTEM | {"weather": {"sample": "piedmont"}}, POND)
        south = parse(overridden(SYSTEM | {"weather": {"sample": "piedmont"}}, {"panel.azimuth_deg": 180}), POND)
        weather = weather_for(scenario)
        np.testing.assert_array_equal(sunlight_on(scenario, weather).poa_wm2, sunlight_on(south, weather).poa_wm2)


# Published: the time zone database, standard time; the places lie well inside their zones.
CLOCKS = {
    "Kathmandu": (27.7, 85.3, 5.75),
    "Mumbai": (19.1, 72.9, 5.5),
    "Adelaide": (-34.9, 138.6, 9.5),
    "Eucla": (-31.7, 128.9, 8.75),
    "Chatham": (-43.9, -176.5, 12.75),
    "Sydney": (-33.9, 151.2, 10.0),
    "Dublin": (53.3, -6.3, 0.0),
    "Lisbon": (38.7, -9.1, 0.0),
    "St John's": (47.6, -52.7, -3.5),
    "Santiago": (-33.4, -70.7, -4.0),
}


@pytest.mark.parametrize("name", CLOCKS)
def test_the_clock_of_a_place_is_its_standard_time(name: str) -> None:
    """The smaller of the zone's offsets in January and July, quarters of an hour too."""
    latitude, longitude, offset_h = CLOCKS[name]
    assert offset_at(latitude, longitude, 2019) == offset_h
    scenario = at(latitude, longitude, weather__year=2019)
    assert scenario.site.utc_offset_h == weather_for(scenario).utc_offset_h == offset_h


def test_the_clock_is_that_of_the_year() -> None:
    """A country that changed its standard time has the one of the year: Samoa crossed the date line in 2011."""
    assert (offset_at(-13.8, -171.8, 2010), offset_at(-13.8, -171.8, 2013)) == (-11.0, 13.0)


def test_a_clock_that_was_written_stays() -> None:
    """The coordinates do not overrule the scenario."""
    assert at(27.7, 85.3, site__utc_offset_h=6.0).site.utc_offset_h == 6.0
