"""The scenarios that come with the project run, and give the headline that was stored.

The stored figures are frozen output, not truth: they show that nothing changed unseen. After a change that is meant,
``SUNRILL_ACCEPT=1 pytest tests/test_scenarios.py`` stores the new ones, to be read before they are committed.
"""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest

from sim.scenario import load
from sim.studies.year import simulate_year

STORED = Path(__file__).parent / "stored_headlines.json"
SCENARIOS = sorted((Path(__file__).parent.parent / "scenarios").glob("*.toml"))


def headline(path: Path) -> dict[str, float]:
    year = simulate_year(load(path)).as_json()
    figures = {name: year[name] for name in ("pump_hours", "hours_met_share", "starts", "longest_stop_h")}
    figures |= (
        {name: year["water"][name] for name in ("litres", "flow_lph", "branch_flow_lph")} if year["water"] else {}
    )
    return figures | {"min_soc": year["battery"]["min_soc"], "panel_wh": year["energy_wh"]["panel"]}


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_a_scenario_gives_its_stored_headline(path: Path) -> None:
    """Every figure of the headline is within a millionth of the stored one, the starts within one in a thousand."""
    stored = json.loads(STORED.read_text(encoding="utf-8")) if STORED.exists() else {}
    found = headline(path)
    if os.environ.get("SUNRILL_ACCEPT") == "1":
        stored[path.stem] = found
        STORED.write_text(json.dumps(stored, indent=2, sort_keys=True) + "\n", encoding="utf-8")
    assert set(found) == set(stored[path.stem])
    for name, value in stored[path.stem].items():
        assert found[name] == pytest.approx(value, rel=1e-3 if name == "starts" else 1e-6), name


def test_every_stored_headline_has_its_scenario() -> None:
    """No figure is stored for a scenario that is gone."""
    assert set(json.loads(STORED.read_text(encoding="utf-8"))) == {path.stem for path in SCENARIOS}
