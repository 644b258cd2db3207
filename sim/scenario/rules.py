"""What two values of a scenario must be to each other; each rule is named by the key that a message points to."""

from collections.abc import Callable, Iterator
from functools import partial
from operator import attrgetter, gt, le, lt

from sim.calendar import hours_left, length_h, overlap
from sim.catalogue import chemistries
from sim.catalogue.cells import charge_release_c
from sim.scenario.choice import AS_IT_IS, twice
from sim.scenario.defaults import blocks, rated_a
from sim.scenario.models import NOMINAL_V, Scenario
from sim.scenario.rule import Rule
from sim.scenario.water_rules import RULES as _WATER

_POWER_TOLERANCE = 0.05
_CELL_VOC_V = (0.5, 0.8)
_COMPARED = {"less than": lt, "at most": le, "more than": gt}
_CHARGE_ROOM_V = 1.0  # that the array's open-circuit voltage must lie above the absorption voltage


def _limit(scenario: Scenario, name: str) -> float:
    """A limit of the chemistry at the battery's voltage, V."""
    return chemistries()[scenario.battery.chemistry]["limits"][name] * blocks(scenario.battery)


def _within(setting: str) -> Rule:
    """A controller's setting that must lie inside what the chemistry can reach."""
    low, high = f"{_SETTINGS[setting]}_min_v", f"{_SETTINGS[setting]}_max_v"
    return Rule(
        f"controller.{setting}",
        lambda s: _fits(s, setting),
        lambda s: f"{_limit(s, low):g} to {_limit(s, high):g} V for {_named(s)}",
    )


def _of_another(scenario: Scenario) -> tuple[str, int] | None:
    """A voltage that is wrong for this battery and right for one of another nominal voltage, and that voltage."""
    ours_v = scenario.battery.nominal_v
    others = [scenario.but(battery={"nominal_v": volts}) for volts in NOMINAL_V if volts != ours_v]
    suits = ((key, it.battery.nominal_v) for key, fits in _FITTING.items() for it in others if fits(it))
    return next(((key, volts) for key, volts in suits if not _FITTING[key](scenario)), None)


def _for_another(scenario: Scenario) -> str:
    key, volts = _of_another(scenario) or ("", 0)
    section, name = key.split(".")
    given = getattr(getattr(scenario, section), name)
    otherwise = "more panel.series" if section == "panel" else f"another {key}"
    return f"{volts}, which suits {key} ({given:g} V); or {otherwise} for {_named(scenario)}"


def _fits(scenario: Scenario, setting: str) -> bool:
    """Whether a controller's setting lies inside what the chemistry can reach."""
    low, high = (_limit(scenario, f"{_SETTINGS[setting]}_{end}_v") for end in ("min", "max"))
    return bool(low <= getattr(scenario.controller, setting) <= high)


_BOUND = {"absorption_v": "absorption", "load_disconnect_v": "threshold", "load_reconnect_v": "threshold"}
_SETTINGS = _BOUND | {"float_v": "threshold", "recharge_below_v": "threshold"}
_FITTING: dict[str, Callable[[Scenario], bool]] = {
    **{f"controller.{setting}": partial(_fits, setting=setting) for setting in _SETTINGS},
    "panel.voc_v": lambda s: _panel_voc_v(s) > _limit(s, "absorption_min_v") + _CHARGE_ROOM_V,
}


def _beside(key: str, is_: str, other: str) -> Rule:
    """A value that must be less or more than another one of its section, which has the same unit."""
    values = attrgetter(key, f"{key.partition('.')[0]}.{other}")
    unit = other[-1].upper()
    return Rule(key, lambda s: _COMPARED[is_](*values(s)), lambda s: f"{is_} {other} ({values(s)[1]:g} {unit})")


def _placed(name: str) -> Rule:
    """A figure of the site that a table of weather does not hold."""
    return Rule(
        f"site.{name}",
        lambda s: s.weather.columns is None or getattr(s.site, name) is not None,
        lambda s: "a number, since a table with weather.columns does not say where it was recorded",
    )


def _named(scenario: Scenario) -> str:
    return f"a {scenario.battery.nominal_v} V battery of chemistry {scenario.battery.chemistry}"


def _panel_voc_v(scenario: Scenario) -> float:
    return scenario.panel.series * scenario.panel.voc_v


def _label_w(scenario: Scenario) -> float:
    return scenario.panel.vmp_v * scenario.panel.imp_a


