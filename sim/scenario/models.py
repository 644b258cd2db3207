"""The sections of a scenario as frozen values: each field with its unit in the name, its range and its default.

The description of a field says what is allowed, in the words that a message uses. Fields without a default that may
still be left out of a file are filled from the other sections (``defaults.py``).
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal, Self, get_args

from pydantic import AfterValidator, BeforeValidator, Field, Strict, field_validator

from sim.calendar import WHOLE_DAY, window_s, without
from sim.catalogue import chemistries
from sim.catalogue.cells import charge_release_c
from sim.catalogue.controllers import KINDS, Kind, OnRefusal
from sim.language import Language
from sim.scenario.cables import BatteryCable, Cable, Extension, PumpCable
from sim.scenario.care import Care
from sim.scenario.choice import Alternative, Cost
from sim.scenario.fields import (
    REQUIRED,
    DayHours,
    Line,
    Section,
    Window,
    above,
    between,
    field,
    listed,
    monthly,
    one_of,
    twelve,
    whole,
)
from sim.scenario.log import SiteLog
from sim.scenario.shade import Shade
from sim.scenario.size import Size
from sim.scenario.water import CURVE_WORDS, Curve, Water, checked_curve
from sim.scenario.weather import Weather
from sim.units import System

HEIGHTS_M = (-430.0, 9000.0)  # from the lowest shore to above the highest peak
_BOX_LAG_H = {"shaded": 4.0, "sunny": 3.0}  # our own defaults
_BOX_GAIN_C = {"shaded": 0.0, "sunny": 12.0}  # at 1000 W/m²; our own defaults
_PLACE_MIN_C, _HEATER_W = 5.0, 30.0  # of a place without frost, and of a heater for a box; our own defaults
_HALVES_UP_TO = 40  # cells of a panel with two bypassed strings, larger ones have three; common practice, no source
NOMINAL_V = (12, 24)
_CELL_VOC_V = 0.61  # at open circuit, to guess the number of cells; common practice, no source


class Site(Section):
    """Where the panel stands; what is None comes from the weather data."""

    latitude_deg: float | None = between(-90, 90, None)
    longitude_deg: float | None = between(-180, 180, None)
    elevation_m: float | None = between(*HEIGHTS_M, None)
    utc_offset_h: float | None = between(-12, 14, None, says="ahead of UTC")
    record_low_c: float | None = between(
        -80, 40, None, says="record low of the air", unset="the coldest hour of all years of the weather data"
    )
    albedo: float = between(0, 0.9, 0.2)


class Panel(Section):
    """Label figures of one panel, how many there are, and how they stand; an azimuth of None is the equator's side."""

    power_w: float = above(0, 5000, says="rated power")
    vmp_v: float = above(0, 1000, says="voltage at maximum power (Vmp)")
    imp_a: float = above(0, 100, says="current at maximum power (Imp)")
    voc_v: float = above(0, 1000, says="open-circuit voltage (Voc)")
    isc_a: float = above(0, 100, says="short-circuit current (Isc)")
    cells: int = whole(1, 200, lambda label: min(max(round(label["voc_v"] / _CELL_VOC_V), 1), 200))
    bypass_strings: int = whole(1, 12, lambda label: 2 if label["cells"] <= _HALVES_UP_TO else 3)
    count: int = whole(1, 100, 1)
    series: int = whole(1, 10, 1)
    tilt_deg: float = between(0, 90, 30.0)
    azimuth_deg: float | None = between(0, 360, None)
    mounting: Literal["open", "roof", "flush"] = "open"
    soiling: float = between(0, 0.9, 0.03, says="share lost to dirt")
    mismatch_and_ageing: float = between(0, 0.5, 0.03, says="share lost to mismatch and ageing")
    isc_temperature_pct_c: float = between(-0.1, 0.2, 0.05, says="temperature coefficient of Isc")
    voc_temperature_pct_c: float = between(-0.6, 0, -0.30, says="temperature coefficient of Voc")
    shade: Annotated[tuple[Shade, ...], Strict(False)] = field((), "tables headed [[panel.shade]], one a tree or wall")
    cable: Cable = field(Cable(), says="Cable, panel to controller")


