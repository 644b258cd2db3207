"""From a weather year to what the panels can give: light on their plane, cell temperature, current at every voltage.

Nothing here depends on the state of the system, so it is worked out once for each distinct panel position.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from pvlib import atmosphere, iam, irradiance, pvsystem, temperature
from pvlib.ivtools.sdm import fit_desoto_batzelis

from sim.calendar import DAY_S, day_s
from sim.errors import InputError
from sim.light.curves import currents, points, traced
from sim.light.horizon import beam_share, sky_share
from sim.light.substrings import BYPASS_V, chord_to_zero, in_series, in_year, levels
from sim.weather import Weather
from sim.weather.sun import Sun, facing_deg, sun_positions, sun_when_lit
from sim.weather.wind import wind_at_2m

__all__ = ["Sunlight", "sun_positions", "sunlight_on", "sunlight_per_ampere"]

NODES = 49
NODE_SPAN_V = (9.0, 21.0)  # per 12 V of battery: from below a flat one to absorption plus the drop of a long cable
NO_SHUNT_OHM = 1e6
TRIMS = 5  # of R_s; each leaves about a tenth of the difference in power
LABEL_POWER_SHARE = 0.01  # by which a fitted curve may miss the label's power
SHAPE_DIGITS = 12  # of Imp against Isc
LOWEST_FILL = 0.4  # Vmp·Imp/(Voc·Isc); the least of 20,946 crystalline modules in pvlib's table is 0.61
DARK_WM2 = 1.0  # less absorbed light than this gives nothing
HORIZON_BAND_DEG = 1.0  # where horizon brightening comes from
STC_WM2, STC_C = 1000.0, 25.0
# Heat loss u0 in W/(m2 K) and u1 in W s/(m3 K). Open: Faiman 2008. Roof and flush: close mount and insulated back of
# King, Boyson & Kratochvil, SAND2004-3535, made linear in wind at 1.4 and 5.4 m/s.
WIND_AT_PANEL = {"open"}  # mountings whose loss goes by the wind at the panel, taken as that at 2 m over short grass
MOUNTINGS = {"open": (25.0, 6.84), "roof": (19.504, 1.0900), "flush": (16.466, 0.8834)}


@dataclass(frozen=True, eq=False)
class Sunlight:
    """What a whole array can give in each of n hours.

    ``poa_wm2`` (n,) is the irradiance on its plane past the shades; ``shaded_wm2`` (n,) is what the shades take, on the
    mean of its strings of cells; ``absorbed_wm2`` (n,) is what reaches the cells past glass and dirt; ``cell_c`` (n,)
    their temperature. ``current_a`` (n, m) belongs to the array's terminal
    voltages ``voltage_v`` (m,), which are evenly spaced. Read it piecewise linearly and cut it at 0: nodes beyond open
    circuit continue the chord through zero at the open-circuit voltage. ``p_mp_w``, ``v_mp_v``, ``i_sc_a`` and
    ``v_oc_v`` (n,) are maximum power, its voltage, short-circuit current and open-circuit voltage. Where shades cover
    single strings of cells, the light and the temperature are those of the strings that they leave free.
    """

    poa_wm2: np.ndarray
    shaded_wm2: np.ndarray
    absorbed_wm2: np.ndarray
    cell_c: np.ndarray
    voltage_v: np.ndarray
    current_a: np.ndarray
    p_mp_w: np.ndarray
    v_mp_v: np.ndarray
    i_sc_a: np.ndarray
    v_oc_v: np.ndarray


class Plane(NamedTuple):
    """Irradiance on a plane by where it comes from, each (n,) in W/m², and the beam's angle of incidence in degrees."""

    beam: np.ndarray
    circumsolar: np.ndarray
    isotropic: np.ndarray
    horizon: np.ndarray
    ground: np.ndarray
    incidence_deg: np.ndarray

    @property
    def total(self) -> np.ndarray:
        """(n,) all of it."""
        return np.asarray(self.beam + self.circumsolar + self.isotropic + self.horizon + self.ground)


