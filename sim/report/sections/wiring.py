"""The section on cables and fuses: a table of the runs, and what the drawing of the system says."""

from collections.abc import Callable
from dataclasses import dataclass

from sim.checks.wiring import IDS, judged_start_a
from sim.figures.wiring import BATTERY, EXTENSION, FUSE_WITHIN_CM, PANEL, PUMP, STRINGS_UNFUSED, Run, Size, Wiring
from sim.report.blocks import Found, Table, words
from sim.report.section import Section
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.units import Quantity, sentence, told
from sim.words import number

CAUTION = sentence(
    "Fit the battery's fuse within {most} of its + pole before anything else is connected, and never a "
    "bigger one than its cable carries. The panel is live in daylight. Local codes and licensed practice decide; this "
    "is planning information.",
    most=Quantity(FUSE_WITHIN_CM, "cm", "g"),
)


@dataclass(frozen=True)
class Lead:
    """A run in the drawing: its cable, and its fuse if one is drawn; ``state`` is how it is drawn."""

    cable: str
    fuse: str = ""
    state: str = ""


@dataclass(frozen=True)
class Drawing:
    """What is written into the drawing of the system and below it, and what it says to those who do not see it."""

    panel: str
    controller: str
    battery: str
    pump: str
    to_panel: Lead
    to_battery: Lead
    to_pump: Lead
    extension: Lead | None
    description: str
    below: tuple[str, ...]


def section(result: YearResult) -> Section:
    """The wiring of a simulated year in words."""
    scenario, wiring = result.scenario, result.measures.wiring
    found = (Found(one.level, one.message) for one in result.findings if one.id in IDS)
    part = (drawing_of(scenario, wiring), _runs(wiring), *found, *words((_basis(wiring), CAUTION), "small"))
    return Section("wiring", "Wiring", part)


def _runs(wiring: Wiring) -> Table:
    """The table: a column for each run."""
    rows: tuple[tuple[str, Callable[[Run], str]], ...] = (
        ("Length", lambda run: str(Quantity(run.length_m, "m", "g"))),
        ("Size", lambda run: told(run.size)),
        ("Current while running", lambda run: f"{run.current_a:.1f} A"),
        ("Drop while running", lambda run: _drop(run.drop_v, run.drop_share)),
        ("Current at the most", lambda run: f"{run.highest_a:.1f} A"),
        ("Drop at the most", lambda run: _drop(run.highest_drop_v, run.highest_drop_share)),
        ("Heat in the year", lambda run: f"{number(run.loss_wh)} Wh"),
        ("The conductor warms to", lambda run: str(Quantity(run.conductor_c, "c", ".0f"))),
        ("Rating in that air", lambda run: f"{run.rating_a:.1f} A"),
        ("Must be made for", lambda run: f"{run.rated_for_a:.1f} A"),
        ("Smallest size for a drop of 3 %", lambda run: _size(run.sizes[0])),
        ("Smallest size for a drop of 10 %", lambda run: _size(run.sizes[1])),
        ("Fuse", lambda run: fuse_words(run, wiring)),
    )
    names = (run.name for run in wiring.runs)
    return Table(("Run", *names), tuple((name, *map(cell, wiring.runs)) for name, cell in rows))


def _drop(volts: float, share: float) -> str:
    return f"{volts:.2f} V, {share * 100.0:.1f} %"


def fuse_words(run: Run, wiring: Wiring) -> str:
    """The fuse of a run as fitted, and the standard sizes that suit."""
    if run.name == PANEL:
        each = wiring.string_fuse_a
        return f"{each:g} A in each string" if each else f"none up to {STRINGS_UNFUSED} strings side by side"
    if run.name == EXTENSION:
        return "that of the pump's cable"
    fitted = {None: "not stated", 0.0: "none"}.get(run.fuse_a, f"{run.fuse_a or 0.0:g} A")
    return f"{fitted}; {_window(run)}"


def _window(run: Run) -> str:
    if not run.fuses_a:
        return "no size suits this cable"
    first, last = run.fuses_a[0], run.fuses_a[-1]
    slow = ", slow" if run.fuses_slow else ""
    return f"{first:g} A{slow} suits" if first == last else f"{first:g} to {last:g} A{slow} suit"


def _size(size: Size) -> str:
    return str(size) or "none of the catalogue"


