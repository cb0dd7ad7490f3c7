import math

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


# ASTM D341, simplified equation; digits printed to 5 places, hence 1e-4.
@pytest.mark.parametrize(
    ("grade", "celsius", "expected"),
    [
        ("VG32", -20.0, 2291.5),
        ("VG32", 0.0, 336.00),
        ("VG32", 20.0, 86.278),
        ("VG32", 60.0, 15.186),
        ("VG32", 80.0, 8.533),
        ("VG32", 120.0, 3.7239),
        ("VG46", 0.0, 577.32),
        ("VG46", 20.0, 133.84),
        ("VG46", 60.0, 20.623),
        ("VG46", 80.0, 11.103),
        ("VG46", 120.0, 4.5714),
        ("ATF", -20.0, 878.78),
        ("ATF", 0.0, 215.84),
        ("ATF", 60.0, 18.163),
        ("ATF", 80.0, 10.997),
        ("ATF", 120.0, 5.1927),
    ],
)
def test_viscosity_lies_on_the_line_of_astm_d341(grade, celsius, expected):
    viscosity = oil.kinematic_viscosity(ZERO + celsius, *viscosity_line(grade))
    assert viscosity * 1e6 == pytest.approx(expected, rel=1e-4)


def test_viscosity_constants_are_those_of_astm_d341_in_natural_logarithms():
    constant, slope = viscosity_line("VG32")
    # ASTM D341 with decimal logarithms: A = 9.53082, B = 3.74658; ln ln z = ln 10^(log log z) + ln ln 10.
    assert slope == pytest.approx(3.74658, rel=1e-5)
    assert constant == pytest.approx(9.53082 * math.log(10.0) + math.log(math.log(10.0)), rel=1e-5)


@pytest.mark.parametrize("grade", GRADES)
def test_viscosity_line_goes_through_its_two_points(grade):
    line = viscosity_line(grade)
    # Exact but for the rounding of two nested logarithms.
    assert oil.kinematic_viscosity(ZERO + 40.0, *line) == pytest.approx(GRADES[grade][0] * 1e-6, rel=1e-11)
    assert oil.kinematic_viscosity(ZERO + 100.0, *line) == pytest.approx(GRADES[grade][1] * 1e-6, rel=1e-11)


def test_viscosity_of_a_real_engine_oil_is_met_between_and_beyond_the_points():
    # Incropera et al., Table A.5, unused engine oil: 288, 61.7, 22.0, 10.6 mm2/s at 310, 340, 370, 400 K.
    line = oil.walther_constants(310.0, 288e-6, 370.0, 22.0e-6)
    # A real oil leaves the D341 line by up to 3 % in this range.
    assert oil.kinematic_viscosity(340.0, *line) == pytest.approx(61.7e-6, rel=0.03)
    assert oil.kinematic_viscosity(400.0, *line) == pytest.approx(10.6e-6, rel=0.03)


def test_viscosity_of_a_measured_heavy_machine_oil_is_met_at_the_third_point():
    # The Tribology Handbook, Table 25, heavy paraffinic oil: 875 kg/m3 at 25 degC; 153, 34, 9.1 mPa s at 30, 60, 100.
    density_15 = 875.0
    for _ in range(20):
        density_15 *= 875.0 / oil.density(ZERO + 25.0, density_15)
    measured = {t: 1e-3 * mu / oil.density(ZERO + t, density_15) for t, mu in ((30, 153.0), (60, 34.0), (100, 9.1))}
    line = oil.walther_constants(ZERO + 30.0, measured[30], ZERO + 100.0, measured[100])
    # Five of the six oils of that table lie within 2.3 % of their line.
    assert oil.kinematic_viscosity(ZERO + 60.0, *line) == pytest.approx(measured[60], rel=0.023)


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


def test_expansion_constant_is_that_of_generalised_lubricating_oils():
    # API MPMS 11.1 / ASTM D1250, table 54D; value printed to five digits.
    assert oil.expansion_constant(870.0) == pytest.approx(7.2161e-4, rel=1e-4)
    # Table 6D holds the same constant per degF; both are rounded to 1e-5.
    assert oil.expansion_constant(870.0) * 870.0 == pytest.approx(0.34878 * 1.8, rel=1e-5)


@pytest.mark.parametrize(
    ("celsius", "expected"),
    [(0.0, 1.01079), (15.0, 1.0), (40.0, 0.98187), (60.0, 0.96723), (80.0, 0.9525), (100.0, 0.93768), (120.0, 0.92278)],
)
def test_density_follows_the_volume_correction_of_lubricating_oils(celsius, expected):
    # ASTM D1250 table 54D; printed to 1e-5.
    assert oil.density(ZERO + celsius, 870.0) / 870.0 == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(
    ("density_15", "expected"), [(850.0, 795.76), (870.0, 815.78), (880.0, 825.79), (900.0, 845.81)]
)
def test_density_at_100_degc_for_four_base_densities(density_15, expected):
    # ASTM D1250 table 54D; printed to 0.01 kg/m3.
    assert oil.density(ZERO + 100.0, density_15) == pytest.approx(expected, abs=0.01)


@pytest.mark.parametrize(("kelvin", "tabulated"), [(350.0, 853.9), (400.0, 825.1)])
def test_density_of_a_real_engine_oil_is_met_within_one_per_cent(kelvin, tabulated):
    # Incropera et al., Table A.5 (890.98 kg/m3 at 15 degC by interpolation); the group correction is good to 0.9 %.
    assert oil.density(kelvin, 890.98) == pytest.approx(tabulated, rel=0.009)


