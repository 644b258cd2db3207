"""A pairs study made up by rule, for reports: structured like a simulated one, and made in no time."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from sim.scenario import load
from sim.studies.pairs import Band, Control, Pair, PairsResult
from sim.weather import weather_for

COURTYARD = Path(__file__).parents[1] / "scenarios" / "courtyard.toml"
DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
NEEDED_GAP_V = 0.55


def made_up_pair(off: float, on: float) -> Pair:
    """A pair that starts the more often the closer its voltages, and empties the battery the lower it cuts off."""
    gap, low = on - off, max(0.0, (off - 10.8) / 2.4)
    share = float(np.clip(1.0 - 0.25 * low - 0.3 * max(0.0, on - 13.2), 0.05, 1.0))
    by_month = share * (6.0 + 4.0 * np.sin((np.arange(12) - 2.5) / 12 * 2 * np.pi)) * DAYS
    starts = round(365 * (0.4 + 40.0 * np.exp(-gap / 0.25)))
    steady = gap > NEEDED_GAP_V
    return Pair(
        load_disconnect_v=round(off, 2), load_reconnect_v=round(on, 2),
        pump_hours=float(by_month.sum()), pump_hours_by_month=tuple(by_month.tolist()),
        hours_met_share=share * 0.8, met_share_by_month=tuple(np.clip(by_month / DAYS / 8.0, 0, 1).tolist()),
        starts=starts, starts_a_day=starts / 365, shortest_run_h=0.02 + gap, longest_stop_h=20.0 + 30.0 * low,
        min_soc=0.04 + 0.3 * low, hours_below_20_percent=1500.0 * (1.0 - min(1.0, low)),
        equivalent_full_cycles=150.0 - 80.0 * low, life_years_low=6.0 + 4.0 * low, life_years_high=11.0 + 4.0 * low,
        lifted_restart_share=float(np.clip((13.6 - on) / 1.5, 0, 1)),
        refused_restarts=0, early_cut_off_share=float(np.clip(low - 0.5, 0, 1)),
        steady=steady, unsteady_because=() if steady else ("starts change by more than half with aged leads",),
    )  # fmt: skip


def _grid() -> Iterator[Pair]:
    for off in np.arange(11.6, 12.85, 0.1):
        for on in np.arange(12.6, 13.85, 0.1):
            if on > off + 0.05:
                yield made_up_pair(float(off), float(on))


def _bands() -> tuple[Band, ...]:
    rows = (
        ("disconnect voltage, at rest", 12.2, 0.0, 0.05), ("disconnect voltage, under pump load", 12.2, 0.05, 0.15),
        ("disconnect voltage, while charging", 12.2, 0.0, 0.05), ("reconnect voltage, at rest", 13.1, 0.35, 0.75),
        ("reconnect voltage, under pump load", 13.1, 0.6, 0.95), ("reconnect voltage, while charging", 13.1, 0.1, 0.45),
    )  # fmt: skip
    return tuple(Band(f"present {words}", *figures) for words, *figures in rows)


def _controls() -> tuple[Control, ...]:
    rows = (
        ("voltage only", 3600.0, 0.62, 1815.0, 1200.0, 420, 120.0, 0.05, 44.0),
        ("daylight only", 2900.0, 0.70, 2050.0, 0.0, 365, 80.0, 0.2, 30.0),
        ("clock", 2800.0, 0.72, 2100.0, 0.0, 365, 82.0, 0.18, 30.0),
        ("daylight and voltage", 2750.0, 0.69, 2020.0, 0.0, 380, 78.0, 0.22, 31.0),
    )
    return tuple(Control(*row) for row in rows)


def made_up() -> PairsResult:
    """Some 160 pairs on a grid, with a present and a recommended one among them."""
    scenario = load(COURTYARD)
    return PairsResult(
        scenario=scenario,
        weather=weather_for(scenario),
        pairs=tuple(_grid()),
        present=made_up_pair(12.2, 13.1),
        recommended=made_up_pair(12.5, 13.4),
        reasons=("Among the steady pairs it meets the most wanted hours.",
                 "No steady pair starts less often for that."),
        changes=("+0.4 h a day in December", "900 fewer starts", "lowest charge 22 % instead of 6 %"),
        sag_v=0.35, rebound_v=0.35, margin_v=0.2, needed_gap_v=NEEDED_GAP_V,
        bands=_bands(), controls=_controls(), timer="",
        limits=(
            "Hours change by no more than 5 % when the reading is off by 0.1 V either way.",
            "Starts change by no more than half when the leads' resistance grows by 50 %.",
        ),
    )  # fmt: skip
