"""The energy balances of the nodes as a linear system."""

import numpy as np
import pytest

from support import bench, instant, masses_at, start_at
from ullage.kernel.heat import (
    balance,
    cooler_heat,
    fill_matrix,
    node_rates,
    surroundings_heat,
    top_up_air,
    top_up_power,
)
from ullage.kernel.stores import oil_energy
from ullage.physics import cooler, oil

WARM = np.array([350.0, 356.0, 358.0, 347.0])


def forcing(**changes):
    still = instant(ambient_temperature=300.0, bay_temperature=300.0, block_temperature=300.0)
    return still._replace(**changes)


DRIVING = forcing(engine_speed=400.0, vehicle_speed=25.0, steering_load=20e5, bay_temperature=325.0)


def warm(changes=None):
    """Return a bench that stands at its oil's saturation, the core open."""
    b = bench(changes)
    start_at(b.state, b.parameters, 350.0, 140e3)
    b.state.cooler_open = 1
    return b


def at(b, f, temperature, fan=0, open_core=1):
    b.state.fan_called, b.state.cooler_open = fan, open_core
    return balance(b.parameters, b.state, f, temperature)


def rates(b, f, temperature, rate=None, power=0.0):
    p, s = b.parameters, b.state
    coefficients = at(b, f, temperature)
    masses = masses_at(p, f.steering_position, s.oil_mass, temperature)
    matrix, source, result = np.empty((4, 4)), np.empty(4), np.empty(4)
    fill_matrix(p, f, coefficients, masses, temperature, np.zeros(4) if rate is None else rate, power, matrix, source)
    node_rates(matrix, source, temperature, result)
    return result, coefficients


