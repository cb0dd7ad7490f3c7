import pytest

from ullage.physics import air


def test_heat_constants_are_those_of_dry_air():
    difference = air.HEAT_CONSTANT_PRESSURE - air.HEAT_CONSTANT_VOLUME
    assert difference == pytest.approx(287.05, rel=1e-14)  # Mayer, rounding
    # Cengel and Cimbala: 1005 J/(kg K), four digits.
    assert pytest.approx(1005.0, rel=5e-4) == air.HEAT_CONSTANT_PRESSURE


def test_solubility_does_not_change_with_temperature_without_a_slope():
    assert air.solubility(273.15, 0.09, 0.0, 870.0) == air.solubility(393.15, 0.09, 0.0, 870.0)


@pytest.mark.parametrize("slope", [-0.0025, 0.0015])
def test_solubility_changes_linearly_from_20_degc(slope):
    base = air.solubility(293.15, 0.09, slope, 870.0)
    assert base == pytest.approx(air.solubility(293.15, 0.09, 0.0, 870.0), rel=1e-15)
    # The slope is a share of the value at 20 degC; exact but for rounding.
    assert air.solubility(373.15, 0.09, slope, 870.0) == pytest.approx(base * (1.0 + 80.0 * slope), rel=1e-13)


def test_solubility_never_falls_below_a_tenth():
    base = air.solubility(293.15, 0.09, -0.02, 870.0)
    assert air.solubility(373.15, 0.09, -0.02, 870.0) == pytest.approx(0.1 * base, rel=1e-14)


def test_a_surface_without_transfer_takes_up_nothing():
    assert air.uptake_rate(0.0, 0.02, 0.002) == 0.0


def test_rough_ground_stirs_the_surface_up_to_its_factor():
    assert air.transfer_velocity(2e-5, 10.0, 0.0, 1.0) == 2e-5
    assert air.transfer_velocity(2e-5, 10.0, 2.5, 1.0) == pytest.approx(2e-5 * 5.5, rel=1e-12)
    assert air.transfer_velocity(2e-5, 10.0, 5.0, 1.0) == pytest.approx(2e-4, rel=1e-12)
    assert air.transfer_velocity(2e-5, 10.0, 30.0, 0.0) == 2e-5  # a smooth road stirs nothing
    assert air.transfer_velocity(2e-5, 10.0, 30.0, 2.0) == pytest.approx(3.8e-4, rel=1e-12)  # 1 + 2 (10 - 1)
    assert air.transfer_velocity(2e-5, 10.0, 30.0, 1.0) == air.transfer_velocity(2e-5, 10.0, 5.0, 1.0)


def test_air_of_a_closed_vessel_is_shared_as_the_mass_balance_says():
    # Mass balance with Henry's law: 0.5 L at 200 kPa over 1.0 L saturated at 101.325 kPa, L = 0.1: 183.554 kPa.
    found = air.shared_pressure(200e3, 0.5e-3, 101325.0, 1.0e-3, 0.1)
    assert found == pytest.approx(183.554e3, rel=1e-5)
    # what left the air space is in the oil
    held = 0.1 * 1.0e-3
    assert (200e3 - found) * 0.5e-3 == pytest.approx((found - 101325.0) * held, rel=1e-12)


def test_a_vessel_at_equilibrium_stays_and_one_without_solubility_too():
    assert air.shared_pressure(150e3, 1e-3, 150e3, 5e-3, 0.1) == pytest.approx(150e3, rel=1e-15)
    assert air.shared_pressure(200e3, 1e-3, 100e3, 5e-3, 0.0) == 200e3


def test_a_full_vessel_ends_at_the_pressure_of_its_dissolved_air():
    assert air.shared_pressure(200e3, 0.0, 120e3, 5e-3, 0.1) == pytest.approx(120e3, rel=1e-15)
