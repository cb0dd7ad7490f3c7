import numpy as np
import pytest

from ullage.physics import oil, tank
from ullage.physics.air import GAS_CONSTANT

COLD, HOT = 293.15, 373.15
TANK, LIQUID, START = 1.5e-3, 1.0e-3, 101325.0
AIR_MASS = START * (TANK - LIQUID) / (GAS_CONSTANT * COLD)
RIGID = 1e-22  # compliance [m3/Pa] that yields 1e-14 of the gas space


# Sealed rigid vessel of 1.5 L with 1.0 L of oil, filled at 20 degC and one atmosphere, heated to 100 degC; ideal gas.
@pytest.mark.parametrize(
    ("grown", "gas_temperature", "expected"),
    [
        (LIQUID * oil.density(COLD, 870.0) / oil.density(HOT, 870.0), HOT, 147438.6),  # ASTM D1250 expansion
        (LIQUID * (1.0 + 7e-4 * 80.0), HOT, 145243.7),  # hand formula, constant 7e-4 per kelvin
        (LIQUID * (1.0 + 7e-4 * 80.0), COLD, 114104.7),  # the same, the gas stays cold
    ],
)
def test_pressure_of_a_sealed_vessel(grown, gas_temperature, expected):
    pressure = tank.air_pressure(GAS_CONSTANT * AIR_MASS * gas_temperature, TANK - grown, RIGID)
    assert pressure == pytest.approx(expected, rel=1e-5)  # expansion of the oil printed to 1e-5


def test_pressure_of_a_sealed_vessel_with_compressible_oil():
    # The same with an oil of 1.5 GPa that was filled at one atmosphere: 147 427.6 Pa by a root solve; 7e-5 less.
    grown = LIQUID * oil.density(COLD, 870.0) / oil.density(HOT, 870.0)
    compliance = grown / 1.5e9
    free = TANK - grown - compliance * START
    assert tank.air_pressure(GAS_CONSTANT * AIR_MASS * HOT, free, compliance) == pytest.approx(147427.6, rel=1e-5)


@pytest.mark.parametrize("volume", [-1e-3, -1e-5, -1e-8, 0.0, 1e-8, 1e-5, 1e-3])
@pytest.mark.parametrize("compliance", [1e-14, 1e-11])
@pytest.mark.parametrize("air", [1e-3, 50.0])
def test_air_pressure_solves_its_quadratic_on_both_sides_of_a_full_tank(volume, compliance, air):
    pressure = tank.air_pressure(air, volume, compliance)
    assert pressure > 0.0
    # Residual against the largest term of p V + C p^2 = m R T: a few units in the last place.
    scale = max(air, compliance * pressure**2)
    assert abs(pressure * volume + compliance * pressure**2 - air) < 1e-14 * scale


def test_air_pressure_is_continuous_where_the_tank_is_full():
    at = tank.air_pressure(50.0, 0.0, 1e-12)
    # Slope there is -1 / (2 C): 1e-9 m3 is worth 500 Pa of 7 MPa, curvature 0.02 Pa.
    assert tank.air_pressure(50.0, 1e-9, 1e-12) == pytest.approx(at - 500.0, rel=1e-8)
    assert tank.air_pressure(50.0, -1e-9, 1e-12) == pytest.approx(at + 500.0, rel=1e-8)


def test_air_pressure_falls_with_volume_between_boyle_and_hooke():
    values = [tank.air_pressure(50.0, v, 1e-12) for v in np.linspace(-2e-4, 1e-3, 101)]
    assert np.all(np.diff(values) < 0.0)
    # Boyle where the space is large, Hooke where the tank is overfull; the other term is worth 1e-4 at these places.
    assert tank.air_pressure(50.0, 1e-3, 1e-12) == pytest.approx(50.0 / 1e-3, rel=1e-4)
    assert tank.air_pressure(1e-3, -2e-4, 1e-12) == pytest.approx(2e-4 / 1e-12, rel=1e-4)


@pytest.mark.parametrize("linear", [23.6e-6, 11.7e-6])
def test_metal_expands_by_three_times_its_linear_expansion(linear):
    # Linear expansion of aluminium and steel, handbook values from memory: a cube whose edges grow.
    edge = 0.1 * (1.0 + linear * 100.0)
    # The square of the linear strain is left out: 3 x (2.4e-3)^2 = 1.7e-5.
    assert tank.expanded_volume(1e-3, 3.0 * linear, tank.VOLUME_TEMPERATURE + 100.0) == pytest.approx(edge**3, rel=2e-5)
    assert tank.expanded_volume(1e-3, 3.0 * linear, tank.VOLUME_TEMPERATURE) == 1e-3


def test_wall_and_liquid_give_way_together():
    # bulk modulus at 40 degC 1.270 GPa for 870 kg/m3, API MPMS 11.2.1M, printed to 0.001 GPa
    liquid = tank.total_compliance(0.0, 8.0, 313.15, 870.0)
    assert liquid == pytest.approx(8.0 / (870.0 * 0.98187) / 1.270e9, rel=1e-3)
    assert tank.total_compliance(2e-10, 8.0, 313.15, 870.0) == pytest.approx(2e-10 + liquid, rel=1e-12)
