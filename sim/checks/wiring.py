"""Rules on cables, fuses and the pump's side of the controller."""

from collections.abc import Callable

from sim.catalogue.cells import cell
from sim.checks.finding import OWN, Finding, Passed, Said
from sim.figures.measures import Measures
from sim.figures.wiring import (
    BATTERY,
    DROP_LIMITS,
    EXTENSION,
    FUSE_WITHIN_CM,
    LASTING_FACTOR,
    PUMP,
    Run,
    Wiring,
)
from sim.language import mark
from sim.plant.lanes import lanes_from
from sim.scenario import Scenario
from sim.units import Quantity, sentence

BLADE_BREAKS_A = 1000.0  # breaking capacity of a blade fuse at 32 V DC: ISO 8820-3, from memory
INSTANT_SHARE = 0.5  # of R0, which holds over seconds, in the first milliseconds; common practice, no source
LOAD_SHARE, START_SHARE = 0.8, 1.5
UNKNOWN_START = 3.0  # times the rated current, of a pump whose start nobody measured; our own default
STALLED_H = 1.0  # a year; less are moments in which a protection circuit lets go; our own default
STALLED = "voltage too low for the pump"
IDS = (
    "thin-cable",
    "cable-overloaded",
    "pump-voltage-too-low",
    "pump-voltage-too-high",
    "pump-over-voltage",
    "load-terminal-overloaded",
    "battery-fuse",
    "pump-fuse",
    "fuse-breaking-capacity",
)
RUNNING = mark(
    "The running pump draws {share} of the {rated} A that the controller's load terminals are made for; a relay, or a "
    "bigger controller, takes the load off them."
)
STARTING = mark(
    "The starting pump draws {share} of the {rated} A that the controller's load terminals are made for; a relay, or a "
    "bigger controller, takes the load off them."
)
_DROPS = sentence("drop limits of marine wiring tables, 3 % also of NEC 210.19(A)")
_AMPACITY = sentence("ampacity of IEC 60364-5-52 and NEC 310.16 in the hottest air; factors of NEC 690.8 and 210.19(A)")
_FUSES = sentence("fuse no larger than the cable's ampacity; place by ABYC E-11")


def thin_cable(scenario: Scenario, measures: Measures) -> Said:
    """The run with the largest drop; the pump's cable and its extension count together."""
    wiring = measures.wiring
    worst, share = max(_drops(wiring), key=lambda found: found[1])
    note, warning = DROP_LIMITS
    if share <= note:
        return Passed("thin-cable", f"Largest drop on a way, {_plain_way(worst)}", share, note, _DROPS)
    level, limit = ("warning", warning) if share > warning else ("note", note)
    run = measures.wiring.run(worst[0])
    assert run is not None
    said = sentence(
        "{share} of the voltage is lost on the way {way}. {larger}",
        share=f"{share:.1%}",
        way=_way(*worst),
        larger=_larger(run),
    )
    return Finding("thin-cable", level, said, share, limit, _DROPS)


def _plain_way(names: tuple[str, ...]) -> str:
    return " and ".join(names)


def _way(name: str, further: str = "") -> str:
    """The runs of a way by their names."""
    first = sentence(name)
    return sentence("{first} and {further}", first=first, further=sentence(further)) if further else first


def _drops(wiring: Wiring) -> list[tuple[tuple[str, ...], float]]:
    """Names and drop of each way, the extension in one with the pump's cable."""
    pump = tuple(run.name for run in wiring.runs if run.name in (PUMP, EXTENSION))
    others = [((run.name,), run.drop_share) for run in wiring.runs if run.name not in pump]
    return [*others, (pump, wiring.pump_drop_share)]


def _larger(run: Run) -> str:
    size = run.sizes[0]
    if size.metric is None or size.gauge is None:
        no_size = mark("No size of the catalogue keeps it below {limit}: shorten the way.")
        return sentence(no_size, limit=f"{size.drop_limit:.0%}")
    return sentence("{size} all the way would keep it below {limit}.", size=size, limit=f"{size.drop_limit:.0%}")


