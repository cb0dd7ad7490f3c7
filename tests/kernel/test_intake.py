"""What stands before the pump, and what a flow makes of it."""

import math

import numpy as np
import pytest

from support import Circuit
from ullage.kernel.intake import LEAST_FEED_PRESSURE, intake, line_volume, viscosity, void_fraction
from ullage.physics import oil

WARM = 333.15


def feed_line(temperature=WARM, pressure=150e3, **oil_state):
    """Return a smooth feed line of 16 mm and 1.0 m, K = 0.8, of VG 32, without strainer and head."""
    c = Circuit({"fluid.preset": "ISO VG 32"}, temperature, pressure, **oil_state)
    p = c.parameters
    p.feed_bore, p.feed_length, p.feed_loss, p.feed_roughness = 0.016, 1.0, 0.8, 0.0
    p.strainer_drop = p.outlet_height = c.state.surface_height = 0.0
    return c


def port(c, flow, speed=0.0, **channels):
    return intake(c.parameters, c.supply(**channels), flow, speed, viscosity(c.parameters, c.temperature))


def chamber_gas(found):
    """Return the gas per volume of oil that leaves the filling found."""
    return 1.0 / found.filling - 1.0


def test_port_pressure_is_headspace_and_head_less_friction_fittings_and_velocity_head():
    # Hagen-Poiseuille and Darcy: VG 32 at 60 degC, 16 mm, 1.0 m, 12 L/min: 1588.9 Pa friction, 333.0 Pa for K = 0.8
    c = feed_line()
    found = port(c, 12.0 / 60e3).pressure
    # the table's inputs are rounded to 1e-4
    assert 150e3 - found == pytest.approx(1588.9 + 333.0 + 333.0 / 0.8, rel=3e-4)
    c.parameters.outlet_height, c.state.surface_height = 0.2, 0.1
    assert port(c, 12.0 / 60e3).pressure - found == pytest.approx(oil.density(WARM, 870.0) * 9.80665 * 0.3, rel=1e-9)


def test_a_line_without_flow_loses_nothing():
    assert port(feed_line(), 0.0).pressure == pytest.approx(150e3, rel=1e-12)


def test_a_strainer_has_its_rated_drop_and_mud_multiplies_it():
    c = feed_line()
    p = c.parameters
    clean = port(c, 38.0 / 60e3).pressure
    p.strainer_drop, p.strainer_viscosity = 500.0, viscosity(p, WARM)
    assert clean - port(c, 38.0 / 60e3).pressure == pytest.approx(500.0, rel=1e-9)
    assert clean - port(c, 38.0 / 60e3, strainer_factor=30.0).pressure == pytest.approx(15e3, rel=1e-9)


def test_a_collapsed_hose_loses_with_the_fourth_power_of_its_bore():
    c = feed_line()
    c.parameters.feed_loss = 0.0
    flow = 1e-5
    full, half = (150e3 - port(c, flow, bore_share=share).pressure for share in (1.0, 0.5))
    # Hagen-Poiseuille; the velocity head, also the fourth power, is 1 % of it
    assert half == pytest.approx(16.0 * full, rel=1e-6)


def test_acceleration_acts_on_the_way_from_surface_to_pump():
    c = feed_line()
    p, density = c.parameters, oil.density(WARM, 870.0)
    p.pump_forward, p.pump_left, p.outlet_height, c.state.surface_height = 1.5, -0.5, 0.4, 0.1
    still = port(c, 0.0).pressure
    # Newton: the column of 1.5 m ahead is pushed back
    assert still - port(c, 0.0, forward_acceleration=5.0).pressure == pytest.approx(density * 5.0 * 1.5, rel=1e-9)
    assert port(c, 0.0, left_acceleration=5.0).pressure - still == pytest.approx(density * 5.0 * 0.5, rel=1e-9)
    assert port(c, 0.0, upward_acceleration=5.0).pressure - still == pytest.approx(density * 5.0 * 0.5, rel=1e-9)
    airborne = port(c, 0.0, upward_acceleration=-9.80665).pressure
    assert airborne == pytest.approx(150e3, rel=1e-12)


def test_an_outlet_at_the_back_lies_deeper_when_the_truck_accelerates():
    c = feed_line()
    p = c.parameters
    p.outlet_forward, p.pump_forward, c.state.surface_height = -0.1, 0.1, 0.2
    still, pushed = (port(c, 0.0, forward_acceleration=a).pressure for a in (0.0, 3.0))
    # the tilt of a / g over 0.1 m gives the head that the way of 0.1 m forward takes
    assert pushed == pytest.approx(still, rel=1e-12)


def test_a_column_that_gathers_speed_takes_pressure_by_newton():
    c = feed_line()
    p, area = c.parameters, 0.25 * math.pi * 0.016**2
    steady = port(c, 2e-4).pressure
    p.inertia_length = 1.0
    c.state.feed_flow, c.state.feed_elapsed = 1e-4, 0.1
    gathering = density_of_warm_oil() * 1.0 * (1e-4 / area) / 0.1  # rho L dv/dt
    assert steady - port(c, 2e-4).pressure == pytest.approx(gathering, rel=1e-9)
    c.state.feed_elapsed = 0.0  # just after a jump nothing gathers speed
    assert port(c, 2e-4).pressure == steady


def density_of_warm_oil():
    return oil.density(WARM, 870.0)


