"""Pages and their sections: every report is a page, and its table of contents is made of its sections."""

from collections.abc import Iterable
from dataclasses import dataclass

from sim.weather.weather import Doubt, Weather, place_of


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it.

    ``key`` is unique in a page and part of its address; ``part`` is what the template ``<template>.html.j2`` places:
    for ``blocks`` a tuple of the blocks in ``blocks.py``, for a template of its own any frozen value in words.
    """

    key: str
    title: str
    part: object
    template: str = "blocks"


@dataclass(frozen=True)
class Page:
    """A report: what kind it is, of which system and where, and what is doubtful about its weather.

    Its first section comes before the table of contents.
    """

    kind: str
    title: str
    place: str
    sections: tuple[Section, ...]
    doubts: tuple[Doubt, ...] = ()


def page_on(weather: Weather, kind: str, title: str, sections: Iterable[Section | None]) -> Page:
    """A page that rests on a year of weather; a section that is None is left out."""
    return Page(kind, title, place_of(weather), tuple(one for one in sections if one), weather.doubts)
