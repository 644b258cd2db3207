"""Rules on what the water does: flows, start and stop, filter, fish. They are silent where no water is simulated."""

from collections.abc import Callable

from sim.checks.finding import OWN, Finding, Passed, Said
from sim.figures.measures import Measures
from sim.figures.water.stopping import held_back
from sim.figures.water.year import Still, Water
from sim.scenario import Scenario
from sim.scenario.water import Water as Pond
from sim.units import Quantity, Several, sentence

LABEL_RATIO = 1.5
BRANCH_OFF = 0.2
FREEBOARD_SHARE = 0.9
TRANSIT_SHARE = 1.0 / 3.0
LOSS_CAUTION_MM, LOSS_WARNING_MM = 13.0, 19.0
SHEETS_LPH_CM = (75.0, 150.0, 300.0)  # for SHEETS_MM; water-garden suppliers, at second hand
SHEETS_MM = (6.0, 13.0, 25.0)
HOT_CAUTION_C, HOT_WARNING_C = 28.0, 32.0
LEAST_POINTS = 2.0  # of a curve
_HOT = sentence(
    "pond keepers' advice for goldfish and koi: stress from {low} to {high} on; common practice, no source",
    low=Quantity(28.0, "c", "g"),
    high=Quantity(30.0, "c", "g"),
)
_TRADE = sentence(
    "water-garden trade: {low} to {high} a day is the extreme of evaporation",
    low=Quantity(LOSS_CAUTION_MM, "mm", "g"),
    high=Quantity(LOSS_WARNING_MM, "mm", "g"),
)

WaterRule = Callable[["Scenario", "Pond", "Water"], Said]
StillRule = Callable[["Scenario", "Pond", "Still"], Said]


