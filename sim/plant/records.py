"""The one table a step works on: a record a lane, holding what is fixed, what is set from outside, what changes
and what is counted. A lane is one design variant on one weather year.

Times are seconds since the year began; currents are positive into the battery.
"""

from __future__ import annotations

import numpy as np

from sim.plant.causes import SECONDS

CURVE_NODES = 49
REST_NODES = 101
ALWAYS, DAYLIGHT = 0, 1  # LANE.load_mode: by voltage alone, or by voltage while there is daylight
PWM, MPPT = 0, 1
TRACKING = {"pwm": PWM, "mppt": MPPT}  # LANE.tracking, how a kind of controller draws from the panel
REGULATED, DIRECT = 0, 1  # LANE.pump_direct
CHARGING, FLOATING = 0, 1  # STATE.stage
PULSES, HOLDS, CUTS_LOAD = 0, 1, 2  # LANE.on_refusal: what a controller does whose battery takes nothing
PROTECTION_HOLD_S = 60.0  # a protection circuit stays open at least this long; common practice, no source
RECHARGE_HOLD_S = 60.0  # a charge begins anew when the bus stays low this long; common practice, no source
OVERLOAD_HOLD_S = 60.0  # a load switch that tripped on current tries again after this long; common practice, no source
RESTART_HOLD_S = 10.0  # a stalled pump tries again after this long; common practice, no source

_F = np.float64
_I = np.int64

LANE = np.dtype(
    [
        ("place", _I),  # row of the sky table
        ("tracking", _I),
        ("panel_loop_ohm", _F),  # panel to controller, both conductors
        ("series_drop_v", _F),
        ("efficiency", _F),
        ("max_charge_a", _F),
        ("max_load_a", _F),
        ("own_a", _F),
        ("absorption_v", _F),
        ("float_v", _F),
        ("recharge_below_v", _F),
        ("set_shift_v_per_c", _F),
        ("equalise_v", _F),
        ("equalise_s", _F),
        ("absorption_s", _F),
        ("charge_ends_a", _F),
        ("off_v", _F),  # true bus voltage at which the controller reads its disconnect voltage
        ("on_v", _F),
        ("off_delay_s", _F),
        ("on_delay_s", _F),
        ("load_mode", _I),
        ("on_refusal", _I),
        ("capacity_ah", _F),
        ("blocks", _F),  # 12 V blocks in series
        ("rest_v", _F, (REST_NODES,)),  # rest voltage of a block at 0, 1 … 100 % charge
        ("rest_area_v", _F, (REST_NODES,)),  # its integral over charge from empty
        ("hysteresis_v", _F),  # of the whole battery, half the distance between charging and discharging
        ("hysteresis_rate", _F),  # per capacity moved
        ("r0_ohm", _F),
        ("r0_rise", _F),
        ("r1_ohm", _F),
        ("tau_s", _F),  # at 25 °C; with the resistance the time constant grows, the capacitance stays
        ("acceptance_ohm", _F),
        ("exhaustion_ohm", _F),
        ("scale", _F),  # resistance of the cold against a 12 V block of 100 Ah: blocks·100/Ah
        ("coulombic", _F),
        ("self_discharge_a", _F),
        ("lead_ohm", _F),  # battery to controller, both conductors, fuse and terminals
        ("protect_low_v", _F),
        ("protect_low_recover_v", _F),
        ("protect_high_v", _F),
        ("protect_high_recover_v", _F),
        ("coldest_charge_c", _F),
        ("charge_release_c", _F),  # charge is taken again from here on
        ("blocked_drop_v", _F),  # across a protection circuit that lets current through one way only
        ("early_soc", _F),  # a disconnect above this charge is an early cut-off
        ("pump_direct", _I),
        ("pump_w", _F),
        ("pump_at_v", _F),
        ("pump_min_v", _F),
        ("pump_start_v", _F),  # at the bus, so that the start current leaves enough at the pump
        ("pump_loop_ohm", _F),
    ]
)