def _strings_behind(scenario: Scenario) -> int:
    """The most strings of cells that a shade says it covers."""
    return max((shade.cell_strings for shade in scenario.panel.shade if shade.cell_strings != "all"), default=0)


def _clocks(scenario: Scenario) -> int:
    """How many keys tell the clock of a table's stamps."""
    columns = scenario.weather.columns
    told = (scenario.site.utc_offset_h, columns and columns.utc_offset_h, columns and columns.time_zone)
    return sum(clock is not None for clock in told)


def _cell_voc_v(scenario: Scenario) -> float:
    return scenario.panel.voc_v / scenario.panel.cells


def _designs(scenario: Scenario) -> list[str]:
    """The names of all designs that a comparison would show."""
    return [AS_IT_IS, *(alternative.name for alternative in scenario.alternative)]


def _needed_by_monthly(name: str) -> Rule:
    """A value of the site that no file can give when the weather comes from monthly means."""
    return Rule(
        f"site.{name}",
        lambda s: s.weather.monthly is None or getattr(s.site, name) is not None,
        lambda s: (
            "a number; weather.monthly says nothing of its place, so the site needs latitude_deg, longitude_deg and "
            "elevation_m, and utc_offset_h where it is not the standard time of the place"
        ),
    )


_WEATHER = (
    Rule(
        "weather",
        lambda s: len(s.weather.sources) == 1,
        lambda s: (
            "exactly one of weather.file (a path), weather.files (paths), weather.sample (a bundled year) and "
            "[weather.monthly] (twelve means); or none of them where [site] has latitude_deg, from 56 S to 79 N, and "
            "longitude_deg, for the world climate of the place"
        ),
    ),
    Rule(
        "weather",
        lambda s: s.weather.columns is None or not {"sample", "monthly"} & set(s.weather.sources),
        lambda s: "weather.columns only beside weather.file or weather.files; they are for tables",
    ),
    _placed("latitude_deg"),
    _placed("longitude_deg"),
    Rule(
        "site.utc_offset_h",
        lambda s: s.weather.columns is None or _clocks(s) > 0,
        lambda s: "a number, unless weather.columns has utc_offset_h or time_zone, or site its coordinates",
    ),
    *map(_needed_by_monthly, ("latitude_deg", "longitude_deg", "elevation_m", "utc_offset_h")),
)
_PANEL = (
    _beside("panel.vmp_v", "less than", "voc_v"),
    _beside("panel.imp_a", "less than", "isc_a"),
    Rule(
        "panel.power_w",
        lambda s: abs(_label_w(s) - s.panel.power_w) <= _POWER_TOLERANCE * s.panel.power_w,
        lambda s: f"a power within 5 % of vmp_v x imp_a ({_label_w(s):.4g} W)",
    ),
    Rule(
        "panel.cells",
        lambda s: _CELL_VOC_V[0] <= _cell_voc_v(s) <= _CELL_VOC_V[1],
        lambda s: (
            f"a number that makes voc_v ({s.panel.voc_v:g} V) 0.5 to 0.8 V a cell; here it is {_cell_voc_v(s):.3g} V"
        ),
    ),
    Rule(
        "panel.bypass_strings",
        lambda s: _strings_behind(s) <= s.panel.bypass_strings,
        lambda s: f"at least the cell_strings ({_strings_behind(s)}) that a panel.shade covers",
    ),
    Rule(
        "panel.count",
        lambda s: s.panel.count % s.panel.series == 0,
        lambda s: f"a multiple of panel.series ({s.panel.series})",
    ),
)
_CONTROLLER = (
    Rule("battery.nominal_v", lambda s: _of_another(s) is None, _for_another),
    *map(_within, _BOUND),
    _beside("controller.float_v", "at most", "absorption_v"),
    _beside("controller.recharge_below_v", "less than", "float_v"),
    _beside("controller.load_reconnect_v", "more than", "load_disconnect_v"),
    _beside("controller.load_reconnect_v", "less than", "absorption_v"),
    Rule(
        "panel.voc_v",
        lambda s: _panel_voc_v(s) > s.controller.absorption_v + _CHARGE_ROOM_V,
        lambda s: (
            f"a voltage that with panel.series ({s.panel.series}) makes more than {_CHARGE_ROOM_V:g} V above "
            f"controller.absorption_v ({s.controller.absorption_v:g} V); here it is {_panel_voc_v(s):g} V"
        ),
    ),
    Rule(
        "controller.equalise_every_days",
        lambda s: (
            s.controller.equalise_every_days == 0 or chemistries()[s.battery.chemistry]["equalise_every_days"] > 0
        ),
        lambda s: f"0, since equalisation harms {s.battery.chemistry}",
    ),
    Rule(
        "controller.load_windows",
        lambda s: bool(s.controller.load_windows) or s.controller.load_mode != "clock",
        lambda s: 'at least one window, since load_mode is "clock"',
    ),
    Rule(
        "controller.load_windows",
        lambda s: not s.controller.load_windows or s.controller.load_mode == "clock",
        lambda s: f'nothing unless load_mode is "clock"; it is "{s.controller.load_mode}"',
    ),
    Rule(
        "controller.load_windows",
        lambda s: not overlap(s.controller.load_windows),
        lambda s: "windows that do not overlap",
    ),
)
_BATTERY = (
    Rule(
        "battery.place_min_c",
        lambda s: (s.battery.place == "outdoors") == (s.battery.place_min_c is None),
        lambda s: 'a temperature where place is "frost-free" or "heated", and nothing outdoors',
    ),
    Rule(
        "battery.heater_w",
        lambda s: (s.battery.place == "heated") == (s.battery.heater_w is not None),
        lambda s: 'a power where place is "heated", and nothing elsewhere',
    ),
    Rule(
        "battery.charge_release_c",
        lambda s: s.battery.charge_release_c is None or charge_release_c(s.battery.chemistry) is not None,
        lambda s: f"nothing for chemistry {s.battery.chemistry}, which no frost keeps from charging",
    ),
)
_PUMP = (
    _beside("pump.min_v", "at most", "at_v"),
    Rule(
        "pump.max_v",
        lambda s: s.pump.max_v >= s.pump.at_v and s.pump.max_v > s.pump.min_v,
        lambda s: f"at least at_v ({s.pump.at_v:g} V) and more than min_v ({s.pump.min_v:g} V)",
    ),
    Rule(
        "controller.max_load_a",
        lambda s: rated_a(s.pump) <= s.controller.max_load_a,
        lambda s: f"at least the pump's rated current, power_w / at_v ({rated_a(s.pump):.3g} A)",
    ),
    Rule(
        "pump.start_v",
        lambda s: s.pump.min_v <= s.pump.start_v <= s.pump.max_v,
        lambda s: f"a voltage from min_v ({s.pump.min_v:g} V) to max_v ({s.pump.max_v:g} V)",
    ),
)
_CARE = (
    Rule(
        "care.shut_down",
        lambda s: (s.care.shut_down is None) == (s.care.start_up is None),
        lambda s: "a day together with care.start_up, or neither",
    ),
    Rule(
        "care.start_up",
        lambda s: s.care.start_up is None or s.care.start_up != s.care.shut_down,
        lambda s: "another day than care.shut_down",
    ),
    Rule(
        "care.trimming",
        lambda s: not s.care.trimming or any(shade.trimmed_transmittance is not None for shade in s.panel.shade),
        lambda s: "nothing, unless a panel.shade has its trimmed_transmittance",
    ),
)
_NEED = (
    Rule(
        "need.hours_per_day",
        lambda s: max(s.need.hours_per_day) <= length_h(s.need.between),
        lambda s: f"at most the {length_h(s.need.between):g} h of need.between",
    ),
    Rule(
        "need.quiet",
        lambda s: s.need.quiet is None or max(s.need.hours_per_day) <= hours_left(s.need.between, s.need.quiet),
        lambda s: (
            f"times that leave the {max(s.need.hours_per_day):g} h of need.hours_per_day in need.between; they leave "
            f"{hours_left(s.need.between, s.need.quiet):g} h"
        ),
    ),
    Rule(
        "need.quiet",
        lambda s: s.load_windows_s is None or bool(s.load_windows_s),
        lambda s: "times that leave something of controller.load_windows",
    ),
)
_ALTERNATIVES = (
    Rule(
        "alternative",
        lambda s: twice(_designs(s)) is None,
        lambda s: f'tables with different names; "{twice(_designs(s))}" stands twice',
    ),
)
RULES = (*_WEATHER, *_PANEL, *_CONTROLLER, *_BATTERY, *_PUMP, *_NEED, *_CARE, *_ALTERNATIVES, *_WATER)


def broken(scenario: Scenario) -> Iterator[tuple[str, str]]:
    """The key of each rule that does not hold, and what is allowed there."""
    return ((rule.key, rule.allowed(scenario)) for rule in RULES if not rule.holds(scenario))
