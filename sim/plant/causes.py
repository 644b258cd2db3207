"""Why the pump does not turn: the kernel's codes, and beside each all that is called after it."""

from typing import NamedTuple

RUNNING, SCHEDULE, LOW_VOLTAGE, PROTECTION, STALLED, FAULT, SEASONAL, OVERLOAD, OVERVOLTAGE = range(9)


class Cause(NamedTuple):
    """A cause in words, the column of its minutes in the hourly log, its seconds in TOTALS and its letter on a day."""

    word: str
    column: str
    seconds: str
    letter: str


STANDING = {
    SCHEDULE: Cause("schedule", "stopped_by_schedule [min]", "schedule_s", "T"),
    LOW_VOLTAGE: Cause("night", "stopped_by_low_voltage [min]", "low_voltage_s", "N"),  # the usual of the six behind it
    PROTECTION: Cause("protection circuit", "stopped_by_protection [min]", "protection_s", "P"),
    STALLED: Cause("voltage too low for the pump", "stopped_by_pump_voltage [min]", "stalled_s", "V"),
    FAULT: Cause("fault", "stopped_by_fault [min]", "fault_s", "F"),
    SEASONAL: Cause("seasonal", "stopped_by_season [min]", "seasonal_s", "S"),
    OVERLOAD: Cause("overload", "stopped_by_overload [min]", "overload_s", "O"),
    OVERVOLTAGE: Cause("voltage too high for the load", "stopped_by_high_voltage [min]", "overvoltage_s", "U"),
}
SECONDS = {RUNNING: "run_s"} | {code: cause.seconds for code, cause in STANDING.items()}  # in the order of their codes
