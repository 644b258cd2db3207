"""Weather: read or taken from the bundled samples, checked, repaired, dated in the year asked for.

The way through: ``read`` a file or a sample, put its rows in ``order``, see that they ``fit`` the ``sun``.
"""

from sim.weather.weather import Site, Weather
from sim.weather.year import weather_for, weathers_for

__all__ = ["Site", "Weather", "weather_for", "weathers_for"]