def overloaded_cable(scenario: Scenario, measures: Measures) -> Said:
    """A cable that is not made for its current."""
    run = max(measures.wiring.runs, key=lambda run: run.rated_for_a / max(run.rating_a, 1e-9))
    if run.rated_for_a <= run.rating_a:
        what = f"What the most loaded cable, {run.name}, must be made for, A"
        return Passed("cable-overloaded", what, run.rated_for_a, run.rating_a, _AMPACITY)
    said = sentence(
        "The cable {name} of {size} may carry {rating} in air of {air} and must be made for {current}.",
        name=sentence(run.name),
        size=run.size,
        rating=f"{run.rating_a:.1f} A",
        air=Quantity(measures.wiring.air_max_c, "c", ".0f"),
        current=f"{run.rated_for_a:.1f} A",
    )
    return Finding("cable-overloaded", "warning", said, run.rated_for_a, run.rating_a, _AMPACITY)


def starved_pump(scenario: Scenario, measures: Measures) -> Said:
    """A pump that gets less than its lowest voltage, running, starting, or in the simulated year."""
    wiring, limit = measures.wiring, scenario.pump.min_v
    stalled, lowest = measures.stops_by_cause[STALLED], min(wiring.pump_run_v, wiring.pump_start_v)
    source = sentence("the scenario's pump.min_v")
    if lowest >= limit and stalled <= STALLED_H:
        what = "The pump's lowest voltage, running and at its start, V"
        return Passed("pump-voltage-too-low", what, lowest, limit, source, least=True)
    said = sentence(
        "The pump gets {run} V while it runs at the disconnect voltage and {start} V at its start from the reconnect "
        "voltage, and needs {least} V; in the year it stood {hours} h for that.",
        run=f"{wiring.pump_run_v:.2f}",
        start=f"{wiring.pump_start_v:.2f}",
        least=f"{limit:.2f}",
        hours=f"{stalled:.0f}",
    )
    value, most = (stalled, STALLED_H) if lowest >= limit else (lowest, limit)
    return Finding("pump-voltage-too-low", "warning", said, value, most, source)


def overdriven_pump(scenario: Scenario, measures: Measures) -> Said:
    """A bus that goes higher than the pump bears."""
    highest, limit = float(measures.bus_high_v_by_day.max()), scenario.pump.max_v
    source = sentence("the scenario's pump.max_v")
    if highest <= limit:
        return Passed("pump-voltage-too-high", "Highest voltage at the terminals, V", highest, limit, source)
    said = sentence(
        "The controller's terminals go up to {highest} V; the pump bears {limit} V.",
        highest=f"{highest:.1f}",
        limit=f"{limit:g}",
    )
    return Finding("pump-voltage-too-high", "warning", said, highest, limit, source)


def pulsed_pump(scenario: Scenario, measures: Measures) -> Said:
    """Pulses that go higher than the pump bears, while it runs and its battery takes no charge."""
    highest, limit = measures.pump_high_v, scenario.pump.max_v
    source = sentence("the scenario's pump.max_v")
    if measures.bus_high_v_by_day.max() > limit or measures.pump_hours == 0.0:
        return None
    if highest <= limit:
        what = "Highest voltage of pulses while the pump runs, V"
        return Passed("pump-over-voltage", what, highest, limit, source)
    said = sentence(
        "While the battery takes no charge, as in frost, the controller's terminals pulse up to {highest} V with the "
        "pump running, which bears {limit} V. A place without frost for the battery helps, or a controller that holds "
        "its voltage or cuts the load.",
        highest=f"{highest:.1f}",
        limit=f"{limit:g}",
    )
    return Finding("pump-over-voltage", "warning", said, highest, limit, source)


def load_running(scenario: Scenario, measures: Measures) -> Said:
    """A running pump at the limit of the controller's load terminals."""
    rated = scenario.controller.max_load_a
    share = measures.wiring.pump_highest_a / rated
    if share <= LOAD_SHARE:
        what = f"The running pump's current over the load terminals' {rated:g} A"
        return Passed("load-terminal-overloaded", what, share, LOAD_SHARE, OWN)
    said = sentence(RUNNING, share=f"{share:.0%}", rated=f"{rated:g}")
    return Finding("load-terminal-overloaded", "warning" if share > 1.0 else "caution", said, share, LOAD_SHARE, OWN)


def load_starting(scenario: Scenario, measures: Measures) -> Said:
    """A starting pump at the limit of the load terminals, where the running one is not: one finding is enough."""
    rated = scenario.controller.max_load_a
    share = judged_start_a(scenario) / rated
    if measures.wiring.pump_highest_a > LOAD_SHARE * rated:
        return None
    if share <= START_SHARE:
        what = f"The starting pump's current over the load terminals' {rated:g} A"
        return Passed("load-terminal-overloaded", what, share, START_SHARE, OWN)
    said = sentence(STARTING, share=f"{share:.0%}", rated=f"{rated:g}")
    return Finding("load-terminal-overloaded", "caution", said, share, START_SHARE, OWN)


