"""A battery that is empty all year gives nothing, and the books would show it if it did."""

from __future__ import annotations

import copy
import json

import pytest
from kit.smallest import POND, SMALLEST

from sim.figures.measures import energy_between
from sim.scenario import parse
from sim.studies.year import simulate_year

BURIED = {
    "weather": {"sample": "subtropic"},
    "care": {"snow": [["01-01", "12-31"]]},
    "panel": SMALLEST["panel"] | {"shade": [{"from_time": "00:00", "to_time": "24:00"}]},
}


def test_an_empty_battery_gives_nothing() -> None:
    """Under snow and shade for a year the pump stands for all of its 8760 hours and nothing leaves the battery.

    The same year with 12 Ah at 12 V more for the pump does not balance (derived).
    """
    result = simulate_year(parse(SMALLEST | BURIED, POND))
    year, last = result.measures, result.log.totals[-1, 0]
    assert year.pump_hours == 0.0 and sum(year.stops_by_cause.values()) == pytest.approx(8760.0)
    assert last["discharge_ah"] == pytest.approx(0.0, abs=0.01)
    assert year.energy.battery_loss >= 0.0 and abs(year.energy.balance_error) < 1e-3
    assert json.dumps(result.as_json(), allow_nan=False)
    given = copy.deepcopy(result.log)
    given.totals["pump_wh"][-1, 0] += 144.0
    assert energy_between(given, 0.0).balance_error == pytest.approx(-144.0)
