"""The lead-acid entries of the catalogue against makers' and councils' tables."""

from __future__ import annotations

import numpy as np
import published
import pytest
from kit.courtyard import usable_ah
from published import check

from sim.catalogue import chemistries
from sim.catalogue.cells import cell
from sim.figures.stress import calendar_pace
from sim.plant.lanes import rest_curve

RESTS = [
    ("REF213", "flooded", 100),
    ("REF215", "flooded", 75),
    ("REF217", "flooded", 25),
    ("REF219", "agm", 100),
    ("REF220", "agm", 50),
    ("REF221", "agm", 0),
    ("REF222", "gel", 75),
    ("REF223", "gel", 25),
]


@pytest.mark.parametrize(("id", "chemistry", "percent"), RESTS)
def test_rest_voltages_are_the_tables(id: str, chemistry: str, percent: int) -> None:
    """The rest curve passes the published points."""
    check(id, float(rest_curve(cell(chemistry))[0][percent]))


def test_resistance_lies_among_the_data_sheets() -> None:
    """A full AGM block's R0, and every lead-acid one's range."""
    check("REF229", cell("agm").r0_mohm / 1000.0)
    for chemistry in ("agm", "gel", "flooded"):
        check("REF230", cell(chemistry).r0_mohm / 1000.0, "range")


def test_charge_voltages_lie_in_the_sheets_windows() -> None:
    """Cycle and standby charge of AGM, and the shift with temperature of all."""
    check("REF231", chemistries()["agm"]["controller"]["absorption_v"])
    check("REF233", chemistries()["agm"]["controller"]["float_v"])
    for chemistry in ("agm", "gel", "flooded"):
        check("REF235", cell(chemistry).set_shift_mv_per_c)


def test_load_voltages_are_common_practice() -> None:
    """Disconnect and reconnect of AGM and gel."""
    for chemistry in ("agm", "gel"):
        settings = chemistries()[chemistry]["controller"]
        check("REF437", [settings["load_disconnect_v"], settings["load_reconnect_v"]])


def test_warm_acid_holds_no_less() -> None:
    """At 40 °C the sheet's 3 % more lie within its tolerance of what the resistance model gives."""
    check("REF236", usable_ah("agm", 5.2, 40.0) / usable_ah("agm", 5.2, 25.0))


@pytest.mark.parametrize(
    ("id", "chemistry", "depth"), [("REF246", "agm", 1.0), ("REF247", "agm", 0.5), ("REF248", "flooded", 0.5)]
)
def test_cycle_lives_are_within_a_factor_of_two(id: str, chemistry: str, depth: float) -> None:
    """The sheets' own spread between makers."""
    entry = cell(chemistry)
    lives = [full * depth**-k for full, k in zip(entry.cycles_at_full_depth, entry.depth_exponent, strict=True)]
    stated = float(published.row(id).expected)
    assert all(stated / 2.0 <= life <= stated * 2.0 for life in lives)


def test_nine_degrees_halve_the_calendar_life() -> None:
    """Battery makers' rule: half the life for 8 to 10 °C more."""
    for chemistry in ("agm", "gel", "flooded"):
        check("REF249", 1.0 / calendar_pace(np.array([34.0]), cell(chemistry).ageing_doubles_per_c))


def test_self_discharge_and_coulombic_efficiency_lie_in_the_published_ranges() -> None:
    """One month of AGM at rest; charge out for charge in."""
    check("REF250", cell("agm").self_discharge_percent_month)
    for chemistry in ("agm", "gel", "flooded"):
        check("REF252", cell(chemistry).coulombic_efficiency, "range")
