"""Conductor sizes with their resistance and ampacity, fuse sizes, and how a panel's voltage rises in the cold."""

import csv
import math
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sim.units import Sentence, sentence, system

FEET_A_KM = 1000.0 / 0.3048
PER_K_FROM_75C = 0.00323  # NEC chapter 9 table 8, note 2: R2 = R1·(1 + α·(T2 − 75 °C)), copper
TABLE_AIR_C = 30.0  # the air that both ampacity tables are made for


@dataclass(frozen=True)
class Area:
    """A cross-section in mm², which US readers are told as the gauge that is nearest to it.

    >>> f"{Area(2.5)}"
    '2.5 mm²'
    """

    area_mm2: float

    def __str__(self) -> str:
        """The size in words."""
        return f"{self.area_mm2:g} mm²" if system() == "metric" else f"about {gauge_name(nearest_gauge(self.area_mm2))}"


def named(area_mm2: float) -> Sentence:
    """The name of a conductor by its area."""
    return sentence("{size}", size=Area(area_mm2))


@dataclass(frozen=True)
class Conductor:
    """A copper conductor: Ω/km at 20 °C, and the current in air of 30 °C that warms it to what its insulation bears."""

    name: str
    area_mm2: float
    ohm_per_km: float
    ampacity_a: float
    bears_c: float


def _rows(name: str) -> list[dict[str, float]]:
    """A table of numbers of this folder, without its comments."""
    text = files("sim.catalogue").joinpath(name).read_text(encoding="utf-8")
    lines = (line for line in text.splitlines() if not line.startswith("#"))
    return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(lines)]


@cache
def metric() -> tuple[Conductor, ...]:
    """Flexible conductors by area, thinnest first (IEC 60228 class 5; IEC 60364-5-52 table B.52.2, PVC for 70 °C).

    >>> metric()[4]
    Conductor(name='2.5 mm²', area_mm2=2.5, ohm_per_km=7.98, ampacity_a=27.0, bears_c=70.0)
    """
    return tuple(
        Conductor(named(row["area_mm2"]), row["area_mm2"], row["class5_ohm_km"], row["ampacity_a"], 70.0)
        for row in _rows("cables.csv")
    )


@cache
def gauges(bears_c: int = 60) -> dict[int, Conductor]:
    """Stranded conductors by American wire gauge, thinnest first (NEC chapter 9 table 8 and table 310.16).

    ``bears_c`` is the insulation's temperature, 60, 75 or 90 °C.

    >>> gauges()[12].ampacity_a, round(gauges()[12].ohm_per_km, 2)
    (20.0, 5.34)
    """
    cooled = 1.0 + PER_K_FROM_75C * (20.0 - 75.0)
    return {
        int(row["awg"]): Conductor(
            gauge_name(int(row["awg"])),
            gauge_area_mm2(int(row["awg"])),
            row["ohm_kft_75c"] * FEET_A_KM / 1000.0 * cooled,
            row[f"ampacity_{bears_c}c_a"],
            float(bears_c),
        )
        for row in _rows("gauges.csv")
    }


def gauge_name(awg: int) -> str:
    """A gauge as it is written; from 0 down the noughts are counted.

    >>> gauge_name(12), gauge_name(0), gauge_name(-3)
    ('AWG 12', 'AWG 1/0', 'AWG 4/0')
    """
    return f"AWG {awg if awg > 0 else f'{1 - awg}/0'}"


def nearest_gauge(area_mm2: float) -> int:
    """The gauge nearest to an area, by its diameter (ASTM B258); 4/0, the thickest there is, from there on.

    >>> nearest_gauge(3.31), nearest_gauge(2.5), nearest_gauge(500.0)
    (12, 13, -3)
    """
    return max(round(36.0 - 39.0 * math.log(math.sqrt(4.0 / math.pi * area_mm2) / 0.127, 92.0)), -3)


def gauge_diameter_mm(awg: int) -> float:
    """Diameter of a solid wire, mm: 0.127·92^((36 − n)/39); 0 is 1/0 (ASTM B258).

    >>> round(gauge_diameter_mm(12), 4)
    2.0525
    """
    return float(0.127 * 92.0 ** ((36.0 - awg) / 39.0))


def gauge_area_mm2(awg: int) -> float:
    """Area of a solid wire, mm²: π/4·d² (ASTM B258); strands together have it too.

    >>> round(gauge_area_mm2(12), 4)
    3.3088
    """
    return math.pi / 4.0 * gauge_diameter_mm(awg) ** 2


def conductor(area_mm2: float, awg: int | None = None) -> Conductor:
    """The conductor of a gauge, or of an area.

    For an area between the standard ones the resistance is the nearest one's, by area, and the ampacity that of the
    next smaller one; below the smallest it shrinks with the area.

    >>> conductor(2.5).name, round(conductor(3.0).ohm_per_km, 3), conductor(3.0).ampacity_a, conductor(0.0, 12).name
    ('2.5 mm²', 6.65, 27.0, 'AWG 12')
    """
    if awg is not None:
        return gauges()[awg]
    near = min(metric(), key=lambda size: abs(size.area_mm2 - area_mm2))
    first = metric()[0]
    rated = max((size.ampacity_a for size in metric() if size.area_mm2 <= area_mm2), default=0.0)
    ampacity_a = rated or first.ampacity_a * area_mm2 / first.area_mm2
    ohm_per_km = near.ohm_per_km * near.area_mm2 / area_mm2
    return Conductor(named(area_mm2), area_mm2, ohm_per_km, ampacity_a, near.bears_c)


@cache
def fuse_sizes(kind: str = "any") -> tuple[float, ...]:
    """Standard sizes in A, smallest first: "blade" (ISO 8820-3), "cartridge" (NEC 240.6(A)) or "any".

    >>> fuse_sizes("blade")[:6], fuse_sizes("cartridge")[:4]
    ((1.0, 2.0, 3.0, 4.0, 5.0, 7.5), (1.0, 3.0, 6.0, 10.0))
    """
    return tuple(row["size_a"] for row in _rows("fuses.csv") if kind == "any" or row[kind])


def next_fuse_a(current_a: float, kind: str = "any") -> float | None:
    """The smallest standard fuse that carries a current; None beyond the largest.

    >>> next_fuse_a(14.06), next_fuse_a(999.0)
    (15.0, None)
    """
    return next((size for size in fuse_sizes(kind) if size >= current_a), None)


def fuse_window_a(carries_a: float, protects_a: float) -> tuple[float, ...]:
    """Every standard fuse that carries a current and protects a cable of a rating, smallest first.

    >>> fuse_window_a(6.2, 20.0), fuse_window_a(16.0, 19.0)
    ((7.5, 10.0, 15.0, 20.0), ())
    """
    return tuple(size for size in fuse_sizes() if carries_a <= size <= protects_a)


def cold_voltage_factor(air_c: float) -> float:
    """Open-circuit voltage in the coldest air over the label's, crystalline silicon (NEC table 690.7(A)).

    Whole degrees as in the table; 1 from 25 °C on, and no more below its last row.

    >>> cold_voltage_factor(22.0), cold_voltage_factor(-15.0), cold_voltage_factor(-15.3), cold_voltage_factor(30.0)
    (1.02, 1.16, 1.18, 1.0)
    """
    rows = [(row["from_c"], row["factor"]) for row in _rows("cold_voltage.csv")]
    if air_c >= 25.0:
        return 1.0
    return next((factor for from_c, factor in rows if air_c >= from_c), rows[-1][1])