def _at_pump(scenario: Scenario, wiring: Wiring) -> str:
    return (
        f"With {wiring.pump_run_from_v:g} V at the controller, where it disconnects, the running pump has "
        f"{wiring.pump_run_v:.2f} V. At a start from {wiring.pump_start_from_v:g} V it has {wiring.pump_start_v:.2f} V "
        f"for a moment; it needs {scenario.pump.min_v:g} V."
    )


def _at_terminals(scenario: Scenario, wiring: Wiring) -> str:
    """What the pump asks of the controller's load terminals."""
    measured = "start_current_factor" in scenario.pump.model_fields_set
    basis = "as the scenario says" if measured else "taken as three times the rated one, since nobody measured it"
    return (
        f"The running pump draws up to {wiring.pump_highest_a:.1f} A and the starting one "
        f"{judged_start_a(scenario):.1f} A ({basis}); the controller's load terminals are made for "
        f"{scenario.controller.max_load_a:g} A."
    )


def _array(scenario: Scenario, wiring: Wiring) -> str:
    control, coldest = scenario.controller, Quantity(wiring.air_min_c, "c", ".0f")
    bears = f"; the controller bears {control.max_pv_v:g} V" if control.max_pv_v else ""
    return (
        f"The array's open-circuit voltage is {wiring.array_voc_v:.1f} V, and {wiring.array_cold_voc_v:.1f} V at "
        f"{coldest}{bears}. Its short-circuit current is {wiring.array_isc_a:.1f} A; the controller is "
        f"made for a charge of {control.max_charge_a:g} A."
    )


def _basis(wiring: Wiring) -> str:
    return sentence(
        "Drops, temperatures and ratings are for air of {hottest}, the hottest of the year; cables in a conduit, in a "
        "bundle or in the sun carry less. Resistance by IEC 60228 class 5 or NEC chapter 9 table 8, ampacity by IEC "
        "60364-5-52 table B.52.2 or NEC table 310.16 ({bears}). The panel's run is made for 1.25 × 1.25 times the "
        "short-circuit current, the others and the fuses for 1.25 times theirs. “At the most” is the pump's start, or "
        "sun at the edges of clouds. Heat is the simulated year's, with copper at {copper}.",
        hottest=Quantity(wiring.air_max_c, "c", ".0f"),
        bears=Quantity(60.0, "c", "g"),
        copper=Quantity(20.0, "c", "g"),
    )


def drawing_of(scenario: Scenario, wiring: Wiring) -> Drawing:
    """The drawing's words."""
    panel, battery, pump = scenario.panel, scenario.battery, scenario.pump
    leads = {run.name: _lead(run, wiring) for run in wiring.runs}
    return Drawing(
        panel=f"{panel.count} × {panel.power_w:g} W" if panel.count > 1 else f"{panel.power_w:g} W",
        controller=f"{scenario.controller.kind.upper()}, {scenario.controller.max_charge_a:g} A",
        battery=f"{battery.nominal_v} V, {battery.capacity_ah:g} Ah",
        pump=f"{pump.power_w:g} W, {pump.at_v:g} V",
        to_panel=leads[PANEL],
        to_battery=leads[BATTERY],
        to_pump=leads[PUMP],
        extension=leads.get(EXTENSION),
        description=" ".join(
            f"{run.name}: {Quantity(run.length_m, 'm', 'g')} of {told(run.size)}, fuse: {fuse_words(run, wiring)}."
            for run in wiring.runs
        ),
        below=(_at_pump(scenario, wiring), _at_terminals(scenario, wiring), _array(scenario, wiring)),
    )


def _lead(run: Run, wiring: Wiring) -> Lead:
    """The fuse of a run as it is drawn: those of the strings, the battery's always, the pump's if there is one."""
    cable = f"{Quantity(run.length_m, 'm', 'g')}, {told(run.size)}"
    if run.name == PANEL:
        return Lead(cable, f"{wiring.string_fuse_a:g} A" if wiring.string_fuse_a else "")
    if run.name == BATTERY and not run.fuse_a:
        return Lead(cable, *(("missing", "alarm") if run.fuse_a == 0.0 else ("not stated", "open")))
    return Lead(cable, f"{run.fuse_a:g} A" if run.fuse_a and run.name != EXTENSION else "")
