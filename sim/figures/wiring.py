"""What the year's currents do in the cables: drop, heat, temperature, the pump's voltage, and the fuse that suits.

Pure: it reads a scenario, the year's air and the energies that the log counted. Temperatures and drops are those of
the hottest air of the year; the energies are the simulation's, whose copper is at 20 °C.
"""

from dataclasses import asdict, dataclass
from typing import Any, NamedTuple

import numpy as np

from sim.catalogue.cables import (
    TABLE_AIR_C,
    Conductor,
    cold_voltage_factor,
    conductor,
    fuse_window_a,
    gauges,
    metric,
    next_fuse_a,
)
from sim.devices import pump as pump_law
from sim.devices.cable import air_factor, conductor_c, loop_ohm
from sim.language import mark, say
from sim.plant.lanes import cable_ohm
from sim.plant.log import Log
from sim.scenario import Cable, Scenario
from sim.units import system
from sim.weather import Weather

PANEL, BATTERY = mark("panel–controller"), mark("battery–controller")
PUMP, EXTENSION = mark("controller–pump"), mark("extension lead")
SUN_FACTOR = 1.25  # sun beyond 1000 W/m² at the edges of clouds, on the short-circuit current: NEC 690.8(A)
LASTING_FACTOR = 1.25  # for a current that lasts, on cables and fuses: NEC 690.8(B), 690.9(B), 210.19(A)
DROP_LIMITS = (0.03, 0.10)  # critical and other circuits: marine wiring tables, NEC 210.19(A) for the first
FUSE_WITHIN_CM = 18.0  # 7 inches from the battery's pole: ABYC E-11
STRINGS_UNFUSED = 2  # side by side: the other one feeds a short no harder than a panel bears; IEC 62548, NEC 690.9(A)


class Currents(NamedTuple):
    """What a run carries, A: for long, at its most, and what cable and fuse must be made for; and its voltage, V."""

    lasting_a: float
    highest_a: float
    rated_for_a: float
    volts: float


@dataclass(frozen=True)
class Size:
    """The smallest conductors of both catalogues that keep a run within a drop and warm enough; None: none does."""

    drop_limit: float
    metric: str | None
    gauge: str | None

    def __str__(self) -> str:
        """Both in words, or for US readers the gauge alone; empty where there is none."""
        names = (self.metric, self.gauge) if system() == "metric" else (self.gauge,)
        return say(" or ").join(name for name in names if name)


@dataclass(frozen=True)
class Run:
    """One run of cable. Drops are of both conductors with contacts and fuse, shares of ``volts``."""

    name: str
    length_m: float
    size: str
    current_a: float
    highest_a: float
    rated_for_a: float
    volts: float
    ohm: float
    drop_v: float
    drop_share: float
    highest_drop_v: float
    highest_drop_share: float
    loss_wh: float
    conductor_c: float
    bears_c: float
    rating_a: float
    fuse_a: float | None
    fuses_a: tuple[float, ...]
    fuses_slow: bool
    sizes: tuple[Size, ...]


@dataclass(frozen=True)
class Wiring:
    """All runs, what is left of the voltage at the pump, and what the array brings to the controller."""

    runs: tuple[Run, ...]
    air_max_c: float
    air_min_c: float
    pump_run_from_v: float
    pump_run_v: float
    pump_start_from_v: float
    pump_start_v: float
    pump_highest_a: float
    array_voc_v: float
    array_cold_voc_v: float
    array_isc_a: float
    array_charge_a: float
    strings: int
    string_fuse_a: float | None

    def run(self, name: str) -> Run | None:
        """The run of a name, if the system has it."""
        return next((run for run in self.runs if run.name == name), None)

    @property
    def pump_drop_share(self) -> float:
        """Drop between controller and pump while it runs, the extension included."""
        return sum(run.drop_share for run in self.runs if run.name in (PUMP, EXTENSION))

    def as_json(self) -> dict[str, Any]:
        """Plain data."""
        return asdict(self) | {"pump_drop_share": self.pump_drop_share}


