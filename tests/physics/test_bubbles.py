import math

import numpy as np
import pytest
from fluids import drag
from scipy.optimize import brentq

from ullage.physics import air, bubbles

ATMOSPHERE = 101325.0
ZERO = 273.15
# ISO VG 32 at 60 degC: 841.5 kg/m3 and 12.782 mPa s.
DENSITY, VISCOSITY = 841.5, 12.782e-3 / 841.5
SOLUBILITY = air.solubility(313.15, 0.09, 0.0, 870.0)
CONTENT = SOLUBILITY * ATMOSPHERE


def free_air(pressure, threshold=0.0):
    released = bubbles.oversaturation(CONTENT, SOLUBILITY, pressure, threshold)
    return bubbles.gas_ratio(released, ZERO + 40.0, pressure, 870.0)


# --- coming out of solution ---


@pytest.mark.parametrize(
    ("pressure", "ratio", "void"),
    [(90e3, 0.01298, 0.0128), (80e3, 0.02750, 0.0268), (70e3, 0.04617, 0.0441), (50e3, 0.1059, 0.0958)],
)
def test_free_air_in_equilibrium_is_what_henry_and_the_ideal_gas_give(pressure, ratio, void):
    # Henry and ideal gas: B (p_s - p) / p_0 (T / 273.15) (p_0 / p), oil saturated at 101.325 kPa, B = 0.09, 40 degC.
    found = free_air(pressure)
    assert found == pytest.approx(ratio, rel=1e-3)  # four digits printed
    assert found / (1.0 + found) == pytest.approx(void, abs=1e-4)  # three digits printed
    exact = 0.09 * (ATMOSPHERE - pressure) / pressure * (ZERO + 40.0) / ZERO
    assert found == pytest.approx(exact, rel=1e-13)  # the same formula, rounding


def test_nothing_comes_out_above_saturation_or_within_the_threshold():
    assert free_air(ATMOSPHERE * 1.001) == 0.0
    assert free_air(ATMOSPHERE - 4.9e3, threshold=5e3) == 0.0
    assert free_air(ATMOSPHERE - 5.1e3, threshold=5e3) > 0.0


def test_all_that_is_over_saturation_and_threshold_can_come_out():
    found = bubbles.oversaturation(CONTENT, SOLUBILITY, 60e3, 5e3)
    assert found == pytest.approx(SOLUBILITY * (ATMOSPHERE - 65e3), rel=1e-13)
    # below vapour pressure all of it, no more
    assert bubbles.oversaturation(CONTENT, SOLUBILITY, -50e3, 0.0) == CONTENT


def test_share_of_equilibrium_is_the_exponential_approach():
    assert bubbles.share_of_equilibrium(1.0, 0.0) == 0.0
    assert bubbles.share_of_equilibrium(0.0, 1e9) == 0.0
    # after ln 2 time constants half, exactly
    assert bubbles.share_of_equilibrium(0.02, math.log(2.0) / 0.02) == pytest.approx(0.5, rel=1e-15)
    shares = [bubbles.share_of_equilibrium(1.0, time) for time in np.linspace(0.0, 50.0, 200)]
    assert np.all(np.diff(shares) >= 0.0)
    assert shares[-1] == pytest.approx(1.0, abs=1e-15)


def test_ostwald_coefficient_is_the_bunsen_coefficient_at_the_oil_temperature():
    # Definition: L = B T / 273.15 K.
    found = bubbles.ostwald(333.15, air.solubility(333.15, 0.09, 0.0, 870.0), 870.0)
    assert found == pytest.approx(0.09 * 333.15 / 273.15, rel=1e-13)
    # Bunsen coefficient 0.09: 4.015 mol of air in a cubic metre at one atmosphere, ideal gas (R = 8.314 J/(mol K)).
    assert found * ATMOSPHERE / (8.314 * 333.15) == pytest.approx(4.015, rel=1e-3)


# --- going into solution ---


