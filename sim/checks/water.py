"""Rules on what the water does: flows, start and stop, filter, fish. They are silent where no water is simulated."""

from collections.abc import Callable

from sim.checks.finding import OWN, Finding
from sim.figures.measures import Measures
from sim.figures.water.stopping import held_back
from sim.figures.water.year import Water
from sim.scenario import Scenario
from sim.scenario.water import Water as Pond

LABEL_RATIO = 1.5
BRANCH_OFF = 0.2
FREEBOARD_SHARE = 0.9
TRANSIT_SHARE = 1.0 / 3.0
LOSS_CAUTION_MM, LOSS_WARNING_MM = 13.0, 19.0
SHEETS_LPH_CM = (75.0, 150.0, 300.0)  # for sheets of 6, 13 and 25 mm; water-garden suppliers, at second hand
HOT_CAUTION_C, HOT_WARNING_C = 28.0, 32.0
_HOT = "pond keepers' advice for goldfish and koi: stress from 28 to 30 °C on; common practice, no source"
_TRADE = "water-garden trade: 13 to 19 mm a day is the extreme of evaporation"

WaterRule = Callable[["Scenario", "Pond", "Water"], Finding | None]


def cannot_lift(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A pump whose head without flow does not reach the lift."""
    found = water.pipework
    if found.point.flow_lph > 0.0:
        return None
    said = (
        f"The pump cannot lift the water: without any flow it reaches {found.shut_off_m:.2f} m, and the lowest outlet "
        f"is {found.lift_m:.2f} m up. Nothing is moved."
    )
    return Finding("pump-cannot-lift", "warning", said, found.shut_off_m, found.lift_m, "the pump's own curve")


def box_label(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """The flow on the box is without any lift and pipe."""
    flow = water.pipework.point.flow_lph
    label = scenario.pump.label_flow_lph or float(water.pipework.drawn_lph[-1])
    if flow <= 0.0 or label / flow <= LABEL_RATIO:
        return None
    said = f"The pump's box promises {label:.0f} l/h; at this height, in these pipes, it moves {flow:.0f} l/h."
    return Finding("box-label-flow", "caution", said, label / flow, LABEL_RATIO, OWN)


def filter_over_driven(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More flow through the filter than it is made for."""
    flow = water.filter_most_lph
    limit = pond.filter.max_flow_lph if pond.filter else None
    if limit is None or flow <= limit:
        return None
    said = (
        f"Up to {flow:.0f} l/h go through a filter made for {limit:.0f} l/h at most: it rinses out instead of cleaning."
    )
    return Finding("filter-over-driven", "caution", said, flow, limit, "the scenario's water.filter.max_flow_lph")


def lazy_tee(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A branch that gets much more or much less than it should."""
    target = pond.branch.target_lph if pond.branch else None
    if target is None or water.pipework.point.flow_lph <= 0.0:
        return None
    flow = water.pipework.point.branch_flow_lph
    off = abs(flow / target - 1.0)
    if off <= BRANCH_OFF:
        return None
    said = (
        f"The branch gets {flow:.0f} l/h and should get {target:.0f} l/h: water takes the easier way at a tee. The "
        "curve of branch flow against valve opening shows what the valve can do."
    )
    return Finding("lazy-tee", "caution", said, off, BRANCH_OFF, OWN)


def basin_overflow(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More water comes back at a stop than the basin has room for."""
    room, back = water.stopping.freeboard, water.stopping.drain_back + water.stopping.siphon
    if room is None or back <= FREEBOARD_SHARE * room:
        return None
    said = (
        f"When the pump stops, {back:.0f} l run back into the basin, which has room for {room:.0f} l up to its rim. "
        "After enough stops the pond has lost that water."
    )
    return Finding("basin-overflow", "warning", said, back, FREEBOARD_SHARE * room, OWN)


def start_up_drawdown(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """More water on its way than the basin can spare."""
    held, away = water.stopping.basin, water.stopping.transit
    if held is None or away <= TRANSIT_SHARE * held:
        return None
    said = (
        f"While the pump runs, {away:.0f} l are on their way, out of {held:.0f} l in the basin: at every start the "
        "level falls, and the pump may draw air."
    )
    return Finding("start-up-drawdown", "warning", said, away, TRANSIT_SHARE * held, OWN)


def siphon(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """An outlet under water with nothing to break the siphon."""
    if pond.outlet.kind == "air-break" or pond.outlet.vent_depth_m is not None or held_back(pond):
        return None
    said = (
        f"The outlet ends {pond.outlet.depth_m:.2f} m under water without an air break: at a stop the upper pool runs "
        f"back through the pump, {water.stopping.siphon:.0f} l. A small hole at the water line ends the siphon."
    )
    return Finding("siphon", "caution", said, pond.outlet.depth_m, 0.0, OWN)


def leak(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A loss that was seen on site and that no evaporation explains."""
    loss = pond.observed_loss_mm_per_day
    if loss is None or loss <= LOSS_CAUTION_MM:
        return None
    level, limit = ("warning", LOSS_WARNING_MM) if loss > LOSS_WARNING_MM else ("caution", LOSS_CAUTION_MM)
    words = "a leak is likely" if level == "warning" else "this is the extreme of evaporation, or a leak"
    most = water.evaporation_mm_by_day.max()
    said = f"The level falls by {loss:g} mm a day; in this weather {most:.1f} mm evaporate on the worst day: {words}."
    return Finding("leak-or-evaporation", level, said, loss, limit, _TRADE)


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
    said = (
        f"In {nights} nights with water above {pond.warm_limit_c:g} °C the pump stands for more than an hour between "
        "midnight and six, when oxygen is lowest. Fish need aeration that does not depend on this system."
    )
    return Finding("night-oxygen-gap", "warning", said, float(nights), 0.0, OWN)


def thin_sheet(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """A waterfall whose lip is too wide for its flow."""
    width_m = pond.stream.spillway_width_m if pond.stream else None
    flow = water.pipework.point.filter_flow_lph
    if width_m is None or flow <= 0.0 or flow / (100.0 * width_m) >= SHEETS_LPH_CM[0]:
        return None
    a_cm = flow / (100.0 * width_m)
    thin, fair, full = SHEETS_LPH_CM
    said = (
        f"Over the waterfall's lip go {a_cm:.0f} l/h for each centimetre of its width: the water parts into threads. "
        f"{thin:g}, {fair:g} and {full:g} l/h make a sheet of 6, 13 and 25 mm; a lip of {flow / thin / 100.0:.2f} m "
        "would do."
    )
    return Finding("thin-sheet", "note", said, a_cm, thin, "water-garden trade: flow for each width of a spillway")


def hot_water(scenario: Scenario, pond: Pond, water: Water) -> Finding | None:
    """Water too warm for fish."""
    warmest = water.temperature.highest_c
    if not pond.fish or warmest <= HOT_CAUTION_C:
        return None
    level, limit = ("warning", HOT_WARNING_C) if warmest > HOT_WARNING_C else ("caution", HOT_CAUTION_C)
    said = (
        f"The water warms to {warmest:.0f} °C, where it holds {water.temperature.least_oxygen_mg_l:.1f} mg of oxygen "
        "in a litre at most and fish need more of it. Shade, depth and moving water help; do not feed then."
    )
    return Finding("hot-water", level, said, warmest, limit, _HOT)


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
