"""Quiet hours, in which the load stays off, and the temperature compensation of the charge voltages."""

from __future__ import annotations

import numpy as np
import pytest
from conftest import changed
from kit.courtyard import year_of

from sim.errors import InputError
from sim.plant.people import quieted

QUIET = ("22:00", "06:00")


def ran(year: object) -> np.ndarray:
    """(24,) hours that the pump ran in each hour of the day, through the year."""
    return np.asarray(year.measures.run_h.reshape(-1, 24).sum(axis=0))  # type: ignore[attr-defined]


def test_the_pump_stands_in_quiet_hours_and_runs_in_others() -> None:
    """Between ten and six it never runs; without quiet hours it does, and at noon it runs all the same."""
    still, free = ran(year_of(need__quiet=QUIET)), ran(year_of())
    assert not still[[22, 23, 0, 5]].any() and free[[22, 23, 0, 5]].all()
    assert still[12] >= free[12]


@pytest.mark.parametrize(
    ("mode", "windows", "left"),
    [
        ("always", [], [(6.0, 22.0)]),
        ("clock", [["04:00", "08:00"], ["20:00", "23:30"]], [(6.0, 8.0), (20.0, 22.0)]),
        ("daylight", [], [(6.0, 22.0)]),
    ],
)
def test_quiet_hours_come_off_the_timer_s(mode: str, windows: list[list[str]], left: list[tuple[float, float]]) -> None:
    """Whatever the mode, the times that are left are those outside the quiet ones (derived)."""
    scenario = changed({"controller.load_mode": mode, "controller.load_windows": windows, "need.quiet": list(QUIET)})
    assert scenario.load_windows_s == tuple((3600.0 * start, 3600.0 * end) for start, end in left)


def test_a_lighting_timer_keeps_quiet_too() -> None:
    """Dusk at 20:00 for four hours is two hours until ten; one through midnight begins again at six (derived)."""
    allowed = changed({"need.quiet": list(QUIET)}).load_windows_s
    hour, off = 3600.0, (0.0, 0.0)
    assert quieted([off, (20 * hour, 1.0), (24 * hour, 0.0)], allowed) == [off, (20 * hour, 1.0), (22 * hour, 0.0)]
    assert quieted([off, (29 * hour, 1.0), (31 * hour, 0.0)], allowed) == [off, (30 * hour, 1.0), (31 * hour, 0.0)]
    assert quieted([off, (23 * hour, 1.0), (24 * hour, 0.0)], allowed) == [off]


@pytest.mark.parametrize(
    ("changes", "allowed"),
    [
        ({"need.quiet": ["22:00", "06:00"], "need.between": ["19:00", "07:00"]}, "they leave 4 h"),
        ({"need.quiet": ["10:00", "10:00"]}, "an end other than the start"),
        (
            {
                "need.quiet": ["22:00", "06:00"],
                "need.hours_per_day": 0,
                "controller.load_mode": "clock",
                "controller.load_windows": [["23:00", "05:00"]],
            },
            "something of controller.load_windows",
        ),
    ],
)
def test_quiet_hours_that_leave_too_little_are_refused(changes: dict[str, object], allowed: str) -> None:
    """A wish for hours that the quiet ones take away is a mistake in the scenario."""
    with pytest.raises(InputError, match=allowed):
        changed(changes)


def test_compensation_lifts_the_charge_of_a_cold_battery() -> None:
    """−4 mV for each of six cells and each degree: the highest voltage of an AGM year is 24 mV above 14.4 V for each
    degree below 25 °C in the cold; without compensation it is 14.4 V (derived).
    """
    with_it, without = (
        year_of(battery__chemistry="agm", controller__compensation_mv_c=shift).measures.battery.highest_v
        for shift in (-4.0, 0.0)
    )
    assert without == pytest.approx(14.4, abs=0.05)
    assert 14.4 + 0.024 * 10.0 < with_it < 14.4 + 0.024 * 40.0


def test_compensation_follows_the_chemistry_unless_it_is_said() -> None:
    """None for lithium; −4 mV for a cell of lead-acid (published: REF235)."""
    assert changed({}).controller.compensation_mv_c == 0.0
    assert changed({"battery.chemistry": "gel"}).controller.compensation_mv_c == -4.0
    with pytest.raises(InputError, match="compensation_mv_c"):
        changed({"controller.compensation_mv_c": 4})
