"""What hypothesis draws from: any valid scenario, as the plain data of a TOML file.

A strategy that is made once is looked through once: what has no part that was drawn before is cached.
"""

from __future__ import annotations

from datetime import date
from functools import cache
from typing import Any, get_args

from hypothesis import strategies as st

from sim.catalogue import chemistries, sample_names
from sim.catalogue.cables import gauges
from sim.catalogue.doubts import DOUBTS
from sim.catalogue.pipework import fittings, inside_mm, roughness_mm, valves
from sim.language import Language
from sim.units import AIR, AMPS, LIGHT, SWITCHED, VOLTS, WIND, System

Draw = st.DrawFn
Data = dict[str, Any]


@cache
def numbers(low: float, high: float, places: int = 3) -> st.SearchStrategy[float]:
    """Numbers as people write them, with a few decimal places, from ``low`` to ``high``."""
    scale = 10**places
    return st.integers(round(low * scale), round(high * scale)).map(lambda whole: whole / scale)


def some(**optional: st.SearchStrategy[Any]) -> st.SearchStrategy[Data]:
    """Any of these keys, or none."""
    return st.fixed_dictionaries({}, optional=optional)


@cache
def clocks(first: int = 0, last: int = 24 * 60 - 1) -> st.SearchStrategy[str]:
    """Times of day in a range of minutes."""
    return st.integers(first, last).map(clock)


