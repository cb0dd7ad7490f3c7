"""The march against SciPy's Radau method on the same equations, through a cap opening and its refit."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from reference_equations import PASSES, UNKNOWNS, right_hand_side
from support import bench, channel_table, start_at
from ullage.duty.race_inputs import AFTER_EVENT
from ullage.kernel.heat import balance
from ullage.kernel.params import CHANNEL_INDEX, forcing_between
from ullage.kernel.state import Scratch, copied, empty_record

OPENED, REFITTED, END = 60.0, 120.0, 240.0

# changes of the truck, and channels that stay the same
CIRCUITS = {
    "bypass to the inlet": ({}, {}),
    "bypass to the reservoir": ({"pump.bypass_routing": "reservoir", "pump.relief_location": "reservoir"}, {}),
    "no flow control": (
        {
            "pump.controlled_flow": None,
            "pump.bypass_routing": None,
            "pump.relief_location": "steering_gear",
            "steering_gear.work_share": 0.2,
        },
        {},
    ),
    "wet oil in a nearly full tank": ({"reservoir.fill": 0.88}, {"water_content": 5e-5}),
    "bubbly return": ({"return_line.entrainment": 0.002}, {}),
    "low tank with a void at the pump": (
        {"reservoir.outlet_height": "-0.5 m", "pump.bypass_routing": "reservoir", "feed_line.bore": "16 mm"},
        {"strainer_factor": 10.0},
    ),
}


def race(**steady):
    """Return a race with fast channels and a jump of the cap at both ends of its opening.

    As in every race there is a row soon after each event.
    """
    after = [event + wait for event in (OPENED, REFITTED) for wait in (0.0, AFTER_EVENT)]
    time = np.sort(np.concatenate([np.arange(0.0, END + 1.0), after]))
    channels = channel_table(
        time,
        engine_speed=400.0 + 150.0 * np.sin(time / 7.0),
        vehicle_speed=20.0 + 10.0 * np.sin(time / 11.0),
        steering_load=15e5 + 14e5 * np.sin(time / 5.0),
        ambient_pressure=101325.0 - 3000.0 * np.sin(time / 90.0),
        ambient_temperature=308.0,
        bay_temperature=330.0,
        block_temperature=360.0,
        **steady,
    )
    first, last = (np.flatnonzero(time == event) for event in (OPENED, REFITTED))
    channels[first[1] : last[1], CHANNEL_INDEX["cap_on"]] = 0.0
    return time, channels


def hot_bench(circuit):
    b = bench(circuit)
    b.parameters.relief_crack = 1e9  # a popping valve is another test: its instants depend on 1 Pa
    start_at(b.state, b.parameters, 340.0, 1.6e5)
    return b


def solve_by_radau(b, time, channels):
    """Return temperatures, headspace pressure, air mass above and in bubbles, and the pump's void at every row."""
    p, s, w = b.parameters, copied(b.state), empty_record(Scratch)
    s.cooler_open = 1
    y = np.array([*s.temperature, s.air_heat, s.air_mass, s.dissolved_air, 0.0, s.free_air])
    oil_mass, rate = float(s.oil_mass), np.zeros(UNKNOWNS)
    rows = np.full((len(time), 8), np.nan)
    for k in range(len(time) - 1):
        start, end = time[k], time[k + 1]
        if end == start:
            continue
        s.cap_on = int(channels[k, CHANNEL_INDEX["cap_on"]])

        def rates(t, z, k=k, start=start, length=end - start):
            right_hand_side(p, s, w, forcing_between(channels, k, (t - start) / length), z, oil_mass, PASSES, rate)
            return rate.copy()

        tight = [1e-7] * 4 + [1e-11, 1e-13, 1e-13, 1e-12, 1e-13]
        y = solve_ivp(rates, (start, end), y, method="Radau", rtol=1e-9, atol=tight).y[:, -1]
        forcing = forcing_between(channels, k, 1.0)
        pressure = right_hand_side(p, s, w, forcing, y, oil_mass, PASSES, rate)
        filling = balance(p, s, forcing, y[:4]).flows.filling
        rows[k + 1] = [*y[:4], pressure, y[5], y[8], 1.0 - filling]
    return rows


@pytest.mark.parametrize(("circuit", "steady"), CIRCUITS.values(), ids=CIRCUITS.keys())
def test_march_agrees_with_radau_through_opening_and_refit(circuit, steady):
    time, channels = race(**steady)
    b = hot_bench(circuit)
    reference = solve_by_radau(b, time, channels)
    out, _, status = b.run(time, channels)
    assert status == 0
    shown = np.isfinite(reference[:, 4])
    temperature = np.abs(out.oil_temperature - reference[:, :4])[shown]
    pressure = np.abs(out.headspace_pressure - reference[:, 4])[shown]
    after = time[shown] > REFITTED
    blowing_down = time[shown] == OPENED + AFTER_EVENT
    assert np.max(temperature) < 0.02  # the accuracy promised for oil
    assert np.max(pressure[~after & ~blowing_down]) < 50.0  # and for pressure, shut and open
    assert pressure[blowing_down] < 200.0  # it falls by a megapascal a second there: a fifth of a millisecond
    assert np.max(pressure[after]) < 50.0  # after the refit it hangs on the air mass left when the cap went on
    mass = np.abs(out.headspace_air_mass / reference[:, 5] - 1.0)[shown]
    assert np.max(mass[after]) < 5e-4  # 50 Pa of 1e5 Pa
    bubbly = reference[:, 6] > 1e-7  # a millionth of a void in the tank
    bubbles = np.abs(out.free_air_mass / reference[:, 6] - 1.0)[bubbly]
    # the march takes what the pump sees from the start of a step: a second behind what changes within a minute
    assert np.max(bubbles) < 0.02
    void = np.abs(out.pump_void_fraction - reference[:, 7])[shown]
    assert np.max(void) < 0.002  # a second's change of pressure, as above; a tenth of what a sight glass shows
