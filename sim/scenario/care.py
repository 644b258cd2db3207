"""What somebody does to the system in a year, what grows or falls on the panel in between, and what breaks."""

from typing import Annotated, Literal

from pydantic import AfterValidator, Strict

from sim.scenario.fields import REQUIRED, Day, Line, Section, between, field, whole

Kind = Literal["pump-clog", "blown-fuse", "tripped-protection"]


def checked_spell(days: tuple[str, str]) -> tuple[str, str]:
    """The days themselves if they differ; ValueError says what is allowed."""
    if days[0] == days[1]:
        raise ValueError('two different days, such as ["01-10", "01-14"]')
    return days


Spell = Annotated[tuple[Day, Day], Strict(False), AfterValidator(checked_spell)]


class Fault(Section):
    """Something that breaks at random and is repaired; both times are exponentially distributed about their means."""

    kind: Kind = field(REQUIRED, says="kind of fault")
    name: Line = field(
        lambda before: before["kind"].replace("-", " "), "text of 1 to 60 characters", min_length=1, max_length=60
    )
    mean_days_between: float = between(1, 100000, says="mean days from a repair to the next fault")
    repair_h: float = between(0.1, 8784, says="mean time to repair")


class Care(Section):
    """Season, cleaning, trimming and rinsing by the calendar; dirt and snow; faults by chance."""

    shut_down: Day | None = field(None, 'a day of the year as "MM-DD"', unset="never")
    start_up: Day | None = field(None, 'a day of the year as "MM-DD"', unset="never")
    panel_cleaning: Annotated[tuple[Day, ...], Strict(False)] = field((), 'days of the year: ["03-15", "09-15"]')
    soiling_per_month: float = between(0, 0.5, 0.0, says="share of light lost to dirt a month")
    snow: Annotated[tuple[Spell, ...], Strict(False)] = field(
        (), 'pairs of days: [["01-10", "01-14"]]', says="snow on the panel, from a day to the morning of another"
    )
    trimming: Annotated[tuple[Day, ...], Strict(False)] = field((), 'days of the year: ["06-24"]')
    trimmed_days: int = whole(1, 365, 120, says="days until what was trimmed has grown again")
    filter_rinse: Annotated[tuple[Day, ...], Strict(False)] = field((), 'days of the year: ["04-01", "07-01"]')
    fault: Annotated[tuple[Fault, ...], Strict(False)] = field((), "tables headed [[care.fault]], one a kind of fault")
    fault_seed: int = whole(0, 999999, 1)