def drawn_at(scenario: Scenario, bus_v: float, path_ohm: float) -> pump_law.PumpDraw:
    """The running pump's current and its own voltage, behind a cable, at a voltage of the controller's terminals."""
    pump = scenario.pump
    if pump.supply == "direct":
        return pump_law.PumpDraw(*pump_law.direct(bus_v, pump.power_w, pump.at_v, path_ohm))
    return pump_law.PumpDraw(*pump_law.regulated(bus_v, pump.power_w, path_ohm, 0.8 * pump.min_v))


def highest_pump_a(scenario: Scenario, path_ohm: float) -> float:
    """The most the running pump draws between the disconnect and the absorption voltage, A.

    Behind a cable that cannot feed it, what it would draw at its rated voltage: that is what a cable must be made for.
    """
    control, pump = scenario.controller, scenario.pump
    ends_v = (control.load_disconnect_v, control.absorption_v)
    drawn = [drawn_at(scenario, bus_v, path_ohm) for bus_v in ends_v]
    starved = any(one.pump_v < pump.min_v for one in drawn)
    return max(*(one.current_a for one in drawn), pump.power_w / pump.at_v if starved else 0.0)


def start_a(scenario: Scenario) -> float:
    """The pump's current at the start, A."""
    pump = scenario.pump
    return pump.start_current_factor * pump.power_w / pump.at_v


def charge_a(scenario: Scenario) -> float:
    """What the array at its rated power can push through the controller, before its limit, A."""
    panel, control = scenario.panel, scenario.controller
    if control.tracks:
        return control.efficiency * panel.power_w * panel.count / control.absorption_v
    return panel.imp_a * panel.count / panel.series


def currents_of(scenario: Scenario, pump_a: float) -> dict[str, Currents]:
    """The currents of each run: array at rated power, battery at charge or load, pump running and starting."""
    panel, control, strings = scenario.panel, scenario.controller, scenario.panel.count / scenario.panel.series
    charge = min(charge_a(scenario), control.max_charge_a)
    most = min(SUN_FACTOR * charge_a(scenario), control.max_charge_a)
    battery = max(charge, pump_a + control.own_current_a)
    nominal_v, isc_a, start = float(scenario.battery.nominal_v), panel.isc_a * strings, start_a(scenario)
    of_pump = Currents(pump_a, max(start, pump_a), LASTING_FACTOR * pump_a, nominal_v)
    sunlit_a = SUN_FACTOR * isc_a
    return {
        PANEL: Currents(panel.imp_a * strings, sunlit_a, LASTING_FACTOR * sunlit_a, panel.vmp_v * panel.series),
        BATTERY: Currents(battery, max(most, start, battery), LASTING_FACTOR * max(most, battery), nominal_v),
        PUMP: of_pump,
        EXTENSION: of_pump,
    }


def rating_a(wire: Conductor, air_c: float) -> float:
    """Ampacity in the hottest air, never above the table's own, A."""
    return wire.ampacity_a * min(air_factor(air_c, wire.bears_c, TABLE_AIR_C), 1.0)


def warmth_c(wire: Conductor, current_a: float, air_c: float) -> float:
    """Temperature of a conductor at a lasting current, °C."""
    return conductor_c(current_a, air_c, wire.ampacity_a, wire.bears_c, TABLE_AIR_C)


def hot_ohm(cable: Cable, wire: Conductor, current_a: float, air_c: float) -> float:
    """Resistance of a run whose conductor is as warm as a lasting current makes it, Ω."""
    return loop_ohm(cable.length_m, wire.ohm_per_km, cable.extra_mohm, warmth_c(wire, current_a, air_c))


