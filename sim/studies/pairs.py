"""Which pair of load voltages? Every pair through the year, a recommended one, and what a voltage can mean."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.catalogue import chemistries
from sim.checks.energy import gap_margin_v, needed_gap_v, quiet_gap_v, sag_v
from sim.light.sunlight import sunlight_on
from sim.plant.sky import sky_row
from sim.scenario import Scenario
from sim.studies.controls import Control, charging_a, controls, timer_in_words
from sim.studies.pair import Pair
from sim.studies.pair_years import ManyYears, candidates_of, many_years, with_p10
from sim.studies.reading import Band, bands_at
from sim.studies.recommend import able, changes, choose, reasons_for, recommend
from sim.studies.steadiness import limits_in_words, unsteady_because
from sim.studies.sweep import Range, Sweep, grid, reading_error_v, sweep
from sim.weather import Weather, weather_for

__all__ = ["Band", "Control", "Pair", "PairsResult", "study_pairs"]


@dataclass(frozen=True)
class PairsResult:
    """The whole study: ``pairs`` in order of disconnect and reconnect, the scenario's own pair, the recommended one."""

    scenario: Scenario
    weather: Weather
    pairs: tuple[Pair, ...]
    present: Pair
    recommended: Pair
    reasons: tuple[str, ...]
    changes: tuple[str, ...]
    sag_v: float
    rebound_v: float
    margin_v: float
    needed_gap_v: float
    bands: tuple[Band, ...]
    controls: tuple[Control, ...]
    timer: str
    limits: tuple[str, ...]
    years: ManyYears | None = None

    def as_json(self) -> dict[str, Any]:
        """Plain data under the published names."""
        gap = {name: getattr(self, name) for name in ("sag_v", "rebound_v", "margin_v", "needed_gap_v")}
        return {
            "pairs": [vars(pair) for pair in self.pairs],
            "present": vars(self.present),
            "recommended": vars(self.recommended),
            "reasons": list(self.reasons),
            "changes": list(self.changes),
            "gap": gap,
            "bands": [vars(band) for band in self.bands],
            "controls": [vars(control) for control in self.controls],
            "limits": list(self.limits),
        }


def _share(part: float, whole: float, of_nothing: float = 0.0) -> float:
    return float(part / whole) if whole > 0.0 else of_nothing


def pair_of(swept: Sweep, k: int, error_v: float) -> Pair:
    """The figures of one pair of a sweep."""
    found, stress = swept.figures[0, k], swept.stress[k]
    because = unsteady_because(swept.figures[:, k], error_v)
    by_month = zip(found["met_h"], swept.wanted_h, strict=True)
    return Pair(
        *swept.volts[k],
        pump_hours=float(found["hours"]),
        pump_hours_by_month=tuple(found["run_h"].tolist()),
        hours_met_share=_share(found["met_h"].sum(), swept.wanted_h.sum(), 1.0),
        met_share_by_month=tuple(_share(met, wanted, 1.0) for met, wanted in by_month),
        starts=int(found["starts"]),
        starts_a_day=float(found["starts"] / swept.days),
        shortest_run_h=float(found["shortest_run_h"]) if np.isfinite(found["shortest_run_h"]) else None,
        longest_stop_h=float(found["longest_stop_h"]),
        min_soc=float(found["min_soc"]),
        hours_below_20_percent=float(found["below_20_h"]),
        equivalent_full_cycles=stress.equivalent_full_cycles,
        life_years_low=stress.life_years[0],
        life_years_high=stress.life_years[1],
        lifted_restart_share=_share(found["lifted_reconnects"], found["reconnects"]),
        refused_restarts=int(found["refused_reconnects"]),
        early_cut_off_share=_share(found["early_disconnects"], found["disconnects"]),
        steady=not because,
        unsteady_because=because,
    )


def _threshold_bands(present: Pair, recommended: Pair, scenario: Scenario, charge_a: float) -> tuple[Band, ...]:
    """What the controller really sees at the thresholds of both pairs."""
    named = {
        f"{whose} {which}": volts
        for whose, pair in (("present", present), ("recommended", recommended))
        for which, volts in (("disconnect", pair.load_disconnect_v), ("reconnect", pair.load_reconnect_v))
        if whose == "present" or pair != present
    }
    return tuple(band for name, volts in named.items() for band in bands_at(scenario, name, volts, charge_a))


def study_pairs(
    scenario: Scenario,
    step_v: float | None = None,
    disconnect: Range | None = None,
    reconnect: Range | None = None,
    progress: Callable[[int, int], None] | None = None,
    years: int = 0,
) -> PairsResult:
    """The study of a scenario; nothing is written. Ranges and step in V at the battery.

    With ``years`` the best pairs of the map go through so many synthetic years too, and the recommended one is chosen
    of those that do best in the poor ones.
    """
    volts = grid(scenario, step_v, disconnect, reconnect)
    own = (scenario.controller.load_disconnect_v, scenario.controller.load_reconnect_v)
    weather = weather_for(scenario)
    sky = sky_row(sunlight_on(scenario, weather), weather, scenario.battery)
    months, error_v = weather.index.month.to_numpy()[::24], reading_error_v(scenario)
    tried = volts if own in volts else (*volts, own)
    swept = sweep(scenario, sky, months, tried, progress or (lambda done, of: None))
    every = tuple(pair_of(swept, k, error_v) for k in range(len(tried)))
    pairs, present = every[: len(volts)], every[tried.index(own)]
    reserve_soc = chemistries()[scenario.battery.chemistry]["study"]["reserve_soc"]
    coldest_c = float(sky["cell_c"].min())
    gap_v = quiet_gap_v(scenario, coldest_c)
    recommended, reasons = recommend(pairs, reserve_soc, gap_v)
    many = None
    if years:
        many = many_years(scenario, candidates_of(pairs, gap_v, (recommended, present)), years)
        pairs, (present,) = with_p10(pairs, many), with_p10((present,), many)
        (recommended,) = with_p10((choose(able(many.near(), gap_v), reserve_soc),), many)
        reasons = (many.in_words(recommended, present), *reasons_for(recommended, pairs, reserve_soc, gap_v))
    compared, log = controls(scenario, sky, months)
    timer = timer_in_words(compared, max(pair.hours_met_share for pair in pairs))
    reasons = (*((timer,) if timer else ()), *reasons)
    return PairsResult(
        scenario=scenario,
        weather=weather,
        pairs=pairs,
        present=present,
        recommended=recommended,
        reasons=reasons,
        changes=changes(present, recommended, np.bincount(months, minlength=13)[1:13]),
        sag_v=sag_v(scenario, coldest_c),
        rebound_v=sag_v(scenario, coldest_c),
        margin_v=gap_margin_v(scenario),
        needed_gap_v=needed_gap_v(scenario, coldest_c),
        bands=_threshold_bands(present, recommended, scenario, charging_a(log)),
        controls=compared,
        timer=timer,
        years=many,
        limits=limits_in_words(error_v),
    )
