import numpy as np
import pytest

from ullage.physics import oil

ZERO = 273.15
# Viscosities at 40 and 100 degC [mm2/s] of three usual grades: typical values, from memory; they are inputs only.
GRADES = {"VG32": (32.0, 5.4), "VG46": (46.0, 6.8), "ATF": (34.0, 7.3)}
TEMPERATURES = [253.15, 273.15, 288.15, 313.15, 353.15, 393.15]


def viscosity_line(grade):
    cold, hot = GRADES[grade]
    return oil.walther_constants(ZERO + 40.0, cold * 1e-6, ZERO + 100.0, hot * 1e-6)


@pytest.mark.parametrize("grade", GRADES)
def test_viscosity_line_goes_through_its_two_points(grade):
    line = viscosity_line(grade)
    # Exact but for the rounding of two nested logarithms.
    assert oil.kinematic_viscosity(ZERO + 40.0, *line) == pytest.approx(GRADES[grade][0] * 1e-6, rel=1e-11)
    assert oil.kinematic_viscosity(ZERO + 100.0, *line) == pytest.approx(GRADES[grade][1] * 1e-6, rel=1e-11)


def test_viscosity_is_capped_when_very_cold_and_falls_with_temperature_above():
    line = viscosity_line("VG46")
    values = [oil.kinematic_viscosity(t, *line) for t in np.linspace(150.0, 430.0, 141)]
    assert values[0] == max(values) == 0.02
    free = [v for v in values if v < 0.02]
    assert len(free) > 80
    assert np.all(np.diff(free) < 0.0)


def test_oil_over_400_degc_keeps_density_and_modulus_and_expands_no_more():
    for temperature in (673.15, 680.0, 900.0):
        assert oil.density(temperature, 870.0) == oil.density(673.15, 870.0)
        assert oil.bulk_modulus(temperature, 870.0) == oil.bulk_modulus(673.15, 870.0)
    assert oil.expansion_coefficient(673.15 + 1e-9, 870.0) == 0.0
    below, at = oil.expansion_coefficient(672.15, 870.0), oil.expansion_coefficient(673.15, 870.0)
    assert 0.0 < below < at
    assert oil.density(672.15, 870.0) / oil.density(673.15, 870.0) == pytest.approx(1.0 + at, rel=1e-6)
    assert oil.bulk_modulus(672.15, 870.0) > oil.bulk_modulus(673.15, 870.0)


@pytest.mark.parametrize("temperature", TEMPERATURES)
@pytest.mark.parametrize(("linear", "quadratic"), [(5000.0, 12.0), (5000.0, 0.0), (800.0, 1e-9)])
def test_temperature_from_energy_is_the_inverse_of_enthalpy(temperature, linear, quadratic):
    energy = oil.enthalpy(temperature, linear, quadratic)
    # A root that does not cancel: a few units in the last place.
    assert oil.temperature_from_energy(energy, linear, quadratic) == pytest.approx(temperature, rel=1e-14)
