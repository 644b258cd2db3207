"""Quiet hours, in which the load stays off, and the temperature compensation of the charge voltages."""

from __future__ import annotations

import pytest
from conftest import changed

from sim.errors import InputError
from sim.plant.lanes import lanes_from
from sim.plant.people import quieted

QUIET = ("22:00", "06:00")


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


def test_compensation_reaches_the_plant() -> None:
    """−4 mV for each of six cells and each degree is −24 mV/°C of a 12 V battery, twice that at 24 V (derived)."""
    for volts, shift_v in ((12, -0.024), (24, -0.048)):
        pair = {"panel.count": 2, "panel.series": 2} if volts == 24 else {}
        scenario = changed({"battery.chemistry": "agm", "battery.nominal_v": volts} | pair)
        assert float(lanes_from([scenario], [0])["lane"]["set_shift_v_per_c"][0]) == pytest.approx(shift_v)


def test_compensation_follows_the_chemistry_unless_it_is_said() -> None:
    """None for lithium; −4 mV for a cell of lead-acid (published: REF235)."""
    assert changed({}).controller.compensation_mv_c == 0.0
    assert changed({"battery.chemistry": "gel"}).controller.compensation_mv_c == -4.0
    with pytest.raises(InputError, match="compensation_mv_c"):
        changed({"controller.compensation_mv_c": 4})
