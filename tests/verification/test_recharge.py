"""Air put into a shut tank: against closed forms of filling a rigid vessel, and in a race with its balances."""

import math

import numpy as np
import pytest

from support import TRUCK, channel_table, start_at
from ullage.kernel.cap import RECHARGE_AREA
from ullage.results.balance import audit
from ullage.results.trace import trace_race, trace_until
from ullage.scenario.compile import compile_problem
from ullage.scenario.load import Scenario
from vessels import only_the_tank
from written_again import AIR, HEAT_RATIO, PSI, SEA_LEVEL

WARM = 293.15
REGULATOR = 250e3  # over ambient: an empty tank is filled at the speed of sound up to 84 kPa over ambient [Pa]


def filled(seconds, wall_conductance):
    """Return rows and air volume of a tank with hardly any oil, recharged from the start; the oil heats nothing."""
    b = only_the_tank(5e-5, WARM)
    p = b.parameters
    p.gas_oil_conductance, p.gas_wall_conductance = 0.0, wall_conductance
    p.relief_crack = 1e9
    start_at(b.state, p, WARM, SEA_LEVEL)
    time = np.linspace(0.0, seconds, 101)
    out, _, status = b.run(time, channel_table(time, recharge_pressure=REGULATOR))
    assert status == 0
    return out, b.state.air_heat * AIR / b.state.air_pressure


def choked_flow():
    """Return Saint-Venant and Wantzel's mass flow at the speed of sound [kg/s], from the throat: closed form."""
    upstream, ratio = SEA_LEVEL + REGULATOR, 2.0 / (HEAT_RATIO + 1.0)
    density = upstream / (AIR * WARM) * ratio ** (1.0 / (HEAT_RATIO - 1.0))
    return RECHARGE_AREA * density * math.sqrt(HEAT_RATIO * AIR * WARM * ratio)


def test_a_tank_far_below_the_regulator_fills_at_the_choked_rate():
    out, volume = filled(2.0, 0.0)
    assert out.headspace_pressure[-1] < 0.528 * (SEA_LEVEL + REGULATOR)
    # a flow that does not change is integrated exactly; the gas constant is 287.05 in the library, 287.05287 here
    np.testing.assert_allclose(out.air_admitted, choked_flow() * out.time, rtol=1e-5)
    np.testing.assert_allclose(out.cap_air_flow[1:], -choked_flow(), rtol=1e-5)
    # first law of an adiabatic rigid vessel: its pressure rises by g R T of what comes in, over its volume; the
    # 0.05 L of oil give way by a few parts in 1e5
    risen = HEAT_RATIO * AIR * WARM * out.air_admitted / volume
    np.testing.assert_allclose(out.headspace_pressure[1:] - SEA_LEVEL, risen[1:], rtol=1e-3)


def test_filling_without_heat_takes_the_mass_and_reaches_the_temperature_of_the_first_law():
    out, volume = filled(60.0, 0.0)
    end = out[-1]
    # the tolerance of the march
    assert end.headspace_pressure == pytest.approx(SEA_LEVEL + REGULATOR, abs=20.0)
    put_in = volume * REGULATOR / (HEAT_RATIO * AIR * WARM)
    # 20 Pa of 250 kPa, and the tolerance of the mass
    assert end.air_admitted == pytest.approx(put_in, rel=1e-3)
    held = SEA_LEVEL * volume / (AIR * WARM)
    warm = (held * WARM + HEAT_RATIO * put_in * WARM) / (held + put_in)
    assert end.headspace_temperature == pytest.approx(warm, rel=1e-3)
    assert end.headspace_temperature > WARM + 50.0


def test_filling_at_one_temperature_takes_as_much_more_as_the_ratio_of_heats():
    # a wall of 1 kW/K keeps the air within a kelvin of 20 degC
    out, volume = filled(60.0, 1000.0)
    assert np.abs(out.headspace_temperature - WARM).max() < 1.0
    assert out.air_admitted[-1] == pytest.approx(volume * REGULATOR / (AIR * WARM), rel=1e-3)


def test_nothing_flows_back_when_the_tank_is_above_the_regulator():
    b = only_the_tank(5e-5, WARM)
    start_at(b.state, b.parameters, WARM, SEA_LEVEL + 60e3)
    time = np.linspace(0.0, 30.0, 31)
    out, _, status = b.run(time, channel_table(time, recharge_pressure=40e3))
    assert status == 0
    assert out.air_admitted[-1] == out.air_vented[-1] == 0.0
    assert not out.cap_air_flow.any()


OPENED = [
    {"action": "cap off", "stop": "pit", "after": "1 min"},
    {"action": "cap on", "stop": "pit", "after": "2 min"},
]
RECHARGE = {"action": "recharge", "stop": "pit", "after": "2 min", "pressure": "8 psig", "duration": "1 min"}


def race(events, changes=None):
    """Return a problem with a pit stop between two laps; the oil is hot."""
    pit = {"name": "pit", "after_lap": 1, "duration": "5 min", "engine": "off"}
    data = {**TRUCK, "start": {"temperature": "80 degC"}, "event": events}
    data["duty"] = {**TRUCK["duty"], "laps": 2, "stop": [pit]}
    return compile_problem(Scenario.from_dict(data).replace(changes or {}).spec)


@pytest.mark.parametrize(
    "changes", [{}, {"reservoir.fill": 0.9, "cap.relief_pressure": "8 psi"}], ids=["shut", "lifts"]
)
def test_a_race_with_an_opening_and_a_recharge_accounts_for_oil_air_and_energy(changes):
    problem = race([*OPENED, RECHARGE], changes)
    trace = trace_race(problem)
    assert trace.status == 0
    found = audit(problem.parameters, trace.rows)
    # masses and energy are carried in flux form, so that only rounding over some thousand steps is left
    assert found.oil < 1e-10
    assert found.air < 1e-10
    assert found.energy < 1e-6
    assert trace.rows.air_admitted[-1] > 1e-4


def test_a_recharge_gives_back_what_the_opening_took_and_moves_nothing_before():
    with_air, without = (race(events) for events in ([*OPENED, RECHARGE], OPENED))
    rows, bare = trace_race(with_air).rows, trace_race(without).rows
    before = rows.time < 720.0
    for name in rows.dtype.names:
        np.testing.assert_array_equal(rows[name][before], bare[name][bare.time < 720.0])
    end = np.flatnonzero(rows.time >= 780.0)[0]
    # while the regulator is on the tank stands at its setting, to the flow that makes up for air that cools
    assert rows.headspace_gauge_pressure[end] == pytest.approx(8.0 * PSI, abs=300.0)
    assert rows.headspace_gauge_pressure[-1] > bare.headspace_gauge_pressure[-1] + 3.0 * PSI
    assert rows.air_admitted[-1] == rows.air_admitted[end]
    # a march that stands at the refit has the same numbers in either race
    states = [trace_until(problem, 720.0).state for problem in (with_air, without)]
    assert states[0].air_mass == states[1].air_mass