def cannot_lift(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """A pump whose head without flow does not reach the lift."""
    found = water.pipework
    source = sentence("the pump's own curve")
    if found.point.flow_lph > 0.0:
        what = "Head that the pump reaches without flow, against the lift"
        return Passed("pump-cannot-lift", what, found.shut_off_m, found.lift_m, source, "m", least=True)
    said = sentence(
        "The pump cannot lift the water: without any flow it reaches {reach}, and the lowest outlet is {lift} up. "
        "Nothing is moved.",
        reach=Quantity(found.shut_off_m, "m", ".2f"),
        lift=Quantity(found.lift_m, "m", ".2f"),
    )
    return Finding("pump-cannot-lift", "warning", said, found.shut_off_m, found.lift_m, source, "m")


def box_label(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """The flow on the box is without any lift and pipe."""
    flow = water.pipework.point.flow_lph
    label = scenario.pump.label_flow_lph or float(water.pipework.drawn_lph[-1])
    if flow <= 0.0:
        return None
    if label / flow <= LABEL_RATIO:
        return Passed("box-label-flow", "Flow on the box over the flow at this height", label / flow, LABEL_RATIO, OWN)
    said = sentence(
        "The pump's box promises {label}; at this height, in these pipes, it moves {flow}.",
        label=Quantity(label, "lph", ".0f"),
        flow=Quantity(flow, "lph", ".0f"),
    )
    return Finding("box-label-flow", "caution", said, label / flow, LABEL_RATIO, OWN)


def filter_over_driven(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """More flow through the filter than it is made for."""
    flow = water.filter_most_lph
    limit = pond.filter.max_flow_lph if pond.filter else None
    source = sentence("the scenario's water.filter.max_flow_lph")
    if limit is None:
        return None
    if flow <= limit:
        return Passed("filter-over-driven", "Most flow through the filter", flow, limit, source, "lph")
    said = sentence(
        "Up to {flow} go through a filter made for {limit} at most: it rinses out instead of cleaning.",
        flow=Quantity(flow, "lph", ".0f"),
        limit=Quantity(limit, "lph", ".0f"),
    )
    return Finding("filter-over-driven", "caution", said, flow, limit, source, "lph")


def lazy_tee(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """A branch that gets much more or much less than it should."""
    target = pond.branch.target_lph if pond.branch else None
    if target is None or water.pipework.point.flow_lph <= 0.0:
        return None
    flow = water.pipework.point.branch_flow_lph
    off = abs(flow / target - 1.0)
    if off <= BRANCH_OFF:
        return Passed("lazy-tee", "How far the branch is off its target, share", off, BRANCH_OFF, OWN)
    said = sentence(
        "The branch gets {flow} and should get {target}: water takes the easier way at a tee. The curve of branch flow "
        "against valve opening shows what the valve can do.",
        flow=Quantity(flow, "lph", ".0f"),
        target=Quantity(target, "lph", ".0f"),
    )
    return Finding("lazy-tee", "caution", said, off, BRANCH_OFF, OWN)


def basin_overflow(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """More water comes back at a stop than the basin has room for."""
    room, back = water.stopping.freeboard, water.stopping.drain_back + water.stopping.siphon
    if room is None:
        return None
    if back <= FREEBOARD_SHARE * room:
        what = f"What runs back at a stop, against {FREEBOARD_SHARE:.0%} of the basin's room"
        return Passed("basin-overflow", what, back, FREEBOARD_SHARE * room, OWN, "l")
    said = sentence(
        "When the pump stops, {back} run back into the basin, which has room for {room} up to its rim. After enough "
        "stops the pond has lost that water.",
        back=Quantity(back, "l", ".0f"),
        room=Quantity(room, "l", ".0f"),
    )
    return Finding("basin-overflow", "warning", said, back, FREEBOARD_SHARE * room, OWN, "l")


def start_up_drawdown(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """More water on its way than the basin can spare."""
    held, away = water.stopping.basin, water.stopping.transit
    if held is None:
        return None
    if away <= TRANSIT_SHARE * held:
        what = "Water on its way, against a third of the basin's"
        return Passed("start-up-drawdown", what, away, TRANSIT_SHARE * held, OWN, "l")
    said = sentence(
        "While the pump runs, {away} are on their way, out of {held} in the basin: at every start the level falls, and "
        "the pump may draw air.",
        away=Quantity(away, "l", ".0f"),
        held=Quantity(held, "l", ".0f"),
    )
    return Finding("start-up-drawdown", "warning", said, away, TRANSIT_SHARE * held, OWN, "l")


def siphon(scenario: Scenario, pond: Pond, water: Still) -> Said:
    """An outlet under water with nothing to break the siphon."""
    if pond.outlet.kind == "air-break" or pond.outlet.vent_depth_m is not None or held_back(pond):
        return Passed("siphon", "Outlets under water with nothing that breaks a siphon", 0.0, 0.0, OWN)
    said = sentence(
        "The outlet ends {depth} under water without an air break: at a stop the upper pool runs back through the "
        "pump, {back}. A small hole at the water line ends the siphon.",
        depth=Quantity(pond.outlet.depth_m, "m", ".2f"),
        back=Quantity(water.siphon_l, "l", ".0f"),
    )
    return Finding("siphon", "caution", said, pond.outlet.depth_m, 0.0, OWN, "m")


def leak(scenario: Scenario, pond: Pond, water: Still) -> Said:
    """A loss that was seen on site and that no evaporation explains."""
    loss = pond.observed_loss_mm_per_day
    if loss is None:
        return None
    if loss <= LOSS_CAUTION_MM:
        return Passed("leak-or-evaporation", "Fall of the level a day", loss, LOSS_CAUTION_MM, _TRADE, "mm")
    level, limit = ("warning", LOSS_WARNING_MM) if loss > LOSS_WARNING_MM else ("caution", LOSS_CAUTION_MM)
    likely, perhaps = sentence("a leak is likely"), sentence("this is the extreme of evaporation, or a leak")
    most = water.evaporation_mm_by_day.max()
    said = sentence(
        "The level falls by {loss} a day; in this weather {most} evaporate on the worst day: {words}.",
        loss=Quantity(loss, "mm", "g"),
        most=Quantity(most, "mm", ".1f"),
        words=likely if level == "warning" else perhaps,
    )
    return Finding("leak-or-evaporation", level, said, loss, limit, _TRADE, "mm")


def filter_gap(scenario: Scenario, pond: Pond, water: Still) -> Said:
    """A filter that stands too long for what lives in it."""
    gap, strainer = water.filter_longest_gap_h, pond.filter
    source = sentence("the scenario's water.filter, by default trade advice")
    if strainer is None:
        return None
    if gap <= strainer.note_after_h:
        return Passed("filter-gap", "Longest time of the filter without flow, h", gap, strainer.note_after_h, source)
    limits = (
        (strainer.flush_after_h, "warning", sentence("flush it before the water goes through again")),
        (strainer.warning_after_h, "warning", sentence("what lives in it starts to die")),
        (strainer.note_after_h, "note", sentence("what lives in it runs short of oxygen")),
    )
    limit, level, words = next(row for row in limits if gap > row[0])
    said = sentence(
        "The filter stands {hours} h without flow at the longest: {words}. Sources on this conflict.",
        hours=f"{gap:.0f}",
        words=words,
    )
    return Finding("filter-gap", level, said, gap, limit, source)


def night_oxygen(scenario: Scenario, pond: Pond, water: Still) -> Said:
    """Stops before dawn in warm water with fish, when oxygen is lowest."""
    nights = water.temperature.warm_night_stops
    if not pond.fish:
        return None
    if not nights:
        what = "Nights of warm water with a stop of over an hour after midnight"
        return Passed("night-oxygen-gap", what, 0.0, 0.0, OWN)
    said = sentence(
        "In {nights} nights with water above {warm} the pump stands for more than an hour between midnight and six, "
        "when oxygen is lowest. Fish need aeration that does not depend on this system.",
        nights=f"{nights}",
        warm=Quantity(pond.warm_limit_c, "c", "g"),
    )
    return Finding("night-oxygen-gap", "warning", said, float(nights), 0.0, OWN)


def thin_sheet(scenario: Scenario, pond: Pond, water: Water) -> Said:
    """A waterfall whose lip is too wide for its flow."""
    width_m = pond.stream.spillway_width_m if pond.stream else None
    flow = water.pipework.point.filter_flow_lph
    if width_m is None or flow <= 0.0:
        return None
    a_cm, source = flow / (100.0 * width_m), sentence("water-garden trade: flow for each width of a spillway")
    if a_cm >= SHEETS_LPH_CM[0]:
        what = "Flow over the waterfall's lip"
        return Passed("thin-sheet", what, a_cm, SHEETS_LPH_CM[0], source, "lph_cm", least=True)
    flows = (Quantity(one, "lph_cm", "g") for one in SHEETS_LPH_CM)
    sheets = (Quantity(one, "mm", "g") for one in SHEETS_MM)
    said = sentence(
        "Over the waterfall's lip go {flow} of its width: the water parts into threads. {flows} make a sheet of "
        "{sheets}; a lip of {lip} would do.",
        flow=Quantity(a_cm, "lph_cm", ".0f"),
        flows=Several(tuple(flows)),
        sheets=Several(tuple(sheets)),
        lip=Quantity(flow / SHEETS_LPH_CM[0] / 100.0, "m", ".2f"),
    )
    return Finding("thin-sheet", "note", said, a_cm, SHEETS_LPH_CM[0], source, "lph_cm")


def hot_water(scenario: Scenario, pond: Pond, water: Still) -> Said:
    """Water too warm for fish."""
    warmest = water.temperature.highest_c
    if not pond.fish:
        return None
    if warmest <= HOT_CAUTION_C:
        return Passed("hot-water", "Warmest water", warmest, HOT_CAUTION_C, _HOT, "c")
    level, limit = ("warning", HOT_WARNING_C) if warmest > HOT_WARNING_C else ("caution", HOT_CAUTION_C)
    said = sentence(
        "The water warms to {warmest}, where it holds {oxygen} of oxygen at most and fish need more of it. Shade, "
        "depth and moving water help; do not feed then.",
        warmest=Quantity(warmest, "c", ".0f"),
        oxygen=Quantity(water.temperature.least_oxygen_mg_l, "mg_l", ".1f"),
    )
    return Finding("hot-water", level, said, warmest, limit, _HOT, "c")


def no_curve(scenario: Scenario, measures: Measures) -> Said:
    """Water that is described, and a pump of which nobody knows what it lifts: most rules have nothing to judge."""
    if scenario.water is None:
        return None
    source, points = sentence("the scenario's pump.curve"), len(scenario.pump.curve or ())
    if points:
        return Passed(
            "water-without-curve", "Points of the pump's curve", float(points), LEAST_POINTS, source, least=True
        )
    said = sentence(
        "The water is described, but the pump has no curve: flows, turnovers, the tee, the basin at start and stop and "
        "the box's promise are not judged. Write pump.curve, its head against its flow. Fish, filter, siphon and "
        "evaporation are judged all the same."
    )
    return Finding("water-without-curve", "note", said, 0.0, LEAST_POINTS, source)


WATER_RULES: tuple[WaterRule, ...] = (
    cannot_lift,
    box_label,
    filter_over_driven,
    lazy_tee,
    basin_overflow,
    start_up_drawdown,
    thin_sheet,
)
STILL_RULES: tuple[StillRule, ...] = (siphon, leak, filter_gap, night_oxygen, hot_water)
Rule = Callable[[Scenario, Measures], Said]


def _where_simulated(rule: WaterRule) -> Rule:
    """A rule on flows as one on a year."""

    def on_year(scenario: Scenario, measures: Measures) -> Said:
        if scenario.water is None or measures.water is None:
            return None
        return rule(scenario, scenario.water, measures.water)

    return on_year


def _where_described(rule: StillRule) -> Rule:
    """A rule that asks for no flow as one on a year."""

    def on_year(scenario: Scenario, measures: Measures) -> Said:
        if scenario.water is None or measures.pond is None:
            return None
        return rule(scenario, scenario.water, measures.pond)

    return on_year


RULES: tuple[Rule, ...] = (no_curve, *map(_where_simulated, WATER_RULES), *map(_where_described, STILL_RULES))