def test_chambers_lie_below_the_port_by_the_loss_of_what_passes():
    c = feed_line()
    p = c.parameters
    p.port_loss, p.port_viscous_loss = 30e3, 20e3
    thick = viscosity(p, WARM)
    slow = port(c, 1e-4, 0.5 * p.maximum_speed)
    assert slow.filling == 1.0
    assert slow.pressure - slow.chamber_pressure == pytest.approx(30e3 * 0.25 + 20e3 * 0.5 * thick / 1e-4, rel=1e-9)


def test_chambers_that_cannot_fill_stand_at_their_floor_and_take_what_their_port_passes():
    c = feed_line()
    p = c.parameters
    p.line_release_rate, p.port_loss, p.port_viscous_loss = 0.0, 1e6, 0.0
    choked = port(c, 1e-4, p.maximum_speed)
    assert (choked.choked, choked.chamber_pressure) == (1, pytest.approx(1e3, rel=1e-5))
    # the loss grows with the square of what passes: that share of the full speed uses up all the pressure there is
    assert choked.filling == pytest.approx(math.sqrt((choked.pressure - 1e3) / 1e6), rel=1e-6)
    # free water boils there: 19.95 kPa at 60 degC (IAPWS-95)
    wet = port(c, 1e-4, p.maximum_speed, water_content=0.002)
    assert wet.chamber_pressure == pytest.approx(19946.4, rel=1e-4)
    assert wet.choked == 1


def test_saturated_oil_lets_out_nothing_in_the_tank_and_its_equilibrium_far_below():
    c = feed_line(pressure=101325.0)
    p = c.parameters
    p.release_threshold, p.line_release_rate = 0.0, 1e3
    assert port(c, 0.0).inlet_gas == 0.0
    p.outlet_height = -51325.0 / (oil.density(WARM, 870.0) * 9.80665)
    slow = port(c, 1e-9, 100.0)
    assert slow.pressure == pytest.approx(50e3, rel=1e-5)
    # Henry and ideal gas: B (p_s - p) / p (T / 273.15) of the volume at 15 degC, B = 0.09, oil of 870 at 15 degC
    expected = 0.09 * 51325.0 / 50e3 * WARM / 273.15 * oil.density(WARM, 870.0) / 870.0
    assert slow.inlet_gas == pytest.approx(expected, rel=1e-4)


def test_gas_grows_on_the_way_from_tank_to_port_to_chambers():
    c = feed_line(pressure=101325.0)
    p = c.parameters
    p.outlet_height, p.line_release_rate = -4.0, 1.0
    flow = 3e-4
    found = port(c, flow, 200.0)
    full = port(c, 1e-9, 200.0)
    share = 1.0 - math.exp(-line_volume(p, p.feed_bore) / flow)
    # the friction of 3e-4 m3/s changes the pressure by some kPa of 30: leave it out of the bubbles by hand
    over = 101325.0 - (found.pressure + 5e3)
    expected = share * 0.09 * over / found.pressure * WARM / 273.15 * oil.density(WARM, 870.0) / 870.0
    assert found.inlet_gas == pytest.approx(expected, rel=1e-9)
    assert found.inlet_gas < chamber_gas(found)
    assert full.inlet_gas > found.inlet_gas


def test_frozen_air_stays_in_solution_at_any_pressure():
    c = feed_line(pressure=101325.0)
    c.parameters.line_release_rate = c.parameters.port_loss = c.parameters.port_viscous_loss = 0.0
    c.parameters.outlet_height = -9.0
    found = port(c, 3e-4, 500.0)
    assert (found.inlet_gas, found.filling) == (0.0, 1.0)


def test_bubbles_from_the_tank_expand_with_the_pressure_on_the_way():
    c = feed_line(free=0.01)
    c.parameters.line_release_rate = 0.0
    c.parameters.outlet_height = -5.0
    found = port(c, 1e-4, 300.0)
    # Boyle
    assert found.inlet_gas * found.pressure == pytest.approx(0.01 * 150e3, rel=1e-9)
    assert chamber_gas(found) * found.chamber_pressure == pytest.approx(0.01 * 150e3, rel=1e-6)


def test_port_gas_is_that_of_the_floor_where_the_line_cannot_bring_the_flow():
    c = feed_line(free=0.01)
    c.parameters.line_release_rate = 0.0
    starved = port(c, 1e-2, 300.0)
    assert starved.pressure == LEAST_FEED_PRESSURE
    assert starved.shortage > 0.0
    assert starved.inlet_gas * LEAST_FEED_PRESSURE == pytest.approx(0.01 * 150e3, rel=1e-9)


@pytest.mark.parametrize("flow", np.geomspace(1e-7, 1e-3, 5))
def test_gas_at_the_pump_has_no_jump_in_the_flow(flow):
    c = feed_line(pressure=60e3)
    near, far = (port(c, q, 300.0).filling for q in (flow, flow * (1.0 + 1e-6)))
    # exponentials and friction: the relative slope is of the order of ten
    assert near == pytest.approx(far, rel=1e-4)


def test_a_standing_pump_sees_no_air_come_out():
    c = feed_line(pressure=60e3)
    assert port(c, 0.0, 0.0).inlet_gas == 0.0


def test_void_fraction_counts_bubbles_and_slugs_of_gas():
    assert void_fraction(0.0, 0.0) == 0.0
    assert void_fraction(1.0, 0.0) == 0.5
    assert void_fraction(0.0, 0.3) == pytest.approx(0.3, rel=1e-15)
    assert void_fraction(1.0, 0.3) == pytest.approx(0.65, rel=1e-15)
    assert void_fraction(0.2, 1.0) == 1.0
