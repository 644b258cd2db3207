"""What the coordinates of a site are enough for: a coarse climate where no weather is named, and the place's clock."""

from typing import Any

from sim.scenario.models import Site
from sim.scenario.monthly import WorldMeans
from sim.scenario.weather import Weather


def settled(site: Site, weather: Weather) -> tuple[Site, Weather]:
    """The site and its weather with what follows from the coordinates, where these are given.

    A weather without any source becomes the world climate of the place, at the site's height or the usual one there.
    A clock that no weather data will tell is the standard time of the place in the weather's year.
    """
    if site.latitude_deg is None or site.longitude_deg is None:
        return site, weather
    if not weather.sources:
        site, weather = _in_world_climate(site, weather)
    if site.utc_offset_h is None and _has_no_clock(weather):
        site = _with(site, utc_offset_h=_offset_h(site, weather.year))
    return site, weather


def _with(section: Any, **values: Any) -> Any:
    return section.model_copy(update=values)


def _in_world_climate(site: Site, weather: Weather) -> tuple[Site, Weather]:
    """Both with the world climate in them; as they are where it does not reach."""
    from sim.catalogue.world import LATITUDES, world_climate

    if not LATITUDES[0] <= site.latitude_deg <= LATITUDES[1]:  # type: ignore[operator]
        return site, weather
    found = world_climate(site.latitude_deg, site.longitude_deg, site.elevation_m)  # type: ignore[arg-type]
    light, air_c = (tuple(round(mean, 2) for mean in means) for means in found[:2])
    means = WorldMeans(daily_ghi_kwh_m2=light, temp_air_c=air_c, height_is_known=site.elevation_m is not None)
    return _with(site, elevation_m=found.elevation_m), _with(weather, monthly=means)


def _has_no_clock(weather: Weather) -> bool:
    """Whether neither data nor columns of a table tell an offset from UTC."""
    columns = weather.columns
    told = columns is None or columns.utc_offset_h is not None or columns.time_zone is not None
    return weather.monthly is not None or not told


def _offset_h(site: Site, year: int) -> float:
    from sim.catalogue.zones import offset_at

    return offset_at(site.latitude_deg, site.longitude_deg, year)  # type: ignore[arg-type]