INPUTS = np.dtype(
    [
        ("scheduled", _I),  # the load schedule lets the pump run
        ("seasonal", _I),  # shut down for the season
        ("equalise", _I),  # the charge that begins now equalises
        ("load_faults", _I),  # how many faults keep current from the pump, or the pump from turning
        ("battery_faults", _I),  # how many keep the battery's protection circuit open both ways
        ("clean", _F),  # share of the light that dirt leaves, against the sky table's
        ("in_window", _I),  # the time of day in which running counts as needed
        ("fresh", _I),  # the extremes have been read and begin anew
    ]
)

STATE = np.dtype(
    [
        ("now_s", _F),
        ("soc", _F),
        ("v1_v", _F),
        ("side", _F),  # hysteresis: +1 after charging, −1 after discharging
        ("bus_v", _F),
        ("pace_s", _F),  # how long a step may be, as far as this hour has shown
        ("latched", _I),  # the controller's voltage switch lets the load run
        ("held_s", _F),  # how long the bus has been past the active threshold
        ("stage", _I),
        ("absorbed_s", _F),
        ("recharge_s", _F),
        ("lit", _I),
        ("low_open", _I),  # the protection circuit refuses discharge
        ("high_open", _I),  # … or charge
        ("open_s", _F),
        ("frozen", _I),  # the protection circuit has locked the charge for cold
        ("peaks_v", _F, (2,)),  # of a bus that pulses, pump standing and turning: this hour's, 0 until it is asked for
        ("surged", _I),  # the load switch opened because the bus went too high
        ("tripped", _I),  # the load switch opened on too much current
        ("tripped_s", _F),
        ("stalled", _I),
        ("stalled_s", _F),
        ("cause", _I),  # RUNNING or why not, of causes
        ("changed_s", _F),
        ("stood_s", _F),  # of a year that begins as it ends: how long a stop had lasted when it began
        ("ran_s", _F),  # … or a run
        ("events", _I),
    ]
)

_TOTALS = (
    # at this moment
    "soc v1_v battery_v bus_v battery_a "
    # seconds
    "window_run_s bulk_s absorption_s float_s refused_s below_20_s above_95_s soc_s "
    # counts and charge
    "starts disconnects early_disconnects reconnects lifted_reconnects refused_reconnects "
    "charge_ah discharge_ah "
    # energies
    "possible_wh panel_wh spare_wh panel_cable_wh controller_wh "
    "lead_wh pump_cable_wh pump_wh own_wh heater_wh battery_loss_wh "
    # extremes since the last reading
    "soc_low soc_high bus_low_v bus_high_v battery_low_v battery_high_v panel_high_a pump_high_v "
    # the longest stop and the shortest run that ended since the last reading
    "longest_stop_s shortest_run_s"
).split()
TOTALS = np.dtype([(name, _F) for name in (*_TOTALS, *SECONDS.values())])
EXTREMES = tuple(
    "soc_low soc_high bus_low_v bus_high_v battery_low_v battery_high_v panel_high_a pump_high_v".split()
)  # the last with the peaks of a bus that pulses

PLANT = np.dtype([("lane", LANE), ("inputs", INPUTS), ("state", STATE), ("totals", TOTALS)])

# What an hour brings to a place, where a place is a panel position with a battery box.
SKY = np.dtype(
    [
        ("current_a", _F, (CURVE_NODES,)),  # of the whole array at uniform voltages
        ("first_v", _F),
        ("step_v", _F),
        ("p_mp_w", _F),
        ("v_mp_v", _F),
        ("open_v", _F),  # at open circuit
        ("lit", _I),
        ("cell_c", _F),  # the battery's temperature and what follows from it
        ("ohm_factor", _F),
        ("cold_ohm", _F),
        ("heater_a", _F),
    ]
)

# A change of what the pump does: when, why, and the bus voltage just before it.
EVENT = np.dtype([("at_s", _F), ("cause", _I), ("soc", _F), ("bus_v", _F), ("battery_a", _F), ("refused", _I)])