class Controller(Section):
    """The charge controller: how it charges, when it switches the load, what it uses itself."""

    kind: Kind = field("pwm", says="kind of controller")
    absorption_v: float = above(0, 60)
    float_v: float = above(0, 60)
    recharge_below_v: float = above(0, 60, says="a charge begins anew below")
    compensation_mv_c: float = between(-30, 0, says="temperature compensation for each cell of 2 V")
    absorption_h: float = between(0, 24, 2.0, says="longest absorption")
    charge_ends_a: float = between(0, 5000, says="a charge ends at")
    load_disconnect_v: float = above(0, 60)
    load_reconnect_v: float = above(0, 60)
    disconnect_delay_s: float = between(0, 3600, 30.0)
    reconnect_delay_s: float = between(0, 86400, 120.0)
    reading_error_v: float = between(-1, 1, 0.0, says="error of the controller's reading")
    load_mode: Literal["always", "daylight", "clock", "after-dusk"] = "always"
    hours_after_dusk: float = between(0, 24, 4.0)
    equalise_v: float = above(0, 60)
    equalise_h: float = between(0, 24, 2.0)
    equalise_every_days: int = whole(0, 366, says="days between equalisations (0: never)")
    load_windows: Annotated[tuple[Window, ...], Strict(False)] = field((), 'pairs of times: [["08:00", "18:00"]]')
    own_current_a: float = between(0, 1, lambda before: KINDS[before["kind"]].own_current_a)
    series_drop_v: float = between(0, 1.5, 0.2)
    efficiency: float = between(0.5, 1, 0.95)
    max_charge_a: float = above(0, 20000)
    max_pv_v: float | None = above(0, 2000, None, says="highest panel voltage it bears", unset="not stated")
    max_load_a: float = above(0, 20000)
    on_refusal: OnRefusal = field(
        lambda before: KINDS[before["kind"]].on_refusal,
        '"pulses" or "holds" or "cuts-load"',
        says="when the battery takes no charge, it",
    )

    @property
    def tracks(self) -> bool:
        """Whether it looks for the panel's best voltage."""
        return KINDS[self.kind].tracks

    @property
    def load_windows_s(self) -> tuple[tuple[float, float], ...]:
        """Starts and ends in seconds from midnight; an end before its start lies on the next day."""
        return tuple(map(window_s, self.load_windows))


class Battery(Section):
    """The battery: chemistry, size, and the resistance that was measured, if it was."""

    chemistry: str = field("lfp", listed(chemistries()))
    capacity_ah: float = above(0, 5000)
    nominal_v: Literal[12, 24] = 12
    resistance_mohm: float | None = above(0, 10000, None, unset="from the catalogue")
    initial_soc: float | None = between(
        0, 1, None, says="charge at the start of the year", unset="the one that the year itself leaves"
    )
    box: Literal["shaded", "sunny"] = "shaded"
    box_lag_h: float = between(0.1, 72, lambda before: _BOX_LAG_H[before["box"]], says="lag of the box behind the air")
    box_solar_gain_c: float = between(
        0, 40, lambda before: _BOX_GAIN_C[before["box"]], says="warming of the box at 1000 W/m²"
    )
    place: Literal["outdoors", "frost-free", "heated"] = "outdoors"
    place_min_c: float | None = between(
        -30,
        30,
        lambda before: None if before["place"] == "outdoors" else _PLACE_MIN_C,
        says="kept at no less than",
        unset="not kept warm",
    )
    heater_w: float | None = above(
        0,
        1000,
        lambda before: _HEATER_W if before["place"] == "heated" else None,
        says="power of its heater",
        unset="none",
    )
    charge_release_c: float | None = between(
        0,
        30,
        lambda before: charge_release_c(before["chemistry"]),
        says="takes charge again after frost from",
        unset="no lock for frost",
    )
    cable: BatteryCable = field(BatteryCable(), says="Cable, battery to controller")

    @field_validator("chemistry")
    @classmethod
    def _is_in_catalogue(cls, name: str) -> str:
        return one_of(chemistries(), name)


