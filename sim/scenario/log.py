"""The log section of a scenario: which column of a log from site is what."""

from typing import ClassVar

from sim.scenario.fields import REQUIRED, Section, between, field, listed
from sim.scenario.weather import Column, Texts
from sim.units import AMPS, SWITCHED, VOLTS, Unit


class VoltColumn(Column):
    """A column of voltages."""

    units: ClassVar[dict[str, Unit]] = VOLTS
    unit: str = field("V", listed(VOLTS))


class AmpColumn(Column):
    """A column of currents."""

    units: ClassVar[dict[str, Unit]] = AMPS
    unit: str = field("A", listed(AMPS))


class PumpColumn(Column):
    """A column that says when the pump ran: on and off, or the share of the time since the reading before."""

    units: ClassVar[dict[str, Unit]] = SWITCHED
    unit: str = field("share", listed(SWITCHED))


class LogColumns(Section):
    """What the columns of a log are, and how its stamps are written."""

    time: Texts = field(REQUIRED, "the heading of the column of stamps, or a list of headings that make one together")
    time_format: str | None = field(
        None, 'how the stamps are written, such as "%d.%m.%Y %H:%M"', min_length=2, unset="told by the stamps"
    )
    utc_offset_h: float | None = between(-12, 14, None, says="ahead of UTC", unset="the site's")
    voltage: VoltColumn = field(REQUIRED, says="voltage at the controller's battery terminals")
    battery_current: AmpColumn | None = field(None, says="current into the battery", unset="none")
    charge_current: AmpColumn | None = field(None, says="current from the panel", unset="none")
    load_current: AmpColumn | None = field(None, says="current to the pump", unset="none")
    pump: PumpColumn | None = field(None, says="when the pump ran", unset="none")
    light: Column | None = field(None, says="light on the panel", unset="none")


class SiteLog(Section):
    """How a log from site is read."""

    columns: LogColumns | None = field(None, says="Columns of the log")
