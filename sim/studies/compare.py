"""Designs side by side on the same weather: what each gives month by month, and which next step gives the most."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.errors import InputError
from sim.scenario import Scenario
from sim.studies.designs import Design, Simulated, simulate_designs
from sim.studies.money import SMALLEST_H, Gain, Money, gain, money, whole_payback_years
from sim.studies.steps import CLOCK, Change, panel_changes, steps_for
from sim.studies.tilt import Best, TiltCurve, best_position, curve_of, light_on, wanted_months
from sim.weather import weather_for
from sim.weather.sun import facing_deg

TILTS_DEG = tuple(range(0, 91, 10))
PANEL_SHARES = (0.5, 0.75, 1.0, 1.25, 1.5, 2.0, 3.0)
WANTED, YEAR, WORST = "the wanted months", "the year", "the worst month"
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Row:
    """A design of the comparison with what it gains against the first, and what it costs."""

    run: Simulated
    gain: Gain
    money: Money

    @property
    def name(self) -> str:
        """The design's name."""
        return self.run.design.name

    def as_json(self) -> dict[str, Any]:
        """The year's figures, the worst month, the difference to the first design, and money."""
        year = self.run.measures
        month = year.worst_month
        worst = {
            "month": month,
            "pump_hours": float(year.pump_hours_by_month[month - 1]),
            "hours_met_share": float(year.met_share_by_month[month - 1]),
        }
        return self.run.as_json() | {"worst_month": worst, "difference": vars(self.gain)} | self.money.as_json()


@dataclass(frozen=True)
class Step:
    """A single change to the first design with what it gains and costs."""

    change: Change
    run: Simulated
    gain: Gain
    money: Money
    more: tuple[str, float] | None = None  # what a larger panel or battery has more: W or Ah, and how many

    @property
    def met_h_each(self) -> float | None:
        """The wanted hours a year that each W or Ah more gains; None of other steps."""
        return self.gain.met_h / self.more[1] if self.more else None

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        year = self.run.measures
        return (
            {"name": self.change.name, "kind": self.change.kind, "set": dict(self.change.changes)}
            | {"gain": vars(self.gain), "hours_met_share": year.hours_met_share}
            | {f"met_hours_per_{unit}": self._each(unit) for unit in ("w", "ah")}
            | self.money.as_json()
        )

    def _each(self, unit: str) -> float | None:
        return self.met_h_each if self.more and self.more[0] == unit else None


@dataclass(frozen=True)
class Curve:
    """Hours against one figure of the first design: (n,) in the year, in its worst month, and wanted ones met."""

    at: tuple[float, ...]
    pump_hours: np.ndarray
    worst_month_hours: np.ndarray
    met_hours: np.ndarray

    def as_json(self) -> dict[str, list[float]]:
        """Plain lists."""
        return {"at": list(self.at)} | {
            name: getattr(self, name).tolist() for name in ("pump_hours", "worst_month_hours", "met_hours")
        }


@dataclass(frozen=True)
class CompareResult:
    """The whole comparison; the first design is the one that all others are held against."""

    designs: tuple[Row, ...]
    steps: tuple[Step, ...]  # the one that gains most first
    best: Mapping[str, Best]
    tilts: TiltCurve
    hours_by_tilt: Curve
    hours_by_power: Curve
    payback_years: float | None

    @property
    def first(self) -> Simulated:
        """The design that all others are held against."""
        return self.designs[0].run

    @property
    def by_money(self) -> tuple[Step, ...]:
        """The steps that gain wanted hours and whose price is known, those first that gain most for their money.

        What costs nothing comes before all that costs something.
        """
        gaining = [it for it in self.steps if it.money.spread_a_year is not None and it.gain.met_h >= SMALLEST_H]

        def key(step: Step) -> tuple[float, ...]:
            each = step.money.met_hours_per_unit
            return (each is None, each or 0.0, step.gain.met_h)

        return tuple(sorted(gaining, key=key, reverse=True))

    def step(self, kind: str) -> Step | None:
        """The first step of a kind, if there is one."""
        return next((step for step in self.steps if step.change.kind == kind), None)

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        light = {"year": range(1, 13), "wanted": self.best[WANTED].months, "worst_month": self.best[WORST].months}
        curve = {f"{name}_kwh_m2": self.tilts.over(tuple(months)).tolist() for name, months in light.items()}
        return {
            "designs": [row.as_json() for row in self.designs],
            "steps": [step.as_json() for step in self.steps],
            "steps_by_money": [step.change.name for step in self.by_money],
            "best_tilt": {name.removeprefix("the ").replace(" ", "_"): vars(it) for name, it in self.best.items()}
            | {"curve": {"tilt_deg": self.tilts.tilt_deg.tolist()} | curve},
            "hours_by_tilt": self.hours_by_tilt.as_json(),
            "hours_by_panel_w": self.hours_by_power.as_json(),
            "payback_years": self.payback_years,
            "currency": self.first.design.scenario.cost.currency,
        }


