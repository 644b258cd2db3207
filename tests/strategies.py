"""What hypothesis draws from: any valid scenario, as the plain data of a TOML file."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

from sim.catalogue import chemistries, sample_names
from sim.catalogue.cables import gauges
from sim.catalogue.pipework import fittings, roughness_mm, valves

Draw = st.DrawFn
Data = dict[str, Any]


def numbers(low: float, high: float, places: int = 3) -> st.SearchStrategy[float]:
    """Numbers as people write them, with a few decimal places, from ``low`` to ``high``."""
    scale = 10**places
    return st.integers(round(low * scale), round(high * scale)).map(lambda whole: whole / scale)


def some(**optional: st.SearchStrategy[Any]) -> st.SearchStrategy[Data]:
    """Any of these keys, or none."""
    return st.fixed_dictionaries({}, optional=optional)


def clocks(first: int = 0, last: int = 24 * 60 - 1) -> st.SearchStrategy[str]:
    """Times of day in a range of minutes."""
    return st.integers(first, last).map(clock)


def clock(minute: int) -> str:
    """Minutes from midnight as a time of day."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def monthly(values: st.SearchStrategy[float]) -> st.SearchStrategy[float | list[float]]:
    """One value or twelve."""
    return values | st.lists(values, min_size=12, max_size=12)


def cables() -> st.SearchStrategy[Data]:
    """A run of cable with any of its keys."""
    run = {"length_m": numbers(0, 500), "extra_mohm": numbers(0, 1000)}
    return some(**run, area_mm2=numbers(0.25, 120)) | some(**run, awg=st.sampled_from(sorted(gauges())))


