"""The clock of a place: its time zone by coordinates, without a network, and the zone's standard offset."""

import datetime
from zoneinfo import ZoneInfo


def zone_at(latitude_deg: float, longitude_deg: float) -> str:
    """The name of a place's time zone; at sea one of whole hours.

    >>> zone_at(19.08, 72.88), zone_at(-40.0, -150.0)
    ('Asia/Kolkata', 'Etc/GMT+10')
    """
    from tzfpy import get_tz

    return get_tz(longitude_deg, latitude_deg) or f"Etc/GMT{-round(longitude_deg / 15.0):+d}"


def standard_offset_h(zone_name: str, year: int) -> float:
    """Hours by which a zone's clock is ahead of UTC without daylight saving: the smaller of January's and July's.

    What the zone itself calls daylight saving does not tell: in Dublin that is the winter.

    >>> standard_offset_h("Europe/Dublin", 2019), standard_offset_h("Australia/Sydney", 2019)
    (0.0, 10.0)
    """
    zone = ZoneInfo(zone_name)
    seasons = [datetime.datetime(year, month, 1, tzinfo=zone).utcoffset() for month in (1, 7)]
    return min(offset.total_seconds() for offset in seasons if offset is not None) / 3600.0


def offset_at(latitude_deg: float, longitude_deg: float, year: int) -> float:
    """Hours by which the standard time of a place is ahead of UTC in a year.

    >>> offset_at(27.7, 85.3, 2019), offset_at(53.3, -6.3, 2019)
    (5.75, 0.0)
    """
    return standard_offset_h(zone_at(latitude_deg, longitude_deg), year)
