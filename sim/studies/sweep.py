"""Every pair of load voltages through the same year, also with a reading that errs and with leads that have aged."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from sim import hands
from sim.calendar import HOUR_S
from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.errors import InputError
from sim.figures.lanes import figures_of
from sim.figures.planned import wanted_by_day, wanted_by_month
from sim.figures.stress import Stress, stress_of
from sim.plant.engine import Plant, Process
from sim.plant.lanes import READ_V, lanes_from
from sim.plant.people import processes
from sim.plant.run import How, run, tally
from sim.scenario import Scenario

MOST_PAIRS = 2500
READING_ERROR_V = 0.1  # of a controller, for each 12 V, where the scenario names none; common practice, no source
AGED = 1.5  # resistance of battery and leads after some years against new; our own default
VARIANTS = ("as set", "reading high", "reading low", "aged leads")
Range = tuple[float, float]
Volts = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Sweep:
    """``figures`` (variants, pairs) of FIGURES, the wear of each pair as set, and the (12,) hours wanted by month."""

    volts: Volts
    figures: np.ndarray
    stress: tuple[Stress, ...]
    wanted_h: np.ndarray
    days: int


def steps(low: float, high: float, step: float) -> list[float]:
    """Values from one to another, both included where the step meets them.

    >>> steps(12.0, 12.25, 0.1)
    [12.0, 12.1, 12.2]
    """
    return [round(low + k * step, 6) for k in range(int((high - low) / step + 1e-6) + 1)]


def _checked(scenario: Scenario, key: str, given: Range | None) -> Range:
    """A range of thresholds in V: the one given, if it is one, or the chemistry's."""
    table, blocks = chemistries()[scenario.battery.chemistry], scenario.battery.nominal_v / 12.0
    if given is None:
        return table["study"][f"{key}_min_v"] * blocks, table["study"][f"{key}_max_v"] * blocks
    lowest, highest = (table["limits"][f"threshold_{end}_v"] * blocks for end in ("min", "max"))
    if not lowest <= given[0] <= given[1] <= highest:
        allowed = f"the lower voltage and then the higher, from {lowest:g} to {highest:g} V for this battery"
        raise InputError(str(scenario.path), f"--{key}", f"{given[0]:g} {given[1]:g}", allowed)
    return given


def grid(scenario: Scenario, step_v: float | None, disconnect: Range | None, reconnect: Range | None) -> Volts:
    """The pairs to try, reconnect above disconnect and below the absorption voltage, in order; a step of 0.1 V for
    each 12 V of battery where none is given. Raises InputError for a step or a range that makes no pairs or too many.
    """
    step = 0.1 * scenario.battery.nominal_v / 12.0 if step_v is None else step_v
    if not 0.001 <= step <= 5.0:
        raise InputError(str(scenario.path), "--step", step, "a number from 0.001 to 5 V")
    offs = steps(*_checked(scenario, "disconnect", disconnect), step)
    ons = steps(*_checked(scenario, "reconnect", reconnect), step)
    if len(offs) * len(ons) > 2 * MOST_PAIRS:
        raise InputError(str(scenario.path), "--step", step, f"a step that makes at most {MOST_PAIRS} pairs")
    absorption_v = scenario.controller.absorption_v
    pairs = tuple((off, on) for off in offs for on in ons if off < on < absorption_v)
    if not 0 < len(pairs) <= MOST_PAIRS:
        allowed = f"ranges that make 1 to {MOST_PAIRS} pairs with disconnect < reconnect < {absorption_v:g} V"
        raise InputError(str(scenario.path), "--disconnect, --reconnect", None, allowed)
    return pairs


def reading_error_v(scenario: Scenario) -> float:
    """By how much the controller's reading is varied, V: the scenario's own error, or 0.1 V for each 12 V."""
    return abs(scenario.controller.reading_error_v) or READING_ERROR_V * scenario.battery.nominal_v / 12.0