def suits(cable: Cable, wire: Conductor, carried: Currents, limit: float, air_c: float) -> bool:
    """Whether a conductor in place of the run's keeps to a drop and carries what it must be made for."""
    if rating_a(wire, air_c) < carried.rated_for_a:
        return False
    return carried.lasting_a * hot_ohm(cable, wire, carried.lasting_a, air_c) <= limit * carried.volts


def sizes_for(cable: Cable, carried: Currents, air_c: float) -> tuple[Size, ...]:
    """The smallest adequate size by area and by gauge, for each limit of the drop."""

    def first(wires: tuple[Conductor, ...], limit: float) -> str | None:
        return next((wire.name for wire in wires if suits(cable, wire, carried, limit, air_c)), None)

    return tuple(Size(limit, first(metric(), limit), first(tuple(gauges().values()), limit)) for limit in DROP_LIMITS)


def way_of(cables: dict[str, Cable], name: str) -> Cable:
    """The whole way that a run belongs to: the pump's cable and its extension are one."""
    parts = [cables[part] for part in (PUMP, EXTENSION) if part in cables and name in (PUMP, EXTENSION)]
    if len(parts) < 2:
        return cables[name]
    joined = {key: sum(getattr(part, key) for part in parts) for key in ("length_m", "extra_mohm")}
    return cables[name].model_copy(update=joined)


def run_of(
    name: str, cables: dict[str, Cable], carried: Currents, air_c: float, loss_wh: float, fuse_a: float | None
) -> Run:
    """A run with its drop, its warmth, its rating, the fuses that suit it, and the sizes that suit its whole way."""
    cable = cables[name]
    wire = conductor(cable.area_mm2, cable.awg)
    ohm, rated = hot_ohm(cable, wire, carried.lasting_a, air_c), rating_a(wire, air_c)
    drop_v, highest_v = carried.lasting_a * ohm, carried.highest_a * ohm
    fuses_a, slow = suiting_fuses_a(carried, rated)
    return Run(
        name=name,
        length_m=cable.length_m,
        size=wire.name,
        current_a=carried.lasting_a,
        highest_a=carried.highest_a,
        rated_for_a=carried.rated_for_a,
        volts=carried.volts,
        ohm=ohm,
        drop_v=drop_v,
        drop_share=drop_v / carried.volts,
        highest_drop_v=highest_v,
        highest_drop_share=highest_v / carried.volts,
        loss_wh=loss_wh,
        conductor_c=warmth_c(wire, carried.lasting_a, air_c),
        bears_c=wire.bears_c,
        rating_a=rated,
        fuse_a=fuse_a,
        fuses_a=fuses_a,
        fuses_slow=slow,
        sizes=sizes_for(way_of(cables, name), carried, air_c),
    )


def cables_of(scenario: Scenario) -> dict[str, Cable]:
    """The runs that a system has."""
    own: dict[str, Cable] = {PANEL: scenario.panel.cable, BATTERY: scenario.battery.cable, PUMP: scenario.pump.cable}
    return own | ({EXTENSION: scenario.pump.extension} if scenario.pump.extension else {})


def losses_wh(cables: dict[str, Cable], totals: np.void) -> dict[str, float]:
    """The year's heat in each run, Wh; pump cable and extension share theirs by resistance."""
    path_wh, cable = float(totals["pump_cable_wh"]), cable_ohm(cables[PUMP])
    extension = cable_ohm(cables[EXTENSION]) if EXTENSION in cables else 0.0
    share = extension / (cable + extension) if extension else 0.0
    return {
        PANEL: float(totals["panel_cable_wh"]),
        BATTERY: float(totals["lead_wh"]),
        PUMP: (1.0 - share) * path_wh,
        EXTENSION: share * path_wh,
    }


