"""Where recorded light fits better than at the place that is told: another sign, changed places, another clock."""

import numpy as np

from sim.errors import InputError
from sim.weather.dates import DAY_H, hours_of, month_days
from sim.weather.sun import Sun, sun_of_year
from sim.weather.weather import Site

SAME_DEG = 2.0  # as near as this to where the weather is from, a place with a sign turned is that place; a choice
TROPIC_DEG = 5.0  # nearer to the equator than this the hemisphere hardly matters; a choice
LOW_SUN_SHARE = 0.15  # of the brightest month's light above the atmosphere: darker ones tell nothing; a choice
UNEVEN = 1.45  # clearest days' clearness, best month over worst: 1.37 is the most of twenty open years; a choice
BETTER = 0.8  # of that unevenness at the place that fits better; a choice
CLOCK_FITS_MIN = 45.0
OFFSETS_H = (-12.0, 14.0)
QUARTERS = 4
MINUTES_A_DEGREE, MINUTES_AN_HOUR, HALF_DAY_MIN = 4.0, 60.0, 720.0


def other_places(site: Site) -> dict[str, Site]:
    """The places that a slip makes of this one, by the slip in words.

    >>> from sim.weather.weather import Site
    >>> other_places(Site(36.1, -79.95, 273.0, -5.0))["latitude and longitude have changed places"].latitude_deg
    -79.95
    """
    latitude, longitude = site.latitude_deg, site.longitude_deg
    places = {
        "the latitude has the wrong sign": (-latitude, longitude),
        "the longitude has the wrong sign": (latitude, -longitude),
        "latitude and longitude have the wrong sign": (-latitude, -longitude),
        "latitude and longitude have changed places": (longitude, latitude),
    }
    made = {slip: site._replace(latitude_deg=a, longitude_deg=b) for slip, (a, b) in places.items()}
    return {slip: place for slip, place in made.items() if abs(place.latitude_deg) <= 90.0}


def refuse_slips(file: str, asked: Site, recorded: Site) -> None:
    """A scenario's site that is the recorded one but for a slip, or in the other hemisphere, is refused."""
    for slip, place in other_places(asked).items():
        if away_deg(place, recorded) < SAME_DEG <= away_deg(asked, recorded):
            raise InputError(file, "site", _named(asked), f"a place near {_named(recorded)}; it seems that {slip}")
    apart = asked.latitude_deg * recorded.latitude_deg < 0.0
    if apart and abs(asked.latitude_deg - recorded.latitude_deg) > 2.0 * TROPIC_DEG:
        allowed = f"the hemisphere of the weather, which is of {recorded.latitude_deg:g}; the seasons would be turned"
        raise InputError(file, "site.latitude_deg", asked.latitude_deg, allowed)


def away_deg(one: Site, other: Site) -> float:
    """How far apart two sites are, degrees of latitude or longitude."""
    return max(abs(one.latitude_deg - other.latitude_deg), abs(one.longitude_deg - other.longitude_deg))


def _named(site: Site) -> str:
    """A place in words.

    >>> from sim.weather.weather import Site
    >>> _named(Site(36.1, -79.95, 273.0, -5.0))
    'latitude 36.10, longitude -79.95'
    """
    return f"latitude {site.latitude_deg:.2f}, longitude {site.longitude_deg:.2f}"


def fitting_clock(error_min: float, site: Site) -> str:
    """What would make the clock fit, in words, when the light comes ``error_min`` after the sun.

    >>> from sim.weather.weather import Site
    >>> fitting_clock(31.0, Site(23.0, 72.6, 49.0, 5.0))
    'utc_offset_h = 5.5 under [site] fits the light'
    >>> fitting_clock(640.0, Site(36.1, 79.95, 273.0, -5.0))
    'what fits: the longitude with the other sign, or utc_offset_h with the other sign'
    """
    latitude, longitude = site.latitude_deg, site.longitude_deg
    slips = {
        "the longitude with the other sign": -2.0 * MINUTES_A_DEGREE * longitude,
        "utc_offset_h with the other sign": 2.0 * MINUTES_AN_HOUR * site.utc_offset_h,
        "latitude and longitude in each other's place": MINUTES_A_DEGREE * (latitude - longitude),
    }
    left = {
        slip: abs((error_min + moved + HALF_DAY_MIN) % (2.0 * HALF_DAY_MIN) - HALF_DAY_MIN)
        for slip, moved in slips.items()
    }
    fitting = [slip for slip, minutes in left.items() if minutes < CLOCK_FITS_MIN <= 0.5 * abs(error_min)]
    return f"what fits: {', or '.join(fitting)}" if fitting else _offset(error_min, site)


def _offset(error_min: float, site: Site) -> str:
    """The clock that fits, in words."""
    offset = site.utc_offset_h + round(error_min / MINUTES_AN_HOUR * QUARTERS) / QUARTERS
    inside = OFFSETS_H[0] <= offset <= OFFSETS_H[1]
    return f"utc_offset_h = {offset:g} under [site] fits the light" if inside else "no clock on Earth fits the light"


def refuse_hemisphere(file: str, ghi: np.ndarray, sun: Sun, year: int, site: Site) -> None:
    """Light whose clear days are too clear in one season and too dull in the other, and fit the other hemisphere."""
    here = unevenness(ghi, sun)
    if here < UNEVEN or abs(site.latitude_deg) < TROPIC_DEG:
        return
    slip = slip_of_light(ghi, year, site, BETTER * here)
    if slip:
        allowed = f"a place whose sun fits the light; it seems that {slip}"
        raise InputError(file, "site", _named(site), allowed)


def slip_of_light(ghi: np.ndarray, year: int, site: Site, below: float) -> str:
    """The slip that makes months as even as asked for by latitude; empty if none does."""
    latitudes = {slip: place.latitude_deg for slip, place in other_places(site).items()}
    elsewhere = {slip: site._replace(latitude_deg=degrees) for slip, degrees in latitudes.items()}
    fitting = (slip for slip, place in elsewhere.items() if unevenness(ghi, sun_of_year(year, place)) < below)
    return next(fitting, "")


def unevenness(ghi: np.ndarray, sun: Sun) -> float:
    """Clearness of the clearest day of a month, the most over the least of the months; those of low sun left out.

    >>> import numpy as np
    >>> from sim.weather.samples import read_sample
    >>> from sim.weather.sun import sun_of_year
    >>> table, _, site = read_sample("piedmont")
    >>> unevenness(table["ghi"].to_numpy(), sun_of_year(2001, site)) < 1.35
    True
    """
    light, above = (hours.reshape(-1, DAY_H).sum(axis=1) for hours in (ghi, sun.extra_horizontal_wm2))
    month = np.repeat(np.arange(12), month_days(len(ghi) > hours_of(2001)))
    sums = np.bincount(month, above)
    bright = [k for k in range(12) if sums[k] > LOW_SUN_SHARE * sums.max()]
    clearness = np.divide(light, above, out=np.zeros(len(light)), where=above > 0.0)
    clearest = [clearness[month == k].max() for k in bright]
    return float(max(clearest) / max(min(clearest), 1e-3))
