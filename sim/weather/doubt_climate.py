"""A year held against the world climate of its place: gross misfit only, for that climate is coarse."""

import numpy as np

from sim.catalogue.world import world_climate
from sim.units import Quantity, sentence
from sim.weather.monthly import monthly_means
from sim.weather.weather import Weather

LIGHT_SHARE, AIR_K = 0.35, 8.0  # of the year; choices: single true months are up to 50 % off, single years 4 K


def light(weather: Weather) -> str:
    """The year's light far from the climate's."""
    there = float(np.mean(world_climate(*weather.site[:3]).daily_ghi_kwh_m2))
    share = float(np.mean(monthly_means(weather).daily_ghi_kwh_m2)) / max(there, 0.1)
    if abs(share - 1.0) <= LIGHT_SHARE:
        return ""
    found = (
        f"The year has {share:.0%} of the light that the world climate gives for the place ({there:.1f} kWh/m2 a day)"
    )
    return f"{found}: is it of another place, or in another unit? The pump's hours follow it."


def air(weather: Weather) -> str:
    """The year's air far from the climate's."""
    there = float(np.mean(world_climate(*weather.site[:3]).temp_air_c))
    off = float(weather.temp_air.mean()) - there
    if abs(off) <= AIR_K:
        return ""
    return sentence(
        "The air's mean is {off} {side} than the world climate's for the place ({there}): another place, height or "
        "unit? Frost and the battery's life follow it.",
        off=Quantity(abs(off), "k", ".0f"),
        side="warmer" if off > 0.0 else "colder",
        there=Quantity(there, "c", ".0f"),
    )


CLIMATE = {"light-climate": light, "air-climate": air}