def judged_start_a(scenario: Scenario) -> float:
    """The pump's current at its start, A; where nobody measured it, three times the rated one."""
    pump = scenario.pump
    factor = pump.start_current_factor if "start_current_factor" in pump.model_fields_set else UNKNOWN_START
    return factor * pump.power_w / pump.at_v


def battery_fuse(scenario: Scenario, measures: Measures) -> Said:
    """The fuse at the battery: there, neither too large nor too small, and close to the pole."""
    run, distance = measures.wiring.run(BATTERY), scenario.battery.cable.fuse_distance_cm
    assert run is not None
    if not run.fuse_a:
        return _no_fuse(run)
    if distance is not None and distance > FUSE_WITHIN_CM:
        said = sentence(
            "The fuse sits {distance} from the battery's + pole: the cable up to it is not protected. {most} is the "
            "most.",
            distance=Quantity(distance, "cm", "g"),
            most=Quantity(FUSE_WITHIN_CM, "cm", "g"),
        )
        return Finding("battery-fuse", "warning", said, distance, FUSE_WITHIN_CM, _FUSES, "cm")
    return _wrong_fuse("battery-fuse", run.fuse_a, run.rating_a, run)


def _no_fuse(run: Run) -> Finding:
    """Nothing said about a fuse, or none there."""
    none, unnamed = sentence("There is no fuse at the battery"), sentence("The scenario names no fuse at the battery")
    said = sentence(
        "{there}. {choice} It belongs within {most} of the + pole.",
        there=none if run.fuse_a == 0.0 else unnamed,
        choice=_choice(run),
        most=Quantity(FUSE_WITHIN_CM, "cm", "g"),
    )
    level = "warning" if run.fuse_a == 0.0 else "note"
    return Finding("battery-fuse", level, said, 0.0, run.fuses_a[0] if run.fuses_a else run.rating_a, _FUSES)


def _choice(run: Run) -> str:
    """The standard sizes that suit a run, in words."""
    if not run.fuses_a:
        return sentence(
            "No standard size carries {current} and protects {size}: the cable is too thin.",
            current=f"{run.rated_for_a:.1f} A",
            size=run.size,
        )
    first, last = run.fuses_a[0], run.fuses_a[-1]
    only = sentence("Only {fuse} A suits", fuse=f"{first:g}")
    fuses = only if first == last else sentence("{first} to {last} A suit", first=f"{first:g}", last=f"{last:g}")
    said = (
        mark("{fuses} {size}, and only as a slow fuse: for a moment {most} flow.")
        if run.fuses_slow
        else mark("{fuses} {size}, its current and the {most} that flow for a moment.")
    )
    return sentence(said, fuses=fuses, size=run.size, most=f"{run.highest_a:.1f} A")


def _wrong_fuse(id: str, fuse_a: float, carries_a: float, run: Run) -> Finding | Passed:
    """A fuse that does not protect the cable, or does not last."""
    if fuse_a > carries_a:
        said = sentence(
            "The fuse of {fuse} is larger than the {carries} that the cable carries. {choice}",
            fuse=f"{fuse_a:g} A",
            carries=f"{carries_a:.1f} A",
            choice=_choice(run),
        )
        return Finding(id, "warning", said, fuse_a, carries_a, _FUSES)
    if fuse_a < run.rated_for_a:
        said = sentence(
            "The fuse of {fuse} is below {current}, {times} times the current: it ages and blows without a fault. "
            "{choice}",
            fuse=f"{fuse_a:g} A",
            current=f"{run.rated_for_a:.1f} A",
            times=f"{LASTING_FACTOR:g}",
            choice=_choice(run),
        )
        return Finding(id, "caution", said, fuse_a, run.rated_for_a, _FUSES)
    if fuse_a < run.highest_a:
        slow = sentence(
            "For a moment {most} A flow through the fuse of {fuse} A: it must be a slow one.",
            most=f"{run.highest_a:.1f}",
            fuse=f"{fuse_a:g}",
        )
        return Finding(id, "note", slow, fuse_a, run.highest_a, _FUSES)
    return Passed(id, f"Fuse of the run {run.name} against what its cable carries, A", fuse_a, carries_a, _FUSES)


