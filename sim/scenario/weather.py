"""The weather section of a scenario: which data, which year, and which column of a table is what."""

import os
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BeforeValidator, Field, Strict, ValidationInfo, field_validator

from sim.catalogue import sample_names
from sim.catalogue.doubts import DOUBTS
from sim.errors import InputError
from sim.scenario.fields import REQUIRED, Section, between, field, listed, one_of, whole
from sim.scenario.monthly import Monthly
from sim.units import AIR, LIGHT, WIND, Unit


def _several(value: Any) -> Any:
    """One text stands for a list of one."""
    return (value,) if isinstance(value, str) else value


Text = Annotated[str, Field(min_length=1)]
Texts = Annotated[tuple[Text, ...], Strict(False), BeforeValidator(_several)]


def existing(scenario: Path, key: str, name: str) -> Path:
    """Where a weather file of a scenario is; InputError if there is none."""
    path = scenario.parent / name
    if not os.path.isfile(path):  # also where a folder on the way may not be looked into
        raise InputError(str(scenario), f"weather.{key}", name, f"an existing file; looked for {path}")
    return path


class Column(Section):
    """A column of a table: its heading and the unit of its figures."""

    units: ClassVar[dict[str, Unit]] = LIGHT
    column: str = field(REQUIRED, "the heading of a column", min_length=1)
    unit: str = field(REQUIRED, listed(LIGHT))

    @field_validator("unit")
    @classmethod
    def _is_known(cls, name: str) -> str:
        return one_of(cls.units, name)


class AirColumn(Column):
    """A column of temperatures."""

    units: ClassVar[dict[str, Unit]] = AIR
    unit: str = field(REQUIRED, listed(AIR))


class WindColumn(Column):
    """A column of wind speeds."""

    units: ClassVar[dict[str, Unit]] = WIND
    unit: str = field(REQUIRED, listed(WIND))


class Columns(Section):
    """What the columns of a plain table are, and what its stamps mean."""

    time: Texts = field(REQUIRED, "the heading of the column of stamps, or a list of headings that make one together")
    stamp: Literal["hour-start", "hour-middle", "hour-end"]
    time_format: str | None = field(
        None, 'how the stamps are written, such as "%d.%m.%Y %H:%M"', min_length=2, unset="told by the stamps"
    )
    utc_offset_h: float | None = between(-12, 14, None, says="ahead of UTC")
    time_zone: str | None = field(None, 'the name of a time zone, such as "Europe/Lisbon"', unset="none")
    ghi: Column = field(REQUIRED, says="global light")
    dni: Column | None = field(None, says="beam", unset="worked out")
    dhi: Column | None = field(None, says="diffuse light", unset="worked out")
    temp_air: AirColumn = field(REQUIRED, says="air temperature")
    wind_speed: WindColumn | None = field(None, unset="none")

    @field_validator("time_zone")
    @classmethod
    def _is_zone(cls, name: str | None, info: ValidationInfo) -> str | None:
        if name is not None and info.data.get("utc_offset_h") is not None:
            raise ValueError("nothing beside utc_offset_h: the stamps follow one clock")
        try:
            return name and ZoneInfo(name).key
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise ValueError('the name of a time zone, such as "Europe/Lisbon"') from None


class Weather(Section):
    """Where the weather is from (files, a sample, or monthly means to make a year from), and its year.

    ``accept`` names doubts about the data that are known to be no faults.
    ``year`` is the one that the hours are dated in or, where the data hold several, the one that is taken.
    """

    file: str | None = field(None, "the path of a weather file, relative to the scenario", min_length=1, unset="none")
    files: Texts | None = field(
        None, "a list of paths of weather files, relative to the scenario", min_length=1, unset="none"
    )
    sample: str | None = field(None, listed(sample_names()), unset="none")
    columns: Columns | None = field(None, says="Columns of the weather table")
    monthly: Monthly | None = field(None, says="Monthly means")
    year: int = whole(1950, 2100, 2001)
    sky: Literal["hay-davies", "perez"] = "hay-davies"
    accept: Texts = field((), f"a list of doubts, each {listed(DOUBTS)}")

    @field_validator("sample")
    @classmethod
    def _is_bundled(cls, name: str) -> str:
        return one_of(sample_names(), name)

    @field_validator("accept")
    @classmethod
    def _are_doubts(cls, names: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(one_of(DOUBTS, name) for name in names)

    @property
    def sources(self) -> tuple[str, ...]:
        """The keys that say where the weather comes from, those that are written."""
        return tuple(name for name in ("file", "files", "sample", "monthly") if getattr(self, name) is not None)

    @property
    def named_files(self) -> dict[str, str]:
        """The weather files by the keys that name them."""
        alone = {"file": self.file} if self.file else {}
        return alone | {f"files[{place}]": name for place, name in enumerate(self.files or ())}

    @property
    def coarse(self) -> str:
        """How coarse the weather is, in words, where it is only known to be coarse; else empty."""
        return self.monthly.coarse if self.monthly else ""
