"""One pair of load voltages through a year, in figures."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Pair:
    """One pair of load voltages through the year; months are from January, charges and shares 0…1."""

    load_disconnect_v: float
    load_reconnect_v: float
    pump_hours: float
    pump_hours_by_month: tuple[float, ...]
    hours_met_share: float
    met_share_by_month: tuple[float, ...]
    starts: int
    starts_a_day: float
    shortest_run_h: float | None
    longest_stop_h: float
    min_soc: float
    hours_below_20_percent: float
    equivalent_full_cycles: float
    life_years_low: float
    life_years_high: float
    lifted_restart_share: float  # of the reconnects: by a charging battery below 40 %
    refused_restarts: int  # reconnects while the battery's protection circuit refuses charge, as in frost
    early_cut_off_share: float  # of the disconnects: with plenty of charge left
    steady: bool
    unsteady_because: tuple[str, ...]
    hours_met_share_p10: float | None = None  # over many years, where the pair went through them
