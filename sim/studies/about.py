"""What a result is about: the head of every JSON document."""

from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as version_of
from pathlib import Path
from typing import Any

from sim.scenario import Scenario


def version() -> str:
    """The installed version."""
    try:
        return version_of("sunrill")
    except PackageNotFoundError:
        return "(not installed)"


def weather_in_words(scenario: Scenario) -> str:
    """Where a scenario's weather comes from.

    >>> from sim.scenario import load
    >>> weather_in_words(load("scenarios/courtyard.toml"))
    'bundled sample "piedmont", dated 2001'
    """
    asked = scenario.weather
    if asked.coarse:
        return asked.coarse
    if asked.monthly:
        return f"made from twelve monthly means, seed {asked.monthly.seed}, dated {asked.year}"
    if asked.sample:
        return f'bundled sample "{asked.sample}", dated {asked.year}'
    return f"{', '.join(asked.named_files.values())}, dated {asked.year}"


def about(command: str, path: Path | str | None, title: str, weather: str) -> dict[str, Any]:
    """The head of a document: command, version, the scenario's path as given, its title, its weather in words."""
    return {
        "command": command,
        "version": version(),
        "scenario": None if path is None else str(path),
        "title": title,
        "weather": weather,
    }