@pytest.mark.parametrize(
    ("radius", "saturation", "seconds"),
    [(0.05e-3, 0.0, 22.73), (0.1e-3, 0.0, 90.91), (0.5e-3, 0.0, 2272.7), (0.1e-3, 0.5, 181.8)],
)
def test_dissolution_time_is_that_of_epstein_and_plesset(radius, saturation, seconds):
    # Epstein and Plesset (1950), steady term R^2 / (2 D L (1 - f)); D = 5e-10 m2/s (from memory), L = 0.11.
    assert 1.0 / bubbles.dissolution_rate(radius, 5e-10, 0.11, saturation) == pytest.approx(seconds, rel=3e-4)


def test_dissolution_time_is_what_the_shrinking_of_a_bubble_integrates_to():
    # dR/dt = -D L (1 - f) / R, from memory; by quadrature from R0 to nothing.
    radius = np.linspace(0.0, 0.2e-3, 20001)
    expected = np.trapezoid(radius / (5e-10 * 0.1 * 0.7), radius)
    # trapezoid of a straight line is exact
    assert 1.0 / bubbles.dissolution_rate(0.2e-3, 5e-10, 0.1, 0.3) == pytest.approx(expected, rel=1e-12)


@pytest.mark.parametrize("saturation", [1.0, 1.7])
def test_bubbles_do_not_dissolve_in_saturated_oil(saturation):
    assert bubbles.dissolution_rate(1e-4, 5e-10, 0.1, saturation) == 0.0


def test_a_bubble_keeps_pressure_times_volume():
    for pressure in (50e3, ATMOSPHERE, 2e6):
        radius = bubbles.compressed_radius(0.3e-3, pressure)
        # Boyle
        assert pressure * radius**3 == pytest.approx(ATMOSPHERE * 0.15e-3**3, rel=1e-12)


def test_a_fine_bubble_at_20_bar_is_gone_within_seconds():
    # of 0.1 mm: some 2 s at 20 bar (order of magnitude), D and L as above
    radius = bubbles.compressed_radius(0.1e-3, 20e5)
    assert 1.0 < 1.0 / bubbles.dissolution_rate(radius, 5e-10, 0.1, 0.05) < 5.0


# --- rise ---


@pytest.mark.parametrize(("diameter", "velocity"), [(0.1e-3, 0.3582e-3), (0.3e-3, 3.223e-3)])
def test_stokes_velocity_of_small_bubbles_in_warm_oil(diameter, velocity):
    # Stokes: g d^2 (rho - rho_g) / (18 mu), ISO VG 32 at 60 degC, gas of 1.2 kg/m3; four digits printed.
    found = bubbles.stokes_velocity(diameter, VISCOSITY, 1.2 / DENSITY)
    assert found == pytest.approx(velocity, rel=1e-3)


def test_rise_is_that_of_stokes_for_a_bubble_that_creeps():
    # Schiller and Naumann add 0.15 Re^0.687: at Re = 2e-5 below 1e-4
    slow = bubbles.stokes_velocity(0.02e-3, VISCOSITY, 0.0)
    assert bubbles.rise_velocity(0.02e-3, VISCOSITY) == pytest.approx(slow, rel=1e-4)
    assert bubbles.rise_velocity(0.3e-3, VISCOSITY) < bubbles.stokes_velocity(0.3e-3, VISCOSITY, 0.0)


# the corners of what a scenario may ask for, and the ordinary bubble in hot and cold oil
BUBBLES = [(0.05e-3, 1e-3), (0.3e-3, 15e-6), (0.3e-3, 4e-6), (1e-3, 1e-5), (2e-3, 8e-6), (2e-3, 2.5e-6)]


