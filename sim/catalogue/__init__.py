"""The tables that come with the package, each with its sources beside the figures."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path

ROOM = Path(__file__).parent


@cache
def chemistries() -> dict[str, dict[str, dict[str, float]]]:
    """What a controller's settings are and may be, by battery chemistry, in V per 12 V of battery.

    >>> chemistries()["lfp"]["controller"]["absorption_v"]
    14.4
    """
    return tomllib.loads((ROOM / "chemistries.toml").read_text(encoding="utf-8"))


@cache
def sample_names() -> tuple[str, ...]:
    """The names of the weather years that come with the package.

    >>> sample_names()
    ('aleutian', 'piedmont', 'subtropic')
    """
    return tuple(sorted(path.name.split(".")[0] for path in (ROOM / "weather").glob("*.csv.gz")))


def template() -> str:
    """A commented scenario that runs as it is.

    >>> template().count("[battery]")
    1
    """
    return (ROOM / "template.toml").read_text(encoding="utf-8")