def test_one_litre_grows_by_63_millilitres_from_20_to_100_degc():
    # ASTM D1250 table 54D; printed to 1e-5.
    assert oil.density(ZERO + 20.0, 870.0) / oil.density(ZERO + 100.0, 870.0) == pytest.approx(1.06261, abs=1e-5)


@pytest.mark.parametrize(("celsius", "expected"), [(15.0, 7.216e-4), (60.0, 7.591e-4), (100.0, 7.924e-4)])
def test_expansion_coefficient_has_the_value_of_the_volume_correction(celsius, expected):
    # Derivative of ASTM D1250 table 54D; printed to four digits.
    assert oil.expansion_coefficient(ZERO + celsius, 870.0) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("celsius", "expected"), [(15.0, 1.467), (40.0, 1.270), (60.0, 1.131), (100.0, 0.898)])
def test_bulk_modulus_is_that_of_the_compressibility_standard(celsius, expected):
    # API MPMS 11.2.1M (1984); printed to 0.001 GPa.
    assert oil.bulk_modulus(ZERO + celsius, 870.0) / 1e9 == pytest.approx(expected, abs=0.001)


@pytest.mark.parametrize("celsius", [0.0, 40.0, 100.0])
@pytest.mark.parametrize("density_15", [820.0, 870.0, 920.0])
def test_bulk_modulus_agrees_with_the_standard_in_us_units(celsius, density_15):
    # API MPMS 11.2.1 (1984), factor 1e-5 per psi; rounded constants, up to 0.25 % apart when hot and light.
    fahrenheit, inverse = 1.8 * celsius + 32.0, (1000.0 / density_15) ** 2
    exponent = -1.99470 + 0.00013427 * fahrenheit + (0.79392 + 0.0023260 * fahrenheit) * inverse
    per_psi = 1e-5 * math.exp(exponent)
    assert oil.bulk_modulus(ZERO + celsius, density_15) == pytest.approx(6894.757 / per_psi, rel=0.003)


def test_density_under_pressure_rises_by_the_rule_of_the_trade():
    # Common practice: 0.5 % per 1000 psi, a rule to one digit; 10 % of it.
    rise = oil.density_under_pressure(ZERO + 40.0, 101325.0 + 6.894757e6, 870.0) / oil.density(ZERO + 40.0, 870.0) - 1.0
    assert rise == pytest.approx(0.005, rel=0.1)


@pytest.mark.parametrize("temperature", TEMPERATURES)
def test_density_under_pressure_has_the_secant_modulus(temperature):
    free = oil.density(temperature, 870.0)
    assert oil.density_under_pressure(temperature, 101325.0, 870.0) == free
    pressed = oil.density_under_pressure(temperature, 5e6 + 101325.0, 870.0)
    # Definition of the secant modulus; the difference of two densities loses three digits.
    assert 5e6 / (1.0 - free / pressed) == pytest.approx(oil.bulk_modulus(temperature, 870.0), rel=1e-11)


@pytest.mark.parametrize(
    ("relative_density", "celsius", "expected"),
    [(0.87, 20.0, 1879.0), (0.87, 60.0, 2024.4), (0.87, 100.0, 2169.8), (0.85, 60.0, 2048.1), (0.9, 60.0, 1990.4)],
)
def test_specific_heat_is_that_of_cragoe(relative_density, celsius, expected):
    # Cragoe, Bureau of Standards Misc. Publ. 97 (1929); printed to five digits.
    constants = oil.specific_heat_constants(relative_density * 999.0)
    assert oil.specific_heat(ZERO + celsius, *constants) == pytest.approx(expected, rel=1e-4)


@pytest.mark.parametrize(("kelvin", "tabulated"), [(300.0, 1909.0), (350.0, 2118.0), (400.0, 2337.0)])
def test_specific_heat_of_a_real_engine_oil_is_met_within_five_per_cent(kelvin, tabulated):
    # Incropera et al., Table A.5; Cragoe lies 1.5 to 4.2 % lower.
    assert oil.specific_heat(kelvin, *oil.specific_heat_constants(890.98)) == pytest.approx(tabulated, rel=0.05)


def test_enthalpy_rise_per_pound_is_that_of_the_trade_formula():
    # Cragoe (1929) in Btu/(lb degF): (0.388 + 0.00045 tF) / sqrt(s), at the mean of 68 and 212 degF.
    rise_us = (0.388 + 0.00045 * 140.0) / math.sqrt(0.87) * 144.0
    constants = oil.specific_heat_constants(0.87 * 999.0)
    rise = oil.enthalpy(ZERO + 100.0, *constants) - oil.enthalpy(ZERO + 20.0, *constants)
    # 1 Btu/lb = 2326 J/kg exactly; the printed constants of the metric form are rounded to five digits.
    assert rise == pytest.approx(2326.0 * rise_us, rel=1e-3)


@pytest.mark.parametrize("temperature", TEMPERATURES)
@pytest.mark.parametrize(("linear", "quadratic"), [(5000.0, 12.0), (5000.0, 0.0), (800.0, 1e-9)])
def test_temperature_from_energy_is_the_inverse_of_enthalpy(temperature, linear, quadratic):
    energy = oil.enthalpy(temperature, linear, quadratic)
    # A root that does not cancel: a few units in the last place.
    assert oil.temperature_from_energy(energy, linear, quadratic) == pytest.approx(temperature, rel=1e-14)
