"""Units: those that a table of weather may come in, and those in which reports are read.

The program works in SI, and so do scenarios, JSON and CSV. A report is read in one system, which ``in_units`` sets for
as long as the report is made. ``READ`` is the only table of units for readers. It is our own: what a library for units
would bring, which is arithmetic with them, is not needed here, and what is needed, which is digits and wire gauges, it
does not have.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Literal, NamedTuple, Self

from sim.language import ENGLISH, digits, say, speaking
from sim.words import figure, number


class Unit(NamedTuple):
    """A figure becomes ``(figure + shift)·factor``."""

    factor: float
    shift: float = 0.0


LIGHT = {
    "W/m2": Unit(1.0),
    "Wh/m2": Unit(1.0),  # in one hour
    "kW/m2": Unit(1000.0),
    "kWh/m2": Unit(1000.0),
    "J/m2": Unit(1.0 / 3600.0),
    "J/cm2": Unit(1e4 / 3600.0),
    "kJ/m2": Unit(1e3 / 3600.0),
    "MJ/m2": Unit(1e6 / 3600.0),
}
FAHRENHEITS, FREEZING_F = 1.8, 32.0  # in one degree Celsius, and where water freezes
AIR = {"C": Unit(1.0), "K": Unit(1.0, -273.15), "F": Unit(1.0 / FAHRENHEITS, -FREEZING_F)}
WIND = {"m/s": Unit(1.0), "km/h": Unit(1.0 / 3.6), "mph": Unit(0.44704), "kn": Unit(1852.0 / 3600.0)}
VOLTS, AMPS = {"V": Unit(1.0), "mV": Unit(0.001)}, {"A": Unit(1.0), "mA": Unit(0.001)}
SWITCHED = {"share": Unit(1.0), "%": Unit(0.01)}
UNITS = {**dict.fromkeys(("ghi", "dni", "dhi"), LIGHT), "temp_air": AIR, "wind_speed": WIND}

System = Literal["metric", "us"]
FOOT_M, INCH_CM, GALLON_L = 0.3048, 2.54, 3.785411784  # exact: NIST SP 811, appendix B.8; the gallon is the US one
ROUNDED = 9.95  # from here on a figure does without the decimals that only small ones need
DIGITS = 3  # of a converted figure that was written as it stands, at least


class Shown(NamedTuple):
    """A unit as its readers write it, short and in full: an SI figure becomes ``figure·factor + shift``.

    ``finer`` is how many decimals more the figure needs to be as sharp, while it is small.
    """

    sign: str
    full: str
    factor: float = 1.0
    shift: float = 0.0
    finer: int = 0


# By the ending that names the unit in a key. Light and energy are W/m² and kWh in both: so is the trade everywhere.
READ: dict[str, dict[System, Shown]] = {
    "m": {"metric": Shown("m", "metres"), "us": Shown("ft", "feet", 1.0 / FOOT_M)},
    "cm": {"metric": Shown("cm", "centimetres"), "us": Shown("inches", "inches", 1.0 / INCH_CM, finer=1)},
    "mm": {"metric": Shown("mm", "millimetres"), "us": Shown("inches", "inches", 0.1 / INCH_CM, finer=2)},
    "mm_per_day": {
        "metric": Shown("mm a day", "millimetres a day"),
        "us": Shown("inches a day", "inches a day", 0.1 / INCH_CM, finer=2),
    },
    "m2": {"metric": Shown("m²", "square metres"), "us": Shown("sq ft", "square feet", FOOT_M**-2)},
    "m3": {"metric": Shown("m³", "cubic metres"), "us": Shown("gal", "gallons", 1000.0 / GALLON_L, finer=-2)},
    "l": {"metric": Shown("l", "litres"), "us": Shown("gal", "gallons", 1.0 / GALLON_L, finer=1)},
    "lph": {
        "metric": Shown("l/h", "litres per hour"),
        "us": Shown("gal/h", "gallons per hour", 1.0 / GALLON_L, finer=1),
    },
    "m_s": {"metric": Shown("m/s", "metres per second"), "us": Shown("ft/s", "feet per second", 1.0 / FOOT_M)},
    "c": {
        "metric": Shown("°C", "degrees Celsius"),
        "us": Shown("°F", "degrees Fahrenheit", FAHRENHEITS, FREEZING_F),
    },
    "gain_c": {"metric": Shown("°C", "degrees Celsius"), "us": Shown("°F", "degrees Fahrenheit", FAHRENHEITS)},
    "k": {"metric": Shown("K", "kelvins"), "us": Shown("°F", "degrees Fahrenheit", FAHRENHEITS)},
    "pct_c": {
        "metric": Shown("%/°C", "per cent per degree"),
        "us": Shown("%/°F", "per cent per degree", 1.0 / FAHRENHEITS),
    },
    "mv_c": {
        "metric": Shown("mV/°C", "millivolts per degree"),
        "us": Shown("mV/°F", "millivolts per degree", 1.0 / FAHRENHEITS),
    },
    "per_m3": {
        "metric": Shown("per m³", "a cubic metre"),
        "us": Shown("per 1000 gal", "a thousand gallons", GALLON_L),
    },
    "mg_l": {"metric": Shown("mg/L", "milligrams per litre"), "us": Shown("ppm", "parts per million")},
    "lph_cm": {
        "metric": Shown("l/h for each centimetre", "litres per hour for each centimetre"),
        "us": Shown("gal/h for each inch", "gallons per hour for each inch", INCH_CM / GALLON_L),
    },
}
_ENDINGS = sorted((*READ, "kwh_m2"), key=len, reverse=True)
_system: ContextVar[System] = ContextVar("units", default="metric")


@contextmanager
def in_units(system: System) -> Iterator[None]:
    """Whatever is put into words meanwhile, by this thread, is in the units of a system; then it is as before.

    >>> with in_units("us"):
    ...     said = str(Quantity(3.0, "m", ".2f"))
    >>> said, str(Quantity(3.0, "m", ".2f"))
    ('9.84 ft', '3.00 m')
    """
    before = _system.set(system)
    try:
        yield
    finally:
        _system.reset(before)


def system() -> System:
    """The system in which figures are put into words now."""
    return _system.get()


def _shown(unit: str) -> Shown:
    return READ[unit][_system.get()]


def unit_in(key: str) -> str:
    """The unit that the ending of a key names; empty where it is none that some readers see otherwise.

    >>> unit_in("static_head_m"), unit_in("target_lph"), unit_in("voc_v")
    ('m', 'lph', '')
    """
    ending = next((unit for unit in _ENDINGS if key.endswith(f"_{unit}")), "")
    return ending if ending in READ else ""


def sign(unit: str) -> str:
    """How a unit is written now.

    >>> sign("lph"), sign("c")
    ('l/h', '°C')
    """
    return _shown(unit).sign


def in_full(unit: str) -> str:
    """The words for a unit.

    >>> in_full("lph")
    'litres per hour'
    """
    return _shown(unit).full


def converted(values: Any, unit: str) -> Any:
    """SI figures, a number or an array, as they are read now.

    >>> with in_units("us"):
    ...     converted(100.0, "c")
    212.0
    """
    shown = _shown(unit)
    return values * shown.factor + shown.shift


@dataclass(frozen=True)
class Quantity:
    """An SI figure with its unit, which puts itself into words: in a format, or with a decimal below ten.

    >>> f"{Quantity(1234.0, 'lph')}", f"{Quantity(-2.26, 'c', '.1f')}", Quantity(1.5, "m", "g").bare
    ('1,234 l/h', '−2.3 °C', '1.5')
    """

    value: float
    unit: str
    form: str = ""

    @property
    def bare(self) -> str:
        """The figure without its unit."""
        shown, value = _shown(self.unit), converted(float(self.value), self.unit)
        if _system.get() == "metric":
            return in_form(value, self.form)
        return (
            _as_sharp(self.value, self.form)(value)
            if self.form.endswith("g")
            else in_form(value, self.form, shown.finer)
        )

    def __str__(self) -> str:
        """The figure and its unit."""
        return f"{self.bare} {sign(self.unit)}"

    def __format__(self, form: str) -> str:
        """The same within a sentence."""
        return str(self)


@dataclass(frozen=True)
class Several:
    """Figures of one unit, which stands behind the last of them.

    >>> f"{Several((Quantity(6.0, 'mm', 'g'), Quantity(13.0, 'mm', 'g'), Quantity(25.0, 'mm', 'g')))}"
    '6, 13 and 25 mm'
    """

    items: tuple[Quantity, ...]

    def __str__(self) -> str:
        """The figures in a row."""
        *before, last = self.items
        return f"{', '.join(one.bare for one in before)} and {last}"


def in_form(value: float, form: str, finer: int = 0) -> str:
    """A figure in a format; ``finer`` decimals more while it is small, one less than that from ten on.

    >>> in_form(13.0, ".0f"), in_form(0.512, ".0f", 2), in_form(31.4961, ".0f", 2), in_form(325989.0, ",.0f", -2)
    ('13', '0.51', '31.5', '326,000')
    """
    if not form and (not finer or value == 0.0):
        return number(value)
    if form.endswith("g"):
        return figure(value, form)
    places = int(form.strip(",.f") or "0") if form else int(abs(value) < ROUNDED)
    places += finer if finer <= 0 or abs(value) < ROUNDED else finer - 1
    return figure(round(value, places), f"{',' if ',' in form or not form else ''}.{max(places, 0)}f")


def _as_sharp(si_value: float, form: str) -> Callable[[float], str]:
    """What writes a converted figure with as many digits as the SI figure was written with, three at least."""
    digits = max(DIGITS, len(f"{abs(si_value):{form}}".split("e")[0].replace(".", "").strip("0")))

    def written(value: float) -> str:
        places = digits - 1 - math.floor(math.log10(abs(value))) if value else 0
        said = figure(round(value, places), f".{max(places, 0)}f")
        return said.rstrip("0").rstrip(".") if "." in said else said

    return written


class Sentence(str):
    """A sentence that knows its figures, so that it can be told again in other units.

    As text it is in SI; within an f-string or a template of a page it is in the units of now.

    >>> said = Sentence("It reaches {reach}.", {"reach": Quantity(2.0, "m", ".1f")})
    >>> with in_units("us"):
    ...     print(said, told(said))
    It reaches 2.0 m. It reaches 6.6 ft.
    """

    template: str
    parts: Mapping[str, Any]

    def __new__(cls, template: str, parts: Mapping[str, Any]) -> Self:
        """The sentence of a template with named places for its parts."""
        with in_units("metric"), speaking(ENGLISH):
            made = super().__new__(cls, template.format(**_told(parts)))
        made.template, made.parts = template, MappingProxyType(dict(parts))
        return made

    def __getnewargs__(self) -> tuple[str, dict[str, Any]]:  # type: ignore[override]
        """What a copy is made of."""
        return self.template, dict(self.parts)

    def __getstate__(self) -> None:
        """All is in what a copy is made of."""

    def __format__(self, form: str) -> str:
        """The sentence in the units of now."""
        return format(self.told(), form)

    def told(self) -> str:
        """The sentence in the units and the language of now."""
        return say(self.template).format(**_told(self.parts))


def _told(parts: Mapping[str, Any]) -> dict[str, Any]:
    return {name: digits(part) if type(part) is str else told(part) for name, part in parts.items()}


def told(text: Any) -> Any:
    """A sentence in the units of now; anything else stays as it is."""
    return text.told() if isinstance(text, Sentence) else text


def sentence(template: str, **parts: Any) -> Sentence:
    """A sentence that can be told again, from a template with named places."""
    return Sentence(template, parts)
