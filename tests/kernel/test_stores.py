"""What the circuit holds."""

import numpy as np
import pytest

from support import bench, clear_volume, masses_at
from ullage.kernel.stores import mass_rate, oil_energy, reservoir_temperature
from ullage.physics import oil

WARM = np.array([350.0, 380.0, 360.0, 340.0])


def test_masses_add_up_and_full_nodes_hold_density_times_their_expanded_volume():
    b = bench()
    masses = masses_at(b.parameters, 0.0, b.state.oil_mass, WARM)
    assert sum(masses) == pytest.approx(b.state.oil_mass, rel=1e-14)
    expected = oil.density(360.0, 870.0) * 1.6e-3 * (1.0 + 4e-5 * (360.0 - 293.15))
    assert masses.steering_gear == pytest.approx(expected, rel=1e-12)


def test_a_warming_node_pushes_oil_out_at_the_derivative_of_its_mass():
    b = bench()
    step = 1e-3
    up, down = WARM.copy(), WARM.copy()
    up[1] += step
    down[1] -= step
    slope = (masses_at(b.parameters, 0.0, 8.0, up).pump - masses_at(b.parameters, 0.0, 8.0, down).pump) / (2 * step)
    found = mass_rate(b.parameters, masses_at(b.parameters, 0.0, 8.0, WARM).pump, 380.0, 1.0)
    assert found == pytest.approx(slope, rel=1e-6)  # central difference at 1e-3 K: rounding 1e-9, curvature below
    assert found < 0.0


def test_an_unequal_ram_shifts_half_its_rod_volume_to_either_side():
    b = bench({"steering_gear.rod_volume": "160 mL"})
    right = masses_at(b.parameters, 1.0, 8.0, WARM).steering_gear
    left = masses_at(b.parameters, -1.0, 8.0, WARM).steering_gear
    grown = 1.0 + 4e-5 * (360.0 - 293.15)
    assert right - left == pytest.approx(160e-6 * oil.density(360.0, 870.0) * grown, rel=1e-9)


def test_headspace_and_oil_fill_the_expanded_tank_and_an_overfull_tank_is_negative():
    p = bench().parameters
    whole = 7.6e-3 * (1.0 + 7.1e-5 * (350.0 - 293.15))
    assert clear_volume(p, 5.0, 350.0) == pytest.approx(whole - 5.0 / oil.density(350.0, 870.0), rel=1e-12)
    assert clear_volume(p, 7.0, 380.0) < 0.0


def test_reservoir_temperature_is_the_inverse_of_the_energy():
    b = bench()
    masses = masses_at(b.parameters, 0.0, b.state.oil_mass, WARM)
    energy = oil_energy(b.parameters, masses, WARM, 1e-3)
    away = WARM.copy()
    away[0] = 300.0
    found = reservoir_temperature(b.parameters, masses, away, 1e-3, energy)
    assert found == pytest.approx(350.0, rel=1e-12)