def clock(minute: int) -> str:
    """Minutes from midnight as a time of day."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def monthly(values: st.SearchStrategy[float]) -> st.SearchStrategy[float | list[float]]:
    """One value or twelve."""
    return values | st.lists(values, min_size=12, max_size=12)


@cache
def days() -> st.SearchStrategy[str]:
    """Days of the year."""
    return st.dates(date(2001, 1, 1), date(2001, 12, 31)).map(lambda day: f"{day:%m-%d}")


def cables(**own: st.SearchStrategy[Any]) -> st.SearchStrategy[Data]:
    """A run of cable with any of its keys."""
    run = {"length_m": numbers(0, 500), "extra_mohm": numbers(0, 1000)} | own
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
    crown = st.fixed_dictionaries({"foliage": st.just("oak")}, optional={"leaf_on": days(), "leaf_off": days()})
    leaves = crown | some(transmittance=monthly(numbers(0, 1)))
    there = some(
        months=st.lists(st.integers(1, 12), min_size=1, unique=True),
        cell_strings=st.sampled_from([0, 1, "all"]),
        trimmed_transmittance=monthly(numbers(0, 1)),
    )
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
        bypass_strings=st.integers(1, 12),
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
    mode = draw(st.sampled_from([None, "always", "daylight", "clock", "after-dusk"]))
    load = {} if mode is None else {"load_mode": mode}
    if mode == "clock":
        load["load_windows"] = draw(windows())
    if chemistry["equalise_every_days"]:
        load["equalise_every_days"] = draw(st.integers(0, 366))  # always: few batteries are of this kind
    others = some(
        equalise_v=numbers(12, 16, 1),
        equalise_h=numbers(0, 24),
        hours_after_dusk=numbers(0, 24),
        max_pv_v=numbers(20, 2000, 0),
        kind=st.sampled_from(["pwm", "mppt"]),
        compensation_mv_c=numbers(-5, 0),
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
    water: Data = {"pipe": [{"where": where} | draw(pipes()) for where in places]}
    if branched:
        valve = st.sampled_from(sorted(valves()))
        water["branch"] = draw(some(valve=valve, opening_percent=numbers(0, 100), target_lph=numbers(1, 5000)))
        water["branch"] |= draw(some(static_head_m=numbers(0, 5)))
    kinds, where = st.sampled_from(sorted(fittings())), st.sampled_from(places)
    return water | draw(
        some(
            fittings=st.lists(
                st.fixed_dictionaries(
                    {"kind": kinds, "where": where},
                    optional={"count": st.integers(1, 100), "loss_coefficient": numbers(0, 1e4)},
                ),
                max_size=4,
            ),
            pond_volume_l=numbers(1, 1e5),
            pond_area_m2=numbers(0.1, 1e3),
            static_head_m=numbers(0, 5),
            pipe_water_c=numbers(0, 40),
            fish=st.booleans(),
            warm_limit_c=numbers(0, 40),
            cold_limit_c=numbers(0, 20),
            turnovers_per_day=numbers(0, 100),
            sun_share=numbers(0, 1),
            wind_share=numbers(0, 1),
            observed_loss_mm_per_day=numbers(0, 100),
            filter=filters(),
            basin=some(
                area_m2=numbers(0.1, 20), depth_m=numbers(0.1, 5), freeboard_m=numbers(0, 1), water_l=numbers(1, 9e3)
            ),
            stream=some(length_m=numbers(0, 50), width_m=numbers(0.05, 3), spillway_width_m=numbers(0.05, 3)),
            outlet=some(
                kind=st.sampled_from(["air-break", "submerged"]),
                depth_m=numbers(0, 1),
                vent_depth_m=numbers(0, 1),
                pool_area_m2=numbers(0.1, 9),
            ),
        )
    )


def pipes() -> st.SearchStrategy[Data]:
    """A length of pipe with any of its keys."""
    rest = {
        "length_m": numbers(0, 100),
        "material": st.sampled_from(sorted(roughness_mm())),
        "roughness_mm": numbers(0, 3),
    }
    return some(diameter_mm=numbers(4, 100), **rest) | some(size=st.sampled_from(sorted(inside_mm())), **rest)


def filters() -> st.SearchStrategy[Data]:
    """A filter with any of its keys."""
    patience = {name: numbers(0.1, 100) for name in ("note_after_h", "warning_after_h", "flush_after_h")}
    return some(head_m=numbers(0, 2), at_flow_lph=numbers(1, 9000), max_flow_lph=numbers(1, 9000), **patience)


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
    if draw(st.booleans()):
        pump["min_v"] = draw(numbers(0.1, at_v, 1))
        pump |= draw(some(start_v=numbers(pump["min_v"], at_v, 1)))
    return pump | draw(
        some(
            supply=st.sampled_from(["regulated", "direct"]),
            max_v=numbers(at_v + 0.1, 90, 1),
            start_current_factor=numbers(1, 10),
            label_flow_lph=numbers(1, 9000),
            cable=cables(fuse_a=numbers(0, 100)),
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
    elif draw(st.booleans()):
        start, minutes = draw(st.integers(0, 24 * 60 - 1)), draw(st.integers(1, 16 * 60))
        need["quiet"], hours = [clock(start), clock((start + minutes) % (24 * 60))], 24.0 - minutes / 60
    return need | draw(some(hours_per_day=monthly(numbers(0, int(hours * 1000) / 1000))))


@st.composite
def batteries(draw: Draw) -> Data:
    """A battery of any chemistry at any place."""
    battery = {"capacity_ah": draw(numbers(1, 500, 1))} | draw(
        some(
            chemistry=st.sampled_from(sorted(chemistries())),
            nominal_v=st.sampled_from([12, 24]),
            resistance_mohm=numbers(0.1, 100),
            initial_soc=numbers(0, 1),
            box=st.sampled_from(["shaded", "sunny"]),
            place=st.sampled_from(["outdoors", "frost-free", "heated"]),
            box_lag_h=numbers(0.1, 72),
            box_solar_gain_c=numbers(0, 40),
            cable=cables(fuse_a=numbers(0, 100), fuse_distance_cm=numbers(0, 99), fuse_breaks_a=numbers(1, 2e4)),
        )
    )
    if battery.get("place", "outdoors") != "outdoors":
        battery |= draw(some(place_min_c=numbers(0, 20)))
    if battery.get("place") == "heated":
        battery |= draw(some(heater_w=numbers(1, 100)))
    if battery.get("chemistry", "lfp") == "lfp":
        battery |= draw(some(charge_release_c=numbers(0.1, 30)))
    return battery


@st.composite
def scenarios(draw: Draw, **fixed: Any) -> Data:
    """Any valid scenario; keyword arguments replace whole sections."""
    battery = draw(batteries())
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
        record_low_c=numbers(-60, 10),
    )
    weather = some(year=st.integers(1950, 2100), sky=st.sampled_from(["hay-davies", "perez"]))
    source = st.sampled_from(sample_names()).map(lambda name: {"sample": name}) | st.just({"file": "year.epw"})
    required = {
        "battery": battery,
        "pump": pump,
        "panel": draw(panels(highest_v + 1.0)),
        "weather": draw(weather) | draw(source),
    }
    need = draw(needs())
    if controller.get("load_windows"):  # all of them might lie in quiet hours
        need.pop("quiet", None)
    optional = {"controller": controller, "site": draw(site), "need": need}
    return required | optional | draw(some(title=st.text(min_size=1, max_size=300))) | fixed


@st.composite
def cares(draw: Draw, trimmed: bool) -> Data:
    """What is done in a year and what breaks; trimming only where something can be trimmed."""
    dates = st.lists(days(), max_size=3)
    spell = st.lists(days(), min_size=2, max_size=2, unique=True)
    fault = st.fixed_dictionaries(
        {
            "kind": st.sampled_from(["pump-clog", "blown-fuse", "tripped-protection"]),
            "mean_days_between": numbers(1, 999),
            "repair_h": numbers(0.1, 99),
        },
        optional={"name": st.text(min_size=1, max_size=60)},
    )
    care = draw(
        some(
            panel_cleaning=dates,
            soiling_per_month=numbers(0, 0.5),
            snow=st.lists(spell, max_size=2),
            trimmed_days=st.integers(1, 365),
            filter_rinse=dates,
            fault=st.lists(fault, max_size=2),
            fault_seed=st.integers(0, 999999),
        )
    )
    if draw(st.booleans()):
        care["shut_down"], care["start_up"] = draw(spell)
    return care | (draw(some(trimming=dates)) if trimmed else {})


@cache
def costs() -> st.SearchStrategy[Data]:
    """Prices, any of them."""
    names = (
        *("system", "panel_per_w", "battery_per_ah", "controller", "cable_per_m", "mounting", "cleaning_per_visit"),
        *("trimming_per_visit", "mains_per_kwh", "mains_connection", "pump", "water_per_m3"),
    )
    lasts = {"years": numbers(1, 50), "pump_years": numbers(0.1, 50)}
    return some(currency=st.just("coins"), **lasts, **{name: numbers(0, 1e4) for name in names})


@cache
def alternatives() -> st.SearchStrategy[list[Data]]:
    """Other designs, by names of their own."""
    change = st.fixed_dictionaries({"panel.tilt_deg": numbers(0, 90)})
    one = st.fixed_dictionaries({"name": st.text(min_size=1, max_size=60), "set": change})
    priced = st.tuples(one, some(cost=numbers(0, 1e4))).map(lambda both: both[0] | both[1])
    return st.lists(priced, max_size=2, unique_by=lambda design: design["name"]).filter(
        lambda designs: "as it is" not in {design["name"] for design in designs}
    )


@cache
def reports() -> st.SearchStrategy[Data]:
    """How reports are read."""
    return some(units=st.sampled_from(get_args(System)), language=st.sampled_from(get_args(Language)))


@cache
def logs() -> st.SearchStrategy[Data]:
    """Which column of a log is what."""

    def column(units: Data) -> st.SearchStrategy[Data]:
        return st.sampled_from(sorted(units)).map(lambda unit: {"column": "X", "unit": unit})

    given = {"time": st.just("when") | st.just(["day", "hour"]), "voltage": column(VOLTS)}
    amps = {name: column(AMPS) for name in ("battery_current", "charge_current", "load_current")}
    others = {"pump": column(SWITCHED), "light": column(LIGHT), "time_format": st.just("%c")}
    described = st.fixed_dictionaries(given, optional=amps | others | {"utc_offset_h": numbers(-12, 14)})
    return described.map(lambda columns: {"columns": columns})


@cache
def sizes() -> st.SearchStrategy[Data]:
    """What may be bought, and how it may be set."""
    watts, steps = st.lists(numbers(1, 500, 0), min_size=1, max_size=4), st.just({"from": 40, "to": 100, "step": 20})
    parts = ["panel", "tilt", "battery", "controller", "load", "pair"]
    return some(
        panel_w=watts,
        panels=st.lists(st.integers(1, 100), min_size=1, max_size=3),
        tilt_deg=st.lists(numbers(0, 90), min_size=1, max_size=3),
        battery_ah=watts | steps,
        controller=st.lists(st.sampled_from(["pwm", "mppt"]), min_size=1, max_size=2),
        load_mode=st.lists(st.sampled_from(["always", "daylight", "clock"]), min_size=1, max_size=3),
        load_windows=windows(),
        pairs=st.just([[12.0, 13.2]]),
        fixed=st.lists(st.sampled_from(parts), max_size=3),
        worst_month_met=numbers(0, 1),
        **{name: numbers(0.1, 90) for name in ("weight_per_w", "weight_per_ah", "weight_tracker")},
    )


@cache
def tables() -> st.SearchStrategy[Data]:
    """The weather of one or several plain tables, and what their columns are."""

    def column(units: Data) -> st.SearchStrategy[Data]:
        name = st.text(min_size=1, max_size=9)
        return st.fixed_dictionaries({"column": name, "unit": st.sampled_from(sorted(units))})

    clock_of = some(utc_offset_h=numbers(-12, 14, 2)) | st.just({"time_zone": "Europe/Lisbon"})
    columns = st.fixed_dictionaries(
        {
            "time": st.just("when") | st.just(["day", "hour"]),
            "stamp": st.sampled_from(["hour-start", "hour-middle", "hour-end"]),
            "ghi": column(LIGHT),
            "temp_air": column(AIR),
        },
        optional={"dni": column(LIGHT), "dhi": column(LIGHT), "wind_speed": column(WIND), "time_format": st.just("%c")},
    )
    described = st.tuples(columns, clock_of).map(lambda both: {"columns": both[0] | both[1]})
    source = st.just({"file": "year.csv"}) | st.just({"files": ["one.csv", "two.csv"]})
    return st.tuples(described, source).map(lambda both: both[0] | both[1])


@cache
def means() -> st.SearchStrategy[Data]:
    """Twelve monthly means."""

    def twelve(low: float, high: float) -> st.SearchStrategy[list[float]]:
        return st.lists(numbers(low, high), min_size=12, max_size=12)

    given = {"daily_ghi_kwh_m2": twelve(0, 15), "temp_air_c": twelve(-90, 60)}
    return st.fixed_dictionaries(
        given, optional={"year_to_year": twelve(0, 0.5), "seed": st.integers(0, 2**63 - 1)}
    ).map(lambda monthly_means: {"monthly": monthly_means})


@st.composite
def ponds(draw: Draw) -> Data:
    """Any valid scenario with any of its keys: water, care, prices, other designs, any kind of weather."""
    data = draw(scenarios())
    trimmed = any("trimmed_transmittance" in shade for shade in data["panel"].get("shade", ()))
    data["pump"] |= {"curve": draw(curves())}
    rest = st.fixed_dictionaries(
        {"water": waters(), "care": cares(trimmed)},
        optional={"cost": costs(), "alternative": alternatives(), "size": sizes(), "report": reports(), "log": logs()},
    )
    other = draw(st.none() | means() | tables() | tables())
    if other is not None:
        doubts = st.lists(st.sampled_from(sorted(DOUBTS)), max_size=2, unique=True)
        data["weather"] = other | draw(some(accept=doubts))
        data["site"] |= {"latitude_deg": 40.0, "longitude_deg": -80.0, "elevation_m": 1.0, "utc_offset_h": -5.0}
        if "columns" in data["weather"]:
            del data["site"]["utc_offset_h"]
    return data | draw(rest)
