"""A section of the year's report: its place in the table of contents, its template, and what that template places."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Section:
    """A heading with what stands under it.

    ``key`` is unique in a page and part of its address; ``part`` is a frozen value with every number already in words,
    which the template ``sections/<template>.html.j2`` finds under the name ``part``.
    """

    key: str
    title: str
    template: str
    part: object