def pump_fuse(scenario: Scenario, measures: Measures) -> Said:
    """What protects the pump's thinnest cable: its own fuse, or one upstream that is small enough for it."""
    runs = [run for run in measures.wiring.runs if run.name in (PUMP, EXTENSION)]
    thinnest = min(runs, key=lambda run: run.rating_a)
    own_a, upstream_a = scenario.pump.cable.fuse_a, scenario.battery.cable.fuse_a
    if own_a:
        return _wrong_fuse("pump-fuse", own_a, thinnest.rating_a, thinnest)
    if upstream_a and upstream_a <= thinnest.rating_a:
        what = "The battery's fuse against what the pump's thinnest cable carries, A"
        return Passed("pump-fuse", what, upstream_a, thinnest.rating_a, _FUSES)
    level = "warning" if own_a == 0.0 or upstream_a else "note"
    said = sentence(
        "{unfused} The {name} of {size} carries {rating}; a controller's load switch is no fuse. {choice}",
        unfused=_pump_unfused(own_a, upstream_a, thinnest),
        name=sentence(thinnest.name),
        size=thinnest.size,
        rating=f"{thinnest.rating_a:.1f} A",
        choice=_choice(thinnest),
    )
    return Finding("pump-fuse", level, said, upstream_a or 0.0, thinnest.rating_a, _FUSES)


def _pump_unfused(own_a: float | None, upstream_a: float | None, thinnest: Run) -> str:
    none = sentence("There is no fuse") if own_a == 0.0 else sentence("The scenario names no fuse")
    if upstream_a:
        return sentence(
            "{none} in the pump's run, and the battery's of {fuse} is too large for {size}.",
            none=none,
            fuse=f"{upstream_a:g} A",
            size=thinnest.size,
        )
    return sentence("{none} in the pump's run, nor one at the battery that protects it.", none=none)


def breaking_capacity(scenario: Scenario, measures: Measures) -> Said:
    """What a lithium battery drives into a short, against what its fuse can break, or else a common blade fuse."""
    if not cell(scenario.battery.chemistry).lithium:
        return None
    breaks_a, short_a = scenario.battery.cable.fuse_breaks_a, short_circuit_a(scenario)
    source = sentence("blade fuses 32 V DC, 1000 A: ISO 8820-3, from memory; the short from the battery's resistance")
    if short_a <= (breaks_a or BLADE_BREAKS_A):
        what = "The battery's current into a short against what its fuse breaks, A"
        return Passed("fuse-breaking-capacity", what, short_a, breaks_a or BLADE_BREAKS_A, source)
    said = sentence(
        "This battery can drive some {amps} A into a short, and {breaks}. Past its breaking capacity a fuse goes on "
        "burning. It needs one above that current, at a DC rating above {volts} V; a rating for mains (AC) says "
        "nothing here.",
        amps=_rounded(short_a),
        breaks=_breaks(breaks_a),
        volts=f"{scenario.controller.absorption_v:g}",
    )
    level = "warning" if breaks_a else "note"
    return Finding("fuse-breaking-capacity", level, said, short_a, breaks_a or BLADE_BREAKS_A, source)


def _breaks(breaks_a: float | None) -> str:
    if breaks_a:
        return sentence("the fuse breaks {amps} A", amps=f"{breaks_a:,.0f}")
    return sentence(
        "a common blade fuse breaks {amps} A; the scenario does not say what the fuse breaks",
        amps=f"{BLADE_BREAKS_A:,.0f}",
    )


def short_circuit_a(scenario: Scenario) -> float:
    """The battery's current into a short at its poles, A: full, in the first milliseconds."""
    lane = lanes_from([scenario], places=[0])["lane"][0]
    return float(lane["blocks"] * lane["rest_v"][-1] / (INSTANT_SHARE * lane["r0_ohm"]))


def _rounded(amps: float) -> str:
    """Two digits are all that an estimate has."""
    return f"{float(f'{amps:.2g}'):,.0f}"


RULES: tuple[Callable[[Scenario, Measures], Said], ...] = (
    thin_cable,
    overloaded_cable,
    starved_pump,
    overdriven_pump,
    pulsed_pump,
    load_running,
    load_starting,
    battery_fuse,
    pump_fuse,
    breaking_capacity,
)
