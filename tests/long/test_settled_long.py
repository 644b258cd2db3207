"""Many designs settle to the same year from an empty battery and from a full one. Run with -m long: two minutes."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from conftest import SCENARIOS, changed, sky_of

from sim.plant import lanes as lanes_module
from sim.plant.run import run

pytestmark = pytest.mark.long
CHANGES = ({}, {"pump.power_w": 45}, {"controller.kind": "mppt"}, {"weather.sample": "aleutian"})
CASES = list(product(SCENARIOS, ("lfp", "agm", "gel", "flooded"), CHANGES))


@pytest.mark.parametrize(("path", "chemistry", "more"), CASES, ids=lambda one: getattr(one, "stem", None) or str(one))
def test_a_year_is_the_same_from_empty_and_from_full(
    monkeypatch: pytest.MonkeyPatch, path: object, chemistry: str, more: dict[str, object]
) -> None:
    """Hours within 0.01 h, charges within 0.001 at every hour, and the year ends as it began."""
    scenario = changed({"battery.chemistry": chemistry} | more, path)  # type: ignore[arg-type]
    sky, found = sky_of(scenario), []
    for guess in (0.05, 1.0):
        monkeypatch.setattr(lanes_module, "FIRST_GUESS_SOC", guess)
        ((log, _),) = run([scenario], sky[np.newaxis])
        assert log.settled.all()
        found.append(log.totals[:, 0])
    low, high = found
    print(f"{abs(low['run_s'][-1] - high['run_s'][-1]) / 3600:.5f} h, {abs(low['soc'] - high['soc']).max():.6f}")
    assert low["run_s"][-1] == pytest.approx(high["run_s"][-1], abs=36.0)
    np.testing.assert_allclose(low["soc"], high["soc"], atol=1e-3)
    assert low["soc"][-1] == pytest.approx(low["soc"][0], abs=1e-3)