def lanes_of(scenario: Scenario, volts: Volts) -> np.ndarray:
    """(variants · pairs,) of PLANT: every pair as set, then with each of the variants."""
    off_v, on_v = np.array(volts).T
    plant = np.repeat(lanes_from([scenario], places=[0]), len(volts) * len(VARIANTS))
    lane = plant["lane"].reshape(len(VARIANTS), len(volts))
    own_v, error_v = scenario.controller.reading_error_v, reading_error_v(scenario)
    lane["off_v"], lane["on_v"] = off_v - own_v, on_v - own_v
    for name in READ_V:
        lane[name] -= np.array([0.0, error_v, -error_v, 0.0])[:, np.newaxis]
    for name in ("r0_ohm", "r1_ohm", "lead_ohm"):
        lane[name][VARIANTS.index("aged leads")] *= AGED
    return plant


def _keep_charge(plant: Plant, mine: np.ndarray, soc: np.ndarray) -> Process:
    """Note the charge of a hand's lanes that are ``mine`` (lanes,) every hour of the year: ``soc`` (hours+1, lanes)."""
    state, now = plant.lanes["state"], plant.lanes["totals"]["soc"]
    for row in soc[round(plant.from_s / HOUR_S) :]:
        plant.advance()
        moving = mine & (state["now_s"] <= plant.env.now)
        row[moving] = now[moving]
        yield plant.env.timeout(HOUR_S)


@dataclass(frozen=True)
class Pass:
    """The work on a hand of pairs: ``sky`` (hours,) of SKY, ``months`` (days,) 1…12, ``lanes`` of all of PLANT.

    The first of the lanes, ``as_set`` of them, are the pairs as set, whose wear is worked out too.
    """

    scenario: Scenario
    sky: np.ndarray
    months: np.ndarray
    lanes: np.ndarray
    as_set: int

    def __call__(self, hand: Sequence[int], told: hands.Told) -> list[tuple[np.void, Stress | None]]:
        """FIGURES and wear of each of the lanes of a hand."""
        numbers = np.asarray(hand)
        mine, soc = numbers < self.as_set, np.empty((len(self.sky) + 1, len(hand)))
        wanted = wanted_by_day(self.scenario, self.months)

        def tune(own: np.ndarray, _: np.ndarray) -> None:
            own["lane"] = self.lanes["lane"][numbers]

        def people(plant: Plant, designs: Sequence[Scenario], _: np.ndarray) -> Iterable[Process]:
            return [*processes(plant, designs), _keep_charge(plant, mine, soc)]

        how = How(tune=tune, people=people, at_once=len(hand))
        figures = run(
            [self.scenario] * len(hand),
            self.sky[np.newaxis],
            lambda log, _: figures_of(log, self.months, wanted),
            how,
            told,
        )
        return [(one, self._wear(one, soc[:, k]) if mine[k] else None) for k, one in enumerate(figures)]

    def _wear(self, figures: np.void, soc: np.ndarray) -> Stress:
        """What a charge (hours+1,) does to the battery, cycles counted at every hour."""
        return stress_of(cell(self.scenario.battery.chemistry), soc, float(figures["cycles"]), self.sky["cell_c"])


def sweep(
    scenario: Scenario, sky: np.ndarray, months: np.ndarray, volts: Volts, progress: Callable[[int, int], None]
) -> Sweep:
    """All pairs in all variants in one pass; ``sky`` (hours,) of SKY, ``months`` (days,) 1…12.

    Read daily, which gives hours, starts and extremes exactly as hourly reading does; cycles are counted from the
    charge at every hour. ``progress(done, of)`` is told the lanes that are done.
    """
    lanes = lanes_of(scenario, volts)
    dealt = hands.dealt(len(lanes), How().at_once)
    work = Pass(scenario, sky, months, lanes, len(volts))
    parts = hands.in_order(
        hands.now(), work, dealt, tally(progress, len(lanes)), lambda hand: f"pairs from {hand[0]} on"
    )
    found = hands.gathered(dealt, parts)
    figures = np.array([one for one, _ in found]).reshape(len(VARIANTS), len(volts))
    wear = tuple(wear for _, wear in found if wear)
    return Sweep(volts, figures, wear, wanted_by_month(scenario, months), len(months))
