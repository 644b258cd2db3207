"""Rules on what the water does: flows, start and stop, filter, fish. They are silent where no water is simulated."""

from collections.abc import Callable

from sim.checks.finding import OWN, Finding
from sim.figures.measures import Measures
from sim.figures.water.stopping import held_back
from sim.figures.water.year import Water
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

WaterRule = Callable[["Scenario", "Pond", "Water"], Finding | None]


def cannot_lift(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A pump whose head without flow does not reach the lift."""
    found = water.pipework
    if found.point.flow_lph > 0.0:
        return None
    said = sentence(
        "The pump cannot lift the water: without any flow it reaches {reach}, and the lowest outlet is {lift} up. "
        "Nothing is moved.",
        reach=Quantity(found.shut_off_m, "m", ".2f"),
        lift=Quantity(found.lift_m, "m", ".2f"),
    )
    return Finding("pump-cannot-lift", "warning", said, found.shut_off_m, found.lift_m, "the pump's own curve", "m")


def box_label(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """The flow on the box is without any lift and pipe."""
    flow = water.pipework.point.flow_lph
    label = scenario.pump.label_flow_lph or float(water.pipework.drawn_lph[-1])
    if flow <= 0.0 or label / flow <= LABEL_RATIO:
        return None
    said = sentence(
        "The pump's box promises {label}; at this height, in these pipes, it moves {flow}.",
        label=Quantity(label, "lph", ".0f"),
        flow=Quantity(flow, "lph", ".0f"),
    )
    return Finding("box-label-flow", "caution", said, label / flow, LABEL_RATIO, OWN)


def filter_over_driven(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More flow through the filter than it is made for."""
    flow = water.filter_most_lph
    limit = pond.filter.max_flow_lph if pond.filter else None
    if limit is None or flow <= limit:
        return None
    said = sentence(
        "Up to {flow} go through a filter made for {limit} at most: it rinses out instead of cleaning.",
        flow=Quantity(flow, "lph", ".0f"),
        limit=Quantity(limit, "lph", ".0f"),
    )
    source = "the scenario's water.filter.max_flow_lph"
    return Finding("filter-over-driven", "caution", said, flow, limit, source, "lph")


def lazy_tee(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A branch that gets much more or much less than it should."""
    target = pond.branch.target_lph if pond.branch else None
    if target is None or water.pipework.point.flow_lph <= 0.0:
        return None
    flow = water.pipework.point.branch_flow_lph
    off = abs(flow / target - 1.0)
    if off <= BRANCH_OFF:
        return None
    said = sentence(
        "The branch gets {flow} and should get {target}: water takes the easier way at a tee. The curve of branch flow "
        "against valve opening shows what the valve can do.",
        flow=Quantity(flow, "lph", ".0f"),
        target=Quantity(target, "lph", ".0f"),
    )
    return Finding("lazy-tee", "caution", said, off, BRANCH_OFF, OWN)


def basin_overflow(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More water comes back at a stop than the basin has room for."""
    room, back = water.stopping.freeboard, water.stopping.drain_back + water.stopping.siphon
    if room is None or back <= FREEBOARD_SHARE * room:
        return None
    said = sentence(
        "When the pump stops, {back} run back into the basin, which has room for {room} up to its rim. After enough "
        "stops the pond has lost that water.",
        back=Quantity(back, "l", ".0f"),
        room=Quantity(room, "l", ".0f"),
    )
    return Finding("basin-overflow", "warning", said, back, FREEBOARD_SHARE * room, OWN, "l")


def start_up_drawdown(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More water on its way than the basin can spare."""
    held, away = water.stopping.basin, water.stopping.transit
    if held is None or away <= TRANSIT_SHARE * held:
        return None
    said = sentence(
        "While the pump runs, {away} are on their way, out of {held} in the basin: at every start the level falls, and "
        "the pump may draw air.",
        away=Quantity(away, "l", ".0f"),
        held=Quantity(held, "l", ".0f"),
    )
    return Finding("start-up-drawdown", "warning", said, away, TRANSIT_SHARE * held, OWN, "l")


def siphon(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """An outlet under water with nothing to break the siphon."""
    if pond.outlet.kind == "air-break" or pond.outlet.vent_depth_m is not None or held_back(pond):
        return None
    said = sentence(
        "The outlet ends {depth} under water without an air break: at a stop the upper pool runs back through the "
        "pump, {back}. A small hole at the water line ends the siphon.",
        depth=Quantity(pond.outlet.depth_m, "m", ".2f"),
        back=Quantity(water.stopping.siphon, "l", ".0f"),
    )
    return Finding("siphon", "caution", said, pond.outlet.depth_m, 0.0, OWN, "m")


def leak(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A loss that was seen on site and that no evaporation explains."""
    loss = pond.observed_loss_mm_per_day
    if loss is None or loss <= LOSS_CAUTION_MM:
        return None
    level, limit = ("warning", LOSS_WARNING_MM) if loss > LOSS_WARNING_MM else ("caution", LOSS_CAUTION_MM)
    words = "a leak is likely" if level == "warning" else "this is the extreme of evaporation, or a leak"
    most = water.evaporation_mm_by_day.max()
    said = sentence(
        "The level falls by {loss} a day; in this weather {most} evaporate on the worst day: {words}.",
        loss=Quantity(loss, "mm", "g"),
        most=Quantity(most, "mm", ".1f"),
        words=words,
    )
    return Finding("leak-or-evaporation", level, said, loss, limit, _TRADE, "mm")


def filter_gap(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A filter that stands too long for what lives in it."""
    gap, strainer = water.filter_longest_gap_h, pond.filter
    if strainer is None or gap <= strainer.note_after_h:
        return None
    limits = (
        (strainer.flush_after_h, "warning", "flush it before the water goes through again"),
        (strainer.warning_after_h, "warning", "what lives in it starts to die"),
        (strainer.note_after_h, "note", "what lives in it runs short of oxygen"),
    )
    limit, level, words = next(row for row in limits if gap > row[0])
    said = f"The filter stands {gap:.0f} h without flow at the longest: {words}. Sources on this conflict."
    return Finding("filter-gap", level, said, gap, limit, "the scenario's water.filter, by default trade advice")


def night_oxygen(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """Stops before dawn in warm water with fish, when oxygen is lowest."""
    nights = water.temperature.warm_night_stops
    if not pond.fish or not nights:
        return None
    said = sentence(
        "In {nights} nights with water above {warm} the pump stands for more than an hour between midnight and six, "
        "when oxygen is lowest. Fish need aeration that does not depend on this system.",
        nights=nights,
        warm=Quantity(pond.warm_limit_c, "c", "g"),
    )
    return Finding("night-oxygen-gap", "warning", said, float(nights), 0.0, OWN)


def thin_sheet(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A waterfall whose lip is too wide for its flow."""
    width_m = pond.stream.spillway_width_m if pond.stream else None
    flow = water.pipework.point.filter_flow_lph
    if width_m is None or flow <= 0.0 or flow / (100.0 * width_m) >= SHEETS_LPH_CM[0]:
        return None
    a_cm = flow / (100.0 * width_m)
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
    source = "water-garden trade: flow for each width of a spillway"
    return Finding("thin-sheet", "note", said, a_cm, SHEETS_LPH_CM[0], source, "lph_cm")


def hot_water(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """Water too warm for fish."""
    warmest = water.temperature.highest_c
    if not pond.fish or warmest <= HOT_CAUTION_C:
        return None
    level, limit = ("warning", HOT_WARNING_C) if warmest > HOT_WARNING_C else ("caution", HOT_CAUTION_C)
    said = sentence(
        "The water warms to {warmest}, where it holds {oxygen} of oxygen at most and fish need more of it. Shade, "
        "depth and moving water help; do not feed then.",
        warmest=Quantity(warmest, "c", ".0f"),
        oxygen=Quantity(water.temperature.least_oxygen_mg_l, "mg_l", ".1f"),
    )
    return Finding("hot-water", level, said, warmest, limit, _HOT, "c")


WATER_RULES: tuple[WaterRule, ...] = (
    cannot_lift,
    box_label,
    filter_over_driven,
    lazy_tee,
    basin_overflow,
    start_up_drawdown,
    siphon,
    leak,
    filter_gap,
    night_oxygen,
    hot_water,
    thin_sheet,
)


def _where_simulated(rule: WaterRule) -> Callable[[Scenario, Measures], Finding | None]:
    """A rule on water as one on a year."""

    def on_year(scenario: Scenario, measures: Measures) -> Finding | None:
        if scenario.water is None or measures.water is None:
            return None
        return rule(scenario, scenario.water, measures.water)

    return on_year


RULES = tuple(map(_where_simulated, WATER_RULES))
