"""Battery chemistries as frozen values."""

from dataclasses import dataclass
from functools import cache

from sim.catalogue import chemistries


@dataclass(frozen=True)
class Cell:
    """A 12 V block of 100 Ah; the chemistry's file says where each figure comes from."""

    rest_percent: tuple[float, ...]
    rest_v: tuple[float, ...]
    hysteresis_mv: float
    hysteresis_per_charge: float
    surface_mv: float
    full_day_later_v: float
    r0_rise: float
    r0_mohm: float
    r1_mohm: float
    tau_s: float
    acceptance_mohm: float
    exhaustion_mohm: float
    coulombic_efficiency: float
    self_discharge_percent_month: float
    ohm_doubles_per_c: float
    capacity_at_c: tuple[tuple[float, float], ...]
    capacity_a: float
    capacity_cut_v: float
    protect_low_v: float
    protect_low_recover_v: float
    protect_high_v: float
    protect_high_recover_v: float
    coldest_charge_c: float
    charge_release_c: float
    blocked_drop_v: float
    most_charge_rate: float
    early_soc: float
    set_shift_mv_per_c: float
    freezing: tuple[tuple[float, float], ...]
    cycles_at_full_depth: tuple[float, float]
    depth_exponent: tuple[float, float]
    calendar_years_25c: tuple[float, float]
    ageing_doubles_per_c: float

    @property
    def lithium(self) -> bool:
        """Whether it is a lithium pack with a protection circuit, not lead with acid that can freeze."""
        return not self.freezing


@cache
def cell(chemistry: str) -> Cell:
    """The catalogue's entry for a chemistry.

    >>> cell("lfp").r0_mohm
    12.0
    """
    entry = dict(chemistries()[chemistry]["cell"])
    for key, value in entry.items():
        if isinstance(value, list):
            entry[key] = tuple(tuple(item) if isinstance(item, list) else item for item in value)
    return Cell(**entry)


def charge_release_c(chemistry: str) -> float | None:
    """From where on a pack locked for cold takes charge again, °C; None for a battery without such a lock.

    >>> charge_release_c("lfp"), charge_release_c("agm")
    (4.0, None)
    """
    entry = cell(chemistry) if chemistry in chemistries() else None
    return entry.charge_release_c if entry and entry.lithium else None