Label = tuple[float, float, float, float]  # Vmp, Imp, Voc, Isc


class Diode(NamedTuple):
    """One panel's single-diode parameters at standard test conditions, in De Soto's form (A/K, V, A, A, Ω, Ω)."""

    alpha_sc: float
    a_ref: float
    I_L_ref: float
    I_o_ref: float
    R_sh_ref: float
    R_s: float


def sunlight_on(scenario: Any, weather: Weather) -> Sunlight:
    """The sunlight on a scenario's panels through a weather year.

    >>> from types import SimpleNamespace as Section
    >>> from sim.weather import weather_for
    >>> nowhere = Section(latitude_deg=None, longitude_deg=None, elevation_m=None, utc_offset_h=None, albedo=0.2)
    >>> panel = Section(vmp_v=18.0, imp_a=5.56, voc_v=22.0, isc_a=5.9, isc_temperature_pct_c=0.05,
    ...     voc_temperature_pct_c=-0.3, count=1, series=1, tilt_deg=30.0, azimuth_deg=180.0, mounting="open", shade=[],
    ...     soiling=0.0, mismatch_and_ageing=0.0)
    >>> scenario = Section(site=nowhere, panel=panel, battery=Section(nominal_v=12),
    ...     weather=Section(file=None, sample="piedmont", year=2001, sky="hay-davies"), care=Section(trimming=()))
    >>> sunlight = sunlight_on(scenario, weather_for(scenario))
    >>> round(float(sunlight.poa_wm2.sum()) / 1000)  # kWh/m² a year
    1745
    """
    found, amps = sunlight_per_ampere(scenario, weather), scenario.panel.isc_a
    for values in (found.current_a, found.p_mp_w, found.i_sc_a):
        np.multiply(values, amps, out=values)
    return found


def sunlight_per_ampere(scenario: Any, weather: Weather) -> Sunlight:
    """The sunlight on a scenario's panels if each had a short-circuit current of 1 A and a power in proportion.

    Panels whose labels differ in size alone have this in common, to the last bit.
    """
    panel = scenario.panel
    free, planes = planes_of(scenario, weather)
    plane = planes[0]
    cell_c = cell_temperature_c(plane.total, weather.temp_air, weather.wind_speed, panel.mounting)
    absorbed = [through_glass(there, panel.tilt_deg) * (1.0 - panel.soiling) for there in planes]
    voltage_v = nodes_v(scenario.battery.nominal_v)
    curves = array_curves(diode_per_ampere(scenario), panel, absorbed, cell_c, voltage_v)
    strings = [count for count, _ in levels(panel)]
    shaded = free.total - np.average([there.total for there in planes], axis=0, weights=strings)
    return Sunlight(plane.total, shaded, absorbed[0], cell_c, voltage_v, **curves)


def planes_of(scenario: Any, weather: Weather) -> tuple[Plane, list[Plane]]:
    """The plane of the panels without anything in the way, and behind the shades of each group of strings of cells."""
    panel, sun = turned(scenario.panel, weather), sun_when_lit(weather)
    free = plane_of(weather, sun, panel.tilt_deg, panel.azimuth_deg, scenario.site.albedo, scenario.weather.sky)
    month, hour = months_of(weather, scenario.care), weather.index.hour.to_numpy()
    under = under_sky(free, month, panel)
    return free, [behind(under, sun, month, hour, shades) for _, shades in levels(panel)]


def turned(panel: Any, weather: Weather) -> Any:
    """The panel, towards the equator where the scenario leaves its azimuth open."""
    if panel.azimuth_deg is not None:
        return panel
    return panel.model_copy(update={"azimuth_deg": facing_deg(None, weather.latitude_deg)})