class Pump(Section):
    """The pump: rated power and curve at its rated voltage, and how it takes other voltages."""

    power_w: float = above(0, 2000, says="rated power")
    at_v: float = between(3, 60, says="rated voltage")
    supply: Literal["regulated", "direct"] = "regulated"
    min_v: float = above(0, 100, lambda before: 0.75 * before["at_v"])
    max_v: float = above(0, 100, lambda before: 1.25 * before["at_v"])
    start_v: float = above(0, 100, lambda before: min(1.05 * before["min_v"], before["max_v"]))
    start_current_factor: float = between(1, 10, 2.5)
    curve: Annotated[Curve, Strict(False), AfterValidator(checked_curve)] | None = field(
        None, CURVE_WORDS, says="curve, flow and head", unset="none"
    )
    label_flow_lph: float | None = above(0, 1e6, None, says="flow on its box", unset="the curve's largest")
    cable: PumpCable = field(PumpCable(), says="Cable, controller to pump")
    extension: Extension | None = field(None, says="Extension lead to the pump")


class Need(Section):
    """How long the water should run, when, and which stop is too long."""

    hours_per_day: Annotated[tuple[DayHours, ...], Strict(False), BeforeValidator(twelve)] = monthly(0, 24, 8.0)
    between: Window = field(WHOLE_DAY, 'a pair of times: ["07:00", "19:00"]', says="wanted between")
    longest_stop_h: float = above(0, 8784, 12.0, says="longest stop allowed")
    quiet: Window | None = field(None, 'a pair of times: ["22:00", "06:00"]', says="quiet between", unset="never")

    @property
    def between_s(self) -> tuple[float, float]:
        """Start and end in seconds from midnight; an end before its start lies on the next day."""
        return window_s(self.between)


class Report(Section):
    """How reports are read; scenario, JSON and CSV stay as they are."""

    units: System = field("metric", listed(get_args(System)))
    language: Language = field("en", listed(get_args(Language)))


class Scenario(Section):
    """A whole system at a place; two that say the same are equal wherever they were read."""

    title: Line = field("Untitled pond", "text of 1 to 300 characters", min_length=1, max_length=300)
    site: Site
    weather: Weather
    battery: Battery
    panel: Panel
    pump: Pump
    controller: Controller
    need: Need = field(REQUIRED, says="What is wanted")
    care: Care
    cost: Cost = field(REQUIRED, says="Prices")
    alternative: Annotated[tuple[Alternative, ...], Strict(False)] = field(
        (), "tables headed [[alternative]], one a design"
    )
    water: Water | None = None
    size: Size | None = field(None, says="What may be bought")
    report: Report = field(Report(), says="Reports")
    log: SiteLog | None = field(None, says="Log from site")
    path: Path = Field(exclude=True)

    @property
    def name(self) -> str:
        """The scenario's file name without its ending."""
        return self.path.stem

    @property
    def load_windows_s(self) -> tuple[tuple[float, float], ...] | None:
        """When the load may run by the clock, in seconds from midnight, quiet hours left out; None: at any time."""
        timer, quiet = self.controller.load_windows, self.need.quiet
        if quiet is None:
            return self.controller.load_windows_s if timer else None
        return without(timer or (WHOLE_DAY,), quiet)

    def but(self, **changes: Mapping[str, Any]) -> Self:
        """The same with other values in the parts that are named; nothing is checked again."""
        return self.model_copy(update={name: getattr(self, name).model_copy(update=it) for name, it in changes.items()})

    def __eq__(self, other: object) -> bool:
        """Whether all but the path is the same."""
        return isinstance(other, Scenario) and self.model_dump() == other.model_dump()

    def __hash__(self) -> int:
        """Equal scenarios share it."""
        return hash(tuple(getattr(self, name) for name in Scenario.model_fields if name != "path"))
