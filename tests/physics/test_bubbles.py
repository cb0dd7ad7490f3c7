import math

import numpy as np
import pytest

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


# --- going into solution ---


@pytest.mark.parametrize("saturation", [1.0, 1.7])
def test_bubbles_do_not_dissolve_in_saturated_oil(saturation):
    assert bubbles.dissolution_rate(1e-4, 5e-10, 0.1, saturation) == 0.0


def test_a_fine_bubble_at_20_bar_is_gone_within_seconds():
    # of 0.1 mm: some 2 s at 20 bar (order of magnitude); 5e-10 m2/s is from memory
    radius = bubbles.compressed_radius(0.1e-3, 20e5)
    assert 1.0 < 1.0 / bubbles.dissolution_rate(radius, 5e-10, 0.1, 0.05) < 5.0


# --- rise ---


def test_no_bubble_rises_faster_than_stokes_says():
    assert bubbles.rise_velocity(0.3e-3, VISCOSITY) < bubbles.stokes_velocity(0.3e-3, VISCOSITY, 0.0)


@pytest.mark.parametrize(("diameter", "viscosity"), [(0.05e-3, 1e-3), (0.3e-3, 4e-6), (2e-3, 8e-6), (2e-3, 2.5e-6)])
def test_three_steps_solve_the_balance_of_lift_and_drag(diameter, viscosity):
    velocity = bubbles.rise_velocity(diameter, viscosity)
    drag = 1.0 + 0.15 * (velocity * diameter / viscosity) ** 0.687
    # the last step squares an error that is below 1e-4 at a Reynolds number of 130
    assert velocity * drag == pytest.approx(bubbles.stokes_velocity(diameter, viscosity, 0.0), rel=1e-8)


def test_the_bubble_that_an_air_release_test_just_lets_go_is_of_a_tenth_of_a_millimetre():
    # ISO 11158 limit for VG 32 at 50 degC, 5 min (from memory): Stokes over 0.1 m, 18.2 mPa s, gives 115 um
    assert 0.1 / bubbles.rise_velocity(115e-6, 18.2e-3 / 848.0) == pytest.approx(300.0, rel=0.02)  # three digits


# --- drawn in, and light ---


def drawn(port_level, level=0.8, slosh=3.0, speed=0.0, roughness=1.0):
    return bubbles.drawn_in_share(0.0001, 0.02, port_level, level, slosh, speed, roughness)


def test_a_return_draws_in_little_below_the_surface_and_much_above():
    assert drawn(0.3) == drawn(0.775) == 0.0001
    assert drawn(0.825) == pytest.approx(0.02, rel=1e-12)
    assert drawn(1.0) == 0.02
    assert drawn(0.8) == pytest.approx(0.5 * (0.0001 + 0.02), rel=1e-12)
    assert drawn(0.8125) == pytest.approx(0.25 * 0.0001 + 0.75 * 0.02, rel=1e-12)  # a straight line between
    shares = [drawn(port) for port in np.linspace(0.7, 0.9, 101)]
    assert np.all(np.diff(shares) >= 0.0)


def test_rough_ground_draws_in_more_up_to_its_factor():
    assert drawn(0.3, speed=2.5) == pytest.approx(2e-4, rel=1e-12)
    assert drawn(0.3, speed=5.0) == drawn(0.3, speed=40.0) == pytest.approx(3e-4, rel=1e-12)
    assert drawn(0.3, speed=40.0, roughness=0.0) == drawn(0.3)  # a smooth road stirs nothing
    assert drawn(0.3, speed=40.0, roughness=0.5) == pytest.approx(2e-4, rel=1e-12)
    assert bubbles.drawn_in_share(0.0, 0.02, 0.3, 0.8, 3.0, 40.0, 1.0) == 0.0


def test_oil_takes_fewer_bubbles_the_more_it_holds_and_none_from_30_per_cent():
    # engineering judgement: a straight line down to a void of 30 %
    assert [bubbles.room_for_bubbles(void) for void in (0.0, 0.3, 0.6)] == [1.0, 0.0, 0.0]
    assert bubbles.room_for_bubbles(0.15) == pytest.approx(0.5, rel=1e-12)


def test_clear_oil_lets_all_light_through_and_foam_none():
    assert bubbles.transmittance(0.02, 0.0, 0.3e-3) == 1.0
    assert bubbles.transmittance(0.02, 0.5, 0.3e-3) < 1e-12


def test_light_fades_with_depth_and_void_and_more_so_the_finer_the_bubbles():
    # Lambert and Beer: two depths multiply
    once, twice = (bubbles.transmittance(depth, 0.002, 0.3e-3) for depth in (0.01, 0.02))
    assert twice == pytest.approx(once * once, rel=1e-12)
    assert np.all(np.diff([bubbles.transmittance(0.02, void, 0.3e-3) for void in np.linspace(0.0, 0.1, 50)]) < 0.0)
    assert bubbles.transmittance(0.02, 0.002, 0.1e-3) < bubbles.transmittance(0.02, 0.002, 0.3e-3)
