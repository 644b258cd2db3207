"""Weather that passes every limit and is wrong as a whole is refused or doubted, and sound weather is not.

The limits judged by are choices; what is tested is that damage is found and that sound years are left alone.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from weather.silent_damages import KINDS, MADE_UP, SAMPLED, Kind, checked, harmless, outcome, sound

from sim.catalogue.doubts import DOUBTS
from sim.errors import InputError
from sim.report.render import render
from sim.report.section import Section, page_on
from sim.report.weather import weather_report
from sim.scenario import load as load_scenario
from sim.studies.weather import look_at
from sim.weather import weather_for
from sim.weather.clearsky import clear_sky
from sim.weather.doubt_air import AIR
from sim.weather.doubt_climate import CLIMATE
from sim.weather.doubt_light import LIGHT
from sim.weather.place import fitting_clock, refuse_hemisphere, refuse_slips
from sim.weather.samples import read_sample
from sim.weather.sun import sun_of_year
from sim.weather.weather import Doubt, Site

QUICK = (  # a kind for each doubt
    *("light x 0.6", "light x 1.3", "June x 0.6", "from July x 0.7", "falling to 0.6", "cut off at 500"),
    *("shade in the morning", "shade in the afternoon", "shade at noon", "no beam", "5 W/m2 at night"),
    "diffuse: 10 W/m2 at night",
    *("means of three days", "June copied from July", "air: the sign turned", "air: signs lost", "air / 10"),
    *("air + 10", "air half a year off", "air: means of days", "air: dew point"),
)
BY_NAME = {kind.name: kind for kind in KINDS}


@pytest.mark.parametrize("name", QUICK)
def test_damage_to_a_whole_column_does_not_pass_silently(name: str) -> None:
    """In a temperate year each kind is refused or doubted under its own id."""
    kind = BY_NAME[name]
    rows, site = sound("piedmont")
    assert not harmless(rows, kind.change(rows))
    assert re.search("|".join(kind.must), outcome(kind.change(rows), site))


@pytest.mark.parametrize("climate", [*SAMPLED, *MADE_UP])
def test_sound_years_of_usual_and_unusual_places_are_not_doubted(climate: str) -> None:
    """Bundled years, and made-up ones of desert, high mountain, cloud forest, snow, fog and monsoon: no doubt."""
    assert checked(*sound(climate)).doubts == ()


def test_every_doubt_has_an_id_that_a_scenario_may_accept() -> None:
    """What is judged and what the check of clock, place and closure says is all in the catalogue, and nothing else."""
    assert {*LIGHT, *AIR, *CLIMATE, "clock", "site-far", "beam-sum"} == set(DOUBTS)


def test_kinds_are_many_and_what_is_hidden_says_why() -> None:
    """More than forty kinds, each once."""
    names = [kind.name for kind in KINDS]
    assert len(set(names)) == len(names) >= 43
    assert all(isinstance(kind, Kind) and kind.must for kind in KINDS)


SCENARIO = """
title = "Courtyard rill"
[site]
{site}
[weather]
file = "year.txt"
{accept}
[panel]
power_w = 100
vmp_v = 18.0
imp_a = 5.56
voc_v = 22.0
isc_a = 5.9
[battery]
capacity_ah = 100
[pump]
power_w = 20
"""


def scenario_with(path: Path, lines: tuple[str, ...], accept: str = "", site: str = "") -> Path:
    """A scenario beside a weather file."""
    (path / "year.txt").write_text("\n".join(lines) + "\n")
    (path / "pond.toml").write_text(SCENARIO.format(accept=accept, site=site))
    return path / "pond.toml"


def late(tmy3: tuple[str, ...]) -> tuple[str, ...]:
    """A file whose header says a zone half an hour off."""
    return (tmy3[0].replace(",-5.0,", ",-5.5,"), *tmy3[1:])


def test_a_half_hour_clock_is_named_with_the_offset_to_write(tmp_path: Path, tmy3: tuple[str, ...]) -> None:
    """The doubt says the clock, never a value too high; writing what it names makes it go."""
    weather = weather_for(load_scenario(scenario_with(tmp_path, late(tmy3))))
    assert [doubt.id for doubt in weather.doubts] == ["clock"]
    assert "utc_offset_h = -5 under [site] fits the light" in weather.doubts[0].message
    mended = weather_for(load_scenario(scenario_with(tmp_path, late(tmy3), site="utc_offset_h = -5.0")))
    assert mended.doubts == ()


def test_an_accepted_doubt_becomes_a_note(tmp_path: Path, tmy3: tuple[str, ...]) -> None:
    """What the scenario confirms is no doubt any more, but it stays said."""
    weather = weather_for(load_scenario(scenario_with(tmp_path, late(tmy3), 'accept = ["clock"]')))
    assert weather.doubts == ()
    assert any(note.startswith("Accepted by the scenario (clock)") for note in weather.notes)


def test_what_cannot_be_accepted_is_named(tmp_path: Path, tmy3: tuple[str, ...]) -> None:
    """An id that there is none of is an error that lists those there are."""
    with pytest.raises(InputError, match='weather.accept.*clok.*allowed is "clock" or'):
        load_scenario(scenario_with(tmp_path, late(tmy3), 'accept = ["clok"]'))


def test_doubts_open_the_weather_report_and_its_json(tmp_path: Path, tmy3: tuple[str, ...]) -> None:
    """At the top of the JSON, and before anything else on the page."""
    scenario = load_scenario(scenario_with(tmp_path, late(tmy3)))
    result = look_at(scenario.path, scenario)
    found = json.loads(json.dumps(result.as_json()))["doubts"]
    assert [sorted(doubt) for doubt in found] == [["id", "message"]]
    page = weather_report(result)
    assert page.index("behind this page is doubtful") < page.index("What it says")


@pytest.mark.parametrize(
    ("asked", "slip"),
    [
        ((-36.1, -79.95), "the latitude has the wrong sign"),
        ((36.1, 79.95), "the longitude has the wrong sign"),
        ((-36.1, 79.95), "latitude and longitude have the wrong sign"),
        ((-79.95, 36.1), "latitude and longitude have changed places"),
    ],
)
def test_a_slip_in_the_scenarios_site_is_refused_with_the_suspicion(asked: tuple[float, float], slip: str) -> None:
    """A site that would be the recorded one but for a sign or an exchange."""
    recorded = read_sample("piedmont")[2]
    with pytest.raises(InputError, match=slip):
        refuse_slips("pond.toml", recorded._replace(latitude_deg=asked[0], longitude_deg=asked[1]), recorded)


def test_a_site_in_the_other_hemisphere_is_refused() -> None:
    """A northern year does not stand for a southern garden, wherever that is."""
    recorded = read_sample("piedmont")[2]
    with pytest.raises(InputError, match="the seasons would be turned"):
        refuse_slips("pond.toml", Site(-33.0, 151.0, 10.0, 10.0), recorded)
    refuse_slips("pond.toml", recorded._replace(latitude_deg=38.0), recorded)


@pytest.mark.parametrize("name", SAMPLED)
def test_a_files_own_latitude_is_held_against_its_light(name: str) -> None:
    """With its sign turned the clearest days of winter are too clear; with its own sign nothing is said."""
    table, _, site = read_sample(name)
    ghi, wrong = table["ghi"].to_numpy(), site._replace(latitude_deg=-site.latitude_deg)
    refuse_hemisphere("year.csv", ghi, sun_of_year(2001, site), 2001, site)
    with pytest.raises(InputError, match="it seems that the latitude has the wrong sign"):
        refuse_hemisphere("year.csv", ghi, sun_of_year(2001, wrong), 2001, wrong)


def test_a_clock_that_no_place_has_is_not_recommended() -> None:
    """Offsets end at -12 and 14 h."""
    assert fitting_clock(300.0, Site(0.0, 180.0, 0.0, 12.0)) == "no clock on Earth fits the light"


def test_a_clear_sky_is_darker_in_turbid_air() -> None:
    """*Derived*: at the same latitude and height, the air over a plain of dust takes more than that over an ocean."""
    dust, ocean = (clear_sky(2001, Site(25.0, longitude, 0.0, round(longitude / 15))) for longitude in (80.0, -150.0))
    assert dust.ghi.sum() < 0.97 * ocean.ghi.sum()
    assert np.all(dust.dhi <= dust.ghi + 1e-9)


def test_every_page_opens_with_the_doubts() -> None:
    """Whatever the report, what is doubtful about its weather stands before its first section."""
    doubted = replace(checked(*sound("piedmont")), doubts=(Doubt("clock", "late"),))
    page = render(page_on(doubted, "Any kind", "Any pond", [Section("first", "First", ()), None]))
    assert page.index("late") < page.index('id="first"') and "behind this page is doubtful" in page
