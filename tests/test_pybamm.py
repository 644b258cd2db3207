"""The battery circuit against pybamm's Thevenin model, where that is installed (extra ``reference``)."""

from __future__ import annotations

import numpy as np
import pytest

from sim.devices.battery import decay_over, polarisation_after

OCV_V, R0_OHM, R1_OHM, C1_F = 13.2, 0.012, 0.006, 1e5  # τ 600 s: a step remembers the last one
STEP_S = 600.0


def week_of_currents() -> np.ndarray:
    """Battery current every ten minutes, A into the battery, of a simulated week in June of the courtyard."""
    from kit.courtyard import year_of

    log = year_of().log
    net_ah = log.per_interval("charge_ah") - log.per_interval("discharge_ah")
    return np.repeat(net_ah[24 * 160 : 24 * 167], 6)


def own_voltages(current_a: np.ndarray) -> np.ndarray:
    """Terminal voltage at the end of each step through the project's own functions, constant parameters."""
    v1_v, decay = 0.0, decay_over(STEP_S, R1_OHM * C1_F)
    out = np.empty(len(current_a))
    for k, current in enumerate(current_a):
        v1_v = polarisation_after(v1_v, current, R1_OHM, decay)
        out[k] = OCV_V + current * R0_OHM + v1_v
    return out


def test_a_week_of_pulses_agrees_with_pybamm_to_a_millivolt() -> None:
    """One RC pair, constant open-circuit voltage and parameters, currents of a real simulated week."""
    pybamm = pytest.importorskip("pybamm")
    current_a = week_of_currents()
    model = pybamm.equivalent_circuit.Thevenin()
    values = model.default_parameter_values
    values.update(
        {
            "Initial SoC": 0.5,
            "Cell capacity [A.h]": 1e6,  # so that the charge hardly moves
            "Nominal cell capacity [A.h]": 1e6,
            "Open-circuit voltage [V]": lambda soc: OCV_V + 0.0 * soc,
            "Upper voltage cut-off [V]": 20.0,
            "Lower voltage cut-off [V]": 5.0,
            "R0 [Ohm]": lambda *_: pybamm.Scalar(R0_OHM),
            "R1 [Ohm]": lambda *_: pybamm.Scalar(R1_OHM),
            "C1 [F]": lambda *_: pybamm.Scalar(C1_F),
            "Element-1 initial overpotential [V]": 0.0,
            "Entropic change [V/K]": lambda *_: pybamm.Scalar(0.0),
            "Current function [A]": "[input]",
        }
    )
    simulation = pybamm.Simulation(model, parameter_values=values, solver=pybamm.IDAKLUSolver(rtol=1e-8, atol=1e-8))
    theirs = np.empty(len(current_a))
    for k, current in enumerate(current_a):
        stepped = simulation.step(dt=STEP_S, inputs={"Current function [A]": -current}, save=False)
        theirs[k] = stepped["Voltage [V]"].entries[-1]
    assert np.ptp(theirs) > 0.05  # the week does move the voltage
    assert np.max(np.abs(theirs - own_voltages(current_a))) < 1e-3