def string_fuse_a(isc_a: float, strings: int) -> float | None:
    """The fuse of each string where more than two lie side by side, A; None where none is needed.

    The next standard size above 1.25·1.25·Isc (NEC 690.8, 690.9).

    >>> string_fuse_a(9.0, 3), string_fuse_a(9.0, 2)
    (15.0, None)
    """
    return next_fuse_a(SUN_FACTOR * LASTING_FACTOR * isc_a) if strings > STRINGS_UNFUSED else None


def cold_voc_v(voc_v: float, percent_per_c: float, air_c: float) -> float:
    """Open-circuit voltage of a panel as cold as the air, V: by its coefficient or by the table, whichever is higher.

    U·(1 + β·(t − 25 °C)) or U times the factor of NEC table 690.7(A).

    >>> cold_voc_v(22.0, -0.50, -15.0), cold_voc_v(22.0, -0.30, -15.0)
    (26.4, 25.52)
    """
    return voc_v * max(1.0 + percent_per_c / 100.0 * (air_c - 25.0), cold_voltage_factor(air_c))


def suiting_fuses_a(carried: Currents, rated_a: float) -> tuple[tuple[float, ...], bool]:
    """The standard fuses for a run, smallest first, and whether they must be slow.

    They carry the lasting current and protect the cable; where the cable leaves room, they stand the highest current
    too, at a start for instance, and a fast one will do.
    """
    fast = fuse_window_a(max(carried.rated_for_a, carried.highest_a), rated_a)
    return (fast, False) if fast else (fuse_window_a(carried.rated_for_a, rated_a), True)


def wiring_of(scenario: Scenario, air_c: tuple[float, float], totals: np.void, battery_ohm: float) -> Wiring:
    """The wiring of a scenario between the coldest and the hottest air of a year, with the year's ``totals``."""
    control, panel, cables = scenario.controller, scenario.panel, cables_of(scenario)
    path_ohm = sum(cable_ohm(cables[name]) for name in (PUMP, EXTENSION) if name in cables)
    pump_a = highest_pump_a(scenario, path_ohm)
    carried, lost = currents_of(scenario, pump_a), losses_wh(cables, totals)
    fuses = {BATTERY: scenario.battery.cable.fuse_a} | dict.fromkeys((PUMP, EXTENSION), scenario.pump.cable.fuse_a)
    runs = {name: run_of(name, cables, carried[name], air_c[1], lost[name], fuses.get(name)) for name in cables}
    hot_path_ohm = sum(runs[name].ohm for name in (PUMP, EXTENSION) if name in runs)
    before_ohm = battery_ohm + runs[BATTERY].ohm
    strings = panel.count // panel.series
    return Wiring(
        runs=tuple(runs.values()),
        air_max_c=air_c[1],
        air_min_c=air_c[0],
        pump_run_from_v=control.load_disconnect_v,
        pump_run_v=drawn_at(scenario, control.load_disconnect_v, hot_path_ohm).pump_v,
        pump_start_from_v=control.load_reconnect_v,
        pump_start_v=control.load_reconnect_v - start_a(scenario) * (before_ohm + hot_path_ohm),
        pump_highest_a=pump_a,
        array_voc_v=panel.voc_v * panel.series,
        array_cold_voc_v=cold_voc_v(panel.voc_v, panel.voc_temperature_pct_c, air_c[0]) * panel.series,
        array_isc_a=panel.isc_a * panel.count / panel.series,
        array_charge_a=charge_a(scenario),
        strings=strings,
        string_fuse_a=string_fuse_a(panel.isc_a, strings),
    )


def wiring_in(scenario: Scenario, weather: Weather, log: Log, lane: int) -> Wiring:
    """The wiring of one lane of a log in its weather; cold is the record low, or else the coldest hour of all years."""
    known_c = (scenario.site.record_low_c, weather.coldest_c, float(weather.temp_air.min()))
    air_c = min(cold for cold in known_c if cold is not None), float(weather.temp_air.max())
    return wiring_of(scenario, air_c, log.totals[-1, lane], float(log.lanes["lane"]["r0_ohm"][lane]))