def ranked(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps by the wanted hours that they gain in the worst month; of equals by the year's, by all hours, by life.

    Gains are told apart to a tenth of an hour, so that rounding in the simulation ranks nothing.
    """

    def key(step: Step) -> tuple[float, ...]:
        it = step.gain
        return tuple(round(value, 1) for value in (it.met_worst_month_h, it.met_h, it.pump_h, it.life_years))

    return tuple(sorted(steps, key=key, reverse=True))


def with_one_clock(steps: Sequence[Step]) -> tuple[Step, ...]:
    """The steps without all but the best of those that only set the clock."""
    best = next((step for step in steps if step.change.kind == CLOCK), None)
    return tuple(step for step in steps if step.change.kind != CLOCK or step is best)


def powers_of(first: Design) -> Iterator[tuple[float, Design]]:
    """The first design with smaller and larger panels, as far as its own rules allow, by their power in W."""
    scenario = first.scenario
    for share in PANEL_SHARES:
        try:
            made = first.changed(f"{share:g} x panel", panel_changes(scenario, share - 1.0))
        except InputError:
            continue
        yield share * scenario.panel.power_w * scenario.panel.count, made


def _curve(at: Sequence[float], runs: Sequence[Simulated], worst_month: int) -> Curve:
    years = [run.measures for run in runs]
    worst = np.array([year.pump_hours_by_month[worst_month - 1] for year in years])
    met = np.array([float(year.met_by_day.sum()) for year in years])
    return Curve(tuple(at), np.array([year.pump_hours for year in years]), worst, met)


def study_compare(designs: Sequence[Design], progress: Progress = lambda done, of: None) -> CompareResult:
    """The comparison of designs, of which the first is the one to better; nothing is written.

    ``progress(done, of)`` is told the lane-years that are done.
    """
    first, done = designs[0], [0]
    guess = len(designs) + len(TILTS_DEG) + len(PANEL_SHARES) + 16

    def told(more: int) -> None:
        done[0] += more
        progress(done[0], max(guess, done[0]))

    runs = simulate_designs(designs, told)
    rows = [_row(runs[0], run) for run in runs]
    worst_month = runs[0].measures.worst_month
    weather = weather_for(first.scenario)
    light = light_on(first.scenario, weather)
    facing = facing_deg(first.scenario.panel.azimuth_deg, weather.latitude_deg)
    months = {WANTED: wanted_months(runs[0].measures.wanted_a_day), YEAR: tuple(range(1, 13)), WORST: (worst_month,)}
    best = {goal: best_position(light, these, facing) for goal, these in months.items()}
    steps, powers = steps_for(first, best), dict(powers_of(first))
    tilts = [first.changed(f"tilt {tilt}", {"panel.tilt_deg": float(tilt)}) for tilt in TILTS_DEG]
    more = simulate_designs([*(made for _, made in steps), *tilts, *powers.values()], told, with_checks=False)
    stepped, tilted, powered = (more[: len(steps)], more[len(steps) : -len(powers)], more[-len(powers) :])
    made = [_step(runs[0], change, run) for (change, _), run in zip(steps, stepped, strict=True)]
    return CompareResult(
        designs=tuple(rows),
        steps=with_one_clock(ranked(made)),
        best=best,
        tilts=curve_of(light, facing),
        hours_by_tilt=_curve(TILTS_DEG, tilted, worst_month),
        hours_by_power=_curve(tuple(powers), powered, worst_month),
        payback_years=whole_payback_years(first.scenario.cost, runs[0]),
    )


def _row(first: Simulated, run: Simulated) -> Row:
    prices, own = first.design.scenario.cost, run is first
    paid = money(prices, first, run, 0.0 if own else run.design.cost, 0.0)
    return Row(run, gain(first.measures, run.measures), paid)


def _step(first: Simulated, change: Change, run: Simulated) -> Step:
    prices = first.design.scenario.cost
    paid = money(prices, first, run, change.once, change.a_year)
    return Step(
        change, run, gain(first.measures, run.measures), paid, _more(first.design.scenario, run.design.scenario)
    )


def _more(first: Scenario, other: Scenario) -> tuple[str, float] | None:
    """How many W or Ah a design has more than the first, whichever differ."""
    watts = (other.panel.power_w * other.panel.count) - (first.panel.power_w * first.panel.count)
    found = {"w": watts, "ah": other.battery.capacity_ah - first.battery.capacity_ah}
    return next(((unit, more) for unit, more in found.items() if more > 0.0), None)
