"""The tables that come with the package, each with its sources beside the figures."""

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, TypedDict, cast

ROOM = Path(__file__).parent
CHEMISTRIES = ROOM / "chemistries"


class Chemistry(TypedDict):
    """What a file of the catalogue says of a battery chemistry; voltages are per 12 V of battery."""

    words: str
    equalise_every_days: int  # 0 where equalising would harm it
    cell: dict[str, Any]  # how it behaves
    controller: dict[str, float]  # a controller's settings
    limits: dict[str, float]  # and what they may be
    study: dict[str, float]  # what the study of pairs tries


@cache
def chemistries() -> dict[str, Chemistry]:
    """Every battery chemistry by its name, which is its file's.

    >>> chemistries()["lfp"]["controller"]["absorption_v"]
    14.4
    """
    files = sorted(CHEMISTRIES.glob("*.toml"))
    return {path.stem: cast(Chemistry, tomllib.loads(path.read_text(encoding="utf-8"))) for path in files}


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