def test_nothing_changes_when_all_is_at_one_temperature_and_stands_still():
    b = warm()
    result, coefficients = rates(b, forcing(), np.full(4, 300.0))
    np.testing.assert_allclose(result, 0.0, atol=1e-12)  # rounding of 300 K times some 1e-3 per second
    assert cooler_heat(coefficients, np.full(4, 300.0)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("routing", ["inlet", "reservoir"])
@pytest.mark.parametrize("relief", ["pump", "steering_gear", "reservoir"])
@pytest.mark.parametrize("load", [20e5, 100.5e5])
def test_energy_of_the_nodes_changes_by_shaft_power_less_heat_given_off(routing, relief, load):
    b = warm({"pump.bypass_routing": routing, "pump.relief_location": relief})
    p, s = b.parameters, b.state
    f = DRIVING._replace(steering_load=load)
    rate = np.zeros(4)
    for _ in range(30):  # the oil pushed out by expansion depends on the rates themselves
        rate, coefficients = rates(b, f, WARM, rate)
    step = 1e-3

    def energy(temperature):
        return oil_energy(p, masses_at(p, 0.0, s.oil_mass, temperature), temperature, 0.0)

    change = (energy(WARM + step * rate) - energy(WARM - step * rate)) / (2.0 * step)
    given_off = cooler_heat(coefficients, WARM) + surroundings_heat(p, coefficients, WARM)
    # central difference of 1e7 J at a step of 1e-3 s: rounding of 1e-6 W, curvature far below
    assert change == pytest.approx(coefficients.flows.shaft_power - given_off, abs=0.05)


def test_headspace_power_heats_the_reservoir_only():
    b = warm()
    without, _ = rates(b, forcing(), WARM)
    with_power, _ = rates(b, forcing(), WARM, power=50.0)
    masses = masses_at(b.parameters, 0.0, b.state.oil_mass, WARM)
    capacity = masses.reservoir * (b.parameters.heat_constant + b.parameters.heat_slope * 350.0) + 2000.0
    np.testing.assert_allclose(with_power - without, [50.0 / capacity, 0.0, 0.0, 0.0], atol=1e-12)


def test_a_stopped_truck_cools_through_still_air_alone():
    b = warm()
    result, coefficients = rates(b, forcing(), np.full(4, 370.0))
    assert coefficients.outside.core == 0.0
    assert cooler_heat(coefficients, np.full(4, 370.0)) == pytest.approx(3.0 * (370.0 - 300.0), rel=1e-12)
    assert np.all(result < 0.0)


def test_core_heat_follows_the_effectiveness_of_its_rating():
    b = warm()
    p = b.parameters
    p.core_viscosity_exponent = 0.0
    f = DRIVING._replace(vehicle_speed=20.0)  # a quarter of it is the rated 5 m/s
    hot = np.full(4, 360.0)
    found = at(b, f, hot).outside.core
    oil_side = 160.0 * (38.0 / 36.0) ** 0.5
    conductance = oil_side * 130.0 / (oil_side + 130.0)
    oil_capacity = 38.0 / 60e3 * oil.density(360.0, 870.0) * (p.heat_constant + p.heat_slope * 360.0)
    air_capacity = 101325.0 / (287.05 * 300.0) * 0.06 * 5.0 * 1004.675
    least, most = sorted([oil_capacity, air_capacity])
    expected = least * cooler.crossflow_effectiveness(conductance / least, least / most)
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize(("fan", "speed"), [(0, 0.75), (1, 3.0)])
def test_the_fan_counts_when_it_blows_more_than_the_drive(fan, speed):
    b = warm({"cooler.fan_air_speed": "3 m/s"})
    slow = DRIVING._replace(vehicle_speed=3.0)
    same = DRIVING._replace(vehicle_speed=4.0 * speed)
    hot = np.full(4, 360.0)
    found = at(b, slow, hot, fan, 1).outside.core
    assert found == pytest.approx(at(b, same, hot).outside.core, rel=1e-12)


def test_a_shut_thermostat_bypasses_the_core_and_mud_blocks_it():
    b = warm()
    hot = np.full(4, 360.0)
    assert at(b, DRIVING, hot, 0, 0).outside.core == 0.0
    clean = at(b, DRIVING, hot).outside.core
    muddy = DRIVING._replace(core_blockage=0.6)
    assert 0.2 * clean < at(b, muddy, hot).outside.core < 0.7 * clean


def test_thin_air_cools_less():
    b = warm()
    hot = np.full(4, 360.0)
    low = at(b, DRIVING, hot).outside.core
    high = at(b, DRIVING._replace(ambient_pressure=8e4), hot).outside.core
    assert 0.85 * low < high < low


def test_top_up_brings_its_enthalpy_and_the_air_that_ambient_dissolves():
    b = warm()
    p = b.parameters
    f = forcing(top_up_flow=0.05, top_up_temperature=300.0)
    air = 0.09 * 101325.0 / (287.05 * 273.15 * 870.0)
    assert top_up_air(p, f) == pytest.approx(air, rel=1e-12)
    enthalpy = p.heat_constant * 300.0 + 0.5 * p.heat_slope * 300.0**2
    assert top_up_power(p, f) == pytest.approx(0.05 * (enthalpy + air * 1004.675 * 300.0), rel=1e-12)


def test_a_top_up_mixes_into_the_tank_at_its_own_temperature():
    b = warm()
    p = b.parameters
    still = np.full(4, 300.0)
    f = forcing(top_up_flow=0.05, top_up_temperature=340.0, bay_temperature=300.0)
    result, _ = rates(b, f, still)
    in_tank = masses_at(p, 0.0, b.state.oil_mass, still).reservoir
    capacity = in_tank * (p.heat_constant + p.heat_slope * 300.0) + p.tank_metal
    # heat of what comes in, from 340 K down to the tank's 300 K at the mean specific heat
    brought = 0.05 * (p.heat_constant + p.heat_slope * 320.0) * 40.0
    assert result[0] == pytest.approx(brought / capacity, rel=1e-9)
    np.testing.assert_allclose(result[1:], 0.0, atol=1e-12)


def test_a_stopped_engine_heats_no_air_before_the_cooler():
    hot = np.full(4, 360.0)
    b = warm()
    assert at(b, forcing(), hot).outside.core_air == 300.0
    assert at(b, forcing(engine_speed=100.0), hot).outside.core_air == 310.0