def months_of(weather: Weather, care: Any) -> np.ndarray:
    """(n,) the month 1 … 12 of every hour, and 13 … 24 while foliage is trimmed; the year is taken as a ring."""
    day = weather.index.day_of_year.to_numpy() - 1
    trimmed = np.zeros(len(day), bool)
    for date in care.trimming:
        trimmed |= (day - day_s(date, weather.index[0].year) / DAY_S) % (day[-1] + 1) < care.trimmed_days
    return np.asarray(weather.index.month.to_numpy() + 12 * trimmed)


def nodes_v(nominal_v: float) -> np.ndarray:
    """The voltages at which an array's current is tabulated for a battery of 12 or 24 V."""
    return np.linspace(*NODE_SPAN_V, NODES) * nominal_v / 12.0


def under_lamp(scenario: Any, in_plane_wm2: np.ndarray, cell_c: np.ndarray) -> Sunlight:
    """The sunlight of n given moments: light that falls square onto clean, unshaded panels as new, (n,) each."""
    new = scenario.panel.model_copy(update={"mismatch_and_ageing": 0.0, "shade": ()})
    voltage_v = nodes_v(scenario.battery.nominal_v)
    curves = array_curves(diode_of(scenario), new, [in_plane_wm2], cell_c, voltage_v)
    return Sunlight(in_plane_wm2, np.zeros_like(in_plane_wm2), in_plane_wm2, cell_c, voltage_v, **curves)


def _light_and_sun(weather: Weather, sun: Sun) -> dict[str, np.ndarray]:
    """What every sky model asks for."""
    return {
        "dhi": weather.dhi,
        "dni": weather.dni,
        "dni_extra": sun.extra_normal_wm2,
        "solar_zenith": sun.apparent_zenith_deg,
        "solar_azimuth": sun.azimuth_deg,
    }


def _hay_davies(tilt_deg: float, azimuth_deg: float, weather: Weather, sun: Sun) -> dict[str, np.ndarray]:
    """Sky diffuse by Hay & Davies 1980, by component."""
    known = _light_and_sun(weather, sun)
    return dict(irradiance.haydavies(tilt_deg, azimuth_deg, **known, return_components=True))


def _perez(tilt_deg: float, azimuth_deg: float, weather: Weather, sun: Sun) -> dict[str, np.ndarray]:
    """Sky diffuse by Perez et al. 1990, by component; none where dhi is 0, which leaves its sky clearness undefined."""
    airmass = atmosphere.get_relative_airmass(sun.apparent_zenith_deg)
    known = _light_and_sun(weather, sun)
    parts = irradiance.perez(tilt_deg, azimuth_deg, **known, airmass=airmass, return_components=True)
    return {name: np.nan_to_num(values) for name, values in parts.items()}


SKIES: dict[str, Callable[..., dict[str, np.ndarray]]] = {"hay-davies": _hay_davies, "perez": _perez}


def plane_of(weather: Weather, sun: Sun, tilt_deg: float, azimuth_deg: float, albedo: float, sky: str) -> Plane:
    """Light on a plane of a tilt towards an azimuth (0 north, 90 east, 180 south), without anything in the way.

    Beam is dni·max(cos θ, 0); the sky's diffuse light follows the ``sky`` model; the ground gives
    ghi·albedo·(1 − cos β)/2. In hours without sun there is no beam, and the diffuse light comes evenly from the whole
    sky.
    """
    incidence = irradiance.aoi(tilt_deg, azimuth_deg, sun.apparent_zenith_deg, sun.azimuth_deg)
    parts = SKIES[sky](tilt_deg, azimuth_deg, weather, sun)
    horizon = np.asarray(parts.get("poa_horizon", np.zeros(len(incidence))))
    return Plane(
        beam=np.where(sun.up, weather.dni * np.maximum(np.cos(np.radians(incidence)), 0.0), 0.0),
        circumsolar=np.where(sun.up, parts["poa_circumsolar"], 0.0),
        isotropic=np.where(sun.up, parts["poa_isotropic"], irradiance.isotropic(tilt_deg, weather.dhi)),
        horizon=np.where(sun.up, horizon, 0.0),
        ground=irradiance.get_ground_diffuse(tilt_deg, weather.ghi, albedo),
        incidence_deg=incidence,
    )


