"""The year day by day: how much of the wanted hours each day got, and what took the rest."""

import numpy as np

from sim.calendar import MONTHS
from sim.figures.causes import CAUSES, LETTERS, hours_by_day
from sim.figures.lanes import RUNS_AT_LEAST_H
from sim.figures.measures import Measures
from sim.report.blocks import Figure, Key, Table, by_month
from sim.report.charts import Said, boxes
from sim.report.ink import INK, WATER, inked, sheet, svg
from sim.studies.result import YearResult
from sim.words import hours

ALL = 0.995  # of the wanted hours
WIDE, HIGH = 0.9, 0.84  # of a day's room
FULLER = "The fuller a day's bar, the more of its wanted hours were met."
LETTER = "The letter on a bar that is not full says what took most hours of that day."
KEYS = (Key("band", "wanted hours that are met"), Key("outline", "a day's wanted hours"))


def main_causes(by_day: np.ndarray) -> np.ndarray:
    """(days,) the cause that took most hours of each day; the timer only where there is nothing else."""
    weighed = by_day.copy()
    weighed[:, CAUSES.index("schedule")] *= 1e-6
    return np.asarray(weighed.argmax(axis=1))


def met_shares(year: Measures) -> np.ndarray:
    """(days,) share of each day's wanted hours that is met, 1 where nothing is wanted."""
    return np.where(year.wanted_by_day > 0.0, year.met_by_day / np.maximum(year.wanted_by_day, 1e-9), 1.0)


def without(year: Measures) -> np.ndarray:
    """(days,) whether a day has none of the hours that are wanted of it, less than a minute being none."""
    return (year.wanted_by_day > 0.0) & (year.met_by_day < RUNS_AT_LEAST_H)


def calendar_figure(result: YearResult) -> Figure:
    """The calendar of a simulated year."""
    year, index = result.measures, result.weather.index[::24]
    met, by_day = met_shares(year), hours_by_day(year.stops, len(index))
    causes = (LETTERS[CAUSES[cause]] for cause in main_causes(by_day))
    signs = ["" if share >= ALL else sign for share, sign in zip(met, causes, strict=True)]
    said = _said(year, met)
    words = ("Every day: wanted hours met, and what took the rest", said)
    drawn = _drawn(np.array([index.month, index.day]).T, met, signs, words)
    letters = ", ".join(f"{sign}: {cause}" for cause, sign in LETTERS.items() if sign in signs)
    caption = f"{said} {FULLER}" + (f" {LETTER} {letters}." if letters else "")
    return Figure(drawn, caption, KEYS, _by_month(year, met, by_day))


def _by_month(year: Measures, met: np.ndarray, by_day: np.ndarray) -> Table:
    """How many days of each month got all, a part or none of their wanted hours, and what took most."""
    chosen = [year.months[::24] == month for month in range(1, 13)]
    full, none = ([int(days[k].sum()) for k in chosen] for days in (met >= ALL, without(year)))
    return by_month(
        ("Days with all wanted hours", full, "d"),
        ("Days with a part", (int(k.sum()) - a - b for k, a, b in zip(chosen, full, none, strict=True)), "d"),
        ("Days with none", none, "d"),
        ("Most hours", (_most(by_day[k].sum(axis=0)) for k in chosen), str),
    )


def _most(taken: np.ndarray) -> str:
    """The cause that took most hours of a month."""
    return f"{CAUSES[int(taken.argmax())]}, {hours(float(taken.max()))}" if taken.max() > 0.0 else "none"


def _said(year: Measures, met: np.ndarray) -> str:
    full, none = int((met >= ALL).sum()), int(without(year).sum())
    idle = f"; it does not run at all on {year.days_without_running}" if year.days_without_running != none else ""
    return (
        f"On {full} days of {len(met)} all wanted hours are met, on {none} days none of them, on "
        f"{len(met) - full - none} days a part{idle}."
    )


def _drawn(dates: np.ndarray, met: np.ndarray, signs: list[str], said: Said) -> str:
    """A column for each month, a bar for each day (days, 2: month and day), filled as far as its hours are met."""
    with inked():
        figure, axes = sheet(720.0, top=30.0, bottom=6.0)
        left = np.array([dates[:, 0] - 1.0 - WIDE / 2, dates[:, 1] - HIGH / 2]).T
        boxes(axes, left, np.full(len(met), WIDE), HIGH, facecolor="none", edgecolor=WATER, linewidth=0.8)
        boxes(axes, left, WIDE * met, HIGH, facecolor=WATER, linewidth=0.0, alpha=0.35)
        for (month, day), sign in zip(dates, signs, strict=True):
            if sign:
                axes.text(month - 1, day, sign, ha="center", va="center", color=INK)
        axes.set(xlim=(-0.6, 11.6), ylim=(31.6, 0.4))
        axes.xaxis.tick_top()
        axes.set_xticks(np.arange(12), [name[0] for name in MONTHS])
        axes.set_yticks([1, 5, 10, 15, 20, 25, 30])
        axes.grid(False)
        axes.spines["bottom"].set_visible(False)
        return svg(figure, "calendar", *said)
