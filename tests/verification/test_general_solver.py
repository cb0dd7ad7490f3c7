"""The march against SciPy's Radau method on the same equations, through a cap opening and its refit."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from reference_equations import UNKNOWNS, right_hand_side
from support import bench, channel_table, start_at
from ullage.kernel.params import CHANNEL_INDEX, forcing_between
from ullage.kernel.state import Scratch, copied, empty_record

OPENED, REFITTED, END = 60.0, 120.0, 240.0

CIRCUITS = {
    "bypass to the inlet": {},
    "bypass to the reservoir": {"pump.bypass_routing": "reservoir", "pump.relief_location": "reservoir"},
    "no flow control": {
        "pump.controlled_flow": None,
        "pump.bypass_routing": None,
        "pump.relief_location": "steering_gear",
        "steering_gear.work_share": 0.2,
    },
    "wet oil in a nearly full tank": {"fluid.water_content": 5e-5, "reservoir.fill": 0.88},
}


def race():
    """Return a race with fast channels and a jump of the cap at both ends of its opening."""
    time = np.arange(0.0, END + 1.0)
    place = np.sort(np.concatenate([np.arange(len(time)), [int(OPENED), int(REFITTED)]]))
    time = time[place]
    channels = channel_table(
        time,
        engine_speed=400.0 + 150.0 * np.sin(time / 7.0),
        vehicle_speed=20.0 + 10.0 * np.sin(time / 11.0),
        steering_load=15e5 + 14e5 * np.sin(time / 5.0),
        ambient_pressure=101325.0 - 3000.0 * np.sin(time / 90.0),
        ambient_temperature=308.0,
        bay_temperature=330.0,
        block_temperature=360.0,
    )
    off = np.zeros(len(time), dtype=bool)
    off[int(OPENED) + 1 : int(REFITTED) + 2] = True
    channels[off, CHANNEL_INDEX["cap_on"]] = 0.0
    return time, channels


def hot_bench(circuit):
    b = bench(circuit)
    b.parameters.relief_crack = 1e9  # a popping valve is another test: its instants depend on 1 Pa
    start_at(b.state, b.parameters, 340.0, 1.6e5)
    return b


def solve_by_radau(b, time, channels):
    """Return temperatures, headspace pressure and air mass at every row."""
    p, s, w = b.parameters, copied(b.state), empty_record(Scratch)
    s.cooler_open = 1
    y = np.array([*s.temperature, s.air_heat, s.air_mass, s.dissolved_air, 0.0])
    rate = np.zeros(UNKNOWNS)
    rows = np.full((len(time), 6), np.nan)
    for k in range(len(time) - 1):
        start, end = time[k], time[k + 1]
        if end == start:
            continue
        s.cap_on = int(channels[k, CHANNEL_INDEX["cap_on"]])

        def rates(t, z, k=k, start=start, length=end - start):
            right_hand_side(p, s, w, forcing_between(channels, k, (t - start) / length), z, rate)
            return rate.copy()

        tight = [1e-7] * 4 + [1e-11, 1e-13, 1e-13, 1e-12]
        y = solve_ivp(rates, (start, end), y, method="Radau", rtol=1e-9, atol=tight).y[:, -1]
        pressure = right_hand_side(p, s, w, forcing_between(channels, k, 1.0), y, rate)
        rows[k + 1] = [*y[:4], pressure, y[5]]
    return rows


@pytest.mark.parametrize("circuit", CIRCUITS.values(), ids=CIRCUITS.keys())
def test_march_agrees_with_radau_through_opening_and_refit(circuit):
    time, channels = race()
    b = hot_bench(circuit)
    reference = solve_by_radau(b, time, channels)
    out, _, status = b.run(time, channels)
    assert status == 0
    shown = np.isfinite(reference[:, 4])
    temperature = np.abs(out.oil_temperature - reference[:, :4])[shown]
    pressure = np.abs(out.headspace_pressure - reference[:, 4])[shown]
    after = time[shown] > REFITTED
    assert np.max(temperature) < 0.02  # the accuracy promised for oil
    assert np.max(pressure[~after]) < 50.0  # and for pressure, shut and open
    assert np.max(pressure[after]) < 50.0  # after the refit it hangs on the air mass left when the cap went on
    mass = np.abs(out.headspace_air_mass / reference[:, 5] - 1.0)[shown]
    assert np.max(mass[after]) < 5e-4  # 50 Pa of 1e5 Pa