def under_sky(plane: Plane, month: np.ndarray, panel: Any) -> Plane:
    """The plane under what its shades leave of the sky, in months 1 … 24 (n,)."""
    if not panel.shade:
        return plane
    sky, rim = (share[month - 1] for share in _sky_shares(panel.shade, panel.tilt_deg, panel.azimuth_deg))
    return plane._replace(isotropic=plane.isotropic * sky, horizon=plane.horizon * rim)


@lru_cache(maxsize=64)
def _sky_shares(shades: tuple[Any, ...], tilt_deg: float, azimuth_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """What the shades leave of the whole sky and of its rim, each (12,) by month."""
    rim = sky_share(shades, tilt_deg, azimuth_deg, highest_deg=HORIZON_BAND_DEG)
    return sky_share(shades, tilt_deg, azimuth_deg), rim


def behind(plane: Plane, sun: Sun, month: np.ndarray, hour: np.ndarray, shades: Sequence[Any]) -> Plane:
    """The plane behind shades that dim the beam, and the light from around the sun, while the sun is behind them."""
    share = beam_share(shades, sun.azimuth_deg, 90.0 - sun.apparent_zenith_deg, month, hour)
    return plane._replace(beam=plane.beam * share, circumsolar=plane.circumsolar * share)


@lru_cache(maxsize=64)
def _diffuse_modifiers(tilt_deg: float) -> dict[str, float]:
    """Mean incidence-angle modifier of sky, horizon and ground for a tilt: Marion 2017, Solar Energy 147, 344–348."""
    return dict(iam.marion_diffuse("physical", tilt_deg))


def through_glass(plane: Plane, tilt_deg: float) -> np.ndarray:
    """(n,) light past the cover glass, W/m²: Fresnel and Bouguer for the beam, its mean over the sky and the ground."""
    direct = iam.physical(plane.incidence_deg)
    mean = _diffuse_modifiers(tilt_deg)
    light = (plane.beam + plane.circumsolar) * direct + plane.isotropic * mean["sky"]
    return np.asarray(np.maximum(light + plane.horizon * mean["horizon"] + plane.ground * mean["ground"], 0.0))


def cell_temperature_c(poa_wm2: np.ndarray, air_c: np.ndarray, wind_ms: np.ndarray, mounting: str) -> np.ndarray:
    """Cell temperature by Faiman 2008: T = T_air + G/(u0 + u1·v), with u0 and u1 of the mounting, from wind at 10 m.

    Faiman's wind is the one at the panel; King's, from which roof and flush come, is that at 10 m.

    >>> round(float(cell_temperature_c(800.0, 20.0, 1.0, "roof")), 3)
    58.846
    """
    u0, u1 = MOUNTINGS[mounting]
    wind = wind_at_2m(wind_ms) if mounting in WIND_AT_PANEL else wind_ms
    return np.asarray(temperature.faiman(poa_wm2, air_c, wind, u0=u0, u1=u1))


def diode_of(scenario: Any) -> Diode:
    """The single-diode parameters of a scenario's panel; InputError if no curve passes through the label's figures."""
    one, amps = diode_per_ampere(scenario), scenario.panel.isc_a
    currents_a = {"alpha_sc": one.alpha_sc * amps, "I_L_ref": one.I_L_ref * amps, "I_o_ref": one.I_o_ref * amps}
    return one._replace(**currents_a, R_sh_ref=one.R_sh_ref / amps, R_s=one.R_s / amps)


def diode_per_ampere(scenario: Any) -> Diode:
    """Those of a panel of the same shape of curve with a short-circuit current of 1 A."""
    panel = scenario.panel
    alpha, beta = panel.isc_temperature_pct_c / 100.0, panel.voc_temperature_pct_c / 100.0 * panel.voc_v
    imp_a = imp_per_ampere(panel)
    diode = diode_from_label(panel.vmp_v, imp_a, panel.voc_v, 1.0, alpha, beta)
    label_w, fitted_w = panel.vmp_v * imp_a, float(points(conditions(diode, STC_WM2, STC_C))["p_mp"])
    fill = label_w / panel.voc_v
    if not (fill >= LOWEST_FILL and diode.R_s >= 0.0 and abs(fitted_w / label_w - 1.0) <= LABEL_POWER_SHARE):
        allowed = f"as a rule Vmp*Imp from {LOWEST_FILL} to 0.85 of Voc*Isc, so that a curve can pass; it is {fill:.2f}"
        raise InputError(str(scenario.path), "panel.vmp_v", panel.vmp_v, allowed)
    return diode


def imp_per_ampere(panel: Any) -> float:
    """Imp against Isc, rounded so that rounded labels of one shape agree."""
    return float(round(panel.imp_a / panel.isc_a, SHAPE_DIGITS))


@lru_cache(maxsize=256)
def diode_from_label(
    vmp_v: float, imp_a: float, voc_v: float, isc_a: float, alpha_sc_a_k: float, beta_voc_v_k: float
) -> Diode:
    """De Soto parameters with which Isc, Voc and the point (Vmp, Imp) lie on the curve and its maximum lies there.

    The thermal voltage, which makes Voc fall with heat as the label says, and first guesses of R_s and R_sh come from
    Batzelis 2017. Where the label asks for a negative shunt, there is none, and only the power at the maximum is met.

    >>> diode = diode_from_label(17.7, 7.64, 22.1, 8.26, 0.0041, -0.0663)
    >>> found = points(conditions(diode, 1000.0, 25.0))
    >>> round(float(found["p_mp"]) / (17.7 * 7.64), 6), round(float(found["v_mp"]), 3)
    (1.0, 17.7)
    """
    label = (vmp_v, imp_a, voc_v, isc_a)
    fit = fit_desoto_batzelis(*label, alpha_sc_a_k, beta_voc_v_k)
    thermal_v, series_ohm, shunt_s = float(fit["a_ref"]), float(fit["R_s"]), 1.0 / float(fit["R_sh_ref"])
    series, shunt = _met(lambda series, shunt: misses(label, thermal_v, series, shunt), series_ohm, shunt_s)
    if not shunt > 1.0 / NO_SHUNT_OHM:
        shunt = 1.0 / NO_SHUNT_OHM
        series = _trimmed(label, thermal_v, series_ohm, shunt)
    light_a, dark_a = _currents(label, thermal_v, series, shunt)
    return Diode(alpha_sc_a_k, thermal_v, light_a, dark_a, 1.0 / shunt, series)


def _met(missed: Callable[[float, float], tuple[float, float]], one: float, other: float) -> tuple[float, float]:
    """The two numbers, near a guess, at which nothing is missed; no numbers where there are none."""
    from scipy.optimize import root

    found = root(lambda x: missed(x[0] * one, x[1] * other), (1.0, 1.0), tol=1e-12)
    return (float(found.x[0]) * one, float(found.x[1]) * other) if found.success else (float("nan"), float("nan"))


def _trimmed(label: Label, thermal_v: float, series_ohm: float, shunt_s: float) -> float:
    """The series resistance with which the curve's maximum power is Vmp·Imp, Ω."""
    vmp_v, imp_a, _, _ = label
    for _ in range(TRIMS):
        light_a, dark_a = _currents(label, thermal_v, series_ohm, shunt_s)
        diode = Diode(0.0, thermal_v, light_a, dark_a, 1.0 / shunt_s, series_ohm)
        series_ohm += (float(points(conditions(diode, STC_WM2, STC_C))["p_mp"]) - vmp_v * imp_a) / imp_a**2
    return series_ohm


def _currents(label: Label, thermal_v: float, series_ohm: float, shunt_s: float) -> tuple[float, float]:
    """Light and dark current with which Isc and Voc lie on the curve, A."""
    _, _, voc_v, isc_a = label
    steep = np.expm1(voc_v / thermal_v) - np.expm1(isc_a * series_ohm / thermal_v)
    dark_a = (isc_a * (1.0 + series_ohm * shunt_s) - voc_v * shunt_s) / steep
    return float(dark_a * np.expm1(voc_v / thermal_v) + voc_v * shunt_s), float(dark_a)


def misses(label: Label, thermal_v: float, series_ohm: float, shunt_s: float) -> tuple[float, float]:
    """What the curve misses at Vmp: in its current, as a share of Imp, and in dP/dV, as a share of Imp too."""
    vmp_v, imp_a, _, _ = label
    light_a, dark_a = _currents(label, thermal_v, series_ohm, shunt_s)
    diode_v = vmp_v + imp_a * series_ohm
    current_a = light_a - dark_a * np.expm1(diode_v / thermal_v) - diode_v * shunt_s
    steep_s = dark_a / thermal_v * np.exp(diode_v / thermal_v) + shunt_s
    return current_a / imp_a - 1.0, 1.0 - steep_s / (1.0 + steep_s * series_ohm) * vmp_v / imp_a


def conditions(diode: Diode, absorbed_wm2: Any, cell_c: Any) -> tuple[Any, ...]:
    """De Soto 2006: I_L, I_0, R_s, R_sh and n·N_s·V_th at an absorbed irradiance and a cell temperature."""
    return tuple(pvsystem.calcparams_desoto(absorbed_wm2, cell_c, **diode._asdict()))


def uneven_curves(
    diode: Diode, panel: Any, absorbed_wm2: np.ndarray, cell_c: np.ndarray, voltage_v: np.ndarray
) -> dict[str, np.ndarray]:
    """Currents (n, m) of one panel at its voltages, and points, with ``absorbed_wm2`` (k, n) on groups of strings."""
    shares, lowest_v = [count / panel.bypass_strings for count, _ in levels(panel)], -BYPASS_V * panel.bypass_strings
    traces = [traced(conditions(diode, np.maximum(wm2, DARK_WM2), cell_c), lowest_v) for wm2 in absorbed_wm2]
    return in_series(shares, traces, voltage_v)


def array_curves(
    diode: Diode, panel: Any, absorbed_wm2: Sequence[np.ndarray], cell_c: np.ndarray, voltage_v: np.ndarray
) -> dict[str, np.ndarray]:
    """Currents at the array's voltages and its points, for panels in series and rows; dark hours are 0.

    ``absorbed_wm2`` is the light on each group of a panel's strings of cells, the first in the most. Panels in series
    add voltages, rows side by side add currents; ``mismatch_and_ageing`` takes its share of the current.
    """
    lit = absorbed_wm2[0] > DARK_WM2
    light, cell_c = np.array(absorbed_wm2)[:, lit], cell_c[lit]
    volts, amps = panel.series, panel.count / panel.series * (1.0 - panel.mismatch_and_ageing)
    parameters = conditions(diode, light[0], cell_c)
    found = points(parameters)
    found["current_a"] = currents(parameters, voltage_v / volts)
    uneven = np.any(light != light[0], axis=0)
    if uneven.any():
        for name, values in uneven_curves(diode, panel, light[:, uneven], cell_c[uneven], voltage_v / volts).items():
            found[name][uneven] = values
    drawn = chord_to_zero(found["current_a"], voltage_v / volts, found["v_oc"])
    curves = {
        "current_a": np.multiply(drawn, amps, out=drawn),
        "p_mp_w": found["p_mp"] * volts * amps,
        "v_mp_v": found["v_mp"] * volts,
        "i_sc_a": found["i_sc"] * amps,
        "v_oc_v": found["v_oc"] * volts,
    }
    return {name: in_year(lit, values) for name, values in curves.items()}