@pytest.mark.parametrize(("diameter", "viscosity"), BUBBLES)
def test_rise_balances_buoyancy_with_the_drag_of_schiller_and_naumann(diameter, viscosity):
    slow = bubbles.stokes_velocity(diameter, viscosity, 0.0)

    def excess(velocity):
        return velocity * (1.0 + 0.15 * (velocity * diameter / viscosity) ** 0.687) - slow

    # three Newton steps leave 1e-5 at the largest Reynolds number, 130
    assert bubbles.rise_velocity(diameter, viscosity) == pytest.approx(brentq(excess, 0.0, slow), rel=1e-4)


@pytest.mark.parametrize("method", ["Barati", "Clift", "Cheng"])
@pytest.mark.parametrize(("diameter", "viscosity"), BUBBLES)
def test_rise_is_near_that_of_other_drag_laws_of_spheres(diameter, viscosity, method):
    # fluids.drag: Barati (2014), Clift, Grace and Weber (1978), Cheng (2009). It knows falling spheres: one of twice
    # the oil's density has the same weight in oil as a bubble has lift. The laws differ among each other by 4 %.
    expected = drag.v_terminal(diameter, 2.0 * DENSITY, DENSITY, viscosity * DENSITY, Method=method)
    assert bubbles.rise_velocity(diameter, viscosity) == pytest.approx(expected, rel=0.05)


def test_the_bubble_that_an_air_release_test_just_lets_go_is_of_a_tenth_of_a_millimetre():
    # ISO 11158 limit for VG 32 at 50 degC, 5 min (from memory): Stokes over 0.1 m, 18.2 mPa s, gives 115 um
    assert 0.1 / bubbles.rise_velocity(115e-6, 18.2e-3 / 848.0) == pytest.approx(300.0, rel=0.02)  # three digits


# --- drawn in, and light ---


def drawn(port_level, level=0.8, slosh=3.0, speed=0.0):
    return bubbles.drawn_in_share(0.0001, 0.02, port_level, level, slosh, speed)


def test_a_return_draws_in_little_below_the_surface_and_much_above():
    assert drawn(0.3) == drawn(0.775) == 0.0001
    assert drawn(0.825) == pytest.approx(0.02, rel=1e-12)
    assert drawn(1.0) == 0.02
    assert drawn(0.8) == pytest.approx(0.5 * (0.0001 + 0.02), rel=1e-12)
    shares = [drawn(port) for port in np.linspace(0.7, 0.9, 101)]
    assert np.all(np.diff(shares) >= 0.0)


def test_rough_ground_draws_in_more_up_to_its_factor():
    assert drawn(0.3, speed=2.5) == pytest.approx(2e-4, rel=1e-12)
    assert drawn(0.3, speed=5.0) == drawn(0.3, speed=40.0) == pytest.approx(3e-4, rel=1e-12)
    assert bubbles.drawn_in_share(0.0, 0.02, 0.3, 0.8, 3.0, 40.0) == 0.0


def test_clear_oil_lets_all_light_through_and_foam_none():
    assert bubbles.transmittance(0.02, 0.0, 0.3e-3) == 1.0
    assert bubbles.transmittance(0.02, 0.5, 0.3e-3) < 1e-12


def test_light_fades_with_depth_and_void_and_more_so_the_finer_the_bubbles():
    # Lambert and Beer: two depths multiply
    once, twice = (bubbles.transmittance(depth, 0.002, 0.3e-3) for depth in (0.01, 0.02))
    assert twice == pytest.approx(once * once, rel=1e-12)
    # half of twice the cross-section of spheres, N pi d^2 / 4 with N = 6 void / (pi d^3)
    count = 6.0 * 0.002 / (math.pi * 0.3e-3**3)
    assert once == pytest.approx(math.exp(-count * 0.25 * math.pi * 0.3e-3**2 * 0.01), rel=1e-12)
    assert np.all(np.diff([bubbles.transmittance(0.02, void, 0.3e-3) for void in np.linspace(0.0, 0.1, 50)]) < 0.0)
    assert bubbles.transmittance(0.02, 0.002, 0.1e-3) < bubbles.transmittance(0.02, 0.002, 0.3e-3)