@st.composite
def windows(draw: Draw) -> list[list[str]]:
    """Windows of the day that do not overlap; the last may reach through midnight."""
    edges = sorted(draw(st.sets(st.integers(0, 24 * 60 - 1), min_size=2, max_size=8)))
    edges = edges[: len(edges) // 2 * 2]
    turned = edges[1:] + edges[:1] if draw(st.booleans()) else edges
    return [[clock(start), clock(end)] for start, end in zip(turned[::2], turned[1::2], strict=True)]


@st.composite
def shades(draw: Draw) -> Data:
    """A tree or a wall anywhere around, also across north, or a shadow by the clock."""
    start, end = draw(st.lists(numbers(0, 360, 1), min_size=2, max_size=2, unique=True))
    sized = {"height_m": draw(numbers(0, 30, 1)), "distance_m": draw(numbers(0.1, 100, 1))}
    top = draw(st.just({"below_elevation_deg": draw(numbers(0, 90, 1))}) | st.just(sized))
    seen = {"from_azimuth_deg": start, "to_azimuth_deg": end} | top
    first, last = draw(st.lists(clocks(), min_size=2, max_size=2, unique=True))
    leaves = some(foliage=st.just("oak")) | some(transmittance=monthly(numbers(0, 1)))
    there = some(months=st.lists(st.integers(1, 12), min_size=1, unique=True))
    return draw(st.just(seen) | st.just({"from_time": first, "to_time": last})) | draw(leaves) | draw(there)


@st.composite
def panels(draw: Draw, above_v: float) -> Data:
    """Panels of a usual shape of curve, with strings long enough for an open-circuit voltage above ``above_v``."""
    voc_v, isc_a = draw(numbers(18, 60, 1)), draw(numbers(0.5, 15, 2))
    vmp_v, imp_a = voc_v * draw(numbers(0.78, 0.85)), isc_a * draw(numbers(0.90, 0.96))
    series = int(above_v / voc_v) + 1 + draw(st.integers(0, 2))
    label = {"vmp_v": vmp_v, "imp_a": imp_a, "voc_v": voc_v, "isc_a": isc_a, "series": series}
    label |= {"power_w": vmp_v * imp_a * draw(numbers(0.96, 1.04)), "count": series * draw(st.integers(1, 5))}
    position = some(
        cells=st.integers(-int(-voc_v // 0.78), int(voc_v / 0.52)),
        tilt_deg=numbers(0, 90),
        azimuth_deg=numbers(0, 360),
        mounting=st.sampled_from(["open", "roof", "flush"]),
        soiling=numbers(0, 0.9),
        mismatch_and_ageing=numbers(0, 0.5),
        isc_temperature_pct_c=numbers(-0.1, 0.2),
        voc_temperature_pct_c=numbers(-0.6, 0),
        shade=st.lists(shades(), max_size=3),
        cable=cables(),
    )
    return label | draw(position)


@st.composite
def charging(draw: Draw, limits: dict[str, float], blocks: float) -> Data:
    """Voltages in the order that a controller needs, all of them or none."""
    if draw(st.booleans()):
        return {}
    absorption_v = draw(numbers(limits["absorption_min_v"], limits["absorption_max_v"]))
    float_v = draw(numbers(12.0, absorption_v))
    highest_v = min(absorption_v - 0.001, limits["threshold_max_v"])
    off_v, on_v = sorted(draw(st.sets(numbers(limits["threshold_min_v"], highest_v), min_size=2, max_size=2)))
    settings = {
        "absorption_v": absorption_v,
        "float_v": float_v,
        "recharge_below_v": draw(numbers(11.0, float_v - 0.001)),
    }
    settings |= {"load_disconnect_v": off_v, "load_reconnect_v": on_v}
    return {name: volts * blocks for name, volts in settings.items()}


@st.composite
def controllers(draw: Draw, battery: Data, rated_a: float) -> Data:
    """A controller for a battery, whose load switch can carry the pump."""
    chemistry = chemistries()[battery.get("chemistry", "lfp")]
    settings = draw(charging(chemistry["limits"], battery.get("nominal_v", 12) / 12))
    mode = draw(st.sampled_from([None, "always", "daylight", "clock"]))
    load = {} if mode is None else {"load_mode": mode}
    if mode == "clock":
        load["load_windows"] = draw(windows())
    others = some(
        kind=st.sampled_from(["pwm", "mppt"]),
        absorption_h=numbers(0, 24),
        charge_ends_a=numbers(0, 50),
        on_refusal=st.sampled_from(["pulses", "holds", "cuts-load"]),
        disconnect_delay_s=numbers(0, 3600, 0),
        reconnect_delay_s=numbers(0, 86400, 0),
        reading_error_v=numbers(-1, 1),
        own_current_a=numbers(0, 1),
        series_drop_v=numbers(0, 1.5),
        efficiency=numbers(0.5, 1),
        max_charge_a=numbers(0.1, 100),
        max_load_a=numbers(rated_a + 0.01, rated_a + 100),
    )
    return settings | load | draw(others)


@st.composite
def waters(draw: Draw) -> Data:
    """A pond with pipes that fit each other, and any of its parts."""
    branched = draw(st.booleans())
    places = ["main", *(["branch"] if branched else []), *draw(st.lists(st.just("header"), max_size=2))]
    water = {"pipe": [{"where": where} | draw(pipes()) for where in places]}
    if branched:
        valve = st.sampled_from(sorted(valves()))
        water["branch"] = draw(some(valve=valve, opening_percent=numbers(0, 100), target_lph=numbers(1, 5000)))
    kinds, where = st.sampled_from(sorted(fittings())), st.sampled_from(places)
    return water | draw(
        some(
            fittings=st.lists(st.fixed_dictionaries({"kind": kinds, "where": where}), max_size=4),
            pond_volume_l=numbers(1, 1e5),
            static_head_m=numbers(0, 5),
            fish=st.booleans(),
            filter=some(head_m=numbers(0, 2), max_flow_lph=numbers(1, 9000)),
            basin=some(area_m2=numbers(0.1, 20), freeboard_m=numbers(0, 1)),
            stream=some(length_m=numbers(0, 50), width_m=numbers(0.05, 3)),
            outlet=some(kind=st.sampled_from(["air-break", "submerged"]), depth_m=numbers(0, 1)),
        )
    )


def pipes() -> st.SearchStrategy[Data]:
    """A length of pipe with any of its keys."""
    material = st.sampled_from(sorted(roughness_mm()))
    return some(diameter_mm=numbers(4, 100), length_m=numbers(0, 100), material=material)


@st.composite
def curves(draw: Draw) -> tuple[tuple[float, float], ...]:
    """A pump's curve: flow rises, head falls."""
    count = draw(st.integers(2, 6))
    flows = draw(st.sets(numbers(0, 9000, 1), min_size=count, max_size=count))
    heads = draw(st.sets(numbers(0, 9, 2), min_size=count, max_size=count))
    return tuple(zip(sorted(flows), sorted(heads, reverse=True), strict=True))


@st.composite
def pumps(draw: Draw, nominal_v: int) -> Data:
    """A pump of any rated voltage that can turn at it."""
    pump = {"power_w": draw(numbers(0.5, 200, 1))} | draw(some(at_v=numbers(3, 60, 1)))
    at_v = pump.get("at_v", nominal_v)
    return pump | draw(
        some(
            supply=st.sampled_from(["regulated", "direct"]),
            min_v=numbers(0.1, at_v, 1),
            max_v=numbers(at_v + 0.1, 90, 1),
            cable=cables(),
            extension=cables(),
        )
    )


@st.composite
def needs(draw: Draw) -> Data:
    """A time of day, and no more hours than it has."""
    need = draw(some(longest_stop_h=numbers(0.1, 8784)))
    hours = 24.0
    if draw(st.booleans()):
        start, minutes = draw(st.integers(0, 24 * 60 - 1)), draw(st.integers(8 * 60, 24 * 60 - 1))
        need["between"], hours = [clock(start), clock((start + minutes) % (24 * 60))], minutes / 60
    return need | draw(some(hours_per_day=monthly(numbers(0, int(hours * 1000) / 1000))))


@st.composite
def scenarios(draw: Draw, **fixed: Any) -> Data:
    """Any valid scenario; keyword arguments replace whole sections."""
    battery = {"capacity_ah": draw(numbers(1, 500, 1))} | draw(
        some(
            chemistry=st.sampled_from(sorted(chemistries())),
            nominal_v=st.sampled_from([12, 24]),
            resistance_mohm=numbers(0.1, 100),
            initial_soc=numbers(0, 1),
            box=st.sampled_from(["shaded", "sunny"]),
            place=st.sampled_from(["outdoors", "frost-free", "heated"]),
            cable=cables(),
        )
    )
    nominal_v = battery.get("nominal_v", 12)
    pump = draw(pumps(nominal_v))
    controller = draw(controllers(battery, pump["power_w"] / pump.get("at_v", nominal_v)))
    highest_v = chemistries()[battery.get("chemistry", "lfp")]["limits"]["absorption_max_v"] * nominal_v / 12
    site = some(
        latitude_deg=numbers(-90, 90),
        longitude_deg=numbers(-180, 180),
        elevation_m=numbers(-430, 9000, 0),
        utc_offset_h=numbers(-12, 14, 2),
        albedo=numbers(0, 0.9),
    )
    weather = some(year=st.integers(1950, 2100), sky=st.sampled_from(["hay-davies", "perez"]))
    source = st.sampled_from(sample_names()).map(lambda name: {"sample": name}) | st.just({"file": "year.epw"})
    required = {
        "battery": battery,
        "pump": pump,
        "panel": draw(panels(highest_v + 1.0)),
        "weather": draw(weather) | draw(source),
    }
    optional = {"controller": controller, "site": draw(site), "need": draw(needs())}
    return required | optional | draw(some(title=st.text(min_size=1, max_size=300))) | fixed


@st.composite
def ponds(draw: Draw) -> Data:
    """Any valid scenario, with a pump's curve and water beside it."""
    data = draw(scenarios())
    return data | {"pump": data["pump"] | {"curve": draw(curves())}, "water": draw(waters())}
